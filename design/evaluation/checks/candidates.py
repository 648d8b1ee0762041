"""Slips of the pen: which there are, how often each happens, and the readings as they would be without it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from design.chosen import Design
from design.message import Message
from design.sheets.readings import Quantity, Reading, TypedNumber

UNIT_FACTORS: dict[Quantity, tuple[float, ...]] = {
    "counts": (),
    "energy": (3.6e6, 1 / 3.6e6, 1e3, 1e-3, 3600.0, 1 / 3600.0),
    "mass": (1e3, 1e-3), "mass_step": (1e3, 1e-3), "time": (60.0, 1 / 60.0, 3600.0, 1 / 3600.0),
    "power": (1e3, 1e-3), "voltage": (1e3, 1e-3), "current": (1e3, 1e-3),
}  # fmt: skip
"""Factors that one unit taken for another makes: kg and g, min and s, kWh, Wh, kJ and J, kW and W."""
TENS = (10.0, 0.1, 100.0, 0.01)
"""Factors that a decimal mark in another place makes."""
IN_A_CELL = {
    "unit_slip": 1e-3, "decimal_slip": 2e-3, "digits_transposed": 3e-3, "sign_lost": 1e-3, "one_count": 4e-3,
    "clock_as_minutes": 5e-4, "swapped_cells": 1e-3,
}  # fmt: skip
"""Prior probability of each kind of slip in one cell, shared by all that are possible there (judgement)."""
IN_A_COLUMN = {"unit_slip": 2e-3, "clock_as_minutes": 1e-3}
"""Prior probability of those that whole columns have, in one run; in a whole sheet ``OF_THE_SHEET`` times that."""
OF_THE_SHEET = 2.5
SIDE_BY_SIDE: tuple[tuple[Quantity, Quantity], ...] = (("time", "counts"), ("counts", "mass"), ("time", "mass"))
"""Columns whose cells one may take for each other."""
MINUTE = 60.0
"""Seconds of a minute."""
_MINUTES = re.compile(r"(\d{1,3})[.,]([0-5]\d)")


@dataclass(frozen=True)
class Slip:
    """
    A slip that would account for what is odd.

    Parameters
    ----------
    code : str
        Which kind.
    reading, quantity : Reading, str
        Row and column where it stands; the first row where a whole column has it.
    likely : str
        What was probably meant, as it would be typed.
    chance : float
        Prior probability. [1]
    mended : tuple of Reading
        The readings as they would be without it.
    stretched : float
        Factor of a whole column, by which the scatter of its readings is larger without the slip. [1]
    """

    code: str
    reading: Reading
    quantity: Quantity
    likely: str
    chance: float
    mended: tuple[Reading, ...]
    stretched: float = 1.0

    @property
    def place(self) -> tuple[tuple[int, Quantity, float], ...]:
        """Cells that it changes, with what they would hold; slips alike in that mend to the same thing."""
        return tuple(
            (reading.row, quantity, round(number.value, 12))
            for reading in self.mended
            for quantity, number in reading.numbers.items()
            if number.text == ""
        )

    @property
    def said(self) -> Message:
        """Which entry, and what it may have been."""
        typed = self.reading.numbers[self.quantity].text
        return Message("entry", {"typed": typed, "row": self.reading.row, "likely": self.likely})


def in_cells(readings: Sequence[Reading], used: Design) -> Iterator[Slip]:
    """Every slip in one cell of a run, in two cells that were taken for each other, or in a column of the run."""
    for quantity in UNIT_FACTORS:
        yield from in_columns(readings, quantity, 1.0)
        for reading in readings:
            number = reading.numbers.get(quantity)
            for code, values in _of_cell(quantity, number, used).items() if number else ():
                for value in values:
                    yield _slip(code, readings, reading, {quantity: value}, IN_A_CELL[code] / len(values))
        yield from _next_to_each_other(readings, quantity)
    yield from _side_by_side(readings)


def _next_to_each_other(readings: Sequence[Reading], quantity: Quantity) -> Iterator[Slip]:
    """The readings of two marks the wrong way round."""
    for one, other in pairwise([reading for reading in readings if quantity in reading.numbers]):
        first, second = one.numbers[quantity].value, other.numbers[quantity].value
        if first != second:
            yield _swapped(readings, (one, quantity, second), (other, quantity, first))


def _side_by_side(readings: Sequence[Reading]) -> Iterator[Slip]:
    """Two readings of a mark each in the other's column."""
    for reading in readings:
        for left, right in SIDE_BY_SIDE:
            one, other = reading.numbers.get(left), reading.numbers.get(right)
            if one is not None and other is not None and one.value / one.factor != other.value / other.factor:
                meant = other.value / other.factor * one.factor, one.value / one.factor * other.factor
                yield _swapped(readings, (reading, left, meant[0]), (reading, right, meant[1]))


def in_columns(readings: Sequence[Reading], quantity: Quantity, often: float) -> Iterator[Slip]:
    """Slips that a whole column has, ``often`` as probable as in one run: another unit, a clock's minutes as units."""
    have = [reading for reading in readings if quantity in reading.numbers and reading.numbers[quantity].value]
    if not have:
        return
    factors = UNIT_FACTORS[quantity]
    for factor in factors:
        changed = [
            _with(row, {quantity: factor * row.numbers[quantity].value}) if row in have else row for row in readings
        ]
        likely = _typed(have[0].numbers[quantity], factor * have[0].numbers[quantity].value)
        chance = often * IN_A_COLUMN["unit_slip"] / len(factors)
        yield Slip("unit_slip", have[0], quantity, likely, chance, tuple(changed), factor)
    if quantity == "time":
        clocks = [_from_clock(reading.numbers[quantity]) for reading in have]
        if all(clocks) and len(have) > 1:
            meant = dict(zip([reading.row for reading in have], [one[0] for one in clocks], strict=True))
            changed = [_with(row, {quantity: meant[row.row]}) if row.row in meant else row for row in readings]
            likely = _typed(have[0].numbers[quantity], clocks[0][0])
            chance = often * IN_A_COLUMN["clock_as_minutes"]
            yield Slip("clock_as_minutes", have[0], quantity, likely, chance, tuple(changed), MINUTE)


def _swapped(
    readings: Sequence[Reading], one: tuple[Reading, Quantity, float], other: tuple[Reading, Quantity, float]
) -> Slip:
    changes = {id(one[0]): {one[1]: one[2]}}
    changes.setdefault(id(other[0]), {})[other[1]] = other[2]
    mended = tuple(_with(row, changes.get(id(row), {})) for row in readings)
    likely = _typed(one[0].numbers[one[1]], one[2])
    return Slip("swapped_cells", one[0], one[1], likely, IN_A_CELL["swapped_cells"], mended)


def _slip(
    code: str, readings: Sequence[Reading], reading: Reading, meant: dict[Quantity, float], chance: float
) -> Slip:
    (quantity, value), *_ = meant.items()
    mended = tuple(_with(row, meant) if row is reading else row for row in readings)
    return Slip(code, reading, quantity, _typed(reading.numbers[quantity], value), chance, mended)


def _of_cell(quantity: Quantity, number: TypedNumber, used: Design) -> dict[str, list[float]]:
    """What may have been meant in a cell, by kind of slip. [SI]"""
    value, found = number.value, dict[str, list[float]]()
    if value:
        found["unit_slip"] = [factor * value for factor in UNIT_FACTORS[quantity]]
        found["decimal_slip"] = [factor * value for factor in TENS]
        found["digits_transposed"] = [one for one in transpositions(number) if one != value]
    if quantity == "mass" and value and not used.procedure.needs_mass_set:
        found["sign_lost"] = [-value]
    if quantity == "counts":
        found["one_count"] = [value + 1.0, value - 1.0]
    clock = _from_clock(number) if quantity == "time" else ()
    if clock:
        found["clock_as_minutes"] = list(clock)
    return {code: [one for one in values if _could_be_read(quantity, one, used)] for code, values in found.items()}


def _could_be_read(quantity: Quantity, value: float, used: Design) -> bool:
    """Whether what may have been meant is a whole number of steps of the instrument."""
    step = {"counts": used.kit.meter.fineness, "mass": used.kit.balance.resolution}.get(quantity, 0.0)
    return step <= 0.0 or abs(value / step - round(value / step)) < 1e-6


def _from_clock(number: TypedNumber) -> tuple[float, ...]:
    """
    Seconds of a time whose minutes and seconds were typed as a number: 12.30 for 12 min 30 s; empty where it cannot be.

    Examples
    --------
    >>> _from_clock(TypedNumber("12.30", 12.3, 0.01, 1.0))
    (750.0,)
    """
    match = _MINUTES.fullmatch(number.text)
    return (60.0 * int(match[1]) + int(match[2]),) if match and (int(match[1]) or int(match[2])) else ()


def transpositions(number: TypedNumber) -> tuple[float, ...]:
    """
    Values with two neighbouring digits the other way round, in the SI unit of the column.

    Examples
    --------
    >>> transpositions(TypedNumber("629.5", 0.6295, 1e-4, 1e-3))
    (0.2695, 0.6925, 0.6259)
    """
    text = number.text.replace(",", ".")
    places = [index for index, letter in enumerate(text) if letter.isdigit()]
    if not all(letter.isdigit() or letter in "- .\u202f\u00a0" for letter in text):
        return ()
    values = []
    for first, second in pairwise(places):
        letters = list(text)
        letters[first], letters[second] = letters[second], letters[first]
        values.append(round(float("".join(letter for letter in letters if letter.isdigit() or letter in "-.")), 10))
    return tuple(round(value * number.factor, 12) for value in dict.fromkeys(values))


def _with(reading: Reading, meant: dict[Quantity, float]) -> Reading:
    """The row with other values, whose text is not as typed and stands empty."""
    if not meant:
        return reading
    changed = {quantity: replace(reading.numbers[quantity], value=value, text="") for quantity, value in meant.items()}
    return replace(reading, numbers={**reading.numbers, **changed})


def _typed(number: TypedNumber, value: float) -> str:
    return f"{value / number.factor:.10g}" if math.isfinite(value) else ""
