"""Procedure 5: many marks of energy, mass and time at one or more powers, and a straight line through them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import replace as with_changes

import numpy as np

from budget.arrays import FloatArray
from design.physics.evidence import default
from design.procedures.face import Correction, Result, Steps, each_alone
from design.procedures.several_powers import apart, corrected_steps, lead, numbered, several_terms, truth_steps
from design.procedures.shared import ALWAYS_KEPT, TRUTH, bench_terms, noise_growth, result_of, time_term
from design.setting.situation import Pace, Situation
from design.setting.terms import InputTerm, setting

ONE_POWER_TRUTH: Steps = (
    *TRUTH,
    ("E_metered", "k * n / (1 + e_meter)"),
    ("t", "E_metered / P"),
    ("fall", "(E_metered * (1 - e_lead) - W * t - Q_drift / sqrt(N)) / (L_ref * kept)"),
    (
        "m_read",
        "fall + d_linearity + fitted * (d_balance + d_boiling + fall / t * d_time) / sqrt(N)",
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
    heat = f"E_{power}_true * (1 - {lead(power)}) - W_{power} * t_{power} - {drift} / sqrt(N)"
    return (
        (f"E_{power}_true", f"{energy} * {counts} / (1 + e_meter)"),
        (f"t_{power}", f"E_{power}_true / P_{power}"),
        (f"fall_{power}", f"({heat}) / (L_ref * kept_{power})"),
        (f"m_{power}_read", f"fall_{power} + {linearity} + {fitted} * ({scatter}) / sqrt(N)"),
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


def fitted_share(marks: FloatArray) -> FloatArray:
    """
    Scatter of the fall that a straight line through equally spaced readings gives, over that of its two ends.

    Parameters
    ----------
    marks : ndarray
        Steps between the readings: one fewer than readings.

    Returns
    -------
    ndarray
        sqrt(6 K/((K + 1)(K + 2))) for K steps: 1 for two readings. [1]

    Notes
    -----
    Least squares of N = K + 1 equally good, independent readings over a span gives the slope with
    u = sigma/span sqrt(12 (N - 1)/(N (N + 1))); the difference of the two ends has sqrt(2) sigma/span.
    Each reading counts once: mass changes over overlapping stretches are not independent, and averaging them as if
    they were would count readings twice.
    """
    return np.asarray(np.sqrt(6.0 * marks / ((marks + 1.0) * (marks + 2.0))))


@dataclass(frozen=True)
class Series:
    """
    The balance is read whenever the meter has gone on by some whole counts, at one power or several.

    Parameters
    ----------
    number_of_powers : int
        One: time goes with energy, and the heat loss must come from elsewhere. Two or more: it is fitted.
    """

    number_of_powers: int = 1
    identifier: str = "series"
    needs_mass_set: bool = False
    needs_display: bool = True
    reads_in_passing: bool = False
    readings: tuple[str, ...] = ("counts", "mass_g", "time_s")

    @property
    def name(self) -> str:
        """Name in reports."""
        words = {1: "series at one power", 2: "series at two powers", 3: "series at three powers"}
        return words.get(self.number_of_powers, f"series at {self.number_of_powers} powers")

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
        """Errors that it cancels, in words."""
        fitted = ("heat loss, as far as it is the same at every power: it is fitted with the latent heat",)
        return (
            *(fitted if self.number_of_powers > 1 else ()),
            "most of the scatter of single readings of the balance",
            "resolution of the meter: every reading on a mark",
            "restart: the heater is never off",
            "bubbles round the heater and the push of the steam: every reading with the heater on",
            "zero error of the balance",
        )

    @property
    def keeps(self) -> tuple[str, ...]:
        """Errors that it does not cancel, in words."""
        if self.number_of_powers > 1:
            return (
                *ALWAYS_KEPT,
                "carry-over, which grows with the cube of the power",
                "heat loss that differs between the powers: air in the freeboard at lower ones",
            )
        return (
            *ALWAYS_KEPT,
            "heat loss: at one power time goes with energy, and no fit can tell loss from latent heat",
            "unsteadiness that lasts from one reading to the next",
        )

    def power_sets(self, powers: Sequence[float]) -> tuple[tuple[float, ...], ...]:
        """Each power alone, or sets of powers that are far enough apart."""
        return each_alone(powers) if self.number_of_powers == 1 else apart(powers, self.number_of_powers)

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities in every setting."""
        runs = situation.all_runs
        own = [time_term(situation)]
        for column in range(self.number_of_powers):
            number = column + 1
            own += [
                setting(numbered("n", number), "counts over the whole run", "1", runs.counts[:, column]),
                setting(numbered("k", number), "energy of one count", "J", runs.count_energy[:, column]),
                setting(
                    numbered("fitted", number), "scatter of the fitted line over that of two readings", "1",
                    fitted_share(runs.marks[:, column]),
                ),
            ]  # fmt: skip
        if self.number_of_powers == 1:
            return (*bench_terms(situation), *own)
        return (*several_terms(situation, own), *_weights(situation))

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


def _weights(situation: Situation) -> tuple[InputTerm, ...]:
    """
    Weights of the powers in the fit, relative to the highest: inverse variance of the fitted fall of mass.

    The energies lie on marks of the meter, so their errors, those of the moment of reading, act on the mass; the
    effective variance of E - L m is L^2 times that of the mass, and the common factor L^2 drops out.
    """
    shared = {term.symbol: term for term in (*bench_terms(situation), time_term(situation))}
    runs, powers = situation.all_runs, situation.settings.powers
    boiling = shared["d_boiling"]
    noise = (boiling.base.standard_uncertainty * boiling.size)[:, None] * (
        noise_growth(powers) / noise_growth(powers[:, :1])
    )
    reading = shared["d_balance"].base.standard_uncertainty * shared["d_balance"].size
    timing = runs.mass / np.maximum(runs.time, 1e-9) * shared["d_time"].size
    variance = fitted_share(runs.marks) ** 2 * (noise**2 + reading**2 + timing**2)
    variance = np.maximum(variance, 1e-18)
    return tuple(
        setting(f"weight_{column + 1}", "weight of this power in the fit", "1", variance[:, 0] / variance[:, column])
        for column in range(powers.shape[1])
    )
