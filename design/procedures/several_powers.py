"""What procedures at several powers share: equation text and input quantities, one block a power, highest first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from design.physics.carry_over import thrown
from design.physics.swell import headroom_text
from design.procedures.shared import bench_terms, cover_terms, loss_text, readings_at, warming
from design.setting.equations import Steps, numbered, over
from design.setting.situation import Situation
from design.setting.terms import InputTerm, chosen

LARGEST_RATIO = 0.75
"""Largest ratio of two powers worth trying: the nearer they are, the less their difference tells (judgement)."""
SHARED_TRUTH: Steps = (
    ("ratio", "(1 + e_heater) * (1 + e_supply)**2"),
    ("kept_off", "(1 - a_A) * b"),
)
"""True power over that dialled in, vapour per fall of mass but for carry-over."""


def truth_steps(powers: int) -> Steps:
    """Power, heat loss and vapour per fall of mass at each power."""
    steps = list(SHARED_TRUTH)
    for power in range(1, powers + 1):
        law = "1" if power == 1 else f"cubes_{power}"
        risen, gather = numbered("risen", power), numbered("gather", power)
        steps += [
            (f"headroom_{power}", headroom_text("ratio", risen, gather)),
            (f"P_{power}", f"{numbered('P_set', power)} * ratio"),
            (f"W_{power}", loss_text(power)),
            (f"cube_{power}", f"s_splash / steep * {law} * (ratio / headroom_{power})**3"),
            (f"kept_{power}", f"(1 - {thrown(f'cube_{power}')}) * kept_off"),
        ]
    return tuple(steps)


def lead(power: int, suffix: str = "") -> str:
    """Share of a power lost in the flex, as text."""
    return f"e_lead{suffix}" if power == 1 else f"e_lead{suffix} * lead_{power}"


def corrected_steps(powers: int) -> Steps:
    """
    Energies and masses as corrected for all but the heat loss that is the same at every power.

    The heat loss that a lower power misses beyond the highest, where air enters the freeboard, is put back on.
    """
    steps = [("kept_off_est", "(1 - a_A_est) * b")]
    for power in range(1, powers + 1):
        share = "s_splash_est" if power == 1 else f"s_splash_est * splash_{power}"
        stored = f"{numbered('Q_stored', power)} * e_stored_est"
        missing = "" if power == 1 else f" + ({loss_text(1, '_est')} - ({loss_text(power, '_est')})) * t_{power}"
        energy = f"E_{power}_read * (1 - {lead(power, '_est')}) / (1 + e_meter_est){missing} - {stored}"
        steps += [
            (f"E_{power}_est", energy),
            (f"m_{power}_est", f"m_{power}_read * (1 - {share}) * kept_off_est"),
        ]
    return tuple(steps)


def several_terms(
    situation: Situation, own: Callable[[Situation, int], tuple[InputTerm, ...]]
) -> tuple[InputTerm, ...]:
    """
    Input quantities of a procedure at several powers.

    Parameters
    ----------
    situation : Situation
        With two or more powers.
    own : callable (situation, power) -> tuple of InputTerm
        Terms of the procedure's own way of reading at a power, the highest being number 1.
    """
    values, powers = situation.values, range(2, situation.settings.powers.shape[1] + 1)
    terms = [*bench_terms(situation), *own(situation, 1)]
    for number in powers:
        power = f"P_set_{number}"
        terms += [
            chosen(values, power, "power_set", "W", power),
            chosen(
                values, f"lead_{number}", "lead_ratio", "1",
                over(f"lead_share_{number}", "lead_share_1"),
            ),
            chosen(
                values, f"splash_{number}", "carry_over_ratio", "1",
                over(f"thrown_{number}", "thrown_1"),
            ),
            chosen(
                values, f"cubes_{number}", "cube_ratio", "1",
                f"law_{number} / law_1",
            ),
            chosen(values, f"risen_{number}", "risen", "1", f"risen_{number}"),
            chosen(values, f"gather_{number}", "gather", "1", f"gather_{number}"),
            *cover_terms(situation, number),
            warming(situation, number),
            *readings_at(situation, number),
            *own(situation, number),
        ]  # fmt: skip
    return tuple(terms)


def apart(powers: Sequence[float], number: int) -> tuple[tuple[float, ...], ...]:
    """
    Sets of a number of powers that are far enough apart, each the highest first.

    Of three or more, those in between are the nearest to an even spread.

    Examples
    --------
    >>> apart((500.0, 1000.0, 900.0), 2)
    ((1000.0, 500.0), (900.0, 500.0))
    """
    descending = sorted(set(powers), reverse=True)
    pairs = [(high, low) for high, low in combinations(descending, 2) if low <= LARGEST_RATIO * high]
    sets = dict.fromkeys(_spread(descending, high, low, number) for high, low in pairs)
    return tuple(found for found in sets if len(found) == number)


def _spread(descending: Sequence[float], high: float, low: float, number: int) -> tuple[float, ...]:
    wanted = np.linspace(high, low, number)
    nearest = {min(descending, key=lambda power: abs(power - target)) for target in wanted}
    return tuple(sorted(nearest | {high, low}, reverse=True))
