"""What stands on a readings sheet: one row a reading, each number with the text it was typed as."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from design.errors import nearest, spaced
from design.message import Message

Quantity = Literal[
    "time", "counts", "energy", "voltage", "current", "power", "mass", "mass_step", "temperature",
    "attempt", "attempt_uncertainty",
]  # fmt: skip
NUMBERS: tuple[Quantity, ...] = get_args(Quantity)
"""Columns that hold numbers."""
MEAN_WORDS = frozenset({"mean", "average", "avg", "mean value"})
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


_PER_KG = {
    "j_per_kg": 1.0, "j_kg": 1.0, "j_kg_1": 1.0, "kj_per_kg": 1e3, "kj_kg": 1e3, "kj_kg_1": 1e3,
    "mj_per_kg": 1e6, "mj_kg": 1e6, "mj_kg_1": 1e6, "j_per_g": 1e3, "j_g": 1e3, "j_g_1": 1e3,
}  # fmt: skip
UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "time": {"s": 1.0, "sec": 1.0, "seconds": 1.0, "min": 60.0, "minutes": 60.0, "h": 3600.0, "ms": 1e-3},
        "counts": {"": 1.0, "rev": 1.0, "turns": 1.0, "pulses": 1.0, "pulse": 1.0, "1": 1.0},
        "energy": {"kwh": 3.6e6, "wh": 3600.0, "j": 1.0, "kj": 1e3, "mj": 1e6},
        "voltage": {"v": 1.0, "mv": 1e-3},
        "current": {"a": 1.0, "ma": 1e-3},
        "power": {"w": 1.0, "kw": 1e3},
        "mass": {"g": 1e-3, "kg": 1.0, "mg": 1e-6},
        "mass_step": {"g": 1e-3, "kg": 1.0, "mg": 1e-6},
        "temperature": {"c": 1.0, "degc": 1.0, "°c": 1.0, "deg_c": 1.0, "celsius": 1.0},
        "attempt": _PER_KG,
        "attempt_uncertainty": _PER_KG,
        **{word: {"": 1.0} for word in ("group", "run", "mark", "heater", "remark")},
    }
)
"""Units a heading may carry, in SI units; the first of each is the usual one."""
_OTHER_WORDS = {
    "t": "time", "n": "counts", "count": "counts", "turns": "counts", "revolutions": "counts", "pulses": "counts",
    "meter": "counts", "e": "energy", "u": "voltage", "v": "voltage", "i": "current", "p": "power", "m": "mass",
    "step": "mass_step", "temp": "temperature", "note": "remark", "notes": "remark", "remarks": "remark",
    "comment": "remark", "team": "group", "groups": "group", "trial": "run", "attempt_l": "attempt",
    "own_value": "attempt", "own_uncertainty": "attempt_uncertainty",
}  # fmt: skip


@dataclass(frozen=True)
class SheetColumn:
    """A column: quantity, heading as typed, SI units in its unit, and whether the heading carried a unit."""

    quantity: str
    heading: str
    factor: float
    unit_stated: bool


def column_of(heading: str) -> SheetColumn | None:
    """
    Read a heading such as ``mass_g``, ``Mass / g`` or ``time (min)``; None where quantity or unit is not known.

    Examples
    --------
    >>> column_of("Energy / kWh").factor, column_of("mass (g)").quantity
    (3600000.0, 'mass')
    """
    plain = re.sub(r"[\s/()\[\]·⋅*.^-]+", "_", spaced(heading).casefold().replace("⁻¹", "_1")).strip("_")
    parts = plain.split("_")
    for size in range(len(parts), 0, -1):
        name, unit = "_".join(parts[:size]), "_".join(parts[size:]).removeprefix("in_")
        quantity = _OTHER_WORDS.get(name, name)
        units = UNITS.get(quantity)
        if units is not None:
            usual = next(iter(units.values()))
            known = unit in units
            return SheetColumn(quantity, spaced(heading), units.get(unit, usual), known) if known or not unit else None
    return None


def known_headings(heading: str) -> Message:
    """Say what a heading may be: the nearest, else all."""
    words = ["_".join(filter(None, (quantity, next(iter(units))))) for quantity, units in UNITS.items()]
    near = nearest(heading.casefold(), words)
    return Message("near_heading", {"near": near}) if near else Message("known_headings", {"known": ", ".join(words)})
