"""What the observer does, stage after stage: the procedures as scripts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from design.physics.evidence import default
from design.procedures.face import Procedure
from design.setting.constants import CLOCK_TICK
from design.setting.situation import Situation


class WaitsFor(IntEnum):
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


@dataclass(frozen=True)
class Stage:
    """
    One stage of a script.

    Parameters
    ----------
    kind : WaitsFor
        What it waits for.
    heater, power : bool, int
        Whether the heater is on, and which of the powers is dialled in.
    seconds : float
        Time that it waits. [s]
    amount : float
        Mass step [kg] or counts to wait for; 0 for the first mark of a run.
    run, mark : int
        Numbers in the readings sheet of a reading.
    cooling : bool
        Whether its reading is one of a cooling run: the thermometer is read in place of the meter.
    """

    kind: WaitsFor
    heater: bool = True
    power: int = 0
    seconds: float = 0.0
    amount: float = 0.0
    run: int = 0
    mark: int = 0
    cooling: bool = False

    @property
    def reads(self) -> bool:
        """Whether it ends with a reading."""
        return self.kind in {WaitsFor.TIP, WaitsFor.COUNT, WaitsFor.CLOCK}


Script = tuple[Stage, ...]


def readings_of(script: Script) -> Script:
    """Stages that end with a reading, in order."""
    return tuple(stage for stage in script if stage.reads)


def script_of(procedure: Procedure, situation: Situation) -> Script:
    """Script of a procedure at one setting, with a cooling run where the situation leaves time for one."""
    script = _restart(situation) if procedure.pace.pause > 0.0 else _at_each_power(situation, _runs_of(procedure))
    return script + cooling(script[-1].run + 1) if situation.pace.cooling > 0.0 else script


Readings = Callable[[Situation, int, int], Script]
"""Stages of one run, from the place of its power and its number."""


def _runs_of(procedure: Procedure) -> Readings:
    """How a run begins and ends while boiling goes on: on a tip, on a mark of the meter, or by the clock."""
    if procedure.needs_mass_set:
        return _tips
    return _marks if procedure.pace.whole_counts else _times


def _restart(situation: Situation) -> Script:
    """From tip to tip with a pause after each; every tip but the first and last ends one run and begins the next."""
    stages = [Stage(WaitsFor.BOIL, seconds=float(situation.settings.steady[0])), Stage(WaitsFor.TIP, run=1, mark=0)]
    for run in range(1, int(situation.settings.repeats[0]) + 1):
        stages.append(Stage(WaitsFor.PAUSE, heater=False))
        stages.append(Stage(WaitsFor.TIP, amount=float(situation.runs.mass[0]), run=run, mark=1))
    return tuple(stages)


def _at_each_power(situation: Situation, readings: Readings) -> Script:
    """Runs of their own, the lowest power first, with time for notes between them and the heater on throughout."""
    powers, repeats = situation.settings.powers.shape[1], int(situation.settings.repeats[0])
    stages = [Stage(WaitsFor.BOIL)]
    for power in reversed(range(powers)):
        stages.append(Stage(WaitsFor.WAIT, power=power, seconds=float(situation.settings.steady[0])))
        for repeat in range(repeats):
            if repeat:
                stages.append(Stage(WaitsFor.WAIT, power=power, seconds=default("run_gap")))
            stages += readings(situation, power, (powers - 1 - power) * repeats + repeat + 1)
    return tuple(stages)


def _tips(situation: Situation, power: int, run: int) -> Script:
    first = Stage(WaitsFor.TIP, power=power, run=run, mark=0)
    return (first, Stage(WaitsFor.TIP, power=power, amount=float(situation.runs.mass[0]), run=run, mark=1))


def _marks(situation: Situation, power: int, run: int) -> Script:
    """Readings of the balance on marks of the meter; by the clock where the meter counts nothing."""
    runs = situation.all_runs.at(power)
    steps = int(runs.marks[0])
    amount = float(runs.counts[0]) / steps
    counted = situation.kit.meter.energy_per_count > 0.0
    kind, seconds = (WaitsFor.COUNT, 0.0) if counted else (WaitsFor.CLOCK, amount * CLOCK_TICK)
    later = [
        Stage(kind, power=power, seconds=seconds, amount=amount * counted, run=run, mark=1 + step)
        for step in range(steps)
    ]
    return (Stage(kind, power=power, run=run, mark=0), *later)


def _times(situation: Situation, power: int, run: int) -> Script:
    """Start on a mark of the meter where there is one, stop by the clock."""
    kind = WaitsFor.COUNT if situation.kit.meter.energy_per_count > 0.0 else WaitsFor.CLOCK
    seconds = float(situation.runs.time[0])
    return (
        Stage(kind, power=power, run=run, mark=0),
        Stage(WaitsFor.CLOCK, power=power, seconds=seconds, run=run, mark=1),
    )


def cooling(run: int) -> Script:
    """After the last run: heater off, temperature and mass read again and again."""
    marks = round(default("cooling_observed") / COOLING_EVERY)
    waits = [COOLING_AFTER, *[COOLING_EVERY] * marks]
    return tuple(
        Stage(WaitsFor.CLOCK, heater=False, seconds=seconds, run=run, mark=mark, cooling=True)
        for mark, seconds in enumerate(waits)
    )
