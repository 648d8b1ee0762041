"""Where the readings stand in the workbook, as cells that formulas take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.evaluation.runs import Run
    from design.sheets.readings import Quantity, Reading

COLUMNS: tuple[Quantity, ...] = (
    "time", "counts", "energy", "voltage", "current", "power", "mass", "mass_step", "temperature",
)  # fmt: skip
"""Columns of numbers, in their order."""
WORDS = 4
"""Columns of words before the numbers: group, run, mark, heater."""


@dataclass(frozen=True)
class TypedCells:
    """The sheet of readings by its title, and the row there of each row of the file."""

    title: str
    rows: Mapping[int, int]

    def cell(self, mark: Sequence[Reading], quantity: Quantity) -> str:
        """Cell of a reading at a mark; the mean of several."""
        letter = chr(ord("A") + WORDS + COLUMNS.index(quantity))
        cells = [f"'{self.title}'!{letter}{self.rows[row.row]}" for row in mark if quantity in row.numbers]
        return cells[0] if len(cells) == 1 else f"AVERAGE({','.join(cells)})"

    def since_first(self, run: Run, place: int, quantity: Quantity, factor: str = "") -> str | None:
        """What a quantity has gone on by since the first mark, as typed times a factor; None where it is not typed."""
        if len(run.readings) < 2:
            return None
        first, here = run.readings[0], run.readings[place]
        if not all(any(quantity in row.numbers for row in mark) for mark in (first, here)):
            return None
        number = next(row.numbers[quantity] for row in here if quantity in row.numbers)
        return f"({self.cell(here, quantity)}-{self.cell(first, quantity)})*{factor or repr(number.factor)}"


def mass_since_first(typed: TypedCells, run: Run, place: int) -> str | None:
    """Mass boiled away since the first mark, by the readings of the balance; None where masses were noted as steps."""
    if run.numbers("mass_step"):
        return None
    formula = typed.since_first(run, place, "mass")
    values = [row.numbers["mass"].value for mark in (run.readings[0], run.readings[-1]) for row in mark
              if "mass" in row.numbers]  # fmt: skip
    if formula is None or len(values) < 2:
        return None
    return formula if (values[-1] > values[0]) == (run.mass[-1] > 0.0) else f"-{formula}"


def energy_since_first(typed: TypedCells, run: Run, place: int, count_energy: str) -> str | None:
    """Energy since the first mark, by counts or by what the meter shows; None where it comes from a power."""
    if run.source == "counts":
        return typed.since_first(run, place, "counts", count_energy)
    return typed.since_first(run, place, "energy") if run.source == "energy" else None
