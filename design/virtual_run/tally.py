"""From what was noted to what stands on the sheet: whole counts, digits, and the differences of each run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from design.kit import Balance, Meter
from design.virtual_run.observer import count_energy
from design.virtual_run.playing import Played
from design.virtual_run.script import Kind, Stage, readings_of

FloatArray = NDArray[np.float64]

CLOCK_DIGIT = 0.1
"""Digit of the stopwatch. [s]"""
METER_DIGITS = 4
"""Digits of a voltmeter or ammeter."""
THERMOMETER_DIGIT = 0.1
"""Digit of the thermometer. [K]"""


@dataclass(frozen=True)
class Written:
    """
    Readings as written down; arrays of shape (n, r), one column a reading of ``stages``.

    Time in s, energy in J (counts times energy per count, from any zero; nan where nothing is counted), mass in kg,
    temperature in K, voltage in V and current in A as means since the reading before (nan at the first).
    """

    stages: tuple[Stage, ...]
    time: FloatArray
    on_time: FloatArray
    counts: FloatArray
    mass: FloatArray
    temperature: FloatArray
    voltage: FloatArray
    current: FloatArray


@dataclass(frozen=True)
class Tally:
    """
    What each run comes to; arrays of shape (n, runs of the script).

    Parameters
    ----------
    energy : ndarray
        Read from the meter. [J]
    mass : ndarray
        Fall of mass as read. [kg]
    time : ndarray
        Time with the heater on. [s]
    power : tuple of int
        Which power was dialled in, by run.
    """

    energy: FloatArray
    mass: FloatArray
    time: FloatArray
    power: tuple[int, ...]


def written(played: Played) -> Written:
    """Round what was noted as the instruments and the observer do."""
    noted, stages = played.noted, readings_of(played.script)
    on_time = _rounded(noted.on_time, CLOCK_DIGIT)
    lapse = np.diff(noted.on_time, axis=1, prepend=np.nan)
    lapse[lapse == 0.0] = np.nan
    return Written(
        stages=stages,
        time=_rounded(noted.time, CLOCK_DIGIT),
        on_time=on_time,
        counts=_counts(played, stages),
        mass=_masses(played, stages),
        temperature=_rounded(noted.temperature - 273.15, THERMOMETER_DIGIT) + 273.15,
        voltage=_digits(np.diff(noted.voltage_time, axis=1, prepend=np.nan) / lapse),
        current=_digits(np.diff(noted.current_time, axis=1, prepend=np.nan) / lapse),
    )


def _rounded(values: FloatArray, step: float) -> FloatArray:
    return np.asarray(np.round(values / step) * step) if step > 0.0 else values


def _digits(values: FloatArray) -> FloatArray:
    """Round to the digits of a voltmeter."""
    step = 10.0 ** (np.floor(np.log10(np.maximum(np.abs(values), 1e-9))) + 1.0 - METER_DIGITS)
    return np.asarray(np.round(values / step) * step)


def _counts(played: Played, stages: tuple[Stage, ...]) -> FloatArray:
    """Counts from any zero: to the nearest turn of a disk, as many as were seen of anything else."""
    meter: Meter = played.setup.kit.meter
    if meter.energy_per_count == 0.0:
        return np.full_like(played.noted.time, np.nan)
    exact = played.noted.shown_energy / count_energy(played.setup) + played.truth.phase[:, np.newaxis]
    step = 0.1 if meter.reads == "tenth" else 1.0
    if meter.kind == "disk" or meter.reads == "tenth":
        counts = np.round(exact / step) * step
    else:
        counts = np.floor(exact / step) * step
    for column, stage in enumerate(stages):
        if stage.kind == Kind.COUNT and stage.amount > 0.0:
            counts[:, column] = counts[:, column - 1] + stage.amount
    return np.asarray(counts)


def _masses(played: Played, stages: tuple[Stage, ...]) -> FloatArray:
    """
    Display of the balance, with its error over a step and its digits; in a mass-step procedure, the masses put on.

    The masses that balance a beam are counted from the last tip, so that they fall as the water does.
    """
    steps = np.array([stage.amount if stage.kind == Kind.TIP else 0.0 for stage in stages])
    if any(stage.kind == Kind.TIP for stage in stages):
        left = np.sum(steps) - np.cumsum(steps)
        return np.broadcast_to(left, played.noted.mass.shape).copy()
    balance: Balance = played.setup.kit.balance
    shown = played.noted.mass + played.judged
    step = float(played.situation.runs.mass[0])
    fallen = (shown[:, :1] - shown) / step
    shown = shown - balance.linearity * played.truth.linearity[:, np.newaxis] * fallen
    return _rounded(shown, balance.resolution)


def run_columns(stages: tuple[Stage, ...]) -> list[tuple[int, int]]:
    """First and last reading of every run that has an end; a run without a start of its own begins where one ended."""
    numbers = sorted({stage.run for stage in stages})
    found = []
    for number in numbers:
        own = [column for column, stage in enumerate(stages) if stage.run == number]
        first = own[0] if stages[own[0]].mark == 0 else own[0] - 1
        if own[-1] > first:
            found.append((first, own[-1]))
    return found


def tally(played: Played, sheet: Written) -> Tally:
    """Work out energy, fall of mass and heater-on time of every run, as an observer would with pencil and paper."""
    columns = run_columns(sheet.stages)
    first, last = np.array(columns).T
    time = sheet.on_time[:, last] - sheet.on_time[:, first]
    energy = (sheet.counts[:, last] - sheet.counts[:, first]) * played.setup.kit.meter.energy_per_count
    if played.setup.kit.meter.energy_per_count == 0.0:
        energy = sheet.voltage[:, last] * sheet.current[:, last] * time
    mass = sheet.mass[:, first] - sheet.mass[:, last]
    return Tally(energy, mass, time, tuple(sheet.stages[column].power for column in last))
