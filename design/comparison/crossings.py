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
from design.comparison.changes import LOWER_POWER, used_with
from design.physics.evidence import default, evidence
from design.procedures.face import Correction
from design.procedures.registry import procedure_named
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
METHODS: tuple[tuple[str, int, Correction], ...] = (
    ("fixed-mass-kept-on", 1, "none"),
    ("fixed-mass-kept-on", 1, "calculated"),
    ("fixed-mass-kept-on", 1, "cooling-run"),
    ("two-powers", 2, "none"),
    ("series", 2, "none"),
)
"""Methods whose curves are drawn: procedure, number of powers, correction."""
LOSSES = ("wall_loss", "base_loss", "return_loss")
"""Keys of ``Hardware.knowledge`` that are heat losses."""
PAIRS = ((0, 1), (0, 3), (1, 3), (1, 2), (2, 3), (1, 4), (3, 4))
"""Pairs of them whose crossing points are looked for."""


@dataclass(frozen=True)
class Curve:
    """
    Rms error of one method over a quantity.

    Parameters
    ----------
    procedure, correction : str
        The method.
    number_of_powers : int
        Powers of the procedure.
    rms_percent : ndarray, shape (points,)
        Relative to the true value. [%]
    """

    procedure: str
    correction: Correction
    number_of_powers: int
    rms_percent: FloatArray


@dataclass(frozen=True)
class Crossing:
    """
    Where one method overtakes another.

    Parameters
    ----------
    better_below, better_above : int
        Places of the two methods among the curves.
    value : float
        Where their rms errors are equal; not a number where they never are. [W or kg]
    rms_percent : float
        Rms error of both there. [%]
    """

    better_below: int
    better_above: int
    value: float
    rms_percent: float


@dataclass(frozen=True)
class Sweep:
    """
    Curves of all methods over one quantity, and where they cross.

    Parameters
    ----------
    quantity : {"power", "loss", "scatter"}
        Highest power [W], heat loss [W], or unsteadiness of one reading at the boil [kg].
    values : ndarray, shape (points,)
        Where the curves are worked out.
    here : float
        Value on the kit in hand.
    curves : tuple of Curve
        In the order of ``METHODS``.
    crossings : tuple of Crossing
        One a crossing; a pair that never crosses has none here.
    throughout : tuple of tuple of int
        Pairs that never cross by more than ``TIE``: the better one first.
    """

    quantity: Quantity
    values: FloatArray
    here: float
    curves: tuple[Curve, ...]
    crossings: tuple[Crossing, ...]
    throughout: tuple[tuple[int, int], ...]


Comparisons = tuple[Sweep, ...]
"""Sweeps over power, heat loss and scatter."""

Error = Callable[[int, float], float]
"""Rms error of a method, by its place, at a value of the quantity. [1]"""


def crossings_of(usual: Design, sample: Sample) -> Comparisons:
    """
    Find where the methods of ``METHODS`` overtake each other on a kit, all else as it is.

    Parameters
    ----------
    usual : Design
        Kit and setting; mass step and repeats are kept.
    sample : Sample
        Shared by all methods and values, so that differences are smooth.

    Returns
    -------
    tuple of Sweep
        Over power, heat loss and scatter.

    Notes
    -----
    Each difference of two rms errors is bracketed on the curves and solved by Brent's method (scipy.optimize.brentq).
    """
    designs = [
        used_with(usual, procedure_named(identifier, number), correction) for identifier, number, correction in METHODS
    ]
    hardware = usual.hardware
    upper_loss = hardware.loss + 3.0 * hardware.loss_uncertainty
    lowest = STEAM_MARGIN * upper_loss / LOWER_POWER
    highest = max(LARGEST_POWER, 1.1 * usual.powers[0])
    power = usual.powers[0]

    def at_power(place: int, value: float) -> float:
        return rms_error(_at_power(designs[place], value), sample)

    def at_loss(place: int, value: float) -> float:
        return rms_error(designs[place], sample, loss_factor=value / hardware.loss)

    def at_scatter(place: int, value: float) -> float:
        return rms_error(designs[place], sample, noise_factor=value / noise)

    noise = evidence("boiling_noise").spread
    sweeps = [_sweep("power", np.geomspace(lowest, highest, POINTS), power, at_power)] if lowest < highest else []
    if hardware.loss > 0.0:
        most = LOWER_POWER * power / STEAM_MARGIN * hardware.loss / upper_loss
        sweeps.append(_sweep("loss", np.geomspace(min(1.0, 0.1 * most), most, POINTS), hardware.loss, at_loss))
    here = noise * max(power / 1000.0, 1.0) ** default("boiling_noise_exponent")
    growth = here / noise

    def at_reading(place: int, value: float) -> float:
        return at_scatter(place, value / growth)

    sweeps.append(_sweep("scatter", np.geomspace(*SCATTER_RANGE, POINTS), here, at_reading))
    return tuple(sweeps)


def _at_power(design: Design, highest: float) -> Design:
    """A like heater of another power; lower powers keep their ratio to it."""
    powers = tuple(power / design.powers[0] * highest for power in design.powers)
    heater = replace(design.kit.heater, power=highest)
    return replace(design, kit=replace(design.kit, heater=heater), powers=powers)


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


def _sweep(quantity: Quantity, values: FloatArray, here: float, error: Error) -> Sweep:
    rms = np.array([[error(place, float(value)) for value in values] for place in range(len(METHODS))])
    crossings: list[Crossing] = []
    throughout: list[tuple[int, int]] = []
    for first, second in PAIRS:
        found = _crossings(first, second, values, rms, error)
        crossings += found
        if not found:
            better = (first, second) if rms[first].mean() <= rms[second].mean() else (second, first)
            throughout.append(better)
    curves = tuple(
        Curve(identifier, correction, number, 100.0 * rms[place])
        for place, (identifier, number, correction) in enumerate(METHODS)
    )
    return Sweep(quantity, values, here, curves, tuple(crossings), tuple(throughout))


def _crossings(first: int, second: int, values: FloatArray, rms: FloatArray, error: Error) -> list[Crossing]:
    difference = rms[first] - rms[second]
    clear = np.flatnonzero(np.abs(difference) > TIE * np.minimum(rms[first], rms[second]))
    found = []
    for before, after in pairwise(clear):
        if difference[before] * difference[after] < 0.0:
            value = crossing_between(first, second, (float(values[before]), float(values[after])), error)
            below, above = (first, second) if difference[before] < 0.0 else (second, first)
            found.append(Crossing(below, above, value, 100.0 * error(first, value)))
    return found


def crossing_between(first: int, second: int, bracket: tuple[float, float], error: Error) -> float:
    """
    Value at which two methods have the same rms error.

    Parameters
    ----------
    first, second : int
        Places of the methods.
    bracket : (float, float)
        Ends between which the sign of the difference changes.
    error : callable (int, float) -> float
        Rms error of a method at a value.

    Raises
    ------
    ValueError
        If the sign does not change between the ends.
    """
    from scipy.optimize import brentq

    low, high = bracket
    return float(brentq(lambda value: error(first, value) - error(second, value), low, high, rtol=1e-9))
