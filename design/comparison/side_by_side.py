"""Methods side by side on one kit, where they overtake each other, and how often they win on other kits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import scaled
from design.bench import Bench
from design.chosen import Design, all_terms
from design.comparison.changes import IMPROVEMENTS, LOWER_POWER, WAYS, at_power, extra_price, used_with, using
from design.comparison.population import KITS, Population, population_of
from design.errors import DesignError
from design.kit import Kit, Role
from design.message import Message
from design.physics.evidence import default, evidence
from design.procedures.cooling_run import heater_off_mistake
from design.procedures.fixed_mass import FixedMassKeptOn
from design.procedures.registry import USUAL
from design.procedures.series import Series
from design.procedures.two_powers import TwoPowers
from design.search.planning import Progress, plan_bench, quiet
from design.search.sample import Sample, errors_of, relative_errors, rms
from design.search.today import USUAL_CORRECTION, current_design
from design.setting.constants import FILL_STEP
from design.setting.hardware import LOSSES, Conditions, conditions_of

CROSSING_TRIALS = 1024
"""Size of the sample on which crossing points are looked for."""
POPULATION_TRIALS = 256
"""Size of the sample on which each method is tried on each plausible kit."""
COOLING_ROWS = 5
"""Readings of a cooling run: one a minute over four minutes."""
DEFAULT_TRIALS = 8192
"""Size of the sample on which the methods are compared on the kit in hand: a power of two."""


@dataclass(frozen=True)
class Method:
    """
    A way of working on the kit in hand, or with one thing changed.

    Parameters
    ----------
    key : str
        Identifier of the procedure, or of the improvement.
    design : Design
        Kit and setting.
    items : mapping of str to str
        Names of the kit's items by role, as far as they are in hand.
    price : float or None
        Of what it needs beyond the kit in hand; None where a shelf has nothing of the kind.
    bias_percent, standard_uncertainty_percent, rms_error_percent, interval_percent
        Of the error of the reported value, relative to the true one.
    rms_calculated_percent : float
        Rms error of the same with the calculated correction.
    """

    key: str
    design: Design
    items: Mapping[Role, str]
    price: float | None
    bias_percent: float
    standard_uncertainty_percent: float
    rms_error_percent: float
    rms_calculated_percent: float
    interval_percent: tuple[float, float]


@dataclass(frozen=True)
class HeaterOff:
    """
    What the mistake of subtracting the heater-off rate of mass loss would cost on the kit in hand.

    Mass leaving with the heater on; mass leaving with the heater off at the low end, the estimate and the high end
    [kg/s]; what subtracting that does to the value, and the error of the value that results from the uncorrected one.
    """

    boiling_rate: float
    rates: tuple[float, ...]
    mistakes_percent: tuple[float, ...]
    results_percent: tuple[float, ...]


@dataclass(frozen=True)
class Comparison:
    """
    A comparison on one bench: why its kit is the one in hand, and what is done today with it.

    Beside that every procedure with every correction, uncorrected first, and every improvement of today's way one at a
    time; where methods overtake each other; how often they win on other kits; and what a common mistake costs.
    """

    conditions: Conditions
    seed: int
    trials: int
    kit_reason: Message | None
    usual: Method
    procedures: tuple[Method, ...]
    improvements: tuple[Method, ...]
    crossings: tuple[Sweep, ...]
    population: Population
    heater_off: HeaterOff

    @property
    def bench(self) -> Bench:
        """The bench."""
        return self.conditions.bench


def compare_bench(
    bench: Bench, *, seed: int = 0, trials: int = DEFAULT_TRIALS, workers: int = 1, kits: int = KITS,
    progress: Progress = quiet,
) -> Comparison:  # fmt: skip
    """
    Compare procedures and improvements on the kit in hand, and on a population of plausible kits.

    The sample on which the methods are compared and the population are drawn with the same seed; ``workers`` are the
    processes where a kit has to be recommended first.

    Raises
    ------
    DesignError
        If no kit is in use and none can be recommended.
    """
    conditions, sample = conditions_of(bench), Sample(trials, seed)
    usual, reason = kit_in_hand(conditions, seed, trials, workers, progress)
    base = _method("usual", usual, usual.kit, sample)
    methods: list[list[Method]] = []
    for stage, ways in (("comparing procedures", WAYS), ("trying improvements", IMPROVEMENTS)):
        methods.append([])
        for done, way in enumerate(ways, start=1):
            design = way.make(usual)
            if design is not None:
                methods[-1].append(_method(way.key, design, usual.kit, sample))
            progress(stage, done, len(ways))
    progress("looking for crossing points", 0, 1)
    crossings = crossings_of(usual, Sample(min(CROSSING_TRIALS, trials), seed))
    progress("looking for crossing points", 1, 1)
    return Comparison(
        conditions=conditions,
        seed=seed,
        trials=trials,
        kit_reason=reason,
        usual=base,
        procedures=tuple(methods[0]),
        improvements=tuple(methods[1]),
        crossings=crossings,
        population=population_of(bench, seed, Sample(min(POPULATION_TRIALS, trials), seed), progress, kits),
        heater_off=heater_off(base),
    )


def kit_in_hand(
    conditions: Conditions, seed: int, trials: int, workers: int, progress: Progress
) -> tuple[Design, Message | None]:
    """
    What is done today; else, with the reason why that cannot be, the recommended kit used in the usual way.

    Raises
    ------
    DesignError
        If no kit is in use and none can be recommended.
    """
    today, why_not = current_design(conditions)
    if today is not None:
        return today, None
    bench = conditions.bench
    plan = plan_bench(bench, seed=seed, trials=trials, workers=workers, progress=progress)
    if plan.recommended is None:
        raise DesignError(
            f"{bench.path}: no kit to compare methods on: {why_not}, and no design from the shelves is feasible "
            "(boiloff plan says what stands in the way)"
        )
    return _usual_way(plan.recommended.design), why_not


def _usual_way(design: Design) -> Design:
    """Use a recommended kit in the usual way, its meter read as the meter's own rule says."""
    meter = design.kit.meter
    plain = [one for one in design.conditions.bench.meters if replace(one, reads=meter.reads) == meter]
    kit = replace(design.kit, meter=plain[0] if plain else meter)
    return used_with(replace(design, kit=kit, spare=0.0, fill_step=FILL_STEP), USUAL, USUAL_CORRECTION)


def _method(key: str, design: Design, in_hand: Kit, sample: Sample) -> Method:
    errors, bench = errors_of(design, sample), design.conditions.bench
    low, high = np.quantile(errors, [0.5 * (1.0 - bench.search.coverage), 0.5 * (1.0 + bench.search.coverage)])
    return Method(
        key=key,
        design=design,
        items={role: item.name for role, item in design.kit.items.items() if in_hand.items.get(role) == item},
        price=extra_price(bench, in_hand, design.kit),
        bias_percent=100.0 * float(errors.mean()),
        standard_uncertainty_percent=100.0 * float(errors.std()),
        rms_error_percent=100.0 * rms(errors),
        rms_calculated_percent=100.0 * rms(errors_of(replace(design, correction="calculated"), sample)),
        interval_percent=(100.0 * float(low), 100.0 * float(high)),
    )


def rows_of_readings(design: Design) -> int:
    """Rows of the readings sheet: every mark of every run, and those of a cooling run."""
    cooling = COOLING_ROWS if design.situation.pace.cooling > 0.0 else 0
    return int(design.repeats * (design.situation.all_runs.marks[0] + 1.0).sum()) + cooling


def heater_off(usual: Method) -> HeaterOff:
    """Work out what subtracting the heater-off rate of mass loss would do to the usual, uncorrected value."""
    situation, row = usual.design.situation, evidence("heater_off_evaporation")
    boiling = float(situation.runs.steaming[0]) / usual.design.reference
    fluxes = (row.value - row.spread, row.value, row.value + row.spread)
    rates = tuple(min(flux * situation.hardware.area, 0.9 * boiling) for flux in fluxes)
    mistakes = tuple(heater_off_mistake(boiling, rate) for rate in rates)
    bias = usual.bias_percent / 100.0
    return HeaterOff(
        boiling_rate=boiling,
        rates=rates,
        mistakes_percent=tuple(100.0 * mistake for mistake in mistakes),
        results_percent=tuple(100.0 * ((1.0 + bias) * (1.0 + mistake) - 1.0) for mistake in mistakes),
    )


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
    *(using(FixedMassKeptOn(), correction) for correction in FixedMassKeptOn().corrections),
    using(TwoPowers(), "none"),
    using(Series(2), "none"),
)
"""Methods whose curves are drawn."""
PAIRS = ((0, 1), (0, 3), (1, 3), (1, 2), (2, 3), (1, 4), (3, 4))
"""Pairs of them whose crossing points are looked for."""


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
