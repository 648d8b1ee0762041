"""Which single slip of the pen would account for an implausible run: unit, decimal point, or transposed digits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from design.errors import DesignError
from design.evaluation.expected import Neighbours, Windows, complaints
from design.evaluation.runs import Run
from design.sheets.readings import Number, Quantity, Reading

QUANTITIES: tuple[Quantity, ...] = ("counts", "energy", "mass", "mass_step", "time", "power", "voltage", "current")
UNIT_FACTORS: dict[Quantity, tuple[float, ...]] = {
    "mass": (1e3, 1e-3), "mass_step": (1e3, 1e-3), "time": (60.0, 1 / 60.0, 3600.0, 1 / 3600.0),
    "energy": (3.6e6, 1 / 3.6e6, 1e3, 1e-3, 3600.0, 1 / 3600.0), "power": (1e3, 1e-3),
    "counts": (), "voltage": (1e3, 1e-3), "current": (1e3, 1e-3),
}  # fmt: skip
"""Factors that one unit taken for another makes: kg and g, min and s, kWh, Wh, kJ and J, kW and W."""
_PENALTY = {"unit_slip": 0.0, "decimal_slip": 1.0, "digits_transposed": 1.5}

ONE_CELL = 0.3
"""Cost of a unit slip in one cell over one in the whole run."""

Remake = Callable[[Sequence[Reading]], Run]


@dataclass(frozen=True)
class Slip:
    """
    A likely slip.

    Parameters
    ----------
    code : str
        Which kind.
    reading : Reading
        Row where it stands; the first where a whole column has it.
    quantity : str
        Column.
    likely : str
        What was probably meant, as it would be typed.
    cost : float
        How well it accounts for the run; less is better.
    """

    code: str
    reading: Reading
    quantity: Quantity
    likely: str
    cost: float


def likely_slip(readings: Sequence[Reading], remake: Remake, windows: Windows, neighbours: Neighbours) -> Slip | None:
    """
    Find the single slip that best accounts for an implausible run.

    Parameters
    ----------
    readings : sequence of Reading
        Rows of the run.
    remake : callable
        Makes a run of rows; raises where it cannot.
    windows, neighbours : Windows, Neighbours
        What is plausible, and what the other runs say.

    Returns
    -------
    Slip or None
        None where no single slip makes everything plausible.
    """
    best: Slip | None = None
    for slip, changed in _candidates(readings):
        if not _could_be_read(slip, windows):
            continue
        try:
            run = remake(changed)
        except DesignError:
            continue
        if not _goes_on(run) or complaints(run, windows, neighbours):
            continue
        cost = slip.cost + _PENALTY[slip.code] + _distance(run, windows, neighbours)
        if best is None or cost < best.cost:
            best = replace(slip, cost=cost)
    return best


def _could_be_read(slip: Slip, windows: Windows) -> bool:
    """Whether what was probably meant is a whole number of steps of the instrument."""
    meter, balance = windows.used.kit.meter, windows.used.kit.balance
    steps: dict[Quantity, float] = {"counts": meter.fineness, "mass": balance.resolution}
    step = steps.get(slip.quantity, 0.0)
    number = float(slip.likely) * slip.reading.numbers[slip.quantity].factor
    return step <= 0.0 or abs(number / step - round(number / step)) < 1e-6


def _goes_on(run: Run) -> bool:
    if run.time is not None and np.any(np.diff(run.time) < 0.0):
        return False
    return not (np.any(np.diff(run.energy) < 0.0) or np.any(np.diff(run.mass) < -4e-3))


def _distance(run: Run, windows: Windows, neighbours: Neighbours) -> float:
    """How far the mended run is from what is expected, in windows."""
    energy, mass, _ = run.span
    low, expected, high = windows.value(run)
    middle = neighbours.value or expected
    distance = abs(energy / mass - middle) / (high - low)
    power = run.power
    if power is not None and (neighbours.power or not windows.several_powers):
        nominal = neighbours.power or 0.5 * sum(windows.power)
        distance += abs(power / nominal - 1.0) / 0.3
    return distance


def _candidates(readings: Sequence[Reading]) -> Iterator[tuple[Slip, list[Reading]]]:
    for quantity in QUANTITIES:
        have = [reading for reading in readings if quantity in reading.numbers and reading.numbers[quantity].value]
        for factor in UNIT_FACTORS[quantity]:
            if len(have) > 1:
                changed = [_scaled(reading, quantity, factor) for reading in readings]
                yield Slip("unit_slip", have[0], quantity, _typed(have[0], quantity, factor), 0.0), changed
        for reading in have[::-1]:
            yield from _of_cell(readings, reading, quantity)


def _of_cell(readings: Sequence[Reading], reading: Reading, quantity: Quantity) -> Iterator[tuple[Slip, list[Reading]]]:
    number = reading.numbers[quantity]
    options = [("unit_slip", factor * number.value) for factor in UNIT_FACTORS[quantity]]
    options += [("decimal_slip", factor * number.value) for factor in (10.0, 0.1, 100.0, 0.01)]
    options += [("digits_transposed", value) for value in transpositions(number)]
    for code, value in options:
        if value == number.value:
            continue
        cost = ONE_CELL if code == "unit_slip" else 0.0
        slip = Slip(code, reading, quantity, f"{value / number.factor:.10g}", cost)
        yield slip, [_with(row, quantity, value) if row is reading else row for row in readings]


def transpositions(number: Number) -> tuple[float, ...]:
    """
    Values with two neighbouring digits the other way round.

    Parameters
    ----------
    number : Number
        As typed.

    Returns
    -------
    tuple of float
        In the SI unit of the column.

    Examples
    --------
    >>> transpositions(Number("629.5", 0.6295, 1e-4, 1e-3))
    (0.2695, 0.6925, 0.6259)
    """
    text = number.text.replace(",", ".")
    places = [index for index, letter in enumerate(text) if letter.isdigit()]
    if not all(letter.isdigit() or letter in " .\u202f\u00a0" for letter in text):
        return ()
    values = []
    for first, second in pairwise(places):
        letters = list(text)
        letters[first], letters[second] = letters[second], letters[first]
        values.append(round(float("".join(letter for letter in letters if letter.isdigit() or letter == ".")), 10))
    return tuple(round(value * number.factor, 12) for value in dict.fromkeys(values))


def _scaled(reading: Reading, quantity: Quantity, factor: float) -> Reading:
    number = reading.numbers.get(quantity)
    return reading if number is None else _with(reading, quantity, number.value * factor)


def _with(reading: Reading, quantity: Quantity, value: float) -> Reading:
    number = replace(reading.numbers[quantity], value=value)
    return replace(reading, numbers={**reading.numbers, quantity: number})


def _typed(reading: Reading, quantity: Quantity, factor: float) -> str:
    number = reading.numbers[quantity]
    return f"{number.value * factor / number.factor:.10g}"
