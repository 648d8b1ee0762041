"""Play a script on the bench, many runs at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.errors import DesignError
from design.rehearsal.advance import Drive, Tracer, Traces, advance, recoil
from design.rehearsal.observer import (
    Habits,
    Plan,
    Seen,
    Wander,
    Watch,
    habits_of,
    plan_of,
    push_deviation,
    start_wander,
    start_watch,
    stir,
    watched,
)
from design.rehearsal.script import Kind, Script, readings_of
from design.rehearsal.state import Ledger, Setup, State, setup_of, start_ledger, start_state
from design.rehearsal.truth import Truth, behaviour, draw_truth
from design.setting.situation import Situation


def load(setup: Setup, truth: Truth, state: State) -> FloatArray:
    """
    Load that the balance feels, without the empty vessel. [kg, weighed in air]

    Notes
    -----
    With a heater held from outside the floor of the vessel carries the column of water up to the level, whatever
    fills it: density times surface times height (Stevin's law). Bubbles round the element take the place of water and
    lower the level's weight; a heater that hangs on the vessel brings its own weight and takes nothing away.
    """
    if setup.kit.heater.held_by == "vessel":
        return np.asarray((state.water + state.condensate + recoil(setup, state.steam)) / setup.buoyancy)
    stem_area = truth.stem_factor * setup.stem_area
    column = setup.water.liquid_density * setup.area * state.level(setup, stem_area)
    steam_power = state.steam * setup.water.latent_heat / 1000.0
    bubbles = setup.water.liquid_density * setup.element_volume * truth.void_share * steam_power
    return np.asarray((column - bubbles + recoil(setup, state.steam)) / setup.buoyancy)


def followed(shown: FloatArray, felt: FloatArray, step: float) -> FloatArray:
    """Reading of a balance that follows its load with a lag. [kg]"""
    return np.asarray(shown + (felt - shown) * (1.0 - np.exp(-step / behaviour("balance_time"))))


def unsteady(setup: Setup, shown: FloatArray, state: State, wander: Wander, power: FloatArray) -> FloatArray:
    """Reading with the push of the boil, which fades with the steam, and the drift of the zero. [kg]"""
    boiling = np.minimum(state.steam * setup.water.latent_heat / np.maximum(0.5 * power, 1.0), 1.0)
    return np.asarray(shown + push_deviation(power) * boiling * wander.push + wander.zero)


STEP = 0.25
"""Length of a step. [s]"""
NOTED = ("on_time", "shown_energy", "mass", "temperature", "voltage_time", "current_time")
"""What is noted at a reading beside the time."""
LATER = ("mass", "temperature")
"""What is read a moment after a signal of the clock."""
LONGEST = 6.0 * 3600.0
"""Time after which a virtual run is given up. [s]"""


@dataclass(frozen=True)
class Noted:
    """
    Readings before they are rounded; arrays of shape (n, r).

    Parameters
    ----------
    time, on_time : ndarray
        Clock, and time for which the heater has been on. [s]
    shown_energy : ndarray
        Energy that the meter has counted. [J]
    mass : ndarray
        What the balance shows. [kg]
    temperature : ndarray
        Of the water. [K]
    voltage_time, current_time : ndarray
        Integrals over heater-on time. [V s, A s]
    """

    time: FloatArray
    on_time: FloatArray
    shown_energy: FloatArray
    mass: FloatArray
    temperature: FloatArray
    voltage_time: FloatArray
    current_time: FloatArray


@dataclass(frozen=True)
class Played:
    """A script as it was played: notes and the errors of judging them, traces, and state and books at the end."""

    situation: Situation
    setup: Setup
    truth: Truth
    script: Script
    noted: Noted
    judged: FloatArray
    mark_delays: FloatArray | None
    traces: Traces
    state: State
    ledger: Ledger


def play(
    situation: Situation, script: Script, *, runs: int, seed: int | Sequence[int], traced: int = 0, step: float = STEP
) -> Played:
    """
    Play a script many times.

    Parameters
    ----------
    situation : Situation
        One setting of a kit.
    script : Script
        What the observer does.
    runs : int
        Number of runs; what is true of each is drawn from what the bench states.
    seed : int or sequence of int
        Of all chance.
    traced : int
        Number of runs whose traces are kept.
    step : float
        Length of a step. [s]

    Returns
    -------
    Played

    Raises
    ------
    DesignError
        If the script does not come to its end within six hours.
    """
    generator = np.random.default_rng(seed)
    setup = setup_of(situation)
    truth = draw_truth(situation, runs, generator)
    return play_truth(situation, setup, truth, script, generator, traced=traced, step=step)


def play_truth(
    situation: Situation,
    setup: Setup,
    truth: Truth,
    script: Script,
    generator: np.random.Generator,
    *,
    traced: int = 0,
    step: float = STEP,
) -> Played:
    """Play a script on given truths; see ``play``."""
    runs, plan = truth.runs, plan_of(script)
    readings = len(readings_of(script))
    habits = habits_of(situation, runs, max(readings, 1), generator)
    books = (start_state(setup, runs), start_ledger(runs))
    wander, watch = start_wander(runs, generator), start_watch(setup, runs)
    shown = load(setup, truth, books[0])
    before = _first_sight(setup, shown)
    noted, tracer = np.full((7, runs, readings), np.nan), Tracer(setup, truth, min(traced, runs))
    done, count = plan.kind.size - 1, 0
    while (watch.place < done).any():
        count += 1
        if count * step > LONGEST:
            raise DesignError(f"the virtual run does not come to its end within {LONGEST / 3600:g} hours")
        wander = stir(setup, wander, step, generator)
        on = plan.heater[watch.place]
        dialled = np.asarray(setup.powers)[plan.power[watch.place]]
        voltage, drive = _drive(setup, truth, wander, on, dialled)
        books = advance(setup, truth, books, drive, step, generator)
        shown = followed(shown, load(setup, truth, books[0]), step)
        mass = unsteady(setup, shown, books[0], wander, dialled)
        now = _sight(setup, truth, before, books[0], (mass, voltage, drive.metered, on), step)
        place = watch.place
        watch = watched(setup, plan, truth, habits, watch, (now, before))
        if (watch.place != place).any():
            _note(noted, plan, habits, (place, watch), (now, before))
        given_up = _uncovered(setup, truth, books[0])
        watch = replace(watch, place=np.where(given_up, done, watch.place), due=np.where(given_up, np.inf, watch.due))
        tracer.add(count, now, drive.metered, books)
        before = now
    return Played(
        situation, setup, truth, script, Noted(*noted), habits.judged, habits.mark_delays, tracer.traces(), *books
    )


def _first_sight(setup: Setup, shown: FloatArray) -> Seen:
    zero = np.zeros(shown.size)
    return Seen(0.0, shown, zero, zero, np.full(shown.size, setup.room_temperature), zero, zero)


def _drive(
    setup: Setup, truth: Truth, wander: Wander, on: NDArray[np.bool_], dialled: FloatArray
) -> tuple[FloatArray, Drive]:
    """Voltage now, and power metered and lost in the flex: P = V²/R of an element whose R never changes."""
    tolerance = setup.voltage_tolerance
    relative = 1.0 + np.clip(truth.supply_error + wander.supply, -tolerance, tolerance)
    voltage = setup.voltage * relative
    metered = np.where(on, dialled * (1.0 + truth.heater_error) * relative**2, 0.0)
    lead = (metered / voltage) ** 2 * setup.lead_resistance * truth.lead_factor
    return voltage, Drive(metered, lead, wander.superheat)


def _uncovered(setup: Setup, truth: Truth, state: State) -> NDArray[np.bool_]:
    """Runs that are given up with the heater off because the water has come down to the element's mark."""
    return np.asarray(state.level(setup, truth.stem_factor * setup.stem_area) < setup.kit.heater.minimum_depth)


def _sight(
    setup: Setup,
    truth: Truth,
    before: Seen,
    state: State,
    fresh: tuple[FloatArray, FloatArray, FloatArray, NDArray[np.bool_]],
    step: float,
) -> Seen:
    mass, voltage, metered, on = fresh
    return Seen(
        time=before.time + step,
        mass=mass,
        shown_energy=before.shown_energy + metered * (1.0 + truth.meter_error) * step,
        on_time=before.on_time + on * step,
        temperature=state.temperature(setup),
        voltage_time=before.voltage_time + on * voltage * (1.0 + truth.meter_error) * step,
        current_time=before.current_time + metered / voltage * step,
    )


def _note(
    noted: FloatArray, plan: Plan, habits: Habits, watch: tuple[NDArray[np.intp], Watch], seen: tuple[Seen, Seen]
) -> None:
    """
    Note what is seen at the instant at which a reading fell due, between two steps.

    On a signal of the clock, clock and meter are read at once and the balance a moment later.
    """
    place, after = watch
    now, before = seen
    rows = np.flatnonzero((after.place != place) & (plan.reading[after.place] > plan.reading[place]))
    column, due = plan.reading[place[rows]], after.entered[rows]
    step = now.time - before.time
    share = np.clip((due - before.time) / step, 0.0, 1.0)
    at_once = np.where(plan.kind[place[rows]] == Kind.CLOCK, habits.delay[rows, column] / step, 0.0)
    noted[0, rows, column] = due - at_once * step
    for index, field in enumerate(NOTED, start=1):
        first, last = getattr(before, field)[rows], getattr(now, field)[rows]
        back = 0.0 if field in LATER else at_once
        noted[index, rows, column] = first + (share - back) * (last - first)
