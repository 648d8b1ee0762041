"""What an item or a section is made of beyond its plain keys, and what cannot go together."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from budget.quantities.distributions import Rectangular
from design.bench import Lesson, Room
from design.bench_files.schema_faults import TableOrigin, shown
from design.bench_files.shelf_files import ShelfRow
from design.bench_files.tables import KEYS, OWNERS, FileTable, filled, keys_of, table_of
from design.errors import Fault, FieldError, meant, spaced
from design.fields import EachMass
from design.kit import ROLES, Balance, Fitting, Heater, Item, MassSet, Meter, Role, Vessel
from design.materials import MATERIALS, Jacket
from design.physics.water import pressure_at_altitude

UNCOUNTED = "volt-ampere"
"""The kind of meter that counts nothing: voltage and current are read, and the time."""
_MOST_NAMES = 12


def _lesson(values: Mapping[str, Any]) -> None:
    if values.get("handling", 0.0) >= values["length"]:
        right = "make handling shorter than length"
        raise FieldError("handling leaves no time of the lesson", right, ("handling", "length"))


def _balance(values: Mapping[str, Any]) -> None:
    if values["resolution"] >= values["capacity"]:
        right = "check the units of resolution and capacity"
        raise FieldError("resolution is not finer than capacity", right, ("resolution", "capacity"))


def _heater(values: Mapping[str, Any]) -> None:
    control = values.get("control")
    if isinstance(control, tuple) and max(control) > values["power"] * (1 + 1e-9):
        right = "a controller can only lower the power: leave the larger powers out"
        raise FieldError("control has a power above the heater's own", right, ("control", "power"))


def _vessel(values: Mapping[str, Any]) -> None:
    capacity, height, mark = values["capacity"], values.get("height", math.inf), _mark(values)
    if mark > 1.05 * height:
        wrong = f"capacity is more than diameter and height hold, {1e3 * capacity * height / mark:.3g} L"
        right = "check the three and their units: diameter and height are inside"
        raise FieldError(wrong, right, ("capacity", "diameter", "height"))
    if not 0.01 <= mark <= 2.0:
        wrong = f"capacity and diameter make the water {mark:.3g} m deep"
        raise FieldError(wrong, "check both and their units", ("capacity", "diameter"))


def _fitting(values: Mapping[str, Any]) -> None:
    if values.get("lagging") == Jacket():
        right = 'say what it is, such as "cork 10 mm", or leave the jacket out'
        raise FieldError("lagging is none", right, ("lagging",))


_CHECKS: Mapping[type, Callable[[Mapping[str, Any]], None]] = {
    Lesson: _lesson,
    Balance: _balance,
    Heater: _heater,
    Vessel: _vessel,
    Fitting: _fitting,
}
"""What values of one table must not do to each other."""
TABLES: Mapping[str, type[FileTable]] = {
    heading: table_of(heading, keys, _CHECKS.get(OWNERS[heading])) for heading, keys in KEYS.items()
}
"""Model of every table of a bench file, by its heading."""
_NAME = keys_of(Item)["name"]
NAMES = table_of("names", dict.fromkeys(ROLES, _NAME._replace(kind=replace(_NAME.kind, optional=True))))
"""A name for each role: ``items`` of ``[current]``, and ``[shelves]``."""


def _mark(values: Mapping[str, Any]) -> float:
    """Height of the water at the stated capacity. [m]"""
    return float(values["capacity"] / (math.pi * values["diameter"] ** 2 / 4))


def _usual(owner: type, key: str, case: str = "") -> tuple[float, ...]:
    """Usual numbers of a key, for one case."""
    return tuple(float(row.value or 0.0) for row in keys_of(owner)[key].usual if row.case == case)


def _room_fields(values: Mapping[str, Any]) -> dict[str, Any]:
    """The pressure of the standard atmosphere where the file states an altitude."""
    return {"pressure": pressure_at_altitude(values["altitude"])} if "altitude" in values else {}


def _lesson_fields(values: Mapping[str, Any]) -> dict[str, Any]:
    """The usual handling, which takes at most half of a short lesson."""
    return {} if "handling" in values else {"handling": min(_usual(Lesson, "handling")[0], values["length"] / 2)}


def _meter_fields(values: Mapping[str, Any]) -> dict[str, Any]:
    per_count = 1.0 / values["constant"] if "constant" in values else values.get("step", 0.0)
    limits = (values["accuracy"],) if "accuracy" in values else _usual(Meter, "accuracy", values["kind"])
    low = limits[0] if limits[1:] else -limits[0]
    return {"energy_per_count": per_count, "error": Rectangular(low, limits[-1])}


def _vessel_fields(values: Mapping[str, Any]) -> dict[str, Any]:
    """
    Height and mass where the file is silent.

    The nominal mark stands below the brim, so the height is that of the mark and a share more; the mass is that of
    side wall and floor of the material's usual thickness.
    """
    height = values.get("height", _usual(Vessel, "height")[0] * _mark(values))
    wall = MATERIALS[values.get("material", Vessel.material)]
    area = math.pi * values["diameter"] * height + math.pi * values["diameter"] ** 2 / 4
    return {"height": height, "mass": values.get("mass", area * wall.thickness * wall.density), "knowledge": {}}


def _mass_set_fields(values: Mapping[str, Any]) -> dict[str, Any]:
    """A limit stated for each mass as the share of the lightest, the largest there can be."""
    limit = values.get("accuracy")
    return {"accuracy": limit / min(values["steps"])} if isinstance(limit, EachMass) else {}


_FIELDS: Mapping[type, Callable[[Mapping[str, Any]], dict[str, Any]]] = {
    Room: _room_fields,
    Lesson: _lesson_fields,
    Meter: _meter_fields,
    Vessel: _vessel_fields,
    MassSet: _mass_set_fields,
}
"""Fields that are worked out from several keys."""


def made(heading: str, table: FileTable, **given: Any) -> Any:
    """Make a section or an item from its checked table and what stands elsewhere in the file."""
    work_out = _FIELDS.get(OWNERS[heading])
    worked_out = work_out(table.stated) if work_out else {}
    return filled(heading, table.stated, **worked_out | given)


def raw_faults(heading: str, values: Mapping[str, Any], origin: TableOrigin) -> list[Fault]:
    """Keys of which one must stand alone, and those of a meter that counts nothing."""
    if OWNERS[heading] is Meter and values.get("kind") == UNCOUNTED:
        return [
            origin.fault((key,), "has no meaning for a meter that counts nothing", shown(values[key]), "leave it out")
            for key in ("constant", "step", "reads")
            if key in values
        ]
    faults = []
    for kinds in dict.fromkeys(key.alternatives for key in KEYS[heading].values() if key.alternatives):
        names = sorted(name for name, _ in kinds)
        present = [name for name in names if name in values]
        if len(present) != 1:
            wrong = f"{' and '.join(names)} stand together" if present else f"{' or '.join(names)} is missing"
            right = ", or ".join(f"{name} = {kind.written}{kind.hint}" for name, kind in kinds)
            got = ", ".join(f"{name} = {shown(values[name])}" for name in present) or "neither"
            faults.append(origin.fault((), wrong, got, f"write one: {right}"))
    return faults


def duplicate_faults(role: Role, rows: Sequence[ShelfRow]) -> list[Fault]:
    """Names used twice on one shelf, without regard to case and spaces."""
    first: dict[str, TableOrigin] = {}
    faults = []
    for row in rows:
        name = row.values.get("name")
        if not isinstance(name, str) or not name.strip():
            continue
        folded = spaced(name).casefold()
        if folded in first:
            earlier = first[folded]
            where = f"{earlier.path} of {earlier.file}" if earlier.file != row.origin.file else earlier.path
            wrong = f"name stands twice on the {role} shelf, first at {where}"
            faults.append(row.origin.fault(("name",), wrong, shown(name), "give each item a name of its own"))
        else:
            first[folded] = row.origin
    return faults


def current_item_faults(items: Mapping[str, Any], names: Mapping[Role, Sequence[str]], file: str) -> list[Fault]:
    """Items in use today that stand on no shelf."""
    faults = []
    for role in ROLES:
        given = items.get(role)
        name = spaced(given) if isinstance(given, str) else ""
        if not name or name in names[role]:
            continue
        place, right = f"current.items.{role}", _on_the_shelf(name, names[role])
        faults.append(Fault(file, place, "", f"is on no {role} shelf", shown(name), right))
    return faults


def fit_faults(rows: Sequence[ShelfRow], vessels: Sequence[str]) -> list[Fault]:
    """Vessels that a jacket, lid or guard fits and that stand on no shelf."""
    faults = []
    for row in rows:
        stated = row.values.get("fits")
        for given in stated if isinstance(stated, list) else ():
            if not isinstance(given, str) or spaced(given) in vessels:
                continue
            right = _on_the_shelf(spaced(given), vessels)
            faults.append(row.origin.fault(("fits",), "names a vessel that is on no shelf", shown(given), right))
    return faults


def _on_the_shelf(name: str, names: Sequence[str]) -> str:
    """Say what was probably meant by a name, and what there is."""
    return f"{meant(name, names)}on the shelf: {', '.join(names[:_MOST_NAMES]) or 'nothing'}"
