"""
How likely a run is, by the bench and by the other runs of the group, whatever the scatter of the readings.

A run is looked at by four traits: E/m, power, and how its marks lie on the lines of mass and of time against energy.
E/m of all runs shares two unknowns, the loss and all else that the bench knows only so far; power shares the heater.
How far readings scatter is itself unknown: their noise may be a multiple of what the bench lets one expect, and lines
and repeats say which. Any of the other runs may be unsound. All of that is weighed, in `Outlook`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from budget.arrays import FloatArray, IntArray
from design.evaluation.expected import Windows, count_step, mark_uncertainty
from design.evaluation.measured import rated_power
from design.evaluation.runs import Run

FACTORS = (1.0, 2.0, 3.5, 6.0, 10.0, 15.0)
"""Push of the boil on the balance over the expected: up to 4.5 g."""
CHANCES = np.array([0.5, 0.2, 0.12, 0.1, 0.06, 0.02])
"""Prior probability of each (judgement: a boil may push ten times as much as is expected)."""
WIDER = np.array([1.0, 2.0])
"""Doubt of the bench over what is stated of it."""
WIDER_CHANCES = np.array([0.9, 0.1])
"""Prior probability of each (judgement: a bench in ten is not quite the one that its file says)."""
UNSOUND = 0.006
"""Prior probability that something else is wrong with a run than a slip (judgement)."""
MOST_UNSOUND = 2
"""Most other runs that are weighed as unsound at once."""
FAR = 0.3
"""Half width at half maximum of the logarithm of E/m, and of power, of an unsound run (Cauchy; judgement)."""
ANEW = 0.005
"""Relative standard uncertainty of E/m that comes anew with every run beside that of its readings (judgement)."""
POWER_DRIFT = 0.01
"""Relative standard uncertainty of power from run to run (judgement: 0.5 to 1 % of voltage at most)."""
ROUGH = np.geomspace(1.0, 300.0, 12)
"""Scatter of marks over the expected where a run is unsound."""
LATE = np.array([1.0, 2.0, 8.0])
"""Scatter of times over the expected."""
LATE_CHANCES = np.array([0.7, 0.2, 0.1])
"""Prior probability of each (judgement)."""
STEADY_TIME = 0.5
"""Standard uncertainty of the time of a mark beside reaction and counts: the wander of the supply. [s] (judgement)"""
FEWEST = 4
"""Marks from which one of them may be seen to lie astray."""
ASTRAY = 30.0
"""Half width at half maximum of the deviation of a mark that does, over what is usual (Cauchy; judgement)."""
LEAST = 1e-6
"""Least ratio whose logarithm is taken. [1]"""
IMPOSSIBLE = -1e9
"""Logarithm of a likelihood that is none."""


@dataclass(frozen=True)
class Traits:
    """
    What a run shows.

    Parameters
    ----------
    goes_on : bool
        Whether energy, mass and time go on from mark to mark; a run that does not is never sound.
    value, of_reading : float
        Logarithm of E/m over that expected, and its standard uncertainty by the scatter expected of marks about the
        expected mass.
    scatter : tuple of float
        Scatter of its marks over the expected, by each of ``FACTORS``.
    of_bench : tuple of float
        Its standard uncertainties by what is known of the loss and of all else.
    power, of_counting : float
        Logarithm of power over the rated one, nan without one, and its standard uncertainty by reading.
    marks, times : tuple of (float, int)
        Squared residuals of mass, and of time, about their line against energy over the expected variance, and the
        degrees of freedom.
    density : float
        Logarithm of the density of marks and times on their lines.
    without : tuple of (Traits, float)
        The same without the mark furthest from the line of mass, or of time, and the logarithm of the density of it.
    """

    goes_on: bool
    value: float
    of_reading: float
    scatter: tuple[float, ...]
    of_bench: tuple[float, float]
    power: float
    of_counting: float
    marks: tuple[float, int]
    times: tuple[float, int]
    density: float
    without: tuple[tuple[Traits, float], ...] = ()


def traits_of(run: Run, windows: Windows, *, each_mark: bool = True) -> Traits | None:
    """What a run shows, by default with and without the marks that may be astray; None where no energy was used."""
    whole = _traits(run, windows)
    if whole is None or run.mass.size < FEWEST or not each_mark:
        return whole
    spread = mark_uncertainty(windows.used, run, windows.within(run.power))
    found = {furthest(run.energy, run.mass): spread}
    if run.time is not None:
        found.setdefault(furthest(run.energy, run.time), _timing(run, windows))
    without = []
    for (place, by), usual in found.items():
        rest = _traits(without_mark(run, place), windows)
        if rest is not None:
            without.append((rest, -math.log(math.pi * ASTRAY * usual * (1.0 + (by / (ASTRAY * usual)) ** 2))))
    return replace(whole, without=tuple(without))


def without_mark(run: Run, place: int) -> Run:
    """The run without one of its marks."""
    keep = np.arange(run.mass.size) != place
    energy, mass = run.energy[keep], run.mass[keep]
    time = None if run.time is None else run.time[keep]
    readings = tuple(mark for number, mark in enumerate(run.readings) if number != place)
    since = None if time is None else time - time[0]
    return replace(run, readings=readings, energy=energy - energy[0], mass=mass - mass[0], time=since)


def _traits(run: Run, windows: Windows) -> Traits | None:
    used, power = windows.used, windows.within(run.power)
    spread, still = mark_uncertainty(used, run, power), mark_uncertainty(used, run, power, 0.0)
    push = spread**2 - still**2
    energy = run.energy - run.energy.mean()
    square = float(energy @ energy)
    if square <= 0.0:
        return None
    slope = float(energy @ run.mass) / square
    expected = windows.value(power)
    metered = run.power if run.source != "nameplate" else None
    step, (total, _, time) = count_step(used, run), run.span
    reaction = used.conditions.bench.observer.reaction_time
    counting = math.hypot(math.sqrt(2.0) * reaction / time, 0.41 * step / total) if time and total else 0.0
    timing = _timing(run, windows)
    marks = _about_line(run.energy, run.mass, spread)
    times = (0.0, 0) if run.time is None else _about_line(run.energy, run.time, timing)
    return Traits(
        goes_on=run.goes_on and run.goes_on_steadily and slope > 0.0,
        value=-math.log(max(abs(slope) * expected.value, LEAST)),
        of_reading=spread * expected.value / math.sqrt(square),
        scatter=tuple(math.sqrt(still**2 + factor**2 * push) / spread for factor in FACTORS),
        of_bench=(expected.of_loss, expected.of_others),
        power=math.log(max(abs(metered) / rated_power(used), LEAST)) if metered else math.nan,
        of_counting=math.hypot(counting, POWER_DRIFT),
        marks=marks,
        times=times,
        density=-marks[1] * math.log(spread) - times[1] * math.log(timing),
    )


def _timing(run: Run, windows: Windows) -> float:
    """Standard uncertainty of the time of a mark about the line of the others. [s]"""
    used, power = windows.used, windows.within(run.power)
    counted = 0.0 if used.procedure.pace.whole_counts else 0.3 * count_step(used, run) / max(power, 1e-6)
    return math.hypot(used.conditions.bench.observer.reaction_time, counted, STEADY_TIME)


def furthest(x: FloatArray, y: FloatArray) -> tuple[int, float]:
    """
    Index of the mark furthest from a robust line through all, and how far.

    Notes
    -----
    Slope: median of all pairwise slopes (Theil 1950; Sen 1968, from memory), so that one mark cannot bend the line.
    """
    i, j = np.triu_indices(x.size, k=1)
    apart = x[j] - x[i]
    good = np.abs(apart) > 0.0
    if not good.any():
        return 0, 0.0
    slope = float(np.median((y[j] - y[i])[good] / apart[good]))
    residual = y - slope * x
    residual = np.abs(residual - np.median(residual))
    worst = int(np.argmax(residual))
    return worst, float(residual[worst])


def _about_line(x: FloatArray, y: FloatArray, spread: float) -> tuple[float, int]:
    """Chi-squared about the least-squares line, and its degrees of freedom."""
    if x.size < 3:
        return 0.0, 0
    centred = x - x.mean()
    residuals = y - y.mean() - centred * float(centred @ y) / float(centred @ centred)
    return float(residuals @ residuals) / max(spread, 1e-12) ** 2, x.size - 2


@dataclass(frozen=True)
class Outlook:
    """
    What to expect of a run; arrays of shape (c,), a column a hypothesis of bench, scatter and other runs.

    Parameters
    ----------
    weights : ndarray
        Logarithm of prior and likelihood of each hypothesis, by all other runs.
    places : ndarray
        Which of ``FACTORS`` it takes.
    state, doubt : ndarray, shapes (c, 2) and (c, 2, 2)
        Deviation of the bench in loss and all else, in their standard uncertainties, and its covariance.
    power, power_variance : ndarray
        Expected logarithm of power over the rated one, and its variance; the variance is infinite where nothing is.
    windows : Windows
        The bench.
    """

    weights: FloatArray
    places: IntArray
    state: FloatArray
    doubt: FloatArray
    power: FloatArray
    power_variance: FloatArray
    windows: Windows

    @property
    def evidence(self) -> float:
        """Logarithm of the likelihood of the runs on which it rests."""
        return _total(self.weights)

    @property
    def evidence_if_sound(self) -> float:
        """The same where nothing is wrong with any of them."""
        return _total(self.weights[: len(FACTORS) * WIDER.size])

    def expected(self, traits: Traits) -> tuple[tuple[float, float], tuple[float, float]]:
        """Mean and standard uncertainty of the logarithms of E/m and of power of a run like this."""
        weight = np.exp(self.weights - self.evidence)
        value, variance = self.value(traits)
        middle = float(weight @ value)
        power = float(weight @ self.power)
        together = float(weight @ (variance + (value - middle) ** 2))
        known = bool(np.isfinite(self.power_variance).all())
        of_power = float(weight @ (self.power_variance + (self.power - power) ** 2)) if known else math.inf
        return (middle, math.sqrt(together)), (power, math.sqrt(of_power + traits.of_counting**2))

    def likely(self, traits: Traits | None) -> float:
        """Logarithm of the likelihood of a run, and of all others, where it is sound."""
        if traits is None or not traits.goes_on:
            return IMPOSSIBLE
        return _total(self.weights + self._value_term(traits) + self._power_term(traits) + self._line_terms(traits))

    def unsound(self, traits: Traits | None) -> float:
        """Logarithm of the same with prior where something is wrong with E/m, power, a mark, or all."""
        if traits is None:
            return self.evidence + math.log(UNSOUND)
        sound = (self._value_term(traits), self._power_term(traits), self._line_terms(traits))
        broad = (_far(traits.value), 0.0 if math.isnan(traits.power) else _far(traits.power), _rough(traits))
        ways = [[broad[place] if place in wrong else sound[place] for place in range(3)] for wrong in
                ({0}, {1}, {2}, {0, 1, 2})]  # fmt: skip
        terms = [_total(self.weights + sum(way)) for way in ways]
        terms += [self.likely(rest) + density for rest, density in traits.without]
        return _total(np.array(terms)) + math.log(UNSOUND / len(ways))

    def scatter(self, traits: Traits) -> FloatArray:
        """Scatter of marks of a run like this over the expected, by every hypothesis."""
        return np.array(traits.scatter)[self.places]

    def value(self, traits: Traits) -> tuple[FloatArray, FloatArray]:
        """Expected logarithm of E/m of a run like this, and its variance, by every hypothesis."""
        bench = np.array(traits.of_bench)
        variance = (
            np.einsum("i,cij,j->c", bench, self.doubt, bench)
            + (self.scatter(traits) * traits.of_reading) ** 2
            + ANEW**2
        )
        return np.asarray(self.state @ bench), np.asarray(variance)

    def _value_term(self, traits: Traits) -> FloatArray:
        return _normal(traits.value, *self.value(traits))

    def _power_term(self, traits: Traits) -> FloatArray | float:
        if math.isnan(traits.power):
            return 0.0
        if self.windows.several_powers:
            return _dialled(traits.power, self.windows)
        return _normal(traits.power, self.power, self.power_variance + traits.of_counting**2)

    def _line_terms(self, traits: Traits) -> FloatArray:
        return _on_lines(traits, self.scatter(traits))


def outlook_of(runs: Sequence[Traits], windows: Windows) -> Outlook:
    """What runs let one expect of one more; those that do not go on are left out."""
    number = len(runs)
    unsound = [wrong for size in range(min(MOST_UNSOUND, number) + 1) for wrong in combinations(range(number), size)]
    sound = np.ones((len(unsound), number))
    for place, wrong in enumerate(unsound):
        sound[place, list(wrong)] = 0.0
    shape = (len(unsound), len(FACTORS), WIDER.size)
    weights = np.zeros(shape) + np.log(CHANCES)[:, None] + np.log(WIDER_CHANCES)
    information = np.zeros((*shape, 2, 2)) + np.eye(2) / WIDER[:, None, None] ** 2
    pointing, squares = np.zeros((*shape, 2)), np.zeros(shape)
    weights -= 2.0 * np.log(WIDER)
    for index, run in enumerate(runs):
        counts = sound[:, index, None, None]
        bench = np.array(run.of_bench)
        scatter = np.array(run.scatter)[:, None]
        variance = (scatter * run.of_reading) ** 2 + ANEW**2
        information += (counts / variance)[..., None, None] * np.outer(bench, bench)
        pointing += (counts / variance * run.value)[..., None] * bench
        squares += counts * (run.value**2 / variance + np.log(2.0 * math.pi * variance))
        line = _on_lines(run, scatter)
        broad = math.log(UNSOUND) + _far(run.value) + _rough(run)
        weights += counts * line + (1.0 - counts) * broad
    doubt = np.linalg.inv(information)
    state = np.einsum("...ij,...j->...i", doubt, pointing)
    fit = np.einsum("...i,...i->...", state, pointing)
    weights += 0.5 * (fit - squares - np.linalg.slogdet(information)[1])
    powers, variances, evidence = _powers(runs, sound, windows)
    return Outlook(
        weights=(weights + evidence[:, None, None]).ravel(),
        places=np.broadcast_to(np.arange(len(FACTORS))[:, None], shape).ravel(),
        state=state.reshape(-1, 2),
        doubt=doubt.reshape(-1, 2, 2),
        power=np.broadcast_to(powers[:, None, None], shape).ravel(),
        power_variance=np.broadcast_to(variances[:, None, None], shape).ravel(),
        windows=windows,
    )


def _powers(runs: Sequence[Traits], sound: FloatArray, windows: Windows) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Expected logarithm of power with its variance, and logarithm of the evidence, a row a choice of sound runs."""
    zero = np.zeros(len(sound))
    if windows.several_powers:
        terms = [
            _dialled(run.power, windows) * sound[:, place] + _far(run.power) * (1.0 - sound[:, place])
            for place, run in enumerate(runs)
            if not math.isnan(run.power)
        ]
        return zero, zero + np.inf, zero + sum(terms, zero)
    low, high = (math.log(one / rated_power(windows.used)) for one in windows.power)
    middle, variance = 0.5 * (low + high), (0.5 * (high - low)) ** 2 / 3.0 + POWER_DRIFT**2
    information, pointing, squares, evidence = zero + 1.0 / variance, zero + middle / variance, zero.copy(), zero.copy()
    squares += middle**2 / variance
    for place, run in enumerate(runs):
        if math.isnan(run.power):
            continue
        counts, own = sound[:, place], run.of_counting**2
        information = information + counts / own
        pointing = pointing + counts * run.power / own
        squares += counts * (run.power**2 / own + math.log(2.0 * math.pi * own))
        evidence += (1.0 - counts) * _far(run.power)
    evidence += 0.5 * (pointing**2 / information - squares - np.log(information * variance))
    return pointing / information, 1.0 / information, evidence


def _dialled(power: float, windows: Windows) -> float:
    """Logarithm of the density of a power that somebody set: even from a thirtieth of the rated one to the highest."""
    low, high = math.log(1.0 / 30.0), math.log(windows.power[1] / rated_power(windows.used)) + POWER_DRIFT
    beyond = max(low - power, power - high, 0.0)
    return -math.log(high - low) - 0.5 * (beyond / POWER_DRIFT / 3.0) ** 2


def _far(deviation: float) -> float:
    """Logarithm of the density of something anywhere."""
    return math.log(FAR / math.pi / (FAR**2 + deviation**2))


def _on_lines(traits: Traits, scatter: FloatArray) -> FloatArray:
    """Logarithm of the density of marks and times about their lines, the scatter of marks being a multiple."""
    (squares, free), (late, times) = traits.marks, traits.times
    of_times = _total(np.log(LATE_CHANCES) - times * np.log(LATE) - 0.5 * late / LATE**2)
    return np.asarray(traits.density + of_times - free * np.log(scatter) - 0.5 * squares / scatter**2)


def _rough(traits: Traits) -> float:
    """Logarithm of the likelihood of marks that may lie far from their lines."""
    found = traits.density
    for squares, free in (traits.marks, traits.times):
        found += _total(-free * np.log(ROUGH) - 0.5 * squares / ROUGH**2) - math.log(ROUGH.size)
    return found


def _normal(value: float, middle: FloatArray, variance: FloatArray) -> FloatArray:
    return np.asarray(-0.5 * ((value - middle) ** 2 / variance + np.log(2.0 * math.pi * variance)))


def _total(terms: FloatArray) -> float:
    return float(np.logaddexp.reduce(terms))
