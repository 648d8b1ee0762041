"""Rehearse a design: play it many times on the virtual bench, and see how often its stated interval is right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import compile_program
from budget.quantities.binomial import binomial_interval
from design.bench import Bench
from design.chosen import Design
from design.errors import DesignError
from design.physics.evidence import default
from design.procedures.cooling_run import CoolingRun, cooling_loss
from design.rehearsal.behaviour import draw_truth
from design.rehearsal.playing import Played, play, play_on
from design.rehearsal.script import COOLING_AFTER, script_of
from design.rehearsal.state import apparatus_of
from design.rehearsal.tally import Written, tally, written
from design.rehearsal.worlds import World, in_each
from design.search.plan import Plan, RankedDesign
from design.search.planning import Progress, quiet
from design.search.ranking import appraise, ranked
from design.search.sample import Aim, Sample, errors_of
from design.search.today import current_design
from design.setting.hardware import conditions_of
from design.setting.terms import at_means

DEFAULT_RUNS = 2000
"""Virtual runs: enough to know a coverage of 95 % to about one per cent."""
CHUNK = 2000
"""Runs played at once."""
EACH_WORLD = 5
"""One of so many runs is played again in each world that differs."""
FEWEST = 40
"""Fewest runs in each of those worlds."""
SPILT = 1e-4
"""Water over the rim that counts: a few drops; less cannot be told from a splash. [kg] (judgement)"""
ONE_DEVIATION = 0.68
"""Coverage that is looked at beside the one asked for. [1]"""


@dataclass(frozen=True)
class FoundShare:
    """A share of runs, asked for and found, with the exact interval of the latter at 95 %. [1]"""

    asked: float
    found: float
    interval: tuple[float, float]


@dataclass(frozen=True)
class Elsewhere:
    """
    What becomes of the stated interval in a world that differs.

    Parameters
    ----------
    world : World
        Which.
    runs : int
        Runs played there.
    coverage : FoundShare
        How often the interval holds the true value there.
    bias, over_rim : float
        Mean relative error, and share of the runs that lose water over the rim. [1]
    """

    world: World
    runs: int
    coverage: FoundShare
    bias: float
    over_rim: float


@dataclass(frozen=True)
class Rehearsal:
    """
    A design, played: the bench, what was rehearsed and what its budget says, ranked and appraised.

    Parameters
    ----------
    ranked : RankedDesign
        What is played, with what the budget expects of it.
    reference : float
        True latent heat. [J/kg]
    budget_errors : ndarray, shape (trials,)
        Relative errors that the budget expects. [1]
    sheet : Written
        What was written down of the first chunk of runs.
    reported, abandoned
        Latent heat of every run that came to its end [J/kg]; number of those given up because the water came down to
        the element's mark.
    coverage, coverage_one : FoundShare
        How often the interval of the coverage asked, and that of 68 %, holds the true value.
    over_rim : float
        Share of the runs that lose water over the rim. [1]
    elsewhere : tuple of Elsewhere
        The same runs in worlds that differ from the budget's.
    """

    bench: Bench
    ranked: RankedDesign
    reference: float
    budget_errors: FloatArray
    sheet: Written
    reported: FloatArray
    abandoned: int
    coverage: FoundShare
    coverage_one: FoundShare
    over_rim: float
    elsewhere: tuple[Elsewhere, ...]
    seed: int

    @property
    def played(self) -> Played:
        """The first chunk of runs."""
        return self.sheet.played

    @property
    def errors(self) -> FloatArray:
        """Relative errors of the reported values. [1]"""
        return self.reported / self.reference - 1.0

    @property
    def bias(self) -> float:
        """Mean of the relative errors. [1]"""
        return float(self.errors.mean())

    @property
    def spread(self) -> float:
        """Standard deviation of the relative errors. [1]"""
        return float(self.errors.std(ddof=1))


def rehearse(
    design: Design, *, runs: int = DEFAULT_RUNS, seed: int = 0, trials: int = 8192,
    worlds: Sequence[World] = (), progress: Progress = quiet,
) -> Rehearsal:  # fmt: skip
    """
    Play a design many times, and compare with its budget on a sample of so many trials.

    A share of the runs is played again in each of the ``worlds`` that differ from what is stated.

    Raises
    ------
    DesignError
        If no run comes to its end.
    """
    bench = design.conditions.bench
    aim, sample = Aim(bench.search.objective, bench.search.coverage), Sample(trials, seed)
    appraisal, errors = appraise(design, sample, aim), errors_of(design, sample)
    sheet, values, over_rim = _play_all(design, runs, seed, progress)
    reported = values[np.isfinite(values)]
    if not reported.size:
        raise DesignError("no virtual run of this design comes to its end: the water falls to the element's mark first")
    reference = design.reference
    return Rehearsal(
        bench=bench,
        ranked=ranked(appraisal, None, seed),
        reference=reference,
        budget_errors=errors,
        sheet=sheet,
        reported=reported,
        abandoned=int(values.size - reported.size),
        coverage=coverage_of(reported, reference, errors, aim.coverage),
        coverage_one=coverage_of(reported, reference, errors, ONE_DEVIATION),
        over_rim=float(np.mean(over_rim > SPILT)),
        elsewhere=played_elsewhere(design, worlds, max(runs // EACH_WORLD, FEWEST), seed, (errors, aim.coverage)),
        seed=seed,
    )


def _play_all(design: Design, runs: int, seed: int, progress: Progress) -> tuple[Written, FloatArray, FloatArray]:
    """Play all runs in chunks: what was written down of the first chunk, what all report, and lose over the rim."""
    script = script_of(design.procedure, design.situation)
    first, values, over_rim = None, [], []
    for start in range(0, runs, CHUNK):
        progress("playing virtual runs", start, runs)
        number = min(CHUNK, runs - start)
        sheet = written(play(design.situation, script, runs=number, seed=(seed, start), traced=0 if start else 1))
        values.append(reported_latent_heat(design, sheet))
        over_rim.append(sheet.played.state.over_rim)
        first = first or sheet
    progress("playing virtual runs", runs, runs)
    if first is None:
        raise DesignError(f"runs: must be at least 1 (got {runs})")
    return first, np.concatenate(values), np.concatenate(over_rim)


def played_elsewhere(
    design: Design, worlds: Sequence[World], runs: int, seed: int, stated: tuple[FloatArray, float]
) -> tuple[Elsewhere, ...]:
    """Play the same runs in every world; ``stated`` are the budget's errors and the coverage asked."""
    if not worlds:
        return ()
    situation, script = design.situation, script_of(design.procedure, design.situation)
    generator = np.random.default_rng((seed, len(worlds)))
    truth = in_each(worlds, situation, draw_truth(situation, runs, generator), generator)
    sheet = written(play_on(apparatus_of(situation, truth), script, generator))
    values = reported_latent_heat(design, sheet).reshape(len(worlds), runs)
    spilt = (sheet.played.state.over_rim > SPILT).reshape(len(worlds), runs)
    return tuple(
        _found_in(world, values[place], float(spilt[place].mean()), design.reference, stated)
        for place, world in enumerate(worlds)
    )


def _found_in(
    world: World, values: FloatArray, over_rim: float, reference: float, stated: tuple[FloatArray, float]
) -> Elsewhere:
    """Runs that were given up hold nothing: they count as missed."""
    errors, asked = stated
    reported = np.where(np.isfinite(values), values, np.inf)
    ended = values[np.isfinite(values)]
    bias = float(ended.mean() / reference - 1.0) if ended.size else 0.0
    return Elsewhere(world, values.size, coverage_of(reported, reference, errors, asked), bias, over_rim)


def reported_latent_heat(design: Design, sheet: Written) -> FloatArray:
    """
    Latent heat that each observer works out of the sheet, by the procedure's own equation, shape (runs,). [J/kg]

    Not a number where a run was given up.
    """
    found, result = tally(sheet), design.procedure.result(design.correction)
    program = compile_program(result.steps, result.equation)
    values = {symbol: np.squeeze(value) for symbol, value in at_means(design.terms).items()}
    powers = found.energy.shape[1]
    for column in range(powers):
        mark = f"_{column + 1}" if powers > 1 else ""
        values[f"E{mark}_read"], values[f"m{mark}_read"] = found.energy[:, column], found.mass[:, column]
        values[f"t{mark}"] = found.time[:, column]
    if "W_cooled" in program.symbols:
        values["W_cooled"] = cooled_losses(sheet)
    reported = program.evaluate({symbol: values[symbol] for symbol in program.symbols})
    return np.broadcast_to(np.asarray(reported, dtype=np.float64), sheet.time.shape[:1])


def cooled_losses(sheet: Written) -> FloatArray:
    """Heat loss at the boil by the cooling balance of every run, from the sheet alone, shape (runs,). [W]"""
    columns = [column for column, stage in enumerate(sheet.stages) if stage.cooling]
    situation = sheet.played.apparatus.situation
    hardware, conditions, water = situation.hardware, situation.conditions, situation.conditions.water
    vapour = (1.0 - hardware.stem) * conditions.buoyancy
    left = float(situation.levels.left[0]) - hardware.area * default("heater_off_evaporation") * COOLING_AFTER
    losses = np.full(sheet.time.shape[0], np.nan)
    for row in np.flatnonzero(np.isfinite(sheet.time).all(axis=1)):
        mass = sheet.mass[row, columns]
        run = CoolingRun(
            time=sheet.time[row, columns],
            temperature=np.minimum(sheet.temperature[row, columns], water.boiling_point),
            fall=(mass[0] - mass) * vapour,
            water=left,
            vessel_heat_capacity=hardware.heat_capacity,
        )
        losses[row] = cooling_loss(run, water.specific_heat, water.boiling_point, conditions.room_temperature)
    return losses


def coverage_of(reported: FloatArray, reference: float, budget_errors: FloatArray, coverage: float) -> FoundShare:
    """
    Share of reported values [J/kg] whose stated interval, from the relative errors of the budget, holds the true one.

    Notes
    -----
    A report R goes with the interval from R/(1 + e_high) to R/(1 + e_low), where e_low and e_high bound the error as
    the plan states it, from the quantiles of the whole budget. That is the plan's own promise read backwards: where
    the error has the stated distribution, the interval holds the true value as often as stated, whatever that value
    is, for skew distributions and for values that are not corrected as well. Mean and expanded uncertainty would be
    right for a normal distribution only.
    """
    low, high = np.quantile(budget_errors, [0.5 * (1.0 - coverage), 0.5 * (1.0 + coverage)])
    holds = (reported / (1.0 + high) <= reference) & (reference <= reported / (1.0 + low))
    return FoundShare(coverage, float(holds.mean()), binomial_interval(int(holds.sum()), holds.size))


def todays_design(bench: Bench) -> Design:
    """
    What is done today, to be rehearsed.

    Raises
    ------
    DesignError
        If it is not stated, not clear, or not feasible.
    """
    design, reason = current_design(conditions_of(bench))
    if design is None:
        raise DesignError(f"{bench.path}: today's way cannot be rehearsed: {reason}")
    return design


def planned_design(plan: Plan, place: int) -> Design:
    """
    A design of a plan's ranking; place 1 is the recommended one.

    Raises
    ------
    DesignError
        If the ranking has no such place.
    """
    if not 1 <= place <= len(plan.ranking):
        raise DesignError(
            f"--design: must be a place in the ranking, from 1 to {len(plan.ranking)} (got {place}); "
            "boiloff plan shows the ranking"
        )
    return plan.ranking[place - 1].design
