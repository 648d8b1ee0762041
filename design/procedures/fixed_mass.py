"""Procedures 1 and 2: a mass step is put on, and counts are read until the balance tips again."""

from __future__ import annotations

from dataclasses import dataclass

from budget.quantities.distributions import Constant
from design.physics.evidence import default
from design.procedures.face import Correction, Procedure, Result
from design.procedures.shared import ALWAYS_KEPT, TRUTH, bench_terms, count_terms, mass_set_term, result_of
from design.setting.equations import Steps
from design.setting.situation import Pace, Situation
from design.setting.terms import ONE, InputTerm, chosen, default_distribution

FALL: tuple[str, str] = (
    "fall",
    "m_step * (1 + e_mass) + d_linearity + (d_balance + d_boiling) / sqrt(N) + d_drift * drifting / sqrt(N)",
)
READINGS: Steps = (
    ("t", "heat / (P * (1 - e_lead) - W)"),
    ("E_read", "P * t * (1 + e_meter) + (k * d_count + P * d_time) / sqrt(N)"),
    ("m_read", "m_step"),
)
SHARED_TIPS: Steps = tuple(
    (symbol, text.replace("sqrt(N)", "N").replace("drifting / N", "drifting / sqrt(N)"))
    for symbol, text in (FALL, *READINGS)
)
"""From tip to tip without a gap, every tip but the first and last ends one run and begins the next: of the errors of
reading only those of the first and the last are left in the mean of N runs. The balance drifts all the while."""


@dataclass(frozen=True)
class FixedMassRestart(Procedure):
    """Heater off, mass step put on, heater on, count until the balance tips."""

    identifier: str = "fixed-mass-restart"
    needs_mass_set: bool = True
    cancels: tuple[str, ...] = (
        "bubbles_both_tips",
        "balance_zero",
        "evaporation_in_pause",
        "tips_between_runs",
    )
    keeps: tuple[str, ...] = (
        *ALWAYS_KEPT,
        "heat_loss_in_pause_too",
        "meter_resolution_at_tips",
    )

    @property
    def pace(self) -> Pace:
        """A pause in every run, no gap."""
        return Pace(whole_counts=False, pause=default("pause"), gap=0.0)

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities in every setting."""
        return (*_terms(situation), *_restart(situation))

    def steps(self) -> Steps:
        """Readings from the input quantities: from tip to tip, W acts during the pause too."""
        fall, *readings = SHARED_TIPS
        heat = ("heat", "L_ref * fall * kept + W * t_pause + E_restart + Q_drift / N + Q_stored * e_stored")
        return (*TRUTH, fall, heat, *readings)

    def result(self, correction: Correction) -> Result:
        """How the readings become the latent heat."""
        return result_of(correction, pause=True)


@dataclass(frozen=True)
class FixedMassKeptOn(Procedure):
    """The mass step is put on while boiling goes on; counts are read in passing at both tips."""

    identifier: str = "fixed-mass-kept-on"
    needs_mass_set: bool = True
    cancels: tuple[str, ...] = (
        "restart",
        "bubbles_both_tips",
        "balance_zero",
    )
    keeps: tuple[str, ...] = (
        *ALWAYS_KEPT,
        "heat_loss",
        "meter_resolution_at_tips",
    )

    @property
    def pace(self) -> Pace:
        """No pause; notes are written while boiling goes on."""
        return Pace(whole_counts=False, pause=0.0, gap=default("run_gap"))

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities in every setting."""
        return _terms(situation)

    def steps(self) -> Steps:
        """Readings from the input quantities."""
        heat = ("heat", "L_ref * fall * kept + Q_drift / sqrt(N) + Q_stored * e_stored")
        return (*TRUTH, FALL, heat, *READINGS)

    def result(self, correction: Correction) -> Result:
        """How the readings become the latent heat."""
        return result_of(correction, pause=False)


def _terms(situation: Situation) -> tuple[InputTerm, ...]:
    step = chosen(situation.values, "m_step", "mass_step", "kg", "mass_1")
    return (step, *bench_terms(situation), mass_set_term(situation), *count_terms(situation))


def _restart(situation: Situation) -> tuple[InputTerm, ...]:
    """Restart as the time without heating, or as the energy that the bench file states."""
    name = "restart"
    stated = situation.conditions.bench.knowledge.get("restart_cooling")
    if stated is not None:
        pause = InputTerm("t_pause", name, "s", Constant(0.0), ONE, "restart_stated", 0.0)
        return (pause, InputTerm("E_restart", name, "J", stated, ONE, "bench_file", 0.0))
    pause = InputTerm("t_pause", name, "s", default_distribution("pause"), ONE, "evidence/pause", 0.0)
    return (pause, InputTerm("E_restart", name, "J", Constant(0.0), ONE, "in_the_pause", 0.0))


PLACE, OFFERED = 1, (FixedMassRestart(), FixedMassKeptOn())
