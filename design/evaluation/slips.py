"""Which single slip of the pen would account for an implausible run: unit, decimal point, or transposed digits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from design.errors import DesignError
from design.evaluation.expected import Neighbours, Windows, complaints
from design.evaluation.runs import Run
from design.sheets.readings import Quantity, Reading, TypedNumber

UNIT_FACTORS: dict[Quantity, tuple[float, ...]] = {
    "counts": (),
    "energy": (3.6e6, 1 / 3.6e6, 1e3, 1e-3, 3600.0, 1 / 3600.0),
    "mass": (1e3, 1e-3), "mass_step": (1e3, 1e-3), "time": (60.0, 1 / 60.0, 3600.0, 1 / 3600.0),
    "power": (1e3, 1e-3), "voltage": (1e3, 1e-3), "current": (1e3, 1e-3),
}  # fmt: skip
"""Factors that one unit taken for another makes: kg and g, min and s, kWh, Wh, kJ and J, kW and W."""
PENALTY = {"unit_slip": 0.0, "decimal_slip": 1.0, "digits_transposed": 1.5}
"""Cost of each kind of slip, in windows."""
ONE_CELL = 0.3
"""Cost of a unit slip in one cell over one in the whole run."""

Remake = Callable[[Sequence[Reading]], Run]
"""Makes a run of rows; raises a `DesignError` where it cannot."""


@dataclass(frozen=True)
class Slip:
    """
    A likely slip.

    Parameters
    ----------
    code : str
        Which kind.
    reading, quantity : Reading, str
        Row and column where it stands; the first row where a whole column has it.
    likely : str
        What was probably meant, as it would be typed.
    cost : float
        How badly it accounts for the run.
    """

    code: str
    reading: Reading
    quantity: Quantity
    likely: str
    cost: float


def likely_slip(readings: Sequence[Reading], remake: Remake, windows: Windows, neighbours: Neighbours) -> Slip | None:
    """Find the single slip that best accounts for an implausible run; None where none makes everything plausible."""
    best: Slip | None = None
    for slip, changed in _candidates(readings):
        if not _could_be_read(slip, windows):
            continue
        try:
            run = remake(changed)
        except DesignError:
            continue
        if not run.goes_on_steadily or complaints(run, windows, neighbours):
            continue
        cost = slip.cost + PENALTY[slip.code] + _distance(run, windows, neighbours)
        if best is None or cost < best.cost:
            best = replace(slip, cost=cost)
    return best


def _could_be_read(slip: Slip, windows: Windows) -> bool:
    """Whether what was probably meant is a whole number of steps of the instrument."""
    kit = windows.used.kit
    step = {"counts": kit.meter.fineness, "mass": kit.balance.resolution}.get(slip.quantity, 0.0)
    number = float(slip.likely) * slip.reading.numbers[slip.quantity].factor
    return step <= 0.0 or abs(number / step - round(number / step)) < 1e-6


def _distance(run: Run, windows: Windows, neighbours: Neighbours) -> float:
    """How far the mended run is from what is expected, in windows."""
    energy, mass, _ = run.span
    low, expected, high = windows.value(run)
    distance = abs(energy / mass - (neighbours.value or expected)) / (high - low)
    power = run.power
    if power is not None and (neighbours.power or not windows.several_powers):
        distance += abs(power / (neighbours.power or 0.5 * sum(windows.power)) - 1.0) / 0.3
    return distance


def _candidates(readings: Sequence[Reading]) -> Iterator[tuple[Slip, list[Reading]]]:
    """Every slip of one column or one cell, with the rows as they would be without it."""
    for quantity, factors in UNIT_FACTORS.items():
        have = [reading for reading in readings if quantity in reading.numbers and reading.numbers[quantity].value]
        for factor in factors if len(have) > 1 else ():
            changed = [_with(row, quantity, factor) for row in readings]
            yield Slip("unit_slip", have[0], quantity, _typed(have[0].numbers[quantity], factor), 0.0), changed
        for reading in have[::-1]:
            number = reading.numbers[quantity]
            for code, factor in _of_cell(number, factors):
                slip = Slip(code, reading, quantity, _typed(number, factor), ONE_CELL if code == "unit_slip" else 0.0)
                yield slip, [_with(row, quantity, factor) if row is reading else row for row in readings]


def _of_cell(number: TypedNumber, unit_factors: Sequence[float]) -> Iterator[tuple[str, float]]:
    """Code and factor of every slip in one cell."""
    yield from (("unit_slip", factor) for factor in unit_factors)
    yield from (("decimal_slip", factor) for factor in (10.0, 0.1, 100.0, 0.01))
    transposed = (value for value in transpositions(number) if value != number.value)
    yield from (("digits_transposed", value / number.value) for value in transposed)


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
    if not all(letter.isdigit() or letter in " .\u202f\u00a0" for letter in text):
        return ()
    values = []
    for first, second in pairwise(places):
        letters = list(text)
        letters[first], letters[second] = letters[second], letters[first]
        values.append(round(float("".join(letter for letter in letters if letter.isdigit() or letter == ".")), 10))
    return tuple(round(value * number.factor, 12) for value in dict.fromkeys(values))


def _with(reading: Reading, quantity: Quantity, factor: float) -> Reading:
    number = reading.numbers.get(quantity)
    if number is None:
        return reading
    return replace(reading, numbers={**reading.numbers, quantity: replace(number, value=number.value * factor)})


def _typed(number: TypedNumber, factor: float) -> str:
    return f"{number.value * factor / number.factor:.10g}"
