"""The observer: goes through a script, watches what can be seen, and notes readings with a human delay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray, FloatArray, IntArray
from design.physics.evidence import evidence
from design.rehearsal.behaviour import act
from design.rehearsal.script import Script, Stage, WaitsFor
from design.rehearsal.state import Apparatus

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
LATER = ("mass", "temperature")
"""What is read a moment after a signal of the clock."""


@dataclass(frozen=True)
class Seen:
    """
    What can be seen: of every run at one instant, shape (n,) with one time for all, or of every reading, shape (n, r).

    Clock, and time for which the heater has been on [s]; what the meter has counted [J]; what the balance shows [kg];
    temperature of the water [K]; integrals of voltage and current over heater-on time [V s, A s].
    """

    time: FloatArray
    on_time: FloatArray
    energy: FloatArray
    mass: FloatArray
    temperature: FloatArray
    voltage_time: FloatArray
    current_time: FloatArray


@dataclass(frozen=True)
class Watch:
    """
    Where each observer is in the script; arrays of shape (n,).

    The stage, when it began, and when the reading falls due [s]; when the water was first seen to boil steadily [s];
    its mean temperature over the last half minute [K]; load at which the balance tips next [kg]; count waited for [1].
    """

    place: IntArray
    entered: FloatArray
    due: FloatArray
    steady_since: FloatArray
    slow: FloatArray
    level: FloatArray
    target: FloatArray


@dataclass(frozen=True)
class Observers:
    """
    The observers of n runs of a script with r readings, and what their hands and eyes add; drawn once.

    Parameters
    ----------
    apparatus, script : Apparatus, Script
        What they watch, and what they do.
    delay, judged, head_start : ndarray, shape (n, r)
        From what calls for a reading to the reading [s]; error of judging the balance point, or of one reading of the
        balance but its display [kg]; load above the balance point when a fresh run is prepared [kg].
    mark_delays : ndarray, shape (2, n, r) or None
        At the marks of the meter before and after a reading, where those are timed. [s]
    """

    apparatus: Apparatus
    script: Script
    delay: FloatArray
    judged: FloatArray
    head_start: FloatArray
    mark_delays: FloatArray | None

    @cached_property
    def stages(self) -> Mapping[str, NDArray[Any]]:
        """Fields of the stages as arrays, ``DONE`` at their end; ``reading`` counts the readings before a stage."""
        stages = (*self.script, Stage(WaitsFor.DONE, heater=False))
        names = ("kind", "heater", "power", "seconds", "amount")
        reads = np.array([stage.reads for stage in stages])
        columns = {name: np.array([getattr(stage, name) for stage in stages]) for name in names}
        return {**columns, "reading": np.cumsum(reads) - reads}

    def start(self) -> Watch:
        """Everybody at the first stage."""
        runs = self.apparatus.runs
        never, zero = np.full(runs, np.inf), np.zeros(runs)
        return Watch(np.zeros(runs, dtype=np.intp), zero, never, never, np.full(runs, self.apparatus.room), zero, zero)

    def look(self, watch: Watch, now: Seen, before: Seen) -> Watch:
        """Look once: stages that wait for something set the time of their reading, stages that are over give way."""
        watch = self._steadiness(watch, now, before)
        kind, seconds = self.stages["kind"][watch.place], self.stages["seconds"][watch.place]
        watch = replace(watch, due=np.minimum(watch.due, self._called(watch, kind, seconds, now, before)))
        since = now.time - watch.entered
        over = now.time >= watch.due
        over |= (kind == WaitsFor.BOIL) & (now.time - watch.steady_since >= seconds)
        over |= (kind == WaitsFor.WAIT) & (since >= seconds)
        over |= (kind == WaitsFor.PAUSE) & (since >= self.apparatus.truth["pause"])
        return self._entered(watch, now, over) if over.any() else watch

    def _steadiness(self, watch: Watch, now: Seen, before: Seen) -> Watch:
        slow = watch.slow + (now.temperature - watch.slow) * ((now.time - before.time) / SLOWNESS)
        boiling = self.apparatus.water.boiling_point
        steady = (np.abs(now.temperature - slow) < STEADY) & (now.temperature > boiling - STEAMING)
        steady |= now.temperature > boiling - BELOW_BOIL
        first = steady & np.isinf(watch.steady_since)
        return replace(watch, slow=slow, steady_since=np.where(first, now.time, watch.steady_since))

    def _called(self, watch: Watch, kind: IntArray, seconds: FloatArray, now: Seen, before: Seen) -> FloatArray:
        """Time at which a reading falls due because something happened in this step; infinite where nothing did."""
        waiting = np.isinf(watch.due)
        delay = self._at_reading(self.delay, watch.place)
        called = np.full(waiting.size, np.inf)
        tipped = waiting & (kind == WaitsFor.TIP) & (now.mass < watch.level)
        called[tipped] = now.time + delay[tipped]
        counting = waiting & (kind == WaitsFor.COUNT)
        if counting.any():
            counts, earlier = (seen.energy / self.apparatus.count_energy for seen in (now, before))
            passed = counting & (counts >= watch.target)
            share = (watch.target[passed] - earlier[passed]) / np.maximum(counts[passed] - earlier[passed], 1e-12)
            called[passed] = before.time + share * (now.time - before.time) + delay[passed]
        clock = waiting & (kind == WaitsFor.CLOCK)
        called[clock] = (watch.entered + seconds + delay)[clock]
        return called

    def _at_reading(self, values: FloatArray, place: IntArray, rows: Any = slice(None), back: int = 0) -> Any:
        """Values of the reading that a stage ends with, or of one before it, in some of the runs."""
        reading = np.minimum(self.stages["reading"][place], values.shape[1] - 1) - back
        return values[np.arange(values.shape[0])[rows], np.maximum(reading, 0)]

    def _entered(self, watch: Watch, now: Seen, over: BoolArray) -> Watch:
        """Go on to the next stage: choose the balance point or the mark that is waited for."""
        place = np.where(over, watch.place + 1, watch.place)
        kind = self.stages["kind"][place]
        level, target = watch.level.copy(), watch.target.copy()
        rows = np.flatnonzero(over & (kind == WaitsFor.TIP))
        if rows.size:
            at, amount = place[rows], self.stages["amount"][place[rows]]
            fresh = now.mass[rows] - self._at_reading(self.head_start, at, rows)
            point = level[rows] - amount * (1.0 + self.apparatus.truth["mass_error"][rows])
            point -= self._at_reading(self.judged, at, rows, back=1)
            level[rows] = np.where(amount > 0.0, point, fresh) + self._at_reading(self.judged, at, rows)
        rows = np.flatnonzero(over & (kind == WaitsFor.COUNT))
        if rows.size:
            amount, phase = self.stages["amount"][place[rows]], self.apparatus.truth["phase"][rows]
            fresh = np.ceil(now.energy[rows] / self.apparatus.count_energy + phase) - phase
            target[rows] = np.where(amount > 0.0, target[rows] + amount, fresh)
        return replace(
            watch,
            place=place,
            entered=np.where(over, np.where(np.isfinite(watch.due), watch.due, now.time), watch.entered),
            due=np.where(over, np.inf, watch.due),
            level=level,
            target=target,
        )

    def note(self, noted: FloatArray, watches: tuple[Watch, Watch], now: Seen, before: Seen) -> None:
        """
        Note what is seen at the instant at which a reading fell due, between two steps.

        On a signal of the clock, clock and meter are read at once and the balance a moment later.
        """
        left, after = watches
        reading = self.stages["reading"]
        rows = np.flatnonzero(reading[after.place] > reading[left.place])
        column, due, step = reading[left.place[rows]], after.entered[rows], now.time - before.time
        share = np.clip((due - before.time) / step, 0.0, 1.0)
        at_once = np.where(
            self.stages["kind"][left.place[rows]] == WaitsFor.CLOCK, self.delay[rows, column] / step, 0.0
        )
        noted[0, rows, column] = due - at_once * step
        for index, field in enumerate(fields(Seen)[1:], start=1):
            first, last = getattr(before, field.name)[rows], getattr(now, field.name)[rows]
            back = 0.0 if field.name in LATER else at_once
            noted[index, rows, column] = first + (share - back) * (last - first)


def observers_of(apparatus: Apparatus, script: Script, generator: np.random.Generator) -> Observers:
    """Draw the delays and errors of judgement of every reading."""
    observer, balance = apparatus.situation.conditions.bench.observer, apparatus.kit.balance
    shape = (apparatus.runs, max(sum(stage.reads for stage in script), 1))
    scatter = observer.reaction_time / np.sqrt(2.0)  # two reactions make the scatter of a timed interval
    delay = act("reaction_delay", scatter, generator.standard_normal(shape))
    judged = balance.repeatability * generator.standard_normal(shape)
    if balance.kind == "beam":
        judged += observer.tipping * generator.uniform(-1.0, 1.0, shape)
        judged += 0.5 * balance.resolution * generator.uniform(-1.0, 1.0, shape)
    head_start = generator.uniform(*HEAD_START, shape) + 3.0 * evidence("boiling_noise").spread
    timed = apparatus.kit.meter.reads == "timed"
    marks = act("reaction_delay", scatter, generator.standard_normal((2, *shape))) if timed else None
    return Observers(apparatus, script, delay, judged, head_start, marks)
