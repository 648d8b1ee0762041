"""Methods side by side on one kit, where they overtake each other, and how often they win on other kits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from budget.model.measurement import MeasurementModel
from design.bench import Bench
from design.chosen import Design
from design.comparison.changes import IMPROVEMENTS, extra_price, used_with
from design.comparison.crossings import Comparisons, crossings_of
from design.comparison.population import KITS, Population, population_of
from design.errors import DesignError
from design.kit import Kit, PassingReading, Role
from design.physics.evidence import evidence
from design.physics.losses import celsius
from design.procedures.cooling_run import heater_off_mistake
from design.procedures.face import Correction, Procedure
from design.procedures.registry import PROCEDURES, procedure_named
from design.search.planning import plan_bench
from design.search.sample import Sample, errors_of, rms
from design.search.today import USUAL_CORRECTION, USUAL_PROCEDURE, current_design
from design.setting.hardware import Conditions, conditions_of

Progress = Callable[..., None]
"""Told how far a comparison has come: stage, done, total, and perhaps a note."""

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
    A method on the kit in hand, or with one thing changed.

    Parameters
    ----------
    key : str
        Identifier of the procedure, or of the improvement.
    items : mapping of str to str
        Names of the kit's items by role, as far as they are in hand.
    procedure, procedure_name, correction : str
        How readings are taken and corrected.
    powers_W, mass_kg, repeats, reading, minutes
        Setting, and length of the lesson.
    price : float or None
        Of what it needs beyond the kit in hand; None where a shelf has nothing of the kind.
    rows : int
        Rows of the readings sheet.
    bias_percent, standard_uncertainty_percent, rms_error_percent, interval_percent
        Of the error of the reported value, relative to the true one.
    rms_calculated_percent : float
        Rms error of the same with the calculated correction.
    obstacles : tuple of str
        Limits of kit and lesson that stand in its way, in words.
    cancels, keeps : tuple of str
        Errors that the procedure cancels, and those that it does not.
    model : MeasurementModel
        Its measurement model.
    """

    key: str
    items: Mapping[Role, str]
    procedure: str
    procedure_name: str
    correction: Correction
    powers_W: tuple[float, ...]  # noqa: N815 - units stand in names as in the JSON
    mass_kg: float
    repeats: int
    reading: PassingReading
    minutes: float
    price: float | None
    rows: int
    bias_percent: float
    standard_uncertainty_percent: float
    rms_error_percent: float
    rms_calculated_percent: float
    interval_percent: tuple[float, float]
    obstacles: tuple[str, ...]
    cancels: tuple[str, ...]
    keeps: tuple[str, ...]
    model: MeasurementModel


@dataclass(frozen=True)
class HeaterOff:
    """
    What the mistake of subtracting the heater-off rate of mass loss would cost on the kit in hand.

    Parameters
    ----------
    boiling_rate : float
        Mass leaving with the heater on. [kg/s]
    rates, mistakes_percent, results_percent : tuple of float
        Mass leaving with the heater off at the low end, the estimate and the high end [kg/s]; what subtracting it does
        to the value, and the error of the value that results from the uncorrected one. [%]
    """

    boiling_rate: float
    rates: tuple[float, ...]
    mistakes_percent: tuple[float, ...]
    results_percent: tuple[float, ...]


@dataclass(frozen=True)
class Comparison:
    """
    A comparison.

    Parameters
    ----------
    bench_name, scenario, currency, coverage, seed, trials
        Of the bench file and the command line.
    pressure, boiling_point, latent_heat : float
        Room and reference. [Pa, °C, J/kg]
    kit_reason : str
        Why this kit is the one in hand.
    loss_W : float
        Expected heat loss at the boil. [W]
    usual : Method
        What is done today, on which the improvements are tried one at a time.
    procedures, improvements : tuple of Method
        Every procedure with every correction, uncorrected first; every improvement of the usual way.
    crossings : Comparisons
        Where one method overtakes another.
    population : Population
        How often the improved method wins on other kits.
    heater_off : HeaterOff
        Cost of the mistake.
    """

    bench_name: str
    scenario: str
    currency: str
    coverage: float
    seed: int
    trials: int
    pressure: float
    boiling_point: float
    latent_heat: float
    kit_reason: str
    loss_W: float  # noqa: N815 - units stand in names as in the JSON
    usual: Method
    procedures: tuple[Method, ...]
    improvements: tuple[Method, ...]
    crossings: Comparisons
    population: Population
    heater_off: HeaterOff


def quiet(stage: str, done: int, total: int, note: str = "") -> None:
    """Report no progress."""


def compare_bench(
    bench: Bench,
    *,
    seed: int = 0,
    trials: int = DEFAULT_TRIALS,
    workers: int = 1,
    kits: int = KITS,
    progress: Progress = quiet,
) -> Comparison:
    """
    Compare procedures and improvements on the kit in hand, and on a population of plausible kits.

    Parameters
    ----------
    bench : Bench
        With what is done today, or shelves from which a kit can be recommended.
    seed, trials : int
        Of the scrambled Sobol' sample on which the methods are compared; the population is drawn with the same seed.
    workers : int
        Processes, where a kit has to be recommended first.
    kits : int
        Plausible kits in the population.
    progress : callable (stage, done, total)
        Told how far the comparison has come.

    Returns
    -------
    Comparison

    Raises
    ------
    DesignError
        If no kit is in use and none can be recommended.
    """
    conditions = conditions_of(bench)
    usual, reason = kit_in_hand(conditions, seed, trials, workers, progress)
    sample = Sample(trials, seed)
    base = _method("usual", usual, usual.kit, sample)
    procedures = _procedures(usual, sample, progress)
    improvements = _improvements(usual, sample, progress)
    progress("looking for crossing points", 0, 1)
    crossings = crossings_of(usual, Sample(min(CROSSING_TRIALS, trials), seed))
    progress("looking for crossing points", 1, 1)
    return Comparison(
        bench_name=bench.name,
        scenario=bench.scenario,
        currency=bench.purse.currency,
        coverage=bench.search.coverage,
        seed=seed,
        trials=trials,
        pressure=conditions.water.pressure,
        boiling_point=celsius(conditions.water.boiling_point),
        latent_heat=conditions.water.latent_heat,
        kit_reason=reason,
        loss_W=usual.loss,
        usual=base,
        procedures=procedures,
        improvements=improvements,
        crossings=crossings,
        population=population_of(bench, seed, Sample(min(POPULATION_TRIALS, trials), seed), progress, kits),
        heater_off=heater_off(usual, base),
    )


def kit_in_hand(conditions: Conditions, seed: int, trials: int, workers: int, progress: Progress) -> tuple[Design, str]:
    """
    What is done today; where that is not stated or not feasible, the recommended kit, used in the usual way.

    Returns
    -------
    design : Design
        Kit and usual way.
    reason : str
        Why it is this kit.

    Raises
    ------
    DesignError
        If no kit is in use and none can be recommended.
    """
    today, why_not = current_design(conditions)
    if today is not None:
        return today, "what is in use today"
    bench = conditions.bench
    plan = plan_bench(bench, seed=seed, trials=trials, workers=workers, progress=progress)
    if plan.recommended is None:
        raise DesignError(
            f"{bench.path}: no kit to compare methods on: {why_not}, and no design from the shelves is feasible "
            "(boiloff plan says what stands in the way)"
        )
    return _usual_way(plan.recommended.design), f"the recommended kit ({why_not})"


def _usual_way(design: Design) -> Design:
    """Use a recommended kit in the usual way, its meter read as the meter's own rule says."""
    meter = design.kit.meter
    plain = [one for one in design.conditions.bench.meters if replace(one, reads=meter.reads) == meter]
    kit = replace(design.kit, meter=plain[0] if plain else meter)
    correction: Correction = "none" if USUAL_CORRECTION == "none" else "calculated"
    return used_with(replace(design, kit=kit, spare=0.0), procedure_named(USUAL_PROCEDURE), correction)


def _procedures(usual: Design, sample: Sample, progress: Progress) -> tuple[Method, ...]:
    """Every procedure with every correction, on the same kit at the same highest power and mass step."""
    ways = [(procedure, correction) for procedure in PROCEDURES for correction in procedure.corrections]
    methods = []
    for done, (procedure, correction) in enumerate(ways, start=1):
        design = used_with(usual, procedure, correction)
        methods.append(_method(_key(procedure), design, usual.kit, sample))
        progress("comparing procedures", done, len(ways))
    return tuple(methods)


def _key(procedure: Procedure) -> str:
    number = procedure.number_of_powers
    return f"series-{number}-powers" if procedure.identifier == "series" and number > 1 else procedure.identifier


def _improvements(usual: Design, sample: Sample, progress: Progress) -> tuple[Method, ...]:
    methods = []
    for done, change in enumerate(IMPROVEMENTS, start=1):
        design = change.make(usual)
        if design is not None:
            methods.append(_method(change.key, design, usual.kit, sample))
        progress("trying improvements", done, len(IMPROVEMENTS))
    return tuple(methods)


def _method(key: str, design: Design, in_hand: Kit, sample: Sample) -> Method:
    errors, bench = errors_of(design, sample), design.conditions.bench
    low, high = np.quantile(errors, [0.5 * (1.0 - bench.search.coverage), 0.5 * (1.0 + bench.search.coverage)])
    before, items = in_hand.items, design.kit.items
    return Method(
        key=key,
        items={role: item.name for role, item in items.items() if before.get(role) == item},
        procedure=design.procedure.identifier,
        procedure_name=design.procedure.name,
        correction=design.correction,
        powers_W=design.powers,
        mass_kg=design.settled.mass,
        repeats=design.repeats,
        reading=design.reading,
        minutes=design.minutes,
        price=extra_price(bench, in_hand, design.kit),
        rows=rows_of_readings(design),
        bias_percent=100.0 * float(errors.mean()),
        standard_uncertainty_percent=100.0 * float(errors.std()),
        rms_error_percent=100.0 * rms(errors),
        rms_calculated_percent=100.0 * rms(errors_of(replace(design, correction="calculated"), sample)),
        interval_percent=(100.0 * float(low), 100.0 * float(high)),
        obstacles=design.obstacles,
        cancels=design.procedure.cancels,
        keeps=design.procedure.keeps,
        model=design.model,
    )


def rows_of_readings(design: Design) -> int:
    """Rows of the readings sheet: every mark of every run, and those of a cooling run."""
    cooling = COOLING_ROWS if design.correction == "cooling-run" else 0
    return int(design.repeats * (design.situation.all_runs.marks[0] + 1.0).sum()) + cooling


def heater_off(usual: Design, base: Method) -> HeaterOff:
    """Work out what subtracting the heater-off rate of mass loss would do to the usual, uncorrected value."""
    situation, row = usual.situation, evidence("heater_off_evaporation")
    boiling = float(situation.runs.steaming[0]) / usual.reference
    rates = tuple(
        min(flux * situation.hardware.area, 0.9 * boiling)
        for flux in (row.value - row.spread, row.value, row.value + row.spread)
    )
    mistakes = tuple(heater_off_mistake(boiling, rate) for rate in rates)
    bias = base.bias_percent / 100.0
    return HeaterOff(
        boiling_rate=boiling,
        rates=rates,
        mistakes_percent=tuple(100.0 * mistake for mistake in mistakes),
        results_percent=tuple(100.0 * ((1.0 + bias) * (1.0 + mistake) - 1.0) for mistake in mistakes),
    )
