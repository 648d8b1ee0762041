"""What the observer does, stage after stage: the procedures as scripts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from design.errors import DesignError
from design.physics.evidence import default
from design.setting.equations import CLOCK_TICK
from design.setting.situation import Situation


class Kind(IntEnum):
    """What a stage waits for."""

    BOIL = 0
    """Steady boiling, and some time of it."""
    WAIT = 1
    """Some time."""
    PAUSE = 2
    """The time that this run's observer takes with the heater off."""
    TIP = 3
    """The balance tips; then counts and clock are read."""
    COUNT = 4
    """A mark of the meter passes; then balance and clock are read."""
    CLOCK = 5
    """Some time since the last reading; then everything is read."""
    DONE = 6
    """Nothing any more."""


COOLING_AFTER = 60.0
"""From switching off to the first reading of a cooling run. [s] (common practice, no source)"""
COOLING_EVERY = 30.0
"""Between its readings. [s] (common practice, no source)"""
READS = (Kind.TIP, Kind.COUNT, Kind.CLOCK)
"""Kinds of stages that end with a reading."""


@dataclass(frozen=True)
class Stage:
    """
    One stage of a script.

    Parameters
    ----------
    kind : Kind
        What it waits for.
    heater : bool
        Whether the heater is on.
    power : int
        Which of the powers is dialled in.
    seconds : float
        Time that it waits. [s]
    amount : float
        Mass step [kg] or counts to wait for; 0 for the first mark of a run.
    run, mark : int
        Numbers in the readings sheet of a reading.
    """

    kind: Kind
    heater: bool = True
    power: int = 0
    seconds: float = 0.0
    amount: float = 0.0
    run: int = 0
    mark: int = 0


Script = tuple[Stage, ...]


def script_of(identifier: str, situation: Situation) -> Script:
    """
    Script of a procedure, with a cooling run where the situation leaves time for one.

    Parameters
    ----------
    identifier : str
        Word that bench files carry.
    situation : Situation
        One setting of a kit.

    Returns
    -------
    Script

    Raises
    ------
    DesignError
        If no observer knows the procedure.
    """
    script = _measurement(identifier, situation)
    if situation.pace.cooling > 0.0:
        script += cooling(run=script[-1].run + 1)
    return script


def _measurement(identifier: str, situation: Situation) -> Script:
    repeats, runs = int(situation.settings.repeats[0]), situation.runs
    if identifier == "fixed-mass-restart":
        return restart(repeats, float(runs.mass[0]))
    if identifier == "fixed-mass-kept-on":
        return at_each_power(1, repeats, lambda _, run: _tips(run, float(runs.mass[0])))
    if identifier in ("whole-counts", "series"):
        return at_each_power(
            situation.settings.powers.shape[1], repeats, lambda power, run: _marks(situation, power, run)
        )
    if identifier == "two-powers":
        time, counted = float(runs.time[0]), situation.kit.meter.energy_per_count > 0.0
        return at_each_power(2, repeats, lambda power, run: _times(power, run, time, counted=counted))
    raise DesignError(f"procedure: no virtual observer plays {identifier!r}")


def readings_of(script: Script) -> tuple[Stage, ...]:
    """Stages that end with a reading, in order."""
    return tuple(stage for stage in script if stage.kind in READS)


def restart(repeats: int, step: float) -> Script:
    """From tip to tip with a pause after each; every tip but the first and last ends one run and begins the next."""
    stages = [Stage(Kind.BOIL, seconds=default("steady_time")), Stage(Kind.TIP, run=1, mark=0)]
    for run in range(1, repeats + 1):
        stages += [Stage(Kind.PAUSE, heater=False), Stage(Kind.TIP, amount=step, run=run, mark=1)]
    return tuple(stages)


def at_each_power(powers: int, repeats: int, readings: Callable[[int, int], Script]) -> Script:
    """
    Runs of their own, the lowest power first, with time for notes between them and the heater on throughout.

    Parameters
    ----------
    powers, repeats : int
        Number of powers, and of runs at each.
    readings : callable (power, run) -> Script
        Stages of one run.
    """
    stages = [Stage(Kind.BOIL)]
    for power in reversed(range(powers)):
        stages.append(Stage(Kind.WAIT, power=power, seconds=default("steady_time")))
        for repeat in range(repeats):
            if repeat:
                stages.append(Stage(Kind.WAIT, power=power, seconds=default("run_gap")))
            stages += readings(power, (powers - 1 - power) * repeats + repeat + 1)
    return tuple(stages)


def _tips(run: int, step: float) -> Script:
    return (Stage(Kind.TIP, run=run, mark=0), Stage(Kind.TIP, amount=step, run=run, mark=1))


def _marks(situation: Situation, power: int, run: int) -> Script:
    """Readings of the balance on marks of the meter; by the clock where the meter counts nothing."""
    runs = situation.all_runs.at(power)
    steps = int(runs.marks[0])
    amount = float(runs.counts[0]) / steps
    if situation.kit.meter.energy_per_count > 0.0:
        later = [Stage(Kind.COUNT, power=power, amount=amount, run=run, mark=1 + step) for step in range(steps)]
        return (Stage(Kind.COUNT, power=power, run=run, mark=0), *later)
    seconds = amount * CLOCK_TICK
    later = [Stage(Kind.CLOCK, power=power, seconds=seconds, run=run, mark=1 + step) for step in range(steps)]
    return (Stage(Kind.CLOCK, power=power, run=run, mark=0), *later)


def _times(power: int, run: int, time: float, *, counted: bool) -> Script:
    """Start on a mark of the meter where there is one, stop by the clock."""
    first = Stage(Kind.COUNT if counted else Kind.CLOCK, power=power, run=run, mark=0)
    return (first, Stage(Kind.CLOCK, power=power, seconds=time, run=run, mark=1))


def cooling(run: int) -> Script:
    """After the last run: heater off, temperature and mass read again and again."""
    every = COOLING_EVERY
    marks = round(default("cooling_observed") / every)
    first = Stage(Kind.CLOCK, heater=False, seconds=COOLING_AFTER, run=run, mark=0)
    return (first, *(Stage(Kind.CLOCK, heater=False, seconds=every, run=run, mark=1 + mark) for mark in range(marks)))
