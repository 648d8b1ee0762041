"""Procedure 3: start and stop on a mark of the meter, and read the balance at the marks."""

from __future__ import annotations

from dataclasses import dataclass

from design.physics.evidence import default
from design.procedures.face import Correction, Procedure, Result
from design.procedures.shared import ALWAYS_KEPT, TRUTH, bench_terms, result_of, time_term
from design.setting.equations import Steps
from design.setting.situation import Pace, Situation
from design.setting.terms import InputTerm, chosen

READINGS: Steps = (
    ("E_metered", "k * n / (1 + e_meter)"),
    ("t", "E_metered / P"),
    ("fall", "(E_metered * (1 - e_lead) - W * t - Q_drift / sqrt(N) - Q_stored * e_stored) / (L_ref * kept)"),
    ("m_read", "fall + d_linearity + (d_balance + d_drift * drifting + d_boiling + fall / t * d_time) / sqrt(N)"),
    ("E_read", "k * n"),
)


@dataclass(frozen=True)
class WholeCounts(Procedure):
    """A whole number of turns, pulses, display steps or seconds; the mass is whatever it comes to."""

    identifier: str = "whole-counts"
    cancels: tuple[str, ...] = (
        "meter_resolution_start_stop",
        "restart",
        "bubbles_both_readings",
        "balance_zero",
    )
    keeps: tuple[str, ...] = (
        *ALWAYS_KEPT,
        "heat_loss",
        "reaction_time",
    )

    @property
    def pace(self) -> Pace:
        """No pause; notes are written while boiling goes on."""
        return Pace(whole_counts=True, pause=0.0, gap=default("run_gap"))

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities in every setting."""
        values = situation.values
        return (
            chosen(values, "n", "counts", "1", "counts_1"),
            chosen(values, "k", "count_energy", "J", "count_energy_1"),
            *bench_terms(situation),
            time_term(situation),
        )

    def steps(self) -> Steps:
        """Readings from the input quantities."""
        return (*TRUTH, *READINGS)

    def result(self, correction: Correction) -> Result:
        """How the readings become the latent heat."""
        return result_of(correction, pause=False)


PLACE, OFFERED = 2, (WholeCounts(),)
