"""What the observer does, stage after stage: the procedures as scripts."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from design.errors import DesignError
from design.evidence import default
from design.situation import CLOCK_TICK, Situation


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
    Script of a procedure.

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
    repeats, runs = int(situation.settings.repeats[0]), situation.runs
    if identifier == "fixed-mass-restart":
        return restart(repeats, float(runs.mass[0]))
    if identifier == "fixed-mass-kept-on":
        return from_mark_to_mark(Kind.TIP, repeats, float(runs.mass[0]))
    if identifier == "whole-counts":
        counted = situation.kit.meter.energy_per_count > 0.0
        return from_mark_to_mark(Kind.COUNT if counted else Kind.CLOCK, repeats, float(runs.counts[0]))
    raise DesignError(f"procedure: no virtual observer plays {identifier!r}")


def readings_of(script: Script) -> tuple[Stage, ...]:
    """Stages that end with a reading, in order."""
    return tuple(stage for stage in script if stage.kind in READS)


def settle() -> Stage:
    """Heat until it boils, and let it boil."""
    return Stage(Kind.BOIL, seconds=default("steady_time"))


def restart(repeats: int, step: float) -> Script:
    """From tip to tip with a pause after each; every tip but the first and last ends one run and begins the next."""
    stages = [settle(), Stage(Kind.TIP, run=1, mark=0)]
    for run in range(1, repeats + 1):
        stages += [Stage(Kind.PAUSE, heater=False), Stage(Kind.TIP, amount=step, run=run, mark=1)]
    return tuple(stages)


def from_mark_to_mark(kind: Kind, repeats: int, amount: float) -> Script:
    """Runs of their own, with time for notes between them and the heater on throughout."""
    stages = [settle()]
    for run in range(1, repeats + 1):
        seconds = amount * CLOCK_TICK if kind == Kind.CLOCK else 0.0
        stages += [Stage(kind, run=run, mark=0), Stage(kind, seconds=seconds, amount=amount, run=run, mark=1)]
        stages.append(Stage(Kind.WAIT, seconds=default("run_gap")))
    return tuple(stages[:-1])


def cooling(length: float, every: float, run: int) -> Script:
    """After the last run: heater off, temperature and mass read again and again."""
    marks = int(length / every) + 1
    first = Stage(Kind.CLOCK, heater=False, seconds=30.0, run=run, mark=0)
    rest = tuple(Stage(Kind.CLOCK, heater=False, seconds=every, run=run, mark=mark) for mark in range(1, marks))
    return (first, *rest)
