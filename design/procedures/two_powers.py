"""Procedure 4: the same vessel at two powers for equal times; the heat loss drops out of the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from design.physics.evidence import default
from design.procedures.face import Correction, Procedure, Result
from design.procedures.several_powers import apart, corrected_steps, lead, several_terms, truth_steps
from design.procedures.shared import ALWAYS_KEPT, count_energy, count_from_mark
from design.setting.equations import Steps, numbered
from design.setting.situation import Pace, Situation
from design.setting.terms import InputTerm, chosen

POWERS = 2


def _readings(power: int) -> Steps:
    drift, linearity = numbered("Q_drift", power), numbered("d_linearity", power)
    drifting = f"{numbered('d_drift', power)} * {numbered('drifting', power)}"
    balance, boiling = numbered("d_balance", power), numbered("d_boiling", power)
    stored = f"{numbered('Q_stored', power)} * e_stored"
    counted, timed = numbered("d_count", power), numbered("d_time", power)
    heat = f"(P_{power} * (1 - {lead(power)}) - W_{power}) * t_{power} - {drift} / sqrt(N) - {stored}"
    return (
        (f"t_{power}", "t"),
        (f"fall_{power}", f"({heat}) / (L_ref * kept_{power})"),
        (f"m_{power}_read", f"fall_{power} + {linearity} + ({balance} + {drifting} + {boiling}) / sqrt(N)"),
        (
            f"E_{power}_read",
            f"P_{power} * t_{power} * (1 + e_meter) + (k * {counted} + P_{power} * {timed}) / sqrt(N)",
        ),
    )


@dataclass(frozen=True)
class TwoPowers(Procedure):
    """Counts and balance are read at the start, on a mark of the meter, and after the same time at each power."""

    identifier: str = "two-powers"
    corrections: tuple[Correction, ...] = ("none", "calculated")
    number_of_powers: int = POWERS
    cancels: tuple[str, ...] = (
        "heat_loss_same_at_both_powers",
        "restart",
        "bubbles_same_power",
        "balance_zero",
        "half_of_counting",
    )
    keeps: tuple[str, ...] = (
        *ALWAYS_KEPT,
        "carry_over_at_higher_power",
        "heat_loss_between_powers",
        "scatter_of_four_readings",
    )

    @property
    def pace(self) -> Pace:
        """No pause; notes are written while boiling goes on."""
        return Pace(whole_counts=False, pause=0.0, gap=default("run_gap"))

    def power_sets(self, powers: Sequence[float]) -> tuple[tuple[float, ...], ...]:
        """Pairs of powers that are far enough apart."""
        return apart(powers, POWERS)

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities in every setting."""
        time = chosen(situation.values, "t", "time_at_power", "s", "time_1")
        return (time, count_energy(situation), *several_terms(situation, count_from_mark))

    def steps(self) -> Steps:
        """Readings from the input quantities."""
        return (*truth_steps(POWERS), *_readings(1), *_readings(2))

    def result(self, correction: Correction) -> Result:
        """Ratio of the differences of energy and mass."""
        if correction == "none":
            return Result((), "(E_1_read - E_2_read) / (m_1_read - m_2_read)")
        return Result(corrected_steps(POWERS), "(E_1_est - E_2_est) / (m_1_est - m_2_est)")


PLACE, OFFERED = 3, (TwoPowers(),)
