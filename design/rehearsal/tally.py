"""From what was noted to what stands on the sheet: whole counts, digits, and the differences of each run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from budget.arrays import FloatArray
from design.physics.water import ICE_POINT
from design.rehearsal.playing import Played
from design.rehearsal.script import Script, Stage, WaitsFor, readings_of

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

    Time in s, counts from any zero (nan where nothing is counted), mass in kg, temperature in K, voltage in V and
    current in A as means since the reading before, at the first until the next.
    """

    played: Played
    stages: Script
    time: FloatArray
    on_time: FloatArray
    counts: FloatArray
    mass: FloatArray
    temperature: FloatArray
    voltage: FloatArray
    current: FloatArray


@dataclass(frozen=True)
class RunMeans:
    """What the runs come to on average: energy [J], fall of mass [kg], heater-on time [s]; arrays of shape (n, p)."""

    energy: FloatArray
    mass: FloatArray
    time: FloatArray


def written(played: Played) -> Written:
    """Round what was noted as the instruments and the observer do."""
    noted, stages = played.noted, readings_of(played.observers.script)
    lapse = np.diff(noted.on_time, axis=1)
    lapse[lapse <= 0.0] = np.nan
    return Written(
        played=played,
        stages=stages,
        time=_rounded(noted.time, CLOCK_DIGIT),
        on_time=_rounded(noted.on_time, CLOCK_DIGIT),
        counts=_counts(played, stages),
        mass=_masses(played, stages),
        temperature=_temperatures(played),
        voltage=_means(noted.voltage_time, lapse),
        current=_means(noted.current_time, lapse),
    )


def _rounded(values: FloatArray, step: float | FloatArray) -> FloatArray:
    return np.asarray(np.round(values / step) * step)


def _means(integral: FloatArray, lapse: FloatArray) -> FloatArray:
    """Means between readings in the digits of a voltmeter; the first stands for the reading before it too."""
    means = np.diff(integral, axis=1) / lapse
    means = _rounded(means, 10.0 ** (np.floor(np.log10(np.maximum(np.abs(means), 1e-9))) + 1.0 - METER_DIGITS))
    return np.concatenate((means[:, :1], means), axis=1)


def _temperatures(played: Played) -> FloatArray:
    """Temperature at the thermometer, which is right at the boil and cools a little faster or slower than the rest."""
    boiling = played.apparatus.water.boiling_point
    spot = boiling + (played.noted.temperature - boiling) * played.apparatus.truth["spot_cooling"][:, np.newaxis]
    return _rounded(spot - ICE_POINT, THERMOMETER_DIGIT) + ICE_POINT


def _counts(played: Played, stages: Script) -> FloatArray:
    """Counts from any zero: to the nearest turn of a disk, as many as were seen of anything else, or by the clock."""
    apparatus, delays = played.apparatus, played.observers.mark_delays
    meter = apparatus.kit.meter
    if meter.energy_per_count == 0.0:
        return np.full_like(played.noted.time, np.nan)
    exact = played.noted.energy / apparatus.count_energy + apparatus.truth["phase"][:, np.newaxis]
    if delays is not None:
        counts = _rounded(_by_the_clock(exact, played.noted.on_time, delays), meter.fineness)
    elif meter.kind == "disk" or meter.reads == "tenth":
        counts = _rounded(exact, meter.fineness)
    else:
        counts = np.floor(exact / meter.fineness) * meter.fineness
    for column, stage in enumerate(stages):
        if stage.kind == WaitsFor.COUNT and stage.amount > 0.0:
            counts[:, column] = counts[:, column - 1] + stage.amount
    return np.asarray(counts)


def _by_the_clock(exact: FloatArray, on_time: FloatArray, delays: FloatArray) -> FloatArray:
    """Counts with the part between two marks from the times of both, each noted late by a reaction."""
    part = exact - np.floor(exact)
    rates = np.diff(exact, axis=1) / np.maximum(np.diff(on_time, axis=1), 1e-9)
    rates = np.concatenate((rates[:, :1], rates), axis=1)
    before, after = delays
    return np.asarray(exact - ((1.0 - part) * before + part * after) * rates)


def _masses(played: Played, stages: Script) -> FloatArray:
    """
    Display of the balance, with its error over a run and its digits; in a mass-step procedure, the masses put on.

    Masses that balance a load that always comes back to the same point show no error of the balance between loads.
    """
    balance, linearity = played.apparatus.kit.balance, played.apparatus.truth["linearity"]
    shown = played.noted.mass + played.observers.judged
    for columns in run_columns(stages).values():
        last = stages[columns[-1]]
        for column in columns:
            shown[:, column] -= balance.linearity * linearity[:, last.power] * (stages[column].mark / last.mark)
    shown = _rounded(shown, balance.resolution) if balance.resolution > 0.0 else shown
    tips = [column for column, stage in enumerate(stages) if stage.kind == WaitsFor.TIP]
    if tips:
        steps = np.array([stages[column].amount for column in tips])
        shown[:, tips] = np.round(np.nanmean(shown[:, tips[-1]]), 3) + np.sum(steps) - np.cumsum(steps)
    return shown


def run_columns(stages: Script) -> dict[int, tuple[int, ...]]:
    """
    Columns of the readings of every run, by its number; those of a cooling run are none.

    A run without a start of its own begins where the one before ended.
    """
    found: dict[int, tuple[int, ...]] = {}
    for column, stage in enumerate(stages):
        if not stage.cooling:
            before = () if stage.mark == 0 else found.get(stage.run, (column - 1,))
            found[stage.run] = (*before, column)
    return found


def line_weights(readings: int) -> FloatArray:
    """
    Weights of equally spaced readings that give the difference of the two ends of their least-squares line.

    Examples
    --------
    >>> [float(weight) for weight in line_weights(2)]
    [-1.0, 1.0]
    """
    place = np.arange(readings, dtype=np.float64)
    centred = place - place.mean()
    return np.asarray(centred * (readings - 1) / (centred @ centred))


def tally(sheet: Written) -> RunMeans:
    """Energy, fall of mass and heater-on time at each power, as an observer works them out: means over the runs."""
    by_power: dict[int, list[tuple[FloatArray, FloatArray, FloatArray]]] = {}
    for columns in run_columns(sheet.stages).values():
        by_power.setdefault(sheet.stages[columns[-1]].power, []).append(_one_run(sheet, list(columns)))
    means = [np.mean(by_power[power], axis=0) for power in sorted(by_power)]
    return RunMeans(*np.moveaxis(np.array(means), 0, 2))


def _one_run(sheet: Written, columns: list[int]) -> tuple[FloatArray, FloatArray, FloatArray]:
    first, last = columns[0], columns[-1]
    time = sheet.on_time[:, last] - sheet.on_time[:, first]
    mass = -sheet.mass[:, columns] @ line_weights(len(columns))
    count = sheet.played.apparatus.kit.meter.energy_per_count
    if count > 0.0:
        return (sheet.counts[:, last] - sheet.counts[:, first]) * count, mass, time
    steps = np.diff(sheet.on_time[:, columns], axis=1)
    power = sheet.voltage[:, columns[1:]] * sheet.current[:, columns[1:]]
    return np.sum(power * steps, axis=1), mass, time


COLUMNS = (
    "group", "run", "mark", "time_s", "counts", "energy_kWh", "energy_J", "voltage_V", "current_A", "mass_g",
    "temperature_C", "heater", "remark",
)  # fmt: skip
"""Columns of a readings sheet, in order; those that nobody filled in are left out."""
SHOWS_ENERGY = ("display", "joule")
"""Kinds of meters whose display is written down as energy."""
JOULES_PER_KWH = 3.6e6


def sheet_columns(rows: list[dict[str, str]]) -> tuple[str, ...]:
    """Columns that at least one row fills."""
    return tuple(column for column in COLUMNS if any(row.get(column) for row in rows))


def sheet_rows(sheet: Written, index: int, group: str) -> list[dict[str, str]]:
    """
    Rows of one virtual run, given by its index, under the name of a group: cells by column, as typed.

    The clock runs with the heater; where a reading is taken with the heater off, it runs on.
    """
    return [_row(sheet, index, column, stage) | {"group": group} for column, stage in enumerate(sheet.stages)]


def _row(sheet: Written, index: int, column: int, stage: Stage) -> dict[str, str]:
    resolution = sheet.played.apparatus.kit.balance.resolution
    digit = min(resolution, 1e-3) if stage.kind == WaitsFor.TIP else resolution
    clock = sheet.on_time if stage.heater else sheet.time
    row = {
        "run": "cooling" if stage.cooling else str(stage.run),
        "mark": str(stage.mark),
        "time_s": typed(float(clock[index, column]), CLOCK_DIGIT),
        "mass_g": typed(1000.0 * float(sheet.mass[index, column]), 1000.0 * digit),
        "heater": "on" if stage.heater else "off",
    }
    if stage.cooling:
        temperature = float(sheet.temperature[index, column]) - ICE_POINT
        return row | {"temperature_C": typed(temperature, THERMOMETER_DIGIT)}
    return row | _energy(sheet, index, column) | {"remark": _remark(sheet, index, column)}


def typed(value: float, digit: float) -> str:
    """
    Number as typed in the digits of an instrument.

    Examples
    --------
    >>> typed(12.5, 0.01), typed(31.0, 1.0)
    ('12.50', '31')
    """
    digit = digit if digit > 0.0 else 1e-6
    number = Decimal(round(value / digit)) * Decimal(repr(digit))
    return f"{number:.{max(-math.floor(math.log10(digit) + 1e-9), 0)}f}"


def _energy(sheet: Written, index: int, column: int) -> dict[str, str]:
    meter = sheet.played.apparatus.kit.meter
    if meter.energy_per_count == 0.0:
        pairs = (("voltage_V", sheet.voltage), ("current_A", sheet.current))
        return {name: f"{float(values[index, column]):.{METER_DIGITS}g}" for name, values in pairs}
    counts = float(sheet.counts[index, column])
    if meter.kind in SHOWS_ENERGY:
        name, unit = ("energy_J", 1.0) if meter.kind == "joule" else ("energy_kWh", JOULES_PER_KWH)
        digit = meter.energy_per_count / unit
        return {name: typed(counts * digit, 10.0 ** math.floor(math.log10(digit) + 1e-9))}
    return {"counts": typed(counts, meter.fineness)}


def _remark(sheet: Written, index: int, column: int) -> str:
    stage = sheet.stages[column]
    if stage.kind == WaitsFor.TIP:
        off = sheet.time[index] - sheet.on_time[index]
        waited = float(off[column] - off[column - 1]) if stage.amount > 0.0 else 0.0
        return f"heater and clock stopped for {waited:.0f} s to put the step on" if waited > 1.0 else "balance tips"
    if len({one.power for one in sheet.stages}) > 1 and stage.mark == 0:
        return f"power {stage.power + 1} of {sheet.played.apparatus.powers.size} from the highest down"
    return ""
