"""Where one method overtakes another: at which power, scatter of readings or heat loss their rms errors are equal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import scaled
from design.chosen import Design, all_terms
from design.comparison.changes import LOWER_POWER, at_power, used_with, using
from design.physics.evidence import default, evidence
from design.procedures.fixed_mass import FixedMassKeptOn
from design.procedures.series import Series
from design.procedures.two_powers import TwoPowers
from design.search.sample import Sample, relative_errors, rms

Quantity = Literal["power", "loss", "scatter"]

POINTS = 25
"""Points of each curve, evenly spaced in the logarithm."""
STEAM_MARGIN = 1.3
"""Least of the lowest power over the heat loss, three standard uncertainties high."""
TIE = 0.02
"""Relative difference of two rms errors that counts as none: on it no crossing is reported."""
LARGEST_POWER = 3000.0
"""Upper end of the curves over power. [W]"""
SCATTER_RANGE = (0.05e-3, 5e-3)
"""Range of the unsteadiness of one reading. [kg]"""
METHODS = (
    using(FixedMassKeptOn(), "none"),
    using(FixedMassKeptOn(), "calculated"),
    using(FixedMassKeptOn(), "cooling-run"),
    using(TwoPowers(), "none"),
    using(Series(2), "none"),
)
"""Methods whose curves are drawn."""
PAIRS = ((0, 1), (0, 3), (1, 3), (1, 2), (2, 3), (1, 4), (3, 4))
"""Pairs of them whose crossing points are looked for."""
LOSSES = ("wall_loss", "base_loss", "return_loss")
"""Keys of ``Hardware.knowledge`` that are heat losses."""


@dataclass(frozen=True)
class Crossing:
    """Places in ``METHODS`` of two that overtake each other, where their errors are equal [W or kg], and how large."""

    better_below: int
    better_above: int
    value: float
    rms_percent: float


@dataclass(frozen=True)
class Sweep:
    """
    Rms errors of all methods over one quantity, and where they cross.

    Parameters
    ----------
    quantity, here
        Highest power [W], heat loss [W], or unsteadiness of one reading at the boil [kg]; value on the kit in hand.
    values, rms_percent : ndarray, shape (points,) and (methods, points)
        Where the curves are worked out, and errors relative to the true value in the order of ``METHODS``. [%]
    crossings, throughout
        Every crossing; pairs that never cross by more than ``TIE``, the better one first.
    """

    quantity: Quantity
    values: FloatArray
    here: float
    rms_percent: FloatArray
    crossings: tuple[Crossing, ...]
    throughout: tuple[tuple[int, int], ...]


Error = Callable[[int, float], float]
"""Rms error of a method, by its place, at a value of the quantity. [1]"""


def crossings_of(usual: Design, sample: Sample) -> tuple[Sweep, ...]:
    """
    Find where ``METHODS`` overtake each other on a kit over power, heat loss and scatter, all else as it is.

    Each difference of two rms errors is bracketed on the curves and solved by Brent's method (scipy.optimize.brentq).
    """
    designs = [used_with(usual, method.procedure, method.correction) for method in METHODS]
    hardware, power, noise = usual.hardware, usual.powers[0], evidence("boiling_noise").spread
    upper_loss = hardware.loss + 3.0 * hardware.loss_uncertainty
    growth = noise * max(power / 1000.0, 1.0) ** default("boiling_noise_exponent") / noise

    def with_power(place: int, value: float) -> float:
        return rms_error(at_power(designs[place], value, value), sample)

    def with_loss(place: int, value: float) -> float:
        return rms_error(designs[place], sample, loss_factor=value / hardware.loss)

    def with_scatter(place: int, value: float) -> float:
        return rms_error(designs[place], sample, noise_factor=value / growth / noise)

    sweeps = []
    lowest, highest = STEAM_MARGIN * upper_loss / LOWER_POWER, max(LARGEST_POWER, 1.1 * power)
    if lowest < highest:
        sweeps.append(_sweep("power", (lowest, highest), power, with_power))
    if hardware.loss > 0.0:
        most = LOWER_POWER * power / STEAM_MARGIN * hardware.loss / upper_loss
        sweeps.append(_sweep("loss", (min(1.0, 0.1 * most), most), hardware.loss, with_loss))
    return (*sweeps, _sweep("scatter", SCATTER_RANGE, noise * growth, with_scatter))


def rms_error(design: Design, sample: Sample, *, loss_factor: float = 1.0, noise_factor: float = 1.0) -> float:
    """Rms error of a design if heat losses or the unsteadiness of readings were others than believed. [1]"""
    terms = design.terms
    if loss_factor != 1.0:
        losses = {key: scaled(design.hardware.knowledge[key], loss_factor) for key in LOSSES}
        hardware = replace(design.hardware, knowledge={**design.hardware.knowledge, **losses})
        terms = all_terms(design.procedure, design.correction, design.situation_at(design.settings, hardware))
    terms = tuple(
        replace(term, size=term.size * noise_factor) if term.symbol.startswith("d_boiling") else term for term in terms
    )
    return rms(relative_errors(design.program, terms, sample)[0])


def _sweep(quantity: Quantity, ends: tuple[float, float], here: float, error: Error) -> Sweep:
    values = np.geomspace(*ends, POINTS)
    errors = np.array([[error(place, float(value)) for value in values] for place in range(len(METHODS))])
    crossings: list[Crossing] = []
    throughout: list[tuple[int, int]] = []
    for first, second in PAIRS:
        found = _crossings(first, second, values, errors, error)
        crossings += found
        if not found:
            better = errors[first].mean() <= errors[second].mean()
            throughout.append((first, second) if better else (second, first))
    return Sweep(quantity, values, here, 100.0 * errors, tuple(crossings), tuple(throughout))


def _crossings(first: int, second: int, values: FloatArray, errors: FloatArray, error: Error) -> list[Crossing]:
    difference = errors[first] - errors[second]
    clear = np.flatnonzero(np.abs(difference) > TIE * np.minimum(errors[first], errors[second]))
    found = []
    for before, after in pairwise(clear):
        if difference[before] * difference[after] < 0.0:
            value = crossing_between(first, second, (float(values[before]), float(values[after])), error)
            below, above = (first, second) if difference[before] < 0.0 else (second, first)
            found.append(Crossing(below, above, value, 100.0 * error(first, value)))
    return found


def crossing_between(first: int, second: int, bracket: tuple[float, float], error: Error) -> float:
    """
    Value, within a bracket, at which two methods, given by their places, have the same rms error.

    Raises
    ------
    ValueError
        If the sign of the difference does not change between the ends.
    """
    from scipy.optimize import brentq

    low, high = bracket
    return float(brentq(lambda value: error(first, value) - error(second, value), low, high, rtol=1e-9))
