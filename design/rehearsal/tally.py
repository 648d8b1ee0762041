"""From what was noted to what stands on the sheet: whole counts, digits, and the differences of each run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from budget.arrays import FloatArray
from design.kit import Balance, Meter
from design.physics.water import ICE_POINT
from design.rehearsal.observer import count_energy
from design.rehearsal.playing import Played
from design.rehearsal.script import Kind, Stage, readings_of

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
    """What the runs come to on average: energy [J], fall of mass [kg], heater-on time [s]; arrays of shape (n, p)."""

    energy: FloatArray
    mass: FloatArray
    time: FloatArray


def written(played: Played) -> Written:
    """Round what was noted as the instruments and the observer do."""
    noted, stages = played.noted, readings_of(played.script)
    on_time = _rounded(noted.on_time, CLOCK_DIGIT)
    lapse = np.diff(noted.on_time, axis=1)
    lapse[lapse <= 0.0] = np.nan
    return Written(
        stages=stages,
        time=_rounded(noted.time, CLOCK_DIGIT),
        on_time=on_time,
        counts=_counts(played, stages),
        mass=_masses(played, stages),
        temperature=_temperatures(played),
        voltage=_means(noted.voltage_time, lapse),
        current=_means(noted.current_time, lapse),
    )


def _rounded(values: FloatArray, step: float) -> FloatArray:
    return np.asarray(np.round(values / step) * step) if step > 0.0 else values


def _means(integral: FloatArray, lapse: FloatArray) -> FloatArray:
    means = _digits(np.diff(integral, axis=1) / lapse)
    return np.concatenate((means[:, :1], means), axis=1)


def _temperatures(played: Played) -> FloatArray:
    """Temperature at the thermometer, which is right at the boil and cools a little faster or slower than the rest."""
    boiling = played.setup.water.boiling_point
    spot = boiling + (played.noted.temperature - boiling) * played.truth.spot_cooling[:, np.newaxis]
    return _rounded(spot - ICE_POINT, THERMOMETER_DIGIT) + ICE_POINT


def _digits(values: FloatArray) -> FloatArray:
    """Round to the digits of a voltmeter."""
    step = 10.0 ** (np.floor(np.log10(np.maximum(np.abs(values), 1e-9))) + 1.0 - METER_DIGITS)
    return np.asarray(np.round(values / step) * step)


def _counts(played: Played, stages: tuple[Stage, ...]) -> FloatArray:
    """Counts from any zero: to the nearest turn of a disk, as many as were seen of anything else, or by the clock."""
    meter: Meter = played.setup.kit.meter
    if meter.energy_per_count == 0.0:
        return np.full_like(played.noted.time, np.nan)
    exact = played.noted.shown_energy / count_energy(played.setup) + played.truth.phase[:, np.newaxis]
    step = meter.fineness
    if played.mark_delays is not None:
        counts = _rounded(_by_the_clock(exact, played.noted.on_time, played.mark_delays), step)
    elif meter.kind == "disk" or meter.reads == "tenth":
        counts = np.round(exact / step) * step
    else:
        counts = np.floor(exact / step) * step
    for column, stage in enumerate(stages):
        if stage.kind == Kind.COUNT and stage.amount > 0.0:
            counts[:, column] = counts[:, column - 1] + stage.amount
    return np.asarray(counts)


def _by_the_clock(exact: FloatArray, on_time: FloatArray, delays: FloatArray) -> FloatArray:
    """Counts with the part between two marks from the times of both, each noted late by a reaction."""
    part = exact - np.floor(exact)
    rates = np.diff(exact, axis=1) / np.maximum(np.diff(on_time, axis=1), 1e-9)
    rates = np.concatenate((rates[:, :1], rates), axis=1)
    before, after = delays
    return np.asarray(exact - ((1.0 - part) * before + part * after) * rates)


def _masses(played: Played, stages: tuple[Stage, ...]) -> FloatArray:
    """
    Display of the balance, with its error over a run and its digits; in a mass-step procedure, the masses put on.

    Masses that balance a load that always comes back to the same point show no error of the balance between loads.
    """
    balance: Balance = played.setup.kit.balance
    shown = played.noted.mass + played.judged
    for columns in run_columns(stages).values():
        last = stages[columns[-1]]
        for column in columns:
            error = balance.linearity * played.truth.linearity[:, last.power]
            shown[:, column] -= error * (stages[column].mark / last.mark)
    shown = _rounded(shown, balance.resolution)
    tips = [column for column, stage in enumerate(stages) if stage.kind == Kind.TIP]
    if tips:
        steps = np.array([stages[column].amount for column in tips])
        shown[:, tips] = np.round(np.nanmean(shown[:, tips[-1]]), 3) + np.sum(steps) - np.cumsum(steps)
    return shown


def run_columns(stages: tuple[Stage, ...]) -> dict[int, tuple[int, ...]]:
    """
    Columns of the readings of every run with the heater on, by its number.

    A run without a start of its own begins where the one before ended.
    """
    found: dict[int, tuple[int, ...]] = {}
    for column, stage in enumerate(stages):
        if stage.heater:
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


def tally(played: Played, sheet: Written) -> Tally:
    """
    Energy, fall of mass and heater-on time at each power, as an observer works them out: means over the runs.

    Parameters
    ----------
    played : Played
        Runs.
    sheet : Written
        What was written down of them.

    Returns
    -------
    Tally
    """
    by_power: dict[int, list[tuple[FloatArray, FloatArray, FloatArray]]] = {}
    for columns in run_columns(sheet.stages).values():
        power = sheet.stages[columns[-1]].power
        by_power.setdefault(power, []).append(_one_run(played, sheet, list(columns)))
    means = [np.mean(by_power[power], axis=0) for power in sorted(by_power)]
    energy, mass, time = np.moveaxis(np.array(means), 0, 2)
    return Tally(energy, mass, time)


def _one_run(played: Played, sheet: Written, columns: list[int]) -> tuple[FloatArray, FloatArray, FloatArray]:
    first, last = columns[0], columns[-1]
    time = sheet.on_time[:, last] - sheet.on_time[:, first]
    mass = -sheet.mass[:, columns] @ line_weights(len(columns))
    count = played.setup.kit.meter.energy_per_count
    if count > 0.0:
        return (sheet.counts[:, last] - sheet.counts[:, first]) * count, mass, time
    steps = np.diff(sheet.on_time[:, columns], axis=1)
    power = sheet.voltage[:, columns[1:]] * sheet.current[:, columns[1:]]
    return np.sum(power * steps, axis=1), mass, time


COLUMNS = (
    "group", "run", "mark", "time_s", "counts", "energy_kWh", "voltage_V", "current_A", "mass_g", "temperature_C",
    "heater", "remark",
)  # fmt: skip
"""Columns of a readings sheet, in order; those that nobody filled in are left out."""
SHOWS_ENERGY = ("display", "joule")
"""Kinds of meters whose display is written down as energy."""
JOULES_PER_KWH = 3.6e6


def sheet_columns(rows: list[dict[str, str]]) -> tuple[str, ...]:
    """Columns that at least one row fills."""
    return tuple(column for column in COLUMNS if any(row.get(column) for row in rows))


def sheet_rows(played: Played, sheet: Written, index: int, group: str) -> list[dict[str, str]]:
    """
    Rows of one virtual run.

    Parameters
    ----------
    played : Played
        All runs.
    sheet : Written
        What was written down of them.
    index : int
        Which.
    group : str
        Name of the group.

    Returns
    -------
    list of dict of str to str
        Cells by column, as typed. The clock runs with the heater, but in a cooling run.
    """
    rows = []
    for column, stage in enumerate(sheet.stages):
        clock = sheet.on_time if stage.heater else sheet.time
        row = {
            "group": group,
            "run": str(stage.run) if stage.heater else "cooling",
            "mark": str(stage.mark),
            "time_s": typed(float(clock[index, column]), CLOCK_DIGIT),
            "mass_g": typed(1000.0 * float(sheet.mass[index, column]), 1000.0 * _mass_digit(played, stage.kind)),
            "heater": "on" if stage.heater else "off",
        }
        if stage.heater:
            row |= _energy(played.setup.kit.meter, sheet, index, column)
            row["remark"] = _remark(played, sheet, index, column)
        else:
            row["temperature_C"] = typed(float(sheet.temperature[index, column]) - ICE_POINT, THERMOMETER_DIGIT)
        rows.append(row)
    return rows


def typed(value: float, digit: float) -> str:
    """
    Number as typed in the digits of an instrument.

    Examples
    --------
    >>> typed(12.5, 0.01), typed(31.0, 1.0)
    ('12.50', '31')
    """
    exponent = math.floor(math.log10(digit) + 1e-9) if digit > 0.0 else -6
    steps = Decimal(round(value / digit) if digit > 0.0 else round(value * 1e6))
    number = steps * (Decimal(repr(digit)) if digit > 0.0 else Decimal("1e-6"))
    return f"{number:.{max(-exponent, 0)}f}"


def _mass_digit(played: Played, kind: Kind) -> float:
    balance: Balance = played.setup.kit.balance
    return min(balance.resolution, 1e-3) if kind == Kind.TIP else balance.resolution


def _energy(meter: Meter, sheet: Written, index: int, column: int) -> dict[str, str]:
    if meter.energy_per_count == 0.0:
        pairs = (("voltage_V", sheet.voltage), ("current_A", sheet.current))
        return {name: f"{float(values[index, column]):.{METER_DIGITS}g}" for name, values in pairs}
    counts = float(sheet.counts[index, column])
    if meter.kind in SHOWS_ENERGY:
        digit = meter.energy_per_count / JOULES_PER_KWH
        return {"energy_kWh": typed(counts * digit, 10.0 ** math.floor(math.log10(digit) + 1e-9))}
    return {"counts": typed(counts, meter.fineness)}


def _remark(played: Played, sheet: Written, index: int, column: int) -> str:
    stage = sheet.stages[column]
    if stage.kind == Kind.TIP and stage.amount > 0.0:
        waited = float(
            (sheet.time[index, column] - sheet.on_time[index, column])
            - (sheet.time[index, column - 1] - sheet.on_time[index, column - 1])
        )
        return f"heater and clock stopped for {waited:.0f} s to put the step on" if waited > 1.0 else "balance tips"
    if stage.kind == Kind.TIP:
        return "balance tips"
    if len({one.power for one in sheet.stages}) > 1 and stage.mark == 0:
        return f"power {stage.power + 1} of {len(played.setup.powers)} from the highest down"
    return ""
