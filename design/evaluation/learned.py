"""What the readings teach about the bench: a ``[knowledge]`` table for the bench file, with its provenance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Constant, Distribution, Lognormal, Normal, Rectangular, Triangular, scaled
from budget.sampling.quasirandom import uniform_draws
from design.bench import Bench
from design.evaluation.account import LEAST_EFFECTIVE, TRIALS, TooFewEffectiveError
from design.evaluation.classroom import is_scatter, own_uncertainty
from design.evaluation.result import REFERENCE_UNCERTAINTY, Result
from design.setting.hardware import changes_of
from design.setting.situation import Situation

SYMBOLS = {
    "W_wall_est": ("wall_loss", "W"), "W_base_est": ("base_loss", "W"), "W_return_est": ("return_loss", "W"),
    "s_splash_est": ("carry_over", ""), "e_meter_est": ("meter_error", ""),
}  # fmt: skip
"""Keys of a bench file's ``[knowledge]`` and their units, by the symbol of the model."""


@dataclass(frozen=True)
class Learned:
    """
    Knowledge after the readings.

    Parameters
    ----------
    knowledge : mapping of str to Distribution
        By key of a bench file's ``[knowledge]``; W, or shares.
    effective_sample_size : float
        Of the weighted draws.
    groups : int
        Groups that it was learned from.
    """

    knowledge: Mapping[str, Distribution]
    effective_sample_size: float
    groups: int


def learn(results: Sequence[Result], reference: float, *, trials: int = TRIALS, seed: int = 0) -> Learned:
    """
    Update the knowledge of the bench from the readings of all groups, if the reference holds.

    Parameters
    ----------
    results : sequence of Result
        Of the groups, all with one bench.
    reference : float
        Latent heat at room pressure. [J/kg]
    trials : int
        Draws from the prior knowledge.
    seed : int
        Of the scrambled Sobol' sample.

    Returns
    -------
    Learned

    Raises
    ------
    TooFewEffectiveError
        If the effective sample size is too small.

    Notes
    -----
    What all groups share is drawn once; a group's own scatter is integrated out as a normal error, so each group
    multiplies the weight by N(f_g(θ); L, u_reference² + u_own²).
    """
    models = [result.best.model for result in results]
    shared = [symbol for symbol in models[0].uncertain if not is_scatter(symbol)]
    points = np.asarray(uniform_draws(len(shared), trials, seed))
    logarithm = np.zeros(trials)
    draws: dict[str, FloatArray] = {}
    for model, result in zip(models, results, strict=True):
        draws = {symbol: model.distributions[symbol].ppf(points[:, i]) for i, symbol in enumerate(shared)}
        values = model.evaluate({**model.estimates, **draws})
        own = own_uncertainty(model, result.best.propagation.contributions)
        spread = math.hypot(own, REFERENCE_UNCERTAINTY * reference)
        logarithm -= 0.5 * ((values - reference) / spread) ** 2
    weight = np.exp(logarithm - logarithm.max())
    effective = float(weight.sum() ** 2 / np.sum(weight**2))
    if effective < LEAST_EFFECTIVE or logarithm.max() < -12.5:
        raise TooFewEffectiveError(effective)
    weight /= weight.sum()
    return Learned(_knowledge(models[-1], results[-1], draws, weight), effective, len(models))


def _knowledge(
    model: MeasurementModel, result: Result, draws: Mapping[str, FloatArray], weight: FloatArray
) -> dict[str, Distribution]:
    found: dict[str, Distribution] = {}
    for symbol, (key, _) in SYMBOLS.items():
        if symbol not in draws:
            continue
        values = draws[symbol]
        if key == "carry_over":
            scale = float(result.measured.situation.carry_over_scale[0])
            values = values / scale if scale > 0.0 else values
        mean = float(weight @ values)
        spread = math.sqrt(max(float(weight @ (values - mean) ** 2), 0.0))
        positive = model.distributions[symbol].support[0] >= 0.0
        found[key] = Lognormal(mean, spread) if positive and mean > 0.0 else Normal(mean, spread)
    return of_the_bare_vessel(found, result.measured.situation)


def of_the_bare_vessel(found: Mapping[str, Distribution], situation: Situation) -> dict[str, Distribution]:
    """Knowledge as a bench file states it: of the vessel without what was put on it for the readings."""
    kit = situation.kit
    if kit.vessel.bare is None:
        return dict(found)
    changed = changes_of(situation.conditions, kit.vessel.bare, kit.vessel, kit.heater)
    return {key: scaled(value, 1.0 / changed[key]) if key in changed else value for key, value in found.items()}


def knowledge_table(learned: Learned, bench: Bench, provenance: Sequence[str]) -> str:
    """
    Write the knowledge as TOML that a bench file takes.

    Parameters
    ----------
    learned : Learned
        After the readings.
    bench : Bench
        Its own ``[knowledge]`` is kept where the readings teach nothing.
    provenance : sequence of str
        Lines that say where it comes from.

    Returns
    -------
    str
        Comments and a ``[knowledge]`` table that replaces the bench file's.
    """
    lines = [f"# {line}" for line in provenance]
    lines += ["# Losses learned together are correlated; a bench file cannot say so, and takes each by itself.", ""]
    lines.append("[knowledge]")
    merged = {**bench.knowledge, **learned.knowledge}
    for key, distribution in merged.items():
        unit = {"wall_loss": " W", "base_loss": " W", "return_loss": " W", "restart_cooling": " J"}.get(key, "")
        line = f"{key} = {_written(distribution, unit)}"
        alone = key != "meter_error" or len(bench.meters) == 1 or key in bench.knowledge
        lines.append(line if alone else f"# {line}   # of the meter in use; a bench file's would hold for every meter")
    return "\n".join(lines) + "\n"


def _written(distribution: Distribution, unit: str) -> str:
    """Write a distribution as an inline table with units in the strings."""

    def text(value: float) -> str:
        return f'"{value:.6g}{unit}"' if unit else f"{value:.6g}"

    if isinstance(distribution, Constant):
        return f"{{value = {text(distribution.value)}}}"
    if isinstance(distribution, Rectangular | Triangular):
        low, high = distribution.support
        name = "rectangular" if isinstance(distribution, Rectangular) else "triangular"
        return f'{{distribution = "{name}", low = {text(low)}, high = {text(high)}}}'
    name = "normal" if distribution.support[0] < 0.0 else "lognormal"
    spread = distribution.standard_uncertainty
    return f'{{distribution = "{name}", estimate = {text(distribution.mean)}, standard_uncertainty = {text(spread)}}}'
