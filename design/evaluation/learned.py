"""What the readings teach about the bench: a ``[knowledge]`` table for the bench file, with its provenance."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import Constant, Distribution, Lognormal, Normal, Rectangular, Triangular, scaled
from budget.sampling.quasirandom import uniform_draws
from design.evaluation.account import TRIALS, moments, weighed
from design.evaluation.result import GroupResult
from design.kit import Kit
from design.setting.hardware import changes_of
from design.setting.situation import Situation

KEYS = {
    "W_wall_est": "wall_loss", "W_base_est": "base_loss", "W_return_est": "return_loss", "s_splash_est": "carry_over",
    "e_meter_est": "meter_error",
}  # fmt: skip
"""Keys of a bench file's ``[knowledge]``, by the symbol of the model."""
UNITS = {"wall_loss": " W", "base_loss": " W", "return_loss": " W", "restart_cooling": " J"}
"""Units of the keys that are no shares."""


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


def learn(results: Sequence[GroupResult], *, trials: int = TRIALS, seed: int = 0) -> Learned:
    """
    Update the knowledge of the bench from the readings of all groups, if the reference holds.

    Parameters
    ----------
    results : sequence of GroupResult
        Of the groups, all with one bench.
    trials, seed : int
        Draws from the prior knowledge, and the seed of the scrambled Sobol' sample.

    Raises
    ------
    TooFewEffectiveError
        If the readings lie outside the knowledge.

    Notes
    -----
    What all groups share is drawn once; a group's own scatter is integrated out as a normal error, so each group
    multiplies the weight by N(f_g(θ); L, u_reference² + u_own²).
    """
    first = results[0].best
    shared = [symbol for symbol in first.model.uncertain if symbol not in first.scatter]
    points = np.asarray(uniform_draws(len(shared), trials, seed))
    logarithm = np.zeros(trials)
    draws: dict[str, FloatArray] = {}
    for result in results:
        model, agreement = result.best.model, result.best.agreement
        draws = {symbol: model.distributions[symbol].ppf(points[:, i]) for i, symbol in enumerate(shared)}
        values = model.evaluate({**model.estimates, **draws})
        spread = math.hypot(*result.best.scatter.values(), agreement.reference_uncertainty)
        logarithm -= 0.5 * ((values - agreement.reference) / spread) ** 2
    weight, effective = weighed(logarithm)
    return Learned(_knowledge(results[-1], draws, weight), effective, len(results))


def _knowledge(result: GroupResult, draws: Mapping[str, FloatArray], weight: FloatArray) -> dict[str, Distribution]:
    situation = result.measured.situation
    scale = float(situation.carry_over_scale[0])
    found: dict[str, Distribution] = {}
    for symbol, key in KEYS.items():
        if symbol not in draws:
            continue
        mean, spread = moments(draws[symbol] / (scale if key == "carry_over" and scale > 0.0 else 1.0), weight)
        positive = result.best.model.distributions[symbol].support[0] >= 0.0 and mean > 0.0
        found[key] = Lognormal(mean, spread) if positive else Normal(mean, spread)
    return of_the_bare_vessel(found, situation)


def of_the_bare_vessel(found: Mapping[str, Distribution], situation: Situation) -> dict[str, Distribution]:
    """Knowledge as a bench file states it: of the vessel without what was put on it for the readings."""
    kit = situation.kit
    if kit.vessel.bare is None:
        return dict(found)
    changed = changes_of(situation.conditions, kit.vessel.bare, kit.vessel, kit.heater)
    return {key: scaled(value, 1.0 / changed[key]) if key in changed else value for key, value in found.items()}


def knowledge_table(learned: Learned, kit: Kit, provenance: Sequence[str]) -> str:
    """
    Write the knowledge as TOML: comments, and a ``[knowledge]`` table for a bench file or a plan.

    Parameters
    ----------
    learned, kit
        After the readings, and the kit that they were taken with: vessel and meter are named.
    provenance : sequence of str
        Lines that say where it comes from.
    """
    lines = [f"# {line}" for line in provenance]
    lines += ["# Losses learned together are correlated; a bench file cannot say so, and takes each by itself.", ""]
    lines.append("[knowledge]")
    lines.append(f"of = {{vessel = {json.dumps(kit.vessel.name)}, meter = {json.dumps(kit.meter.name)}}}")
    lines += [f"{key} = {_written(value, UNITS.get(key, ''))}" for key, value in learned.knowledge.items()]
    return "\n".join(lines) + "\n"


def _written(distribution: Distribution, unit: str) -> str:
    """Write a distribution as an inline table with units in the strings."""
    low, high = distribution.support
    limits = {"low": low, "high": high}
    spread = {"estimate": distribution.mean, "standard_uncertainty": distribution.standard_uncertainty}
    name, values = {
        Constant: ("", {"value": distribution.mean}),
        Rectangular: ("rectangular", limits),
        Triangular: ("triangular", limits),
    }.get(type(distribution), ("normal" if low < 0.0 else "lognormal", spread))
    parts = [f'distribution = "{name}"'] if name else []
    parts += [f'{key} = "{value:.6g}{unit}"' if unit else f"{key} = {value:.6g}" for key, value in values.items()]
    return f"{{{', '.join(parts)}}}"
