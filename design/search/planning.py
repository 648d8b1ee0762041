"""The main job: from a bench to a plan, with its map, or with what comes nearest where nothing is feasible."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import TypeVar

import numpy as np

from design.bench import Bench
from design.chosen import Design, all_terms, price_of
from design.kit import Kit
from design.limits import TOLERANCE, excesses, first_broken, limits_of, unsuitables
from design.physics.losses import celsius
from design.procedures.face import Procedure
from design.search.candidates import kits_of, owned_only, powers_of, procedures_of, settings_of, vessels_of
from design.search.information import tied_with_first, trials_of
from design.search.plan import Answers, ErrorMap, NearMiss, Plan, RankedDesign, Tried
from design.search.pool import Pool, ladder_of, limits_of_kit, moved_limits, owned_items
from design.search.ranking import Appraisal, appraise, ranked, refined, roomiest
from design.search.robustness import robustness_of
from design.search.sample import Aim, Sample, screen
from design.search.sureness import Sureness, sureness_of
from design.search.survey import RANKED, Survey, survey
from design.search.today import cautions_of, current_design, vessel_needed
from design.search.work import Store, Workforce
from design.setting.hardware import Conditions, conditions_of, hardware_of
from design.setting.situation import Settings, situation_of

Progress = Callable[..., None]
Kept = TypeVar("Kept")

DEFAULT_TRIALS = 8192
"""Size of the sample: a scrambled Sobol' sample, so a power of two."""
SCREENING_TRIALS = 256
"""Size of the sample of the map, which is drawn and not compared."""
FRONTIER_ROWS = 12
"""Most steps of the price frontier."""


@dataclass(frozen=True)
class Finals:
    """Appraised designs: best first, price frontier, the cheapest within the margin, and today's."""

    ranking: tuple[Appraisal, ...]
    frontier: tuple[Appraisal, ...]
    cheapest: Appraisal | None
    current: Appraisal | None


def quiet(stage: str, done: int, total: int, note: str = "") -> None:
    """Report no progress."""


def plan_bench(
    bench: Bench,
    *,
    seed: int = 0,
    trials: int = DEFAULT_TRIALS,
    workers: int = 1,
    only_owned: bool = False,
    cluster: str = "",
    store: Store | None = None,
    progress: Progress = quiet,
) -> Plan:
    """
    Rank kit, procedure, power and mass for a bench.

    Parameters
    ----------
    bench : Bench
        What there is, what it may cost, and how long it may take.
    seed, trials : int
        Of the scrambled Sobol' sample on which combinations are compared.
    workers : int
        Processes; the result does not depend on their number.
    only_owned : bool
        Consider only what is in the cupboard.
    cluster : str
        Address of a dask scheduler whose workers are used instead of processes; empty for none.
    store : Store, optional
        Where finished work is kept, and looked for.
    progress : callable (stage, done, total, note)
        Told how far the search has come.

    Returns
    -------
    Plan
        With ``recommended`` None and near misses where nothing is feasible; of what was looked at, with a
        ``searched_share`` below 1, where the keyboard stopped it.

    Raises
    ------
    DesignError
        If the bench names a procedure that does not exist.
    """
    searched = owned_only(bench) if only_owned else bench
    sample, aim = Sample(trials, seed), Aim(bench.search.objective, bench.search.coverage)
    found = survey(searched, sample, aim, Workforce(workers, cluster, store), progress=progress)
    return _plan_from(found, bench, (sample, aim), only_owned=only_owned, progress=progress)


def _plan_from(found: Survey, bench: Bench, on: tuple[Sample, Aim], *, only_owned: bool, progress: Progress) -> Plan:
    """Make a plan of what a survey of the combinations has found; the bench is that with all that it offers."""
    sample, aim = on
    trials = sample.trials
    conditions = found.conditions
    pool = Pool(conditions, found.combinations.columns, sample, aim)
    progress("comparing the best", 0, 3)
    leaders, steps = pool.leaders(RANKED), pool.frontier()
    today, reason = current_design(conditions_of(bench))
    current = appraise(today, sample, aim) if today else None
    finals = _finals(leaders, steps, current, on, bench.search.margin)
    progress("comparing the best", 1, 3)
    answers = _answers(pool, found.combinations.feasible, finals, leaders[0]) if leaders else None
    progress("comparing the best", 3, 3)
    rows = _rows(finals, bench.search.margin, on, progress)
    best = finals.ranking[0] if finals.ranking else None
    recommended = rows.get(_key(best)) if best else None
    return Plan(
        bench_name=bench.name,
        scenario=bench.scenario,
        seed=sample.seed,
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
        considered=found.combinations.considered,
        feasible=found.combinations.feasible,
        rejected=dict(sorted(found.combinations.rejected.items(), key=lambda pair: (-pair[1], pair[0]))),
        recommended=recommended,
        current=rows.get(_key(finals.current)) if finals.current else None,
        cheapest=rows.get(_key(finals.cheapest)) if finals.cheapest else None,
        ranking=tuple(rows[_key(appraisal)] for appraisal in finals.ranking),
        frontier=tuple(rows[_key(appraisal)] for appraisal in finals.frontier),
        error_map=error_map(best.design, replace(sample, trials=min(SCREENING_TRIALS, sample.trials)), aim)
        if best
        else None,
        model=best.design.model if best else None,
        current_model=finals.current.design.model if finals.current else None,
        near_misses=() if best else near_misses(conditions, bench),
        cautions=cautions_of(conditions, recommended, (today, reason), only_owned=only_owned),
        answers=answers,
        searched_share=found.share,
        reused_share=found.reused,
    )


def _finals(
    leaders: Sequence[Tried], steps: Sequence[Tried], current: Appraisal | None, on: tuple[Sample, Aim], margin: float
) -> Finals:
    """Refine what can be set finely, and appraise the best, the price frontier and today's way."""
    appraised = {found.design: appraise(refined(found, *on), *on) for found in dict.fromkeys((*leaders, *steps))}
    ranking = sorted((appraised[found.design] for found in leaders), key=lambda appraisal: appraisal.order)
    if ranking:
        chosen = _chosen(ranking, margin, on)
        ranking = [chosen, *(appraisal for appraisal in ranking if appraisal is not chosen)]
    everything = sorted(appraised.values(), key=lambda appraisal: appraisal.order)
    within = _within(everything, margin)
    return Finals(
        ranking=tuple(ranking),
        frontier=tuple(thinned(_improving(everything), FRONTIER_ROWS)),
        cheapest=roomiest(within, min(within, key=_by_price), np.inf) if within else None,
        current=current,
    )


def thinned(steps: Sequence[Kept], number: int) -> list[Kept]:
    """
    Keep a number of steps, evenly spread, the first and the last among them.

    Examples
    --------
    >>> thinned("abcdefg", 3)
    ['a', 'd', 'g']
    """
    if len(steps) <= number:
        return list(steps)
    return [steps[round(place * (len(steps) - 1) / (number - 1))] for place in range(number)]


def _chosen(ranking: Sequence[Appraisal], margin: float, on: tuple[Sample, Aim]) -> Appraisal:
    """What is recommended: of the best the roomiest, or that of least regret where the bench asks for it."""
    if on[1].objective == "least regret":
        return ranking[robustness_of([one.design for one in ranking], *on).least_regret]
    return roomiest(ranking, ranking[0], margin)


def _within(appraisals: Sequence[Appraisal], margin: float) -> list[Appraisal]:
    """Those whose error is within the margin of the least."""
    limit = min((appraisal.objective for appraisal in appraisals), default=0.0) + margin
    return [appraisal for appraisal in appraisals if appraisal.objective <= limit]


def _by_price(appraisal: Appraisal) -> tuple[object, ...]:
    return (appraisal.design.price, *appraisal.order)


def _improving(appraisals: Sequence[Appraisal]) -> list[Appraisal]:
    """Appraised designs that no cheaper or equally dear one beats, cheapest first."""
    frontier: list[Appraisal] = []
    for appraisal in sorted(appraisals, key=_by_price):
        if not frontier or appraisal.objective < frontier[-1].objective:
            frontier.append(appraisal)
    return frontier


def _answers(pool: Pool, feasible: int, finals: Finals, best: Tried) -> Answers:
    """Ladder, limits, cupboard, ties and trials."""
    margin = pool.conditions.bench.search.margin
    ladder = ladder_of(pool, finals.current.objective if finals.current else None)
    limits, owned = moved_limits(pool, best), owned_items(pool, best)
    tied = tied_with_first(
        [appraisal.shared_error for appraisal in finals.ranking],
        [appraisal.scatter_variance for appraisal in finals.ranking],
        [appraisal.objective for appraisal in finals.ranking],
        margin,
    )
    among = [finals.ranking[row] for row in tied] if len(tied) > 1 else list(finals.ranking)
    return Answers(
        ladder=ladder,
        limits=limits,
        of_kit=limits_of_kit(finals.ranking[0], pool.sample, pool.aim),
        owned=owned,
        tied=tied,
        trials=trials_of(among, pool.sample),
        robustness=robustness_of([one.design for one in finals.ranking], pool.sample, pool.aim),
        discarded=feasible - pool.sampled,
        sampled=pool.sampled,
    )


def _key(appraisal: Appraisal) -> int:
    return id(appraisal)


def _rows(finals: Finals, margin: float, on: tuple[Sample, Aim], progress: Progress) -> dict[int, RankedDesign]:
    """Rows of the plan by appraisal, each with how sure it is the best of them or near it."""
    found = [*finals.ranking, *finals.frontier]
    found += [appraisal for appraisal in (finals.cheapest, finals.current) if appraisal is not None]
    rivals = list({_key(appraisal): appraisal for appraisal in found}.values())
    if not rivals:
        return {}
    sure = _sureness([appraisal for appraisal in rivals if appraisal is not finals.current], margin, on)
    rows = {}
    for done, appraisal in enumerate(rivals, start=1):
        rows[_key(appraisal)] = ranked(appraisal, sure.get(_key(appraisal)), on[0].seed)
        progress("ranking the sources of error", done, len(rivals))
    return rows


def _sureness(searched: Sequence[Appraisal], margin: float, on: tuple[Sample, Aim]) -> dict[int, Sureness]:
    """How sure each appraised design is among them."""
    if not searched:
        return {}
    found = sureness_of([appraisal.design for appraisal in searched], *on, margin)
    return {_key(appraisal): one for appraisal, one in zip(searched, found, strict=True)}


POWER_SHARES = (0.15, 1.6)
"""Range of the map's powers over that of the design, whatever the heater's control."""
MASS_RANGE = (0.02, 0.5)
"""Range of the map's mass steps. [kg]"""
POINTS = (25, 25)
"""Points along power and mass."""


def error_map(design: Design, sample: Sample, aim: Aim) -> ErrorMap:
    """
    Work out the error of a design's kit over power and mass step, other settings as they are.

    Parameters
    ----------
    design : Design
        Kit, procedure, correction and repeats.
    sample, aim : Sample, Aim
        Sample, and what is made small.

    Returns
    -------
    ErrorMap
        Powers other than the heater's own stand for a like heater of that power.
    """
    own, mass = design.powers[0], design.mass
    strongest = max(*powers_of(design.conditions.bench, design.kit.heater), own)
    powers = np.unique(np.append(np.linspace(POWER_SHARES[0] * own, POWER_SHARES[1] * strongest, POINTS[0] - 1), own))
    highest = max(MASS_RANGE[1], 1.3 * mass)
    masses = np.unique(np.append(np.linspace(MASS_RANGE[0], highest, POINTS[1] - 1), mass))
    grid = np.array(list(product(masses, powers)))
    settings = Settings(
        powers=grid[:, 1:] * (np.array(design.powers) / own),
        mass=grid[:, 0],
        repeats=np.full(len(grid), float(design.repeats)),
        spare=np.full(len(grid), design.spare),
        fill_step=design.fill_step,
        steady=np.full(len(grid), design.steady),
    )
    situation = design.situation_at(settings)
    terms = all_terms(design.procedure, design.correction, situation)
    objective = screen(design.program, terms, len(grid), sample, aim)
    limits = limits_of(situation, design.procedure, design.price)
    keys = np.array([*(limit.key for limit in limits), ""])
    shape = (masses.size, powers.size)
    return ErrorMap(
        powers_W=powers,
        masses_kg=masses,
        objective_percent=100.0 * objective.reshape(shape),
        limit=keys[first_broken(limits)].reshape(shape),
    )


MOST = 3
"""Near misses shown."""


@dataclass(frozen=True)
class _Found:
    """A near miss with what sorts it: number of limits broken, then the sum of their excesses, then names."""

    order: tuple[int, float, str]
    miss: NearMiss
    design: Design


def near_misses(conditions: Conditions, bench: Bench) -> tuple[NearMiss, ...]:
    """
    Find the designs that break the fewest limits, and those by the least.

    Parameters
    ----------
    conditions : Conditions
        A bench on which nothing is feasible.
    bench : Bench
        The same with all that is on the shelves.

    Returns
    -------
    tuple of NearMiss
        At most one for each set of limits broken, nearest first.
    """
    found: dict[tuple[str, ...], _Found] = {}
    for candidate in _candidates(conditions):
        keys = tuple(limit.key for limit in candidate.miss.limits)
        known = found.get(keys)
        if known is None or candidate.order < known.order:
            found[keys] = candidate
    nearest = sorted(found.values(), key=lambda candidate: candidate.order)
    return tuple(replace(one.miss, vessel=vessel_needed(one.design, bench)) for one in nearest[:MOST])


def _candidates(conditions: Conditions) -> Iterable[_Found]:
    bench = conditions.bench
    for procedure, heater, use in product(procedures_of(bench), bench.heaters, tuple(vessels_of(bench))):
        for kit in kits_of(bench, procedure, heater, use):
            candidate = _nearest(conditions, procedure, kit)
            if candidate is not None:
                yield candidate


def _nearest(conditions: Conditions, procedure: Procedure, kit: Kit) -> _Found | None:
    """Setting of a kit that comes nearest."""
    settings = settings_of(conditions.bench, kit, procedure)
    if settings.mass.size == 0:
        return None
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    situation = situation_of(conditions, kit, hardware, settings, procedure.pace)
    limits = limits_of(situation, procedure, price_of(kit, conditions.bench.lesson.groups))
    barred, _ = unsuitables(kit, conditions, procedure)
    excess = np.maximum(np.broadcast_to(excesses(limits), (len(limits), settings.mass.size)), 0.0)
    excess = np.minimum(np.where(excess > TOLERANCE, excess, 0.0), 1e6)
    index = int(np.lexsort((excess.sum(axis=0), (excess > 0.0).sum(axis=0)))[0])
    broken = [limit for limit, bad in zip(limits, excess[:, index] > 0.0, strict=True) if bad]
    miss = NearMiss(
        items=tuple(item.name for item in kit.items.values()),
        procedure=procedure.identifier,
        powers_W=tuple(settings.powers[index].tolist()),
        mass_kg=float(settings.mass[index]),
        repeats=int(settings.repeats[index]),
        limits=(*(fault.said() for fault in barred), *(limit.said(index) for limit in broken)),
    )
    names = ", ".join((*miss.items, miss.procedure))
    spare = float(settings.spare[index])
    design = Design(
        conditions, kit, procedure, procedure.corrections[0], miss.powers_W, miss.mass_kg, miss.repeats, spare
    )
    return _Found((len(miss.limits), float(excess[:, index].sum()), names), miss, design)
