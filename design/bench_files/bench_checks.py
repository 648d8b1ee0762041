"""What no single key can show: keys that contradict each other, and names that point nowhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from design.bench_files.bench_items import UNCOUNTED
from design.bench_files.fields import nearest, spaced
from design.bench_files.schema_faults import Origin, shown
from design.bench_files.shelf_files import Row
from design.errors import Fault
from design.kit import ROLES, Role

_MOST_NAMES = 12


def room_faults(table: Mapping[str, Any], origin: Origin) -> list[Fault]:
    """Pressure or altitude: one of them, not both."""
    present = [key for key in ("altitude", "pressure") if key in table]
    if len(present) == 1:
        return []
    wrong = "altitude and pressure stand together" if present else "altitude or pressure is missing"
    right = 'write one: pressure = "98.2 kPa" as read in the room, or altitude = "120 m"'
    return [origin.fault((), wrong, _pairs(table, present), right)]


def meter_faults(table: Mapping[str, Any], origin: Origin) -> list[Fault]:
    """Check that a meter that counts says what one count is, once, and that one that does not is silent."""
    if table.get("kind") == UNCOUNTED:
        return [
            origin.fault((key,), "has no meaning for a meter that counts nothing", shown(table[key]), "leave it out")
            for key in ("constant", "step", "reads")
            if key in table
        ]
    present = [key for key in ("constant", "step") if key in table]
    if len(present) == 1:
        return []
    wrong = "constant and step stand together" if present else "constant or step is missing"
    right = 'write one: constant = "375 rev/kWh", or step = "0.01 kWh" for the smallest step of a display'
    return [origin.fault((), wrong, _pairs(table, present), right)]


def duplicate_faults(role: Role, rows: Sequence[Row]) -> list[Fault]:
    """Names used twice on one shelf, without regard to case and spaces."""
    first: dict[str, Origin] = {}
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


def fit_faults(rows: Sequence[Row], vessels: Sequence[str]) -> list[Fault]:
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
    near = nearest(name, names)
    meant = f'did you mean "{near}"? ' if near else ""
    return f"{meant}on the shelf: {', '.join(names[:_MOST_NAMES]) or 'nothing'}"


def _pairs(table: Mapping[str, Any], keys: Sequence[str]) -> str:
    return ", ".join(f"{key} = {shown(table[key])}" for key in keys) or "neither"
