"""What stands on a readings sheet: one row a reading, each number with the text it was typed as."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from design.message import Message

Quantity = Literal[
    "time", "counts", "energy", "voltage", "current", "power", "mass", "mass_step", "temperature",
    "attempt", "attempt_uncertainty",
]  # fmt: skip
NUMBERS: tuple[Quantity, ...] = get_args(Quantity)
"""Columns that hold numbers."""
MEAN_WORDS = frozenset(
    {
        "mean", "average", "avg", "mean value", "mittel", "mittelwert", "durchschnitt", "moyenne", "valeur moyenne",
        "media", "promedio", "valor medio",
    }
)  # fmt: skip
"""Names of a run or mark that state a mean of others, not a reading."""


@dataclass(frozen=True)
class TypedNumber:
    """
    A number as typed.

    Parameters
    ----------
    text : str
        As it stands in the sheet, closing zeros kept.
    value, step : float
        In the SI unit of its column, and one in the last digit typed.
    factor : float
        SI units in one unit of the heading.
    """

    text: str
    value: float
    step: float
    factor: float


@dataclass(frozen=True)
class Reading:
    """
    One row of the sheet.

    Parameters
    ----------
    row : int
        Number of the row as a spreadsheet counts it.
    group, run, mark : str
        Which reading it is; ``"1"`` and ``"0"`` where the sheet has no such column.
    numbers : mapping of str to TypedNumber
        Readings by quantity, in s, 1, J, V, A, W, kg, K, J/kg.
    heater : bool or None
        Heater on, off, or not said.
    remark : str
        Free text.
    """

    row: int
    group: str
    run: str
    mark: str
    numbers: Mapping[Quantity, TypedNumber]
    heater: bool | None = None
    remark: str = ""

    def value(self, quantity: Quantity) -> float | None:
        """Value of a quantity in SI units, where the row has it."""
        number = self.numbers.get(quantity)
        return None if number is None else number.value

    @property
    def states_mean(self) -> bool:
        """Whether the row states a mean of others instead of a reading."""
        return self.run.casefold() in MEAN_WORDS or self.mark.casefold() in MEAN_WORDS


@dataclass(frozen=True)
class Finding:
    """
    Something about the readings that their owner should look at; nothing is changed or dropped because of it.

    Parameters
    ----------
    row : int
        Row of the sheet; 0 for the sheet as a whole.
    column : str
        Heading of the column as typed; empty for the row as a whole.
    code : str
        Which kind of slip.
    message : Message
        Where, what was seen, what is likely; said by `reports.words.findings`.
    group : str
        Group whose reading it is; empty where it is of the sheet.
    """

    row: int
    column: str
    code: str
    message: Message
    group: str = ""


def at_row(row: int, key: str, **values: object) -> Message:
    """Say of a row what was seen in it."""
    return Message("at_row", {"row": row, "seen": Message(key, values)})


def at_cell(row: int, heading: str, key: str, **values: object) -> Message:
    """Say of a cell what was seen in it."""
    return Message("at_cell", {"row": row, "heading": heading, "seen": Message(key, values)})


@dataclass(frozen=True)
class Sheet:
    """
    A readings sheet.

    Parameters
    ----------
    file, digest : str
        Its name, and SHA-256 of its bytes.
    readings : tuple of Reading
        Rows with readings, in file order.
    headings : mapping of str to str
        Heading as typed of each column used.
    findings : tuple of Finding
        What was seen while reading the cells.
    """

    file: str
    digest: str
    readings: tuple[Reading, ...]
    headings: Mapping[str, str]
    findings: tuple[Finding, ...]

    @property
    def groups(self) -> dict[str, tuple[Reading, ...]]:
        """Readings by group, in the order of the sheet."""
        found: dict[str, list[Reading]] = {}
        for reading in self.readings:
            found.setdefault(reading.group, []).append(reading)
        return {group: tuple(readings) for group, readings in found.items()}

    def heading(self, quantity: str) -> str:
        """Heading of a column as typed; its name where the sheet has none."""
        return self.headings.get(quantity, quantity)
