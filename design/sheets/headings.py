"""Headings of readings sheets: what each word and unit stands for, in the languages that people type."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from design.errors import nearest, spaced
from design.message import Message
from design.sheets.readings import NUMBERS

_PER_KG = {
    "j_per_kg": 1.0, "j_kg": 1.0, "j_kg_1": 1.0, "kj_per_kg": 1e3, "kj_kg": 1e3, "kj_kg_1": 1e3,
    "mj_per_kg": 1e6, "mj_kg": 1e6, "mj_kg_1": 1e6, "j_per_g": 1e3, "j_g": 1e3, "j_g_1": 1e3,
}  # fmt: skip
UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "time": {
            "s": 1.0,
            "sec": 1.0,
            "seconds": 1.0,
            "min": 60.0,
            "minutes": 60.0,
            "h": 3600.0,
            "ms": 1e-3,
            "sek": 1.0,
            "sekunden": 1.0,
            "secondes": 1.0,
            "segundos": 1.0,
            "minuten": 60.0,
            "minutos": 60.0,
            "std": 3600.0,
            "stunden": 3600.0,
        },
        "counts": {
            "": 1.0,
            "rev": 1.0,
            "turns": 1.0,
            "pulses": 1.0,
            "pulse": 1.0,
            "1": 1.0,
            "u": 1.0,
            "umdr": 1.0,
            "umdrehungen": 1.0,
            "impulse": 1.0,
            "imp": 1.0,
            "tr": 1.0,
            "tours": 1.0,
            "impulsions": 1.0,
            "vueltas": 1.0,
            "pulsos": 1.0,
        },
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
    "own_value": "attempt", "own_uncertainty": "attempt_uncertainty", "reading": "mark",
    # German
    "gruppe": "group", "durchgang": "run", "lauf": "run", "versuch": "run", "messung": "run", "marke": "mark",
    "ablesung": "mark", "zeit": "time", "zahler": "counts", "zahlerstand": "counts", "zahlschritte": "counts",
    "umdrehungen": "counts", "impulse": "counts", "energie": "energy", "spannung": "voltage", "strom": "current",
    "stromstarke": "current", "leistung": "power", "masse": "mass", "massenschritt": "mass_step",
    "temperatur": "temperature", "heizung": "heater", "heizer": "heater", "tauchsieder": "heater",
    "bemerkung": "remark", "bemerkungen": "remark", "notiz": "remark", "eigener_wert": "attempt",
    "eigene_unsicherheit": "attempt_uncertainty",
    # French
    "groupe": "group", "essai": "run", "passage": "run", "repere": "mark", "lecture": "mark", "releve": "mark",
    "temps": "time", "duree": "time", "tours": "counts", "impulsions": "counts", "compteur": "counts",
    "tension": "voltage", "courant": "current", "intensite": "current", "puissance": "power",
    "pas_de_masse": "mass_step", "chauffage": "heater", "thermoplongeur": "heater", "remarque": "remark",
    "remarques": "remark", "valeur_propre": "attempt", "incertitude_propre": "attempt_uncertainty",
    # Spanish
    "grupo": "group", "ensayo": "run", "medicion": "run", "marca": "mark", "lectura": "mark", "tiempo": "time",
    "vueltas": "counts", "pulsos": "counts", "cuentas": "counts", "contador": "counts", "energia": "energy",
    "voltaje": "voltage", "corriente": "current", "intensidad": "current", "potencia": "power", "masa": "mass",
    "paso_de_masa": "mass_step", "temperatura": "temperature", "calentador": "heater", "nota": "remark",
    "notas": "remark", "observaciones": "remark", "valor_propio": "attempt",
    "incertidumbre_propia": "attempt_uncertainty",
}  # fmt: skip
"""Words that people write for the quantities, accents left out."""


@dataclass(frozen=True)
class SheetColumn:
    """A column: quantity, heading as typed, SI units in its unit, and whether the heading carried a unit."""

    quantity: str
    heading: str
    factor: float
    unit_stated: bool


def column_of(heading: str) -> SheetColumn | None:
    """
    Read a heading such as ``mass_g``, ``Mass / g`` or ``Zeit (min)``; None where quantity or unit is not known.

    Examples
    --------
    >>> column_of("Energy / kWh").factor, column_of("Masse (g)").quantity
    (3600000.0, 'mass')
    """
    bare = "".join(letter for letter in unicodedata.normalize("NFKD", heading) if not unicodedata.combining(letter))
    plain = re.sub(r"[\s/()\[\]·⋅*.,:^\u2212_-]+", "_", bare.casefold()).strip("_")
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


def unit_of(text: str, column: SheetColumn) -> SheetColumn | None:
    """The column with the unit that stands alone in a cell below its heading; None where it is no such unit."""
    found = column_of(f"{column.quantity} {text}") if text else None
    return None if found is None or found.quantity != column.quantity else SheetColumn(
        column.quantity, column.heading, found.factor, unit_stated=found.unit_stated
    )  # fmt: skip


def names_readings(headings: tuple[str, ...]) -> int:
    """How many of a row's cells name columns; 0 where none is a column of readings."""
    columns = [column for heading in headings if (column := column_of(heading)) is not None]
    return len(columns) if any(column.quantity in NUMBERS for column in columns) else 0


def known_headings(heading: str) -> Message:
    """Say what a heading may be: the nearest, else all."""
    words = ["_".join(filter(None, (quantity, next(iter(units))))) for quantity, units in UNITS.items()]
    near = nearest(heading.casefold(), words)
    return Message("near_heading", {"near": near}) if near else Message("known_headings", {"known": ", ".join(words)})
