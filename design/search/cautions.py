"""What the reader of a plan must know: dangers first, then what the numbers rest on."""

from __future__ import annotations

from design.bench import Bench
from design.hardware import Conditions
from design.plan import RankedDesign

SAFETY = (
    "Boiling water and steam scald at once. Keep faces and hands away from the rim, wear eye protection, and let "
    "everything cool before it is moved.",
    "Mains electricity near water can kill. Use an earthed heater behind a 30 mA residual-current device, and switch "
    "off and unplug before anyone touches the water or the heater.",
    "Switch the heater on only when it is covered past its mark, keep it covered to the end, and never let the "
    "vessel boil dry or leave it unattended.",
    "Keep flex, meter and sockets away from steam and drips, and the vessel steady on its balance.",
    "The rules of the employer and the place come first: this report plans a measurement and does not replace a "
    "risk assessment by qualified people.",
)
"""Usual cautions for this experiment; they defer to local rules and qualified people."""
HEATER_OFF_RATE = (
    "Do not subtract a mass-loss rate measured with the heater off: the water then pays for its vapour by cooling, "
    "while with the heater on the heater paid for it. At 1 kW the subtraction makes the value 9 to 19 % too high."
)


def cautions_of(
    conditions: Conditions, recommended: RankedDesign | None, current_reason: str, *, only_owned: bool
) -> tuple[str, ...]:
    """
    Cautions of a plan.

    Parameters
    ----------
    conditions : Conditions
        The bench.
    recommended : RankedDesign or None
        What the plan recommends.
    current_reason : str
        Why there is no design for what is done today; empty where there is one.
    only_owned : bool
        The search was kept to what is in the cupboard.

    Returns
    -------
    tuple of str
        Sentences, safety first.
    """
    cautions = [*SAFETY, HEATER_OFF_RATE]
    if recommended is not None:
        cautions += [f"Accepted by the bench file although unsuitable: {text}." for text in recommended.accepted]
    if current_reason:
        cautions.append(f"Today's way is not shown for comparison: {current_reason}.")
    if only_owned:
        cautions.append("Only what is in the cupboard was considered.")
    cautions += _knowledge(conditions.bench)
    return tuple(cautions)


def _knowledge(bench: Bench) -> list[str]:
    stated = set(bench.knowledge)
    for vessel in bench.vessels:
        stated |= set(vessel.knowledge)
    missing = [
        words
        for key, words in (
            ("wall_loss", "heat loss of the vessel"),
            ("carry_over", "droplets thrown out"),
        )
        if key not in stated
    ]
    if not missing:
        return []
    return [
        f"Calculated only, with wide limits: the {' and the '.join(missing)}. A trial with the vessel narrows these "
        "limits more than any purchase."
    ]
