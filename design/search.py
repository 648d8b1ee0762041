"""The main job: from a bench to a plan, by looking at every combination."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from design.bench import Bench
from design.candidates import owned_only, procedures_of
from design.cautions import cautions_of
from design.error_map import error_map
from design.expectation import Aim, Sample
from design.hardware import Conditions, conditions_of
from design.losses import celsius
from design.near_miss import near_misses
from design.plan import Plan, RankedDesign
from design.ranking import Appraisal, appraise, model_of, ranked
from design.screening import Branch, Screened, Task, gathered, run
from design.stability import best_probabilities
from design.today import current_branch

Progress = Callable[[str, int, int], None]

DEFAULT_TRIALS = 8192
"""Size of the full sample: a scrambled Sobol' sample, so a power of two."""
SCREENING_TRIALS = 256
"""Size of the sample on which every combination is evaluated."""
FINALISTS = 60
"""Best branches that are appraised on the full sample."""
RANKING_ROWS = 20
"""Rows of the ranking."""
FRONTIER_ROWS = 12
"""Most steps of the price frontier."""


@dataclass(frozen=True)
class Finals:
    """Appraised branches: best first, price frontier, the cheapest within the margin, and today's."""

    ranking: tuple[Appraisal, ...]
    frontier: tuple[Appraisal, ...]
    cheapest: Appraisal | None
    current: Appraisal | None


def quiet(stage: str, done: int, total: int) -> None:
    """Report no progress."""


def plan_bench(
    bench: Bench,
    *,
    seed: int = 0,
    trials: int = DEFAULT_TRIALS,
    workers: int = 1,
    only_owned: bool = False,
    progress: Progress = quiet,
) -> Plan:
    """
    Rank kit, procedure, power and mass for a bench.

    Parameters
    ----------
    bench : Bench
        What there is, what it may cost, and how long it may take.
    seed, trials : int
        Of the scrambled Sobol' sample on which the finalists are appraised; every combination is screened on the
        first ``SCREENING_TRIALS`` points of a sample with the same seed.
    workers : int
        Processes; the result does not depend on their number.
    only_owned : bool
        Consider only what is in the cupboard.
    progress : callable (stage, done, total)
        Told how far the search has come.

    Returns
    -------
    Plan
        With ``recommended`` None and near misses where nothing is feasible.

    Raises
    ------
    DesignError
        If the bench names a procedure that does not exist.
    """
    searched = owned_only(bench) if only_owned else bench
    conditions = conditions_of(searched)
    aim = Aim(bench.search.objective, bench.search.coverage)
    screened = screen_all(conditions, Sample(min(SCREENING_TRIALS, trials), seed), aim, workers, progress)
    sample = Sample(trials, seed)
    today, reason = current_branch(conditions_of(bench))
    finals = appraise_finalists(conditions, screened.branches, today, sample, aim, progress)
    rows = _rows(finals, seed, progress)
    recommended = rows.get(_key(finals.ranking[0])) if finals.ranking else None
    best = finals.ranking[0].branch if finals.ranking else None
    return Plan(
        bench_name=bench.name,
        scenario=bench.scenario,
        seed=seed,
        trials=trials,
        coverage=aim.coverage,
        currency=bench.purse.currency,
        groups=bench.lesson.groups,
        lesson_minutes=bench.lesson.length / 60.0,
        objective=aim.objective,
        margin_percent=100.0 * bench.search.margin,
        pressure=conditions.water.pressure,
        boiling_point=celsius(conditions.water.boiling_point),
        latent_heat=conditions.water.latent_heat,
        considered=screened.considered,
        feasible=screened.feasible,
        rejected=dict(sorted(screened.rejected.items(), key=lambda item: (-item[1], item[0]))),
        recommended=recommended,
        current=rows.get(_key(finals.current)) if finals.current else None,
        cheapest=rows.get(_key(finals.cheapest)) if finals.cheapest else None,
        ranking=tuple(rows[_key(appraisal)] for appraisal in finals.ranking),
        frontier=tuple(rows[_key(appraisal)] for appraisal in finals.frontier),
        error_map=error_map(conditions, best, Sample(min(SCREENING_TRIALS, trials), seed), aim) if best else None,
        model=model_of(finals.ranking[0]) if finals.ranking else None,
        current_model=model_of(finals.current) if finals.current else None,
        near_misses=() if best else near_misses(conditions),
        cautions=cautions_of(conditions, recommended, reason, only_owned=only_owned),
    )


def screen_all(conditions: Conditions, sample: Sample, aim: Aim, workers: int, progress: Progress) -> Screened:
    """Screen every combination; tasks run in any order and are gathered in theirs."""
    bench = conditions.bench
    tasks = [
        Task(conditions, procedure, heater, vessel, sample, aim)
        for procedure, heater, vessel in product(procedures_of(bench), bench.heaters, bench.vessels)
    ]
    parts = []
    for done, part in enumerate(_in_order(tasks, workers), start=1):
        parts.append(part)
        progress("looking at every combination", done, len(tasks))
    return gathered(parts)


def _in_order(tasks: Sequence[Task], workers: int) -> Iterable[Screened]:
    if workers == 1 or len(tasks) == 1:
        return map(run, tasks)
    from joblib import Parallel, delayed

    parts: Iterable[Screened] = Parallel(n_jobs=workers, return_as="generator")(delayed(run)(task) for task in tasks)
    return parts


def appraise_finalists(
    conditions: Conditions,
    branches: Sequence[Branch],
    today: Branch | None,
    sample: Sample,
    aim: Aim,
    progress: Progress,
) -> Finals:
    """Appraise the best branches, the price frontier and today's way on the full sample."""
    best = sorted(branches, key=lambda branch: branch.order)[:FINALISTS]
    cheap = price_frontier(branches)
    near = _cheapest_within(branches, conditions.bench.search.margin)
    wanted = [*best, *cheap, *near]
    unique = list({id(branch): branch for branch in wanted}.values())
    appraised = {}
    for done, branch in enumerate(unique, start=1):
        appraised[id(branch)] = appraise(conditions, branch, sample, aim)
        progress("working out the finalists", done, len(unique))
    ranking = sorted((appraised[id(branch)] for branch in best), key=lambda appraisal: appraisal.order)
    everything = sorted(appraised.values(), key=lambda appraisal: appraisal.order)
    limit = ranking[0].objective + conditions.bench.search.margin if ranking else 0.0
    within = [appraisal for appraisal in everything if appraisal.objective <= limit]
    return Finals(
        ranking=tuple(ranking[:RANKING_ROWS]),
        frontier=tuple(_improving(everything))[-FRONTIER_ROWS:],
        cheapest=min(within, key=lambda appraisal: (appraisal.branch.price, *appraisal.order)) if within else None,
        current=appraise(conditions, today, sample, aim) if today else None,
    )


def price_frontier(branches: Iterable[Branch]) -> list[Branch]:
    """Branches that no cheaper or equally dear one beats, cheapest first."""
    frontier: list[Branch] = []
    for branch in sorted(branches, key=lambda branch: (branch.price, *branch.order)):
        if not frontier or branch.objective < frontier[-1].objective:
            frontier.append(branch)
    return frontier


def _improving(appraisals: Iterable[Appraisal]) -> list[Appraisal]:
    """Price frontier of appraised branches."""
    frontier: list[Appraisal] = []
    for appraisal in sorted(appraisals, key=lambda appraisal: (appraisal.branch.price, *appraisal.order)):
        if not frontier or appraisal.objective < frontier[-1].objective:
            frontier.append(appraisal)
    return frontier


def _cheapest_within(branches: Sequence[Branch], margin: float) -> list[Branch]:
    """Cheapest few branches within twice the margin of the best on the screening sample."""
    if not branches:
        return []
    best = min(branch.objective for branch in branches)
    near = [branch for branch in branches if branch.objective <= best + 2.0 * margin]
    return sorted(near, key=lambda branch: (branch.price, *branch.order))[:10]


def _key(appraisal: Appraisal) -> int:
    return id(appraisal.branch)


def _rows(finals: Finals, seed: int, progress: Progress) -> dict[int, RankedDesign]:
    """Rows of the plan by branch, each with the probability that it is the best of them."""
    found = [*finals.ranking, *finals.frontier]
    found += [appraisal for appraisal in (finals.cheapest, finals.current) if appraisal is not None]
    pool = list({_key(appraisal): appraisal for appraisal in found}.values())
    if not pool:
        return {}
    searched = [appraisal for appraisal in pool if appraisal is not finals.current]
    probability = _chances(searched)
    rows = {}
    for done, appraisal in enumerate(pool, start=1):
        rows[_key(appraisal)] = ranked(appraisal, probability.get(_key(appraisal), 0.0), seed)
        progress("ranking the sources of error", done, len(pool))
    return rows


def _chances(searched: Sequence[Appraisal]) -> dict[int, float]:
    """Probability of each branch to be the best of them."""
    if not searched:
        return {}
    chances = best_probabilities(
        [appraisal.shared_error for appraisal in searched], [appraisal.scatter_variance for appraisal in searched]
    )
    return {_key(appraisal): float(chance) for appraisal, chance in zip(searched, chances, strict=True)}
