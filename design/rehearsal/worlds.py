"""Worlds that differ from the one that a budget states: other physics, and truths wider than it knows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from design.physics.swell import circulating_pool_drift, still_pool_drift
from design.rehearsal.behaviour import Truth
from design.setting.hardware import LOSSES
from design.setting.situation import Situation

Change = Callable[[Situation, Truth, np.random.Generator], Truth]
"""Truths that are otherwise, from a setting of a kit, what is true as stated, and chance."""


@dataclass(frozen=True)
class World:
    """
    A way in which the world may differ from the budget.

    Parameters
    ----------
    key : str
        Of its words.
    outside : bool
        Whether it lies outside what the budget states, or within its stated spread.
    change : callable
        What is true otherwise.
    """

    key: str
    outside: bool
    change: Change


def all_of(key: str, value: Callable[[Situation], float]) -> Change:
    """The same truth in every run."""
    return lambda situation, truth, _: {key: np.full_like(truth[key], value(situation))}


def between(key: str, low: float, high: float) -> Change:
    """A truth anywhere between two ends."""
    return lambda _, truth, generator: {key: generator.uniform(low, high, truth[key].shape)}


def times(factor: float, *keys: str) -> Change:
    """Truths so many times as large."""
    return lambda _, truth, __: {key: factor * truth[key] for key in keys}


def _still(situation: Situation) -> float:
    return still_pool_drift(situation.conditions.water)


def _circulating(situation: Situation) -> float:
    return circulating_pool_drift(situation.conditions.water, situation.kit.vessel.diameter)


WORLDS: tuple[World, ...] = (
    World("drift_still", outside=False, change=all_of("drift", _still)),
    World("drift_circulating", outside=False, change=all_of("drift", _circulating)),
    World("void_depth", outside=True, change=between("void_slope", -2.0, 2.0)),
    World("storage", outside=True, change=between("storage", 1.6, 3.0)),
    World("wet_lagging", outside=True, change=between("wetting", 1.0, 4.0)),
    World("drips", outside=True, change=between("dripping", 0.3, 1.0)),
    World("losses_half", outside=True, change=times(0.5, *LOSSES)),
    World("losses_double", outside=True, change=times(2.0, *LOSSES)),
    World("meter_double", outside=True, change=times(2.0, "meter_error")),
    World("noise_double", outside=True, change=times(2.0, "noise_factor")),
)
"""Worlds that a rehearsal plays beside the one that is stated: each law of drift flux alone; a void that grows or
shrinks by up to twice the share of water that has gone; lagging that takes up more heat than is stated, or gets wet
and loses two to five times as much; condensate that drips beside the pan; losses, meter and noise that are not what is
stated. (judgement)"""


def in_each(worlds: Sequence[World], situation: Situation, truth: Truth, generator: np.random.Generator) -> Truth:
    """The same runs in every world, one world after another; arrays of shape (worlds * n,)."""
    each = [{**truth, **world.change(situation, truth, generator)} for world in worlds]
    return {key: np.concatenate([one[key] for one in each]) for key in truth}
