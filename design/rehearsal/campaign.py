"""Rehearse a design: play it many times on the virtual bench, and see how often its stated interval is right."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import compile_program
from design.bench import Bench
from design.errors import DesignError
from design.physics.evidence import default
from design.procedures.cooling_run import CoolingRun, cooling_loss
from design.procedures.registry import procedure_named
from design.rehearsal.playing import Played, play
from design.rehearsal.script import COOLING_AFTER, Script, script_of
from design.rehearsal.tally import Tally, Written, tally, written
from design.search.branch import Branch
from design.search.candidates import kit_named, price_of, settings_in
from design.search.plan import Plan, RankedDesign
from design.search.ranking import Appraisal, appraise, ranked
from design.search.sample import Aim, Sample, program_of, relative_errors
from design.search.today import current_branch
from design.setting.hardware import Conditions, conditions_of
from design.setting.situation import Situation
from design.setting.terms import at_means

Progress = Callable[..., None]

DEFAULT_RUNS = 2000
"""Virtual runs: enough to know a coverage of 95 % to about one per cent."""
CHUNK = 2000
"""Runs played at once."""
SHOWN = 12
"""Most groups on the sample sheet."""
CONFIDENCE = 0.95
"""Coverage of the binomial interval of a share."""


@dataclass(frozen=True)
class Share:
    """A share of runs with its Clopper-Pearson interval. [1]"""

    asked: float
    found: float
    interval: tuple[float, float]


@dataclass(frozen=True)
class Rehearsal:
    """
    A design, played.

    Parameters
    ----------
    bench_name, scenario : str
        Of the bench.
    design : RankedDesign
        What was rehearsed, and what its budget says.
    appraisal : Appraisal
        The same, with its situation.
    reference : float
        True latent heat. [J/kg]
    budget_errors : ndarray, shape (trials,)
        Relative errors that the budget expects. [1]
    played, sheet : Played, Written
        The first chunk of runs, and what was written down of it.
    reported : ndarray, shape (runs,)
        Reported latent heat of every run that came to its end. [J/kg]
    abandoned : int
        Runs given up because the water came down to the element's mark.
    coverage, coverage_one : Share
        How often the interval of the coverage asked, and that of 68 %, holds the true value.
    seed : int
        Of all chance.
    """

    bench_name: str
    scenario: str
    design: RankedDesign
    appraisal: Appraisal
    reference: float
    budget_errors: FloatArray
    played: Played
    sheet: Written
    reported: FloatArray
    abandoned: int
    coverage: Share
    coverage_one: Share
    seed: int

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


def quiet(stage: str, done: int, total: int, note: str = "") -> None:
    """Report no progress."""


def rehearse(
    bench: Bench, branch: Branch, *, runs: int = DEFAULT_RUNS, seed: int = 0, trials: int = 8192,
    progress: Progress = quiet,
) -> Rehearsal:  # fmt: skip
    """
    Play a design many times.

    Parameters
    ----------
    bench : Bench
        Whose stated knowledge the truth of each run is drawn from.
    branch : Branch
        The design.
    runs, seed : int
        Number of virtual runs, and seed of all chance.
    trials : int
        Size of the sample of the budget.
    progress : callable (stage, done, total)
        Told how far the runs have come.

    Returns
    -------
    Rehearsal

    Raises
    ------
    DesignError
        If no run comes to its end.
    """
    conditions = conditions_of(bench)
    aim = Aim(bench.search.objective, bench.search.coverage)
    appraisal = appraise(conditions, branch, Sample(trials, seed), aim)
    errors = relative_errors(program_of(branch.procedure, branch.correction), appraisal.terms, Sample(trials, seed))[0]
    script = script_of(branch.procedure.identifier, appraisal.situation)
    first, values = _play_all(appraisal, script, runs, seed, progress)
    reported = values[np.isfinite(values)]
    if not reported.size:
        raise DesignError("no virtual run of this design comes to its end: the water falls to the element's mark first")
    reference = conditions.water.latent_heat
    return Rehearsal(
        bench_name=bench.name,
        scenario=bench.scenario,
        design=ranked(appraisal, 0.0, seed),
        appraisal=appraisal,
        reference=reference,
        budget_errors=errors,
        played=first[0],
        sheet=first[1],
        reported=reported,
        abandoned=int(values.size - reported.size),
        coverage=coverage_of(reported, reference, errors, aim.coverage),
        coverage_one=coverage_of(reported, reference, errors, 0.68),
        seed=seed,
    )


def _play_all(
    appraisal: Appraisal, script: Script, runs: int, seed: int, progress: Progress
) -> tuple[tuple[Played, Written], FloatArray]:
    """Play all runs in chunks; keep the first chunk."""
    first: tuple[Played, Written] | None = None
    values = []
    for start in range(0, runs, CHUNK):
        progress("playing virtual runs", start, runs)
        number = min(CHUNK, runs - start)
        part = play(appraisal.situation, script, runs=number, seed=(seed, start), traced=1 if first is None else 0)
        sheet = written(part)
        values.append(reported_latent_heat(appraisal, part, sheet))
        first = first or (part, sheet)
    progress("playing virtual runs", runs, runs)
    if first is None:
        raise DesignError(f"runs: must be at least 1 (got {runs})")
    return first, np.concatenate(values)


def reported_latent_heat(appraisal: Appraisal, played: Played, sheet: Written) -> FloatArray:
    """
    Latent heat that each observer works out of the sheet, by the procedure's own equation.

    Parameters
    ----------
    appraisal : Appraisal
        Procedure, correction, and what the correction takes off.
    played, sheet : Played, Written
        Runs, and what was written down of them.

    Returns
    -------
    ndarray, shape (runs,)
        Not a number where a run was given up. [J/kg]
    """
    branch = appraisal.branch
    result = branch.procedure.result(branch.correction)
    program = compile_program(result.steps, result.equation)
    known = {symbol: np.squeeze(value) for symbol, value in at_means(appraisal.terms).items()}
    values: dict[str, FloatArray] = {**known, **_readings(tally(played, sheet))}
    if branch.correction == "cooling-run":
        values["W_cooled"] = cooled_losses(appraisal.situation, sheet)
    reported = program.evaluate({symbol: values[symbol] for symbol in program.symbols})
    return np.asarray(np.broadcast_to(reported, (played.truth.runs,)), dtype=np.float64)


def _readings(found: Tally) -> Mapping[str, FloatArray]:
    powers = found.energy.shape[1]
    if powers == 1:
        return {"E_read": found.energy[:, 0], "m_read": found.mass[:, 0], "t": found.time[:, 0]}
    columns: dict[str, FloatArray] = {}
    for column in range(powers):
        number = column + 1
        columns |= {
            f"E_{number}_read": found.energy[:, column],
            f"m_{number}_read": found.mass[:, column],
            f"t_{number}": found.time[:, column],
        }
    return columns


def cooled_losses(situation: Situation, sheet: Written) -> FloatArray:
    """Heat loss at the boil by the cooling balance of every run, from the sheet alone, shape (runs,). [W]"""
    columns = [column for column, stage in enumerate(sheet.stages) if not stage.heater]
    hardware, conditions = situation.hardware, situation.conditions
    vapour = (1.0 - hardware.stem) * conditions.buoyancy
    steamed = default("heater_off_evaporation") * COOLING_AFTER
    left = float(situation.levels.left[0]) - hardware.area * steamed
    losses = np.full(sheet.time.shape[0], np.nan)
    for row in np.flatnonzero(np.isfinite(sheet.time).all(axis=1)):
        mass = sheet.mass[row, columns]
        run = CoolingRun(
            time=sheet.time[row, columns],
            temperature=np.minimum(sheet.temperature[row, columns], conditions.water.boiling_point),
            fall=(mass[0] - mass) * vapour,
            water=left,
            vessel_heat_capacity=hardware.heat_capacity,
        )
        losses[row] = cooling_loss(
            run, conditions.water.specific_heat, conditions.water.boiling_point, conditions.room_temperature
        )
    return losses


def coverage_of(reported: FloatArray, reference: float, budget_errors: FloatArray, coverage: float) -> Share:
    """
    Share of reported values whose stated interval holds the true value.

    Parameters
    ----------
    reported : ndarray, shape (runs,)
        Reported values. [J/kg]
    reference : float
        True value. [J/kg]
    budget_errors : ndarray, shape (trials,)
        Relative errors that the budget expects. [1]
    coverage : float
        Asked for. [1]

    Returns
    -------
    Share

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
    return Share(coverage, float(holds.mean()), clopper_pearson(int(holds.sum()), holds.size, CONFIDENCE))


def clopper_pearson(successes: int, trials: int, confidence: float) -> tuple[float, float]:
    """
    Exact interval of a probability from a number of successes.

    Parameters
    ----------
    successes, trials : int
        What was counted.
    confidence : float
        Of the interval. [1]

    Returns
    -------
    tuple of float
        Lowest and highest probability.

    References
    ----------
    .. [1] Clopper and Pearson 1934, Biometrika 26, 404 (quantiles of the beta distribution).

    Examples
    --------
    >>> low, high = clopper_pearson(10, 10, 0.95)
    >>> round(low, 4), high
    (0.6915, 1.0)
    """
    from scipy.special import betaincinv

    tail = 0.5 * (1.0 - confidence)
    low = 0.0 if successes == 0 else float(betaincinv(successes, trials - successes + 1, tail))
    high = 1.0 if successes == trials else float(betaincinv(successes + 1, trials - successes, 1.0 - tail))
    return low, high


def todays_branch(bench: Bench) -> Branch:
    """
    What is done today, to be rehearsed.

    Raises
    ------
    DesignError
        If it is not stated, not clear, or not feasible.
    """
    branch, reason = current_branch(conditions_of(bench))
    if branch is None:
        raise DesignError(f"{bench.path}: today's way cannot be rehearsed: {reason}")
    return branch


def planned_branch(bench: Bench, plan: Plan, place: int) -> Branch:
    """
    A design of a plan's ranking.

    Parameters
    ----------
    bench : Bench
        Bench that the plan was made of.
    plan : Plan
        With a ranking.
    place : int
        Place in the ranking; 1 is the recommended design.

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
    return branch_of(conditions_of(bench), plan.ranking[place - 1])


def branch_of(conditions: Conditions, design: RankedDesign) -> Branch:
    """Branch of a ranked design, with its items looked up on the shelves."""
    bench = conditions.bench
    kit = kit_named(bench, design.items, design.reading)
    procedure = procedure_named(design.procedure, len(design.powers_W))
    return Branch(
        kit=kit,
        procedure=procedure,
        correction=next(known for known in procedure.corrections if known == design.correction),
        settings=settings_in(design),
        price=price_of(kit, bench.lesson.groups),
        minutes=design.minutes,
        objective=design.objective_percent / 100.0,
    )
