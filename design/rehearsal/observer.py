"""The observer: goes through a script, watches what can be seen, and notes readings with a human delay."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray, IntArray
from design.kit import Balance
from design.physics.evidence import default, evidence
from design.rehearsal.script import READS, Kind, Script, Stage
from design.rehearsal.state import Setup
from design.rehearsal.truth import Truth, behaviour
from design.setting.situation import Situation

HEAD_START = (1.5e-3, 3.5e-3)
"""Load above the balance point when a fresh run is prepared. [kg] (common practice, no source)"""
BELOW_BOIL = 0.5
"""Water no further below the boiling point than this counts as boiling. [K]"""
STEAMING = 40.0
"""Water no further below the boiling point, and steady, steams without a rolling boil: it goes no higher. [K]"""
SLOWNESS = 30.0
"""Time over which a steady temperature is judged. [s]"""
STEADY = 0.02
"""Largest excess over the mean of that time that counts as steady. [K]"""


@dataclass(frozen=True)
class Habits:
    """
    What the observer's hand and eye add; drawn once.

    Parameters
    ----------
    delay : ndarray, shape (n, r)
        From what calls for a reading to the reading. [s]
    judged : ndarray, shape (n, r)
        Error of judging the balance point, or of one reading of the balance but its display. [kg]
    head_start : ndarray, shape (n, r)
        Load above the balance point when a fresh run is prepared. [kg]
    mark_delays : ndarray, shape (2, n, r) or None
        At the marks of the meter before and after a reading, where those are timed. [s]
    """

    delay: FloatArray
    judged: FloatArray
    head_start: FloatArray
    mark_delays: FloatArray | None


@dataclass(frozen=True)
class Plan:
    """A script as arrays of shape (s + 1,), with ``DONE`` at its end; ``reading`` counts the readings before."""

    kind: IntArray
    heater: NDArray[np.bool_]
    power: IntArray
    seconds: FloatArray
    amount: FloatArray
    reading: IntArray


@dataclass(frozen=True)
class Seen:
    """What can be seen at one instant; arrays of shape (n,). Time in s, mass in kg, energy in J, temperature in K."""

    time: float
    mass: FloatArray
    shown_energy: FloatArray
    on_time: FloatArray
    temperature: FloatArray
    voltage_time: FloatArray
    current_time: FloatArray


@dataclass(frozen=True)
class Watch:
    """
    Where each observer is in the script; arrays of shape (n,).

    Parameters
    ----------
    place : ndarray of int
        Stage.
    entered, due : ndarray
        When it began, and when the reading falls due. [s]
    steady_since : ndarray
        When the water was first seen to boil steadily. [s]
    slow : ndarray
        Mean temperature over the last half minute. [K]
    level : ndarray
        Load at which the balance tips next. [kg]
    target : ndarray
        Count that is waited for. [1]
    """

    place: IntArray
    entered: FloatArray
    due: FloatArray
    steady_since: FloatArray
    slow: FloatArray
    level: FloatArray
    target: FloatArray


def plan_of(script: Script) -> Plan:
    """Put a script into arrays."""
    stages = (*script, Stage(Kind.DONE, heater=False))
    reads = np.array([stage.kind in READS for stage in stages])
    return Plan(
        kind=np.array([stage.kind for stage in stages], dtype=np.intp),
        heater=np.array([stage.heater for stage in stages]),
        power=np.array([stage.power for stage in stages], dtype=np.intp),
        seconds=np.array([stage.seconds for stage in stages]),
        amount=np.array([stage.amount for stage in stages]),
        reading=np.cumsum(reads) - reads,
    )


def habits_of(situation: Situation, runs: int, readings: int, generator: np.random.Generator) -> Habits:
    """Draw the delays and errors of judgement of every reading."""
    observer, balance = situation.conditions.bench.observer, situation.kit.balance
    shape = (runs, readings)
    return Habits(
        delay=_delays(observer.reaction_time, shape, generator),
        judged=_judged(balance, observer.tipping, shape, generator),
        head_start=generator.uniform(*HEAD_START, shape) + 3.0 * evidence("boiling_noise").spread,
        mark_delays=_delays(observer.reaction_time, (2, *shape), generator)
        if situation.kit.meter.reads == "timed"
        else None,
    )


def _delays(reaction_time: float, shape: tuple[int, ...], generator: np.random.Generator) -> FloatArray:
    """Delays of single reactions, two of which make the scatter of a timed interval. [s]"""
    scatter = reaction_time / np.sqrt(2.0)
    delays = scatter * (behaviour("reaction_delay") + generator.standard_normal(shape))
    return np.asarray(np.maximum(delays, 0.0))


def _judged(balance: Balance, tipping: float, shape: tuple[int, int], generator: np.random.Generator) -> FloatArray:
    error = balance.repeatability * generator.standard_normal(shape)
    if balance.kind == "beam":
        error += tipping * generator.uniform(-1.0, 1.0, shape)
        error += 0.5 * balance.resolution * generator.uniform(-1.0, 1.0, shape)
    return np.asarray(error)


def start_watch(setup: Setup, runs: int) -> Watch:
    """Everybody at the first stage."""
    never, zero = np.full(runs, np.inf), np.zeros(runs)
    return Watch(
        place=np.zeros(runs, dtype=np.intp),
        entered=zero,
        due=never,
        steady_since=never,
        slow=np.full(runs, setup.room_temperature),
        level=zero,
        target=zero,
    )


def watched(setup: Setup, plan: Plan, truth: Truth, habits: Habits, watch: Watch, seen: tuple[Seen, Seen]) -> Watch:
    """
    Look once: stages that wait for something set the time of their reading, stages that are over give way.

    Parameters
    ----------
    setup, plan, truth, habits : Setup, Plan, Truth, Habits
        The design, the script, this run's pause, and the observer's delays.
    watch : Watch
        Before the step.
    seen : tuple of Seen
        What can be seen now, and what could one step ago.

    Returns
    -------
    Watch
    """
    now, before = seen
    watch = _steadiness(setup, watch, now, before)
    watch = replace(watch, due=np.minimum(watch.due, _called(setup, plan, habits, watch, seen)))
    over = _over(plan, truth, watch, now)
    return _entered(setup, plan, truth, habits, watch, now, over) if over.any() else watch


def _steadiness(setup: Setup, watch: Watch, now: Seen, before: Seen) -> Watch:
    step = now.time - before.time
    slow = watch.slow + (now.temperature - watch.slow) * (step / SLOWNESS)
    boiling = setup.water.boiling_point
    steady = (np.abs(now.temperature - slow) < STEADY) & (now.temperature > boiling - STEAMING)
    steady |= now.temperature > boiling - BELOW_BOIL
    first = steady & np.isinf(watch.steady_since)
    return replace(watch, slow=slow, steady_since=np.where(first, now.time, watch.steady_since))


def _called(setup: Setup, plan: Plan, habits: Habits, watch: Watch, seen: tuple[Seen, Seen]) -> FloatArray:
    """Time at which a reading falls due because something happened in this step; infinite where nothing did."""
    now, before = seen
    kind, waiting = plan.kind[watch.place], np.isinf(watch.due)
    runs = np.arange(kind.size)
    delay = habits.delay[runs, np.minimum(plan.reading[watch.place], habits.delay.shape[1] - 1)]
    called = np.full(kind.size, np.inf)
    tipped = waiting & (kind == Kind.TIP) & (now.mass < watch.level)
    called[tipped] = now.time + delay[tipped]
    counting = waiting & (kind == Kind.COUNT)
    if counting.any():
        counts, earlier = now.shown_energy / count_energy(setup), before.shown_energy / count_energy(setup)
        passed = counting & (counts >= watch.target)
        share = (watch.target[passed] - earlier[passed]) / np.maximum(counts[passed] - earlier[passed], 1e-12)
        called[passed] = before.time + share * (now.time - before.time) + delay[passed]
    clock = waiting & (kind == Kind.CLOCK)
    called[clock] = (watch.entered + plan.seconds[watch.place] + delay)[clock]
    return called


def count_energy(setup: Setup) -> float:
    """Energy of a count; the clock's tick at the dialled power where nothing else is counted. [J]"""
    return setup.kit.meter.energy_per_count or setup.powers[0]


def _over(plan: Plan, truth: Truth, watch: Watch, now: Seen) -> NDArray[np.bool_]:
    """Runs whose stage ends now."""
    kind, seconds = plan.kind[watch.place], plan.seconds[watch.place]
    over = now.time >= watch.due
    over |= (kind == Kind.BOIL) & (now.time - watch.steady_since >= seconds)
    over |= (kind == Kind.WAIT) & (now.time - watch.entered >= seconds)
    over |= (kind == Kind.PAUSE) & (now.time - watch.entered >= truth.pause)
    return np.asarray(over)


def _entered(
    setup: Setup, plan: Plan, truth: Truth, habits: Habits, watch: Watch, now: Seen, over: NDArray[np.bool_]
) -> Watch:
    """Go on to the next stage: choose the balance point or the mark that is waited for."""
    place = np.where(over, watch.place + 1, watch.place)
    reading = np.minimum(plan.reading[place], habits.delay.shape[1] - 1)
    rows = np.flatnonzero(over & (plan.kind[place] == Kind.TIP))
    level = watch.level.copy()
    if rows.size:
        amount = plan.amount[place[rows]]
        fresh = now.mass[rows] - habits.head_start[rows, reading[rows]]
        point = level[rows] - amount * (1.0 + truth.mass_error[rows])
        judged = habits.judged[rows, reading[rows]]
        before = habits.judged[rows, np.maximum(reading[rows] - 1, 0)]
        level[rows] = np.where(amount > 0.0, point - before, fresh) + judged
    rows = np.flatnonzero(over & (plan.kind[place] == Kind.COUNT))
    target = watch.target.copy()
    if rows.size:
        amount = plan.amount[place[rows]]
        fresh = np.ceil(now.shown_energy[rows] / count_energy(setup) + truth.phase[rows]) - truth.phase[rows]
        target[rows] = np.where(amount > 0.0, target[rows] + amount, fresh)
    return replace(
        watch,
        place=place,
        entered=np.where(over, np.where(np.isfinite(watch.due), watch.due, now.time), watch.entered),
        due=np.where(over, np.inf, watch.due),
        level=level,
        target=target,
    )


@dataclass(frozen=True)
class Wander:
    """
    What wanders; arrays of shape (n,).

    Parameters
    ----------
    supply : ndarray
        Supply voltage about its mean. [1]
    superheat : ndarray
        Mean temperature of the water about the boiling point. [K]
    push : ndarray
        Push of the boil on the balance, in standard deviations.
    zero : ndarray
        Drift of the balance's zero since the start. [kg]
    """

    supply: FloatArray
    superheat: FloatArray
    push: FloatArray
    zero: FloatArray


def start_wander(runs: int, generator: np.random.Generator) -> Wander:
    """Wander in its steady state, the balance at zero."""
    first = generator.standard_normal((3, runs))
    return Wander(
        supply=behaviour("supply_wander") * first[0],
        superheat=superheat_deviation() * first[1],
        push=first[2],
        zero=np.zeros(runs),
    )


def stir(setup: Setup, wander: Wander, step: float, generator: np.random.Generator) -> Wander:
    """Wander one step later: exponentially correlated, and a random walk of the zero."""
    fresh = generator.standard_normal((4, wander.zero.size))
    return Wander(
        supply=_relaxed(wander.supply, fresh[0], behaviour("supply_wander"), step / behaviour("wander_time")),
        superheat=_relaxed(wander.superheat, fresh[1], superheat_deviation(), step / behaviour("superheat_time")),
        push=_relaxed(wander.push, fresh[2], 1.0, step / behaviour("noise_time")),
        zero=wander.zero + drift_deviation(setup) * np.sqrt(step / 900.0) * fresh[3],
    )


def _relaxed(value: FloatArray, fresh: FloatArray, deviation: float, steps: float) -> FloatArray:
    keep = np.exp(-steps)
    return np.asarray(keep * value + deviation * np.sqrt(1.0 - keep**2) * fresh)


def superheat_deviation() -> float:
    """Standard deviation of the temperature at the boil: two readings far apart differ by √2 times as much. [K]"""
    return evidence("temperature_drift").spread / math.sqrt(2.0)


def drift_deviation(setup: Setup) -> float:
    """Standard deviation of the zero's drift in a quarter of an hour; none on a beam. [kg]"""
    balance = setup.kit.balance
    return behaviour("balance_drift") * balance.resolution if balance.kind == "electronic" else 0.0


def push_deviation(power: FloatArray) -> FloatArray:
    """Standard deviation of the boil's push on one reading. [kg]"""
    growth = np.maximum(power / 1000.0, 1.0) ** default("boiling_noise_exponent")
    return np.asarray(evidence("boiling_noise").spread * growth)
