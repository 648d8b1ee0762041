"""Whether a measurand has a mean and a variance at all: how its tails fall, and whether its equation has a pole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.model.equation import Program
from budget.model.measurement import MeasurementModel
from budget.quantities.shapes import REVERSED, Shape, StandardForm, standard_isf, standard_moments, standard_ppf
from budget.sampling.draws import Sampler, sampler

DOUBTFUL = 1.01
"""Factor within which an order is not known: t with two degrees of freedom has moments of orders below 2 alone."""
SCREENED = 1024
"""Draws among which a divisor is looked at first."""
AWAY = 12.0
"""Standard deviations from zero beyond which a divisor is not looked at further."""
RARE = np.array([1e-7, 1e-9])
"""Probabilities beyond which a tail is followed: what happens less often does not count."""
BEYOND, MATTERS = 1e-4, 1e-3
"""A tail counts where what lies beyond the first probability makes more than the second of the variance."""
LIGHT = 14.0
"""Order from which a tail is light enough for draws of equal weight."""
FEW = 30.0
"""Degrees of freedom below which the standard deviation of draws says little of how far out they go."""
PLENTY = 50.0
"""Order from which moments are not counted."""
REACH = 6.0
"""Distance in standard deviations within which a pole counts: it lies beyond once in a thousand million draws."""


@dataclass(frozen=True)
class Tails:
    """
    Which moments a distribution has: those of orders below ``order``.

    ``reason`` says, where ``order`` is not infinite, what takes the others away; ``heavy`` are the inputs whose tails
    make the variance, the heaviest first.
    """

    order: float
    reason: str = ""
    heavy: tuple[str, ...] = ()

    @property
    def has_mean(self) -> bool:
        """Tell whether there is an expectation."""
        return self.order > DOUBTFUL

    @property
    def has_variance(self) -> bool:
        """Tell whether there is a standard deviation."""
        return self.order > 2.0 * DOUBTFUL


def tails(model: MeasurementModel, drawing: Sampler | None = None) -> Tails:
    """
    Return which moments the measurand has, and why not more.

    Notes
    -----
    E|Y|^k is finite where k·r < 1, with r the growth of ln|Y - y| against -ln p as one input goes out to its quantile
    of probability p; what happens less often than once in a thousand million draws is not counted. Where a divisor is
    zero at a point that its inputs can reach, |Y| grows as the distance δ to that point to the power -q, and E|Y|^k is
    finite where k·q < 1. The point is found as reliability methods find one: in standard normal coordinates, by Newton
    steps to the nearest point of the surface.

    References
    ----------
    .. [1] Hasofer, A. M. and Lind, N. C. (1974). Exact and invariant second-moment code format. J. Eng. Mech. Div.
       ASCE 100, 111-121 (from memory).
    """
    drawing = sampler(model) if drawing is None else drawing
    program = model.program.with_constants(model.constants)
    scores = np.random.default_rng(0).standard_normal((drawing.dimension, SCREENED))
    results = program.all_results(drawing.scores_to_draws(scores))
    outcomes = results[program.names[program.result]]
    low, high = np.nanquantile(np.where(np.isfinite(outcomes), outcomes, np.nan), [1.0 / 6.0, 5.0 / 6.0])
    outer = sorted(_outer(model, drawing, 0.5 * float(high - low)), key=lambda tail: tail.order)
    heavy = tuple(dict.fromkeys(symbol for tail in outer if tail.order < LIGHT for symbol in tail.heavy))
    found = [Tails(math.inf), *outer]
    found += _poles(model, program, drawing, scores, results)
    return replace(min(found, key=lambda tail: tail.order), heavy=heavy)


def _outer(model: MeasurementModel, drawing: Sampler, spread: float) -> Iterator[Tails]:
    """Follow the measurand, of a given spread, out along the tails of every input that has no limit there."""
    ways = [(row, far) for row, form in enumerate(drawing.forms) for far in _far(form.shape)]
    if not ways:
        return
    middle = np.array([special.ndtri(0.7), special.ndtri(0.4)])
    places = drawing.scores_to_draws(np.tile(middle, (drawing.dimension, 1)))
    shape = (middle.size, len(ways), RARE.size)
    values = {symbol: np.broadcast_to(value[:, None, None], shape).copy() for symbol, value in places.items()}
    for way, (row, far) in enumerate(ways):
        form = drawing.forms[row]
        values[drawing.symbols[row]][:, way] = form.location + form.scale * far
    with np.errstate(all="ignore"):
        centres = np.broadcast_to(model.evaluate_draws(places), middle.shape)[:, None, None]
        sizes = np.abs(np.broadcast_to(model.evaluate_draws(values), shape) - centres)
        rates = np.log(sizes[..., 1] / sizes[..., 0]) / float(np.log(RARE[0] / RARE[1]))
    rates = np.max(np.where(np.isnan(rates), 0.0, rates), axis=0)
    rates[np.any(sizes == math.inf, axis=(0, 2))] = math.inf
    for (row, _), rate, size in zip(ways, rates.tolist(), np.max(sizes[..., 0], axis=0).tolist(), strict=True):
        if rate > 1.0 / PLENTY:
            symbol = drawing.symbols[row]
            largest = size * float(RARE[0] / BEYOND) ** rate if rate < 0.5 else math.inf
            counts = BEYOND * largest**2 > MATTERS * spread**2
            yield Tails(1.0 / rate, _heavy(symbol, drawing.forms[row]), (symbol,) if counts else ())


def _far(shape: Shape) -> tuple[FloatArray, ...]:
    """Return quantiles far out in each tail that a standard shape has."""
    ends = standard_moments(shape)
    low = (standard_ppf(shape, RARE),) if math.isinf(ends.low) else ()
    high = (standard_isf(shape, RARE),) if math.isinf(ends.high) else ()
    return low + high


def _heavy(symbol: str, form: StandardForm) -> str:
    name, *parameters = form.shape[1:] if form.shape[0] == REVERSED else form.shape
    if name == "t":
        return f"{symbol} has {_degrees(float(parameters[0]))}"
    return f"the measurand grows too fast as {symbol} goes out in its tail"


STEP, STEPS = 1e-4, 60
"""Of differences, and of Newton's method."""
ASIDE = 0.3
"""Distance at which a zero is looked at a second time: at the first the dividend may be zero too."""
_DIVISORS = {"divide": 1, "reciprocal": 0, "power": 0}
"""Which operand of an operation must not be zero; of a power, where its exponent is negative."""


def _poles(
    model: MeasurementModel, program: Program, drawing: Sampler, scores: FloatArray, results: list[FloatArray]
) -> Iterator[Tails]:
    """Find zeros of divisors that draws can reach, starting from a sample, and how the measurand grows there."""
    few = {s for s in drawing.symbols if model.distributions[s].dof < FEW}
    for index in _divisors(program):
        sample = results[index]
        if sample.ndim == 0 or not np.any(finite := np.isfinite(sample)):
            continue
        mean, deviation = float(np.mean(sample[finite])), float(np.std(sample[finite]))
        if deviation == 0.0 or (abs(mean) > AWAY * deviation and not few & program.reach[index]):
            continue
        nearest = scores[:, int(np.argmin(np.where(finite, np.abs(sample), np.inf)))]
        surface = _Surface(program, drawing, index, deviation)
        for start in (np.zeros(drawing.dimension), nearest):
            point = surface.nearest(start)
            if point is not None and (power := surface.growth(point)) > 0.0:
                yield Tails(1.0 / power, _at_pole(model, program.reach[index], float(np.linalg.norm(point))))
                break


def _at_pole(model: MeasurementModel, reach: frozenset[str], distance: float) -> str:
    """Say why there is a pole: few readings, if the divisor rests on such, or else how near it is."""
    few = min(sorted(reach), key=lambda symbol: model.distributions[symbol].dof)
    if model.distributions[few].dof < FEW:
        dof = _degrees(model.distributions[few].dof)
        return f"{few} has {dof}, and a t distribution of so few goes out to where a divisor is zero"
    through = " and ".join(sorted(reach))
    return f"a divisor, which depends on {through}, can be zero, {distance:.1f} standard deviations away"


def _degrees(dof: float) -> str:
    return f"{dof:.4g} degree{'' if dof == 1.0 else 's'} of freedom"


def _divisors(program: Program) -> Iterator[int]:
    """Operations by whose results something is divided."""
    seen = set()
    for name, operands in program.operations:
        if name not in _DIVISORS:
            continue
        exponent = program.loads[operands[1]] if name == "power" else -1.0
        if isinstance(exponent, float) and exponent < 0.0 and operands[_DIVISORS[name]] not in seen:
            seen.add(operands[_DIVISORS[name]])
            yield operands[_DIVISORS[name]]


@dataclass(frozen=True)
class _Surface:
    """Where one result of a program, of a given size, is zero, in independent standard normal coordinates."""

    program: Program
    drawing: Sampler
    index: int
    size: float

    def nearest(self, start: FloatArray) -> FloatArray | None:
        """Return the point nearest to the origin, if there is one within reach."""
        point = start
        for _ in range(STEPS):
            value, slope = self._linear(point)
            squared = float(slope @ slope)
            if abs(value) <= 1e-12 * self.size:
                break
            if squared == 0.0 or not math.isfinite(squared):
                return None
            point = (slope @ point - value) / squared * slope
            if float(np.linalg.norm(point)) > 2.0 * REACH:
                return None
        return point if abs(value) <= 1e-9 * self.size and float(np.linalg.norm(point)) <= REACH else None

    def growth(self, point: FloatArray) -> float:
        """Power of the distance with which the program's result grows towards the zero; 0 where it does not."""
        aside = self._onto(point + ASIDE * np.cos(np.arange(point.size)))
        return max(self._growth_at(place) for place in (point, aside))

    def _growth_at(self, point: FloatArray) -> float:
        _, slope = self._linear(point)
        norm = float(np.linalg.norm(slope))
        way = slope / norm if norm > 0.0 else np.full(point.size, point.size**-0.5)
        distances = np.array([1e-2, 1e-3, -1e-2, -1e-3])
        values = self.program.evaluate(self.drawing.scores_to_draws(point[:, None] + way[:, None] * distances))
        sizes = np.abs(np.broadcast_to(values, (4,)))
        powers = [math.log10(near / far) for far, near in (sizes[:2], sizes[2:]) if far > 0.0 and 0.0 < near < math.inf]
        power = max(powers, default=0.0)
        return power if power > 1.0 / PLENTY else 0.0

    def _onto(self, point: FloatArray) -> FloatArray:
        """Go to the surface from a point near it."""
        for _ in range(STEPS):
            value, slope = self._linear(point)
            squared = float(slope @ slope)
            if abs(value) <= 1e-12 * self.size or squared == 0.0 or not math.isfinite(squared):
                break
            point = point - value / squared * slope
        return point

    def _linear(self, point: FloatArray) -> tuple[float, FloatArray]:
        """Value and slope of the result."""
        offsets = STEP * np.eye(point.size)
        around = np.concatenate([point[:, None], point[:, None] + offsets, point[:, None] - offsets], axis=1)
        values = self.program.all_results(self.drawing.scores_to_draws(around))[self.index]
        values = np.broadcast_to(values, around.shape[1:])
        return float(values[0]), (values[1 : point.size + 1] - values[point.size + 1 :]) / (2.0 * STEP)
