"""Headings of a readings sheet: which quantity, and which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from design.bench_files.fields import nearest, spaced

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
        "group": {"": 1.0},
        "run": {"": 1.0},
        "mark": {"": 1.0},
        "heater": {"": 1.0},
        "remark": {"": 1.0},
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
class Column:
    """A column: quantity, heading as typed, SI units in its unit, and whether the heading carried a unit."""

    quantity: str
    heading: str
    factor: float
    unit_stated: bool


def column_of(heading: str) -> Column | None:
    """
    Read a heading such as ``mass_g``, ``Mass / g`` or ``time (min)``.

    Parameters
    ----------
    heading : str
        As typed.

    Returns
    -------
    Column or None
        None where the quantity or its unit is not known.

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
        if quantity not in UNITS:
            continue
        units = UNITS[quantity]
        if unit in units:
            return Column(quantity, spaced(heading), units[unit], unit_stated=True)
        if not unit:
            return Column(quantity, spaced(heading), next(iter(units.values())), unit_stated=False)
        return None
    return None


def known_headings(heading: str) -> str:
    """Say what a heading may be, nearest first."""
    usual = {quantity: next(iter(units)) for quantity, units in UNITS.items()}
    words = [f"{quantity}_{unit}" if unit else quantity for quantity, unit in usual.items()]
    near = nearest(heading.casefold(), words)
    return f'did you mean "{near}"?' if near else f"known columns: {', '.join(words)}"
