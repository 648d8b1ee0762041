"""Play a script on the bench, many runs at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from budget.arrays import BoolArray, FloatArray
from design.errors import DesignError
from design.physics.evidence import default, evidence
from design.rehearsal.advance import Drive, advance
from design.rehearsal.behaviour import act, draw_truth
from design.rehearsal.observer import Observers, Seen, observers_of
from design.rehearsal.script import Script, readings_of
from design.rehearsal.state import (
    Apparatus,
    State,
    apparatus_of,
    energy_gap,
    level_of,
    load,
    mass_gap,
    start_state,
    temperature_of,
)
from design.setting.situation import Situation

STEP = 0.25
"""Length of a step. [s]"""
LONGEST = 6.0 * 3600.0
"""Time after which a virtual run is given up. [s]"""
EVERY = 4
"""Steps between two points of a trace."""


@dataclass(frozen=True)
class Wander:
    """
    What wanders; arrays of shape (n,).

    Supply voltage about its mean [1]; mean temperature of the water about the boiling point [K]; push of the boil on
    the balance, in standard deviations; drift of the balance's zero since the start [kg].
    """

    supply: FloatArray
    superheat: FloatArray
    push: FloatArray
    zero: FloatArray


def start_wander(runs: int, generator: np.random.Generator) -> Wander:
    """Wander in its steady state, the balance at zero."""
    supply, superheat, push = generator.standard_normal((3, runs))
    return Wander(act("supply_wander") * supply, superheat_deviation() * superheat, push, np.zeros(runs))


def stir(apparatus: Apparatus, wander: Wander, step: float, generator: np.random.Generator) -> Wander:
    """Wander one step later: exponentially correlated, and a random walk of the zero of an electronic balance."""
    fresh, balance = generator.standard_normal((4, apparatus.runs)), apparatus.kit.balance
    zero = act("balance_drift", balance.resolution, step) if balance.kind == "electronic" else 0.0
    return Wander(
        supply=_relaxed(wander.supply, fresh[0], act("supply_wander"), act("wander_time", step)),
        superheat=_relaxed(wander.superheat, fresh[1], superheat_deviation(), act("superheat_time", step)),
        push=_relaxed(wander.push, fresh[2], 1.0, act("noise_time", step)),
        zero=wander.zero + zero * fresh[3],
    )


def _relaxed(value: FloatArray, fresh: FloatArray, deviation: float, keep: float) -> FloatArray:
    return np.asarray(keep * value + deviation * np.sqrt(1.0 - keep**2) * fresh)


def superheat_deviation() -> float:
    """Standard deviation of the temperature at the boil: two readings far apart differ by √2 times as much. [K]"""
    return evidence("temperature_drift").spread / math.sqrt(2.0)


def unsteady(apparatus: Apparatus, shown: FloatArray, state: State, wander: Wander, power: FloatArray) -> FloatArray:
    """Reading with the push of the boil, which fades with the steam, and the drift of the zero. [kg]"""
    boiling = np.minimum(state.steam * apparatus.water.latent_heat / np.maximum(0.5 * power, 1.0), 1.0)
    growth = np.maximum(power / 1000.0, 1.0) ** default("boiling_noise_exponent")
    noise = evidence("boiling_noise").spread * apparatus.truth["noise_factor"] * growth
    return np.asarray(shown + noise * boiling * wander.push + wander.zero)


def driven(apparatus: Apparatus, wander: Wander, on: BoolArray, dialled: FloatArray) -> Drive:
    """Voltage now, and power metered and lost in the flex: P = V²/R of an element whose R never changes."""
    supply, truth = apparatus.situation.conditions.bench.supply, apparatus.truth
    relative = 1.0 + np.clip(truth["supply_error"] + wander.supply, -supply.tolerance, supply.tolerance)
    voltage = supply.voltage * relative
    metered = np.where(on, dialled * (1.0 + truth["heater_error"]) * relative**2, 0.0)
    lead = (metered / voltage) ** 2 * apparatus.lead_resistance * truth["lead_factor"]
    return Drive(voltage, metered, lead, wander.superheat)


@dataclass(frozen=True)
class Traces:
    """
    Traces of some runs; time of shape (k,), the others of shape (k, traced).

    Time in s, power in W, masses in kg (indicated: as the balance shows it; true: water in the vessel), temperature
    in K, counts (energy over one count's), gaps in the books relative to what came in.
    """

    time: FloatArray
    power: FloatArray
    indicated: FloatArray
    true: FloatArray
    temperature: FloatArray
    counts: FloatArray
    energy_gap: FloatArray
    mass_gap: FloatArray


@dataclass(frozen=True)
class Played:
    """A script as it was played: who watched what, notes before they are rounded, traces, and state at the end."""

    observers: Observers
    noted: Seen
    traces: Traces
    state: State

    @property
    def apparatus(self) -> Apparatus:
        """What was watched."""
        return self.observers.apparatus


def play(
    situation: Situation, script: Script, *, runs: int, seed: int | Sequence[int], traced: int = 0, step: float = STEP
) -> Played:
    """
    Play a script many times; what is true of each run is drawn from what the bench states.

    ``traced`` is the number of runs whose traces are kept, ``seed`` that of all chance, ``step`` in s.

    Raises
    ------
    DesignError
        If the script does not come to its end within six hours.
    """
    generator = np.random.default_rng(seed)
    apparatus = apparatus_of(situation, draw_truth(situation, runs, generator))
    return play_on(apparatus, script, generator, traced=traced, step=step)


def play_on(
    apparatus: Apparatus, script: Script, generator: np.random.Generator, *, traced: int = 0, step: float = STEP
) -> Played:
    """Play a script on an apparatus with its truths; see ``play``."""
    observers = observers_of(apparatus, script, generator)
    stages, done = observers.stages, len(script)
    state, wander, watch = start_state(apparatus), start_wander(apparatus.runs, generator), observers.start()
    shown, zero = load(apparatus, state), np.zeros(apparatus.runs)
    before = Seen(np.zeros(()), zero, zero, shown, temperature_of(apparatus, state), zero, zero)
    noted = np.full((7, apparatus.runs, len(readings_of(script))), np.nan)
    points: list[list[FloatArray]] = []
    for count in range(1, round(LONGEST / step) + 1):
        wander = stir(apparatus, wander, step, generator)
        on, dialled = stages["heater"][watch.place], apparatus.powers[stages["power"][watch.place]]
        drive = driven(apparatus, wander, on, dialled)
        state = advance(apparatus, state, drive, step, generator)
        shown = shown + (load(apparatus, state) - shown) * act("balance_time", step)
        now = _sight(apparatus, before, state, drive, on, step)
        now = replace(now, mass=unsteady(apparatus, shown, state, wander, dialled))
        left, watch = watch, observers.look(watch, now, before)
        if (watch.place != left.place).any():
            observers.note(noted, (left, watch), now, before)
        given_up = level_of(apparatus, state) < apparatus.lowest_level
        watch = replace(watch, place=np.where(given_up, done, watch.place), due=np.where(given_up, np.inf, watch.due))
        if traced and count % EVERY == 0:
            points.append([values[:traced].copy() for values in _point(apparatus, now, state, drive)])
        before = now
        if not (watch.place < done).any():
            break
    else:
        raise DesignError(f"the virtual run does not come to its end within {LONGEST / 3600:g} hours")
    times = np.array([(1 + place) * EVERY * step for place in range(len(points))])
    columns = np.array(points).reshape(len(points), 7, min(traced, apparatus.runs)).transpose(1, 0, 2)
    return Played(observers, Seen(*noted), Traces(times, *columns), state)


def _sight(apparatus: Apparatus, before: Seen, state: State, drive: Drive, on: BoolArray, step: float) -> Seen:
    """What can be seen a step later, the balance apart."""
    gain = 1.0 + apparatus.truth["meter_error"]
    return Seen(
        time=before.time + step,
        on_time=before.on_time + on * step,
        energy=before.energy + drive.metered * gain * step,
        mass=before.mass,
        temperature=temperature_of(apparatus, state),
        voltage_time=before.voltage_time + on * drive.voltage * gain * step,
        current_time=before.current_time + drive.metered / drive.voltage * step,
    )


def _point(apparatus: Apparatus, now: Seen, state: State, drive: Drive) -> list[FloatArray]:
    """Columns of ``Traces`` behind the time."""
    counts = now.energy / apparatus.count_energy + apparatus.truth["phase"]
    books = (energy_gap(apparatus, state), mass_gap(apparatus, state))
    return [drive.metered, now.mass, state.water, now.temperature, counts, *books]
