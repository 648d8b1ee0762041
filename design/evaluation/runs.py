"""Readings in runs: energy, mass boiled away and time at each mark, and the contrast that uses all marks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from design.errors import DesignError
from design.kit import Kit
from design.sheets.readings import Quantity, Reading, TypedNumber

Source = Literal["counts", "energy", "power", "nameplate"]
"""What the energy comes from: counts, a meter that shows energy, voltage and current or power, the nameplate."""
Marks = tuple[tuple[Reading, ...], ...]
"""Rows of each mark; several rows of one mark are repeated readings."""
BACKWARDS = 4e-3
"""Mass by which neighbouring marks may seem to gain, from the push of the boil. [kg] (judgement)"""
MOST_SCATTER = 5.0
"""The same, where many marks show a rougher boil, in standard deviations of the difference of two. (judgement)"""
ROBUST = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""


@dataclass(frozen=True)
class Run:
    """
    One run: energy shown [J], indicated mass boiled away [kg] and time [s], if noted, at each mark since the first.

    Arrays of shape (marks,).
    """

    group: str
    name: str
    readings: Marks
    energy: FloatArray
    mass: FloatArray
    time: FloatArray | None
    source: Source

    @property
    def span(self) -> tuple[float, float, float | None]:
        """Energy [J], mass [kg] and time [s] between the first and the last mark."""
        return float(self.energy[-1]), float(self.mass[-1]), None if self.time is None else float(self.time[-1])

    @property
    def power(self) -> float | None:
        """Mean power; None without time. [W]"""
        energy, _, time = self.span
        return energy / time if time else None

    @property
    def rows(self) -> tuple[int, ...]:
        """Rows of the sheet."""
        return tuple(reading.row for mark in self.readings for reading in mark)

    @property
    def goes_on(self) -> bool:
        """Whether energy, mass and time all rise from the first to the last mark."""
        energy, mass, time = self.span
        return energy > 0.0 and mass > 0.0 and (time is None or time > 0.0)

    @property
    def goes_on_steadily(self) -> bool:
        """Whether neither energy nor time falls between neighbouring marks, and mass by no more than boiling shakes."""
        lowest = ((self.energy, 0.0), (self.mass, -allowed_rise(self.mass)), (self.time, 0.0))
        return all(values is None or not np.any(np.diff(values) < least) for values, least in lowest)

    def numbers(self, quantity: Quantity) -> list[TypedNumber]:
        """Every number typed for a quantity."""
        return [row.numbers[quantity] for mark in self.readings for row in mark if quantity in row.numbers]

    def division(self, quantity: Quantity) -> float:
        """One in the last digit typed; the coarsest of the run, 0 without any. [SI]"""
        return max((number.step for number in self.numbers(quantity)), default=0.0)


def runs_of(readings: Sequence[Reading], kit: Kit, *, steps_of_mass: bool, rated_power: float) -> tuple[Run, ...]:
    """
    Put the readings of one group, in file order, into runs.

    Parameters
    ----------
    readings, kit
        Readings, and the kit in use.
    steps_of_mass : bool
        Whether ``mass`` is that of masses on the pan, which may rise or fall.
    rated_power : float
        Used where neither counts, energy nor power were noted. [W]

    Raises
    ------
    DesignError
        If a run has one mark only, or lacks mass or energy.
    """
    runs = []
    for name, rows in by_run(readings).items():
        marks = _marks(rows)
        mass = _mass(marks, name, steps_of_mass=steps_of_mass)
        time = _difference(marks, "time")
        energy, source = _energy(marks, name, kit, time, rated_power)
        runs.append(Run(rows[0].group, name, marks, energy, mass, time, source))
    if not runs:
        raise DesignError("readings: must hold at least one run of two marks (got none)")
    return tuple(runs)


def by_run(readings: Sequence[Reading]) -> dict[str, list[Reading]]:
    """
    Readings by run, without rows that state a mean.

    A run of one row whose mark is not its start begins where the run before it ended: the two go on as one run of
    several marks, numbered anew in the order of the sheet, so that the reading they share counts once.
    """
    found: dict[str, list[Reading]] = {}
    for reading in readings:
        if not reading.states_mean:
            found.setdefault(reading.run, []).append(reading)
    joined: dict[str, list[Reading]] = {}
    for name, rows in found.items():
        before = next(reversed(joined), None)
        kind, number, _ = mark_key(rows[0].mark)
        if before and len(rows) == 1 and "mass_step" not in rows[0].numbers and kind == 0 and number > 0.0:
            joined[before] = [replace(row, mark=str(index)) for index, row in enumerate([*joined[before], *rows])]
        else:
            joined[name] = rows
    return joined


def allowed_rise(mass: Sequence[float] | FloatArray) -> float:
    """Mass that neighbouring marks may gain: what boiling may shake, or what five marks and more show. [kg]"""
    steps = np.diff(np.asarray(mass, dtype=np.float64))
    if steps.size < 4:
        return BACKWARDS
    scatter = ROBUST * float(np.median(np.abs(steps - np.median(steps))))
    return max(BACKWARDS, MOST_SCATTER * scatter - abs(float(np.median(steps))))


def mark_key(mark: str) -> tuple[int, float, str]:
    """Key that sorts marks: numbers by size, other names after them."""
    try:
        return (0, float(mark.replace(",", ".")), "")
    except ValueError:
        return (1, 0.0, mark)


def _marks(rows: Sequence[Reading]) -> Marks:
    """Rows of each mark, in order; rows without a mark's name are marks of their own."""
    if any(not row.mark for row in rows):
        return tuple((row,) for row in rows)
    names = sorted(dict.fromkeys(row.mark for row in rows), key=mark_key)
    return tuple(tuple(row for row in rows if row.mark == name) for name in names)


def _values(marks: Marks, quantity: Quantity) -> FloatArray | None:
    """Mean reading at each mark; None where a mark has none."""
    values = [[row.numbers[quantity].value for row in rows if quantity in row.numbers] for rows in marks]
    return np.array([sum(found) / len(found) for found in values]) if all(values) else None


def _difference(marks: Marks, quantity: Quantity) -> FloatArray | None:
    values = _values(marks, quantity)
    if values is None:
        return None
    return np.concatenate(([0.0], values)) if len(marks) == 1 else values - values[0]


def _mass(marks: Marks, name: str, *, steps_of_mass: bool) -> FloatArray:
    steps = _values(marks[1:] or marks, "mass_step")
    if steps is not None:
        return np.concatenate(([0.0], np.cumsum(steps)))
    row = marks[0][0].row
    if len(marks) == 1:
        raise DesignError(
            f"row {row}: run {name} must have two marks, its start and its end (got one row); add the other reading"
        )
    shown = _values(marks, "mass")
    if shown is None:
        raise DesignError(f"row {row}: run {name} must have a mass at every mark (got a mark without one)")
    rise = np.asarray(shown - shown[0])
    return rise if rise[-1] > 0.0 and (steps_of_mass or shown[0] == 0.0) else -rise


def _energy(
    marks: Marks, name: str, kit: Kit, time: FloatArray | None, rated_power: float
) -> tuple[FloatArray, Source]:
    counts = _difference(marks, "counts")
    if counts is not None and kit.meter.energy_per_count > 0.0:
        return counts * kit.meter.energy_per_count, "counts"
    shown = _difference(marks, "energy")
    if shown is not None:
        return shown, "energy"
    power = _power(marks)
    if time is not None and (power is not None or counts is None):
        at_marks = np.full(time.size, rated_power) if power is None else np.resize(power, time.size)
        steps = 0.5 * (at_marks[1:] + at_marks[:-1]) * np.diff(time)
        return np.concatenate(([0.0], np.cumsum(steps))), "nameplate" if power is None else "power"
    raise DesignError(
        f"row {marks[0][0].row}: run {name} must have counts, energy, or time with power or voltage and current at "
        "every mark (got none of them complete)"
    )


def _power(marks: Marks) -> FloatArray | None:
    power = _values(marks, "power")
    if power is not None:
        return power
    voltage, current = _values(marks, "voltage"), _values(marks, "current")
    return None if voltage is None or current is None else voltage * current


@dataclass(frozen=True)
class Contrast:
    """
    What all marks of all runs at one power say together: means over the runs, each by its contrast.

    Parameters
    ----------
    energy, mass : float
        Shown energy [J] and indicated fall [kg] of one run, on average.
    time : float or None
        Time of one run, on average. [s]
    pauses : float
        Steps between marks in one run, on average.
    scatter : float
        Standard deviation of the mean over that of the difference of two readings.
    runs : int
        Number of runs.
    """

    energy: float
    mass: float
    time: float | None
    pauses: float
    scatter: float
    runs: int

    @property
    def power(self) -> float | None:
        """Mean power; None without time. [W]"""
        return self.energy / self.time if self.time else None


def contrast_of(runs: Sequence[Run], *, steps_of_mass: bool) -> Contrast:
    """
    Use all marks of runs at one power: the slope of energy against mass, with its covariance.

    ``steps_of_mass`` says that the mass is set and the energy is read, else the other way round.

    Notes
    -----
    With two marks the contrast is their difference. With more, its weights are those of a least-squares slope
    against the quantity that is set, times the run's span; neighbouring intervals share a mark, and the variance of
    the weighted sum, Σ w²/n, holds that covariance (JCGM 100:2008, 5.2.2). The same weights act on energy, mass
    and time, so whatever holds between two marks holds for the contrast.
    """
    parts = [(run, weights(run, steps_of_mass=steps_of_mass)) for run in runs]
    number = len(parts)

    def mean(take: Callable[[Run], FloatArray]) -> float:
        return float(sum(weight @ take(run) for run, weight in parts)) / number

    timed = all(run.time is not None for run in runs)
    return Contrast(
        energy=mean(lambda run: run.energy),
        mass=mean(lambda run: run.mass),
        time=mean(lambda run: np.asarray(run.time)) if timed else None,
        pauses=mean(lambda run: np.arange(run.mass.size, dtype=np.float64)),
        scatter=float(np.sqrt(sum(float(np.sum(weight**2 / readings_at_marks(run))) for run, weight in parts) / 2.0))
        / number,
        runs=number,
    )


def weights(run: Run, *, steps_of_mass: bool) -> FloatArray:
    """Weights of a run's marks, shape (marks,); they add up to 0 and give the span of what is set."""
    progress = run.mass if steps_of_mass else run.energy
    centred = progress - progress.mean()
    square = float(centred @ centred)
    if square == 0.0:
        raise DesignError(f"rows {run.rows[0]} to {run.rows[-1]}: run {run.name} must go on between its marks")
    return np.asarray(centred * (progress[-1] - progress[0]) / square)


def readings_at_marks(run: Run) -> FloatArray:
    """Number of readings at each mark, shape (marks,); a run of one row has a start that was not noted."""
    return np.array([len(rows) for rows in run.readings] if len(run.readings) > 1 else [1, 1], dtype=np.float64)
