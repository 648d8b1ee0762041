"""Procedure 5: many marks of energy, mass and time at one or more powers, and a straight line through them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import replace as with_changes

from design.physics.evidence import default, evidence
from design.procedures.face import Correction, Procedure, Result
from design.procedures.several_powers import apart, corrected_steps, lead, several_terms, truth_steps
from design.procedures.shared import (
    ALWAYS_KEPT,
    TRUTH,
    bench_terms,
    named,
    noise_growth,
    reading_uncertainty,
    result_of,
    time_term,
)
from design.setting.equations import Steps, numbered
from design.setting.situation import Pace, Situation
from design.setting.terms import InputTerm, chosen

LEAST_VARIANCE = 1e-18
"""Least variance of a fitted fall of mass. [kg²]"""
ONE_POWER_TRUTH: Steps = (
    *TRUTH,
    ("E_metered", "k * n / (1 + e_meter)"),
    ("t", "E_metered / P"),
    ("fall", "(E_metered * (1 - e_lead) - W * t - Q_drift / sqrt(N) - Q_stored * e_stored) / (L_ref * kept)"),
    (
        "m_read",
        "fall + d_linearity + (fitted * (d_balance + d_boiling + fall / t * d_time) + d_drift * drifting) / sqrt(N)",
    ),
    ("E_read", "k * n"),
)
"""Energy and fall of mass over the whole run as the fitted line gives them."""


def _readings(power: int) -> Steps:
    """Readings at one of several powers: what the fitted line gives over the whole run."""
    counts, energy, fitted = numbered("n", power), numbered("k", power), numbered("fitted", power)
    drift, linearity = numbered("Q_drift", power), numbered("d_linearity", power)
    balance, boiling, timed = (numbered(symbol, power) for symbol in ("d_balance", "d_boiling", "d_time"))
    scatter = f"{balance} + {boiling} + fall_{power} / t_{power} * {timed}"
    stored = f"{numbered('Q_stored', power)} * e_stored"
    drifting = f"{numbered('d_drift', power)} * {numbered('drifting', power)}"
    heat = f"E_{power}_true * (1 - {lead(power)}) - W_{power} * t_{power} - {drift} / sqrt(N) - {stored}"
    return (
        (f"E_{power}_true", f"{energy} * {counts} / (1 + e_meter)"),
        (f"t_{power}", f"E_{power}_true / P_{power}"),
        (f"fall_{power}", f"({heat}) / (L_ref * kept_{power})"),
        (
            f"m_{power}_read",
            f"fall_{power} + {linearity} + ({fitted} * ({scatter}) + {drifting}) / sqrt(N)",
        ),
        (f"E_{power}_read", f"{energy} * {counts}"),
    )


def least_squares(powers: int, suffix: str) -> Result:
    """
    Latent heat from energy, mass and time at several powers: least squares of E = L m + W t, weight by weight.

    Parameters
    ----------
    powers : int
        Number of powers, two or more; with two the weights drop out.
    suffix : {"read", "est"}
        Which energies and masses are meant.

    Returns
    -------
    Result
        Normal equations as text; their sums are the steps.
    """
    numbers = range(1, powers + 1)

    def total(product: str) -> str:
        return " + ".join(f"weight_{number} * {product.format(number)}" for number in numbers)

    mass, energy = f"m_{{0}}_{suffix}", f"E_{{0}}_{suffix}"
    return Result(
        (
            ("sum_mm", total(f"{mass}**2")),
            ("sum_mt", total(f"{mass} * t_{{0}}")),
            ("sum_tt", total("t_{0}**2")),
            ("sum_mE", total(f"{mass} * {energy}")),
            ("sum_tE", total(f"t_{{0}} * {energy}")),
        ),
        "(sum_mE * sum_tt - sum_tE * sum_mt) / (sum_mm * sum_tt - sum_mt**2)",
    )


def fitted_share(power: int) -> str:
    """
    Scatter of the fall that a straight line through equally spaced readings gives, over that of its two ends, as text.

    Notes
    -----
    sqrt(6 K/((K + 1)(K + 2))) for K steps, one fewer than readings: 1 for two readings. Least squares of N = K + 1
    equally good, independent readings over a span gives the slope with u = sigma/span sqrt(12 (N - 1)/(N (N + 1))); the
    difference of the two ends has sqrt(2) sigma/span. Each reading counts once: mass changes over overlapping stretches
    are not independent, and averaging them as if they were would count readings twice.
    """
    return f"sqrt(6 * marks_{power} / ((marks_{power} + 1) * (marks_{power} + 2)))"


@dataclass(frozen=True)
class Series(Procedure):
    """
    The balance is read whenever the meter has gone on by some whole counts, at one power or several.

    Parameters
    ----------
    number_of_powers : int
        One: time goes with energy, and the heat loss must come from elsewhere. Two or more: it is fitted.
    """

    number_of_powers: int = 1
    identifier: str = "series"

    @property
    def corrections(self) -> tuple[Correction, ...]:
        """At several powers the loss is fitted, and a cooling run has nothing to add."""
        return ("none", "calculated", "cooling-run") if self.number_of_powers == 1 else ("none", "calculated")

    @property
    def pace(self) -> Pace:
        """No pause; marks on whole counts."""
        return Pace(whole_counts=True, pause=0.0, gap=default("run_gap"), mark_interval=default("mark_interval"))

    @property
    def cancels(self) -> tuple[str, ...]:
        """Keys of the errors that it cancels."""
        fitted = ("heat_loss_fitted",)
        return (
            *(fitted if self.number_of_powers > 1 else ()),
            "scatter_of_single_readings",
            "meter_resolution_every_reading",
            "restart",
            "bubbles_every_reading",
            "balance_zero",
        )

    @property
    def keeps(self) -> tuple[str, ...]:
        """Keys of the errors that it does not cancel."""
        if self.number_of_powers > 1:
            return (
                *ALWAYS_KEPT,
                "carry_over_by_power",
                "heat_loss_at_lower_powers",
            )
        return (
            *ALWAYS_KEPT,
            "heat_loss_not_told_apart",
            "lasting_unsteadiness",
        )

    def power_sets(self, powers: Sequence[float]) -> tuple[tuple[float, ...], ...]:
        """Each power alone, or sets of powers that are far enough apart."""
        return super().power_sets(powers) if self.number_of_powers == 1 else apart(powers, self.number_of_powers)

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities in every setting."""
        if self.number_of_powers == 1:
            return (*bench_terms(situation), *_own(situation, 1))
        return (*several_terms(situation, _own), *_weights(situation, self.number_of_powers))

    def steps(self) -> Steps:
        """Readings from the input quantities."""
        if self.number_of_powers == 1:
            return ONE_POWER_TRUTH
        numbers = range(1, self.number_of_powers + 1)
        return (*truth_steps(self.number_of_powers), *(step for number in numbers for step in _readings(number)))

    def result(self, correction: Correction) -> Result:
        """Slope at one power; at several, latent heat and heat loss from the normal equations."""
        if self.number_of_powers == 1:
            return result_of(correction, pause=False)
        if correction == "none":
            return least_squares(self.number_of_powers, "read")
        fit = least_squares(self.number_of_powers, "est")
        return with_changes(fit, steps=(*corrected_steps(self.number_of_powers), *fit.steps))


def _own(situation: Situation, power: int) -> tuple[InputTerm, ...]:
    """What is read at a power."""
    values = situation.values
    return (
        named(time_term(situation), power),
        chosen(values, numbered("n", power), "counts_whole_run", "1", f"counts_{power}"),
        chosen(values, numbered("k", power), "count_energy", "J", f"count_energy_{power}"),
        chosen(
            values, numbered("fitted", power), "line_scatter", "1",
            fitted_share(power),
        ),
    )  # fmt: skip


def _weights(situation: Situation, powers: int) -> tuple[InputTerm, ...]:
    """
    Weights of the powers in the fit, relative to the highest: inverse variance of the fitted fall of mass.

    The energies lie on marks of the meter, so their errors, those of the moment of reading, act on the mass; the
    effective variance of E - L m is L^2 times that of the mass, and the common factor L^2 drops out.
    """
    return tuple(
        chosen(
            situation.values, f"weight_{number}", "line_weight", "1",
            f"({_variance(situation, 1)}) / ({_variance(situation, number)})",
        )
        for number in range(1, powers + 1)
    )  # fmt: skip


def _variance(situation: Situation, power: int) -> str:
    """Variance of the fitted fall of mass at a power; never nothing, so that a weight exists."""
    observer = situation.conditions.bench.observer
    reading = math.sqrt(2.0) * reading_uncertainty(situation.kit.balance, observer.tipping)
    noise = f"({evidence('boiling_noise').spread!r} * sqrt(2) * {noise_growth(numbered('P_set', power))})**2"
    timing = f"(mass_{power} / max(time_{power}, 1e-9) * {float(observer.reaction_time)!r})**2"
    return f"max(({fitted_share(power)})**2 * ({noise} + {reading!r}**2 + {timing}), {LEAST_VARIANCE!r})"


PLACE, OFFERED = 4, (Series(1), Series(2), Series(3))
