"""From checked tables to the items of the shelves, with defaults where a table is silent."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from budget.quantities.distributions import Distribution, Rectangular
from design.bench_files.defaults import default, number
from design.bench_files.fields import nearest, spaced
from design.bench_files.schema import (
    BalanceTable,
    GuardTable,
    HeaterTable,
    ItemTable,
    JacketTable,
    LidTable,
    MassSetTable,
    MeterTable,
    VesselTable,
)
from design.bench_files.schema_faults import Origin, shown
from design.bench_files.shelf_files import Row
from design.errors import Fault
from design.kit import ROLES, Balance, Fitting, Heater, Item, Jacket, MassSet, Meter, Role, Vessel
from design.physics.losses import MATERIALS

UNCOUNTED = "volt-ampere"
"""The kind of meter that counts nothing: voltage and current are read, and the time."""


def item(table: ItemTable, losses: Mapping[str, Distribution], meter_error: Distribution | None) -> Item:
    """
    Build a shelf item from its table.

    Parameters
    ----------
    table : ItemTable
        Checked table of one of the shelves.
    losses : mapping of str to Distribution
        Losses stated for this item, where it is a vessel.
    meter_error : Distribution or None
        Relative error that the bench file states for every meter. [1]

    Returns
    -------
    Item

    Raises
    ------
    TypeError
        If the table belongs to no shelf.
    """
    match table:
        case BalanceTable():
            return balance(table)
        case MeterTable():
            return meter(table, meter_error)
        case HeaterTable():
            return heater(table)
        case VesselTable():
            return vessel(table, losses)
        case MassSetTable():
            return mass_set(table)
        case JacketTable() | LidTable() | GuardTable():
            return fitting(table)
    raise TypeError(type(table).__name__)


def balance(table: BalanceTable) -> Balance:
    """
    Build a balance from its table.

    Parameters
    ----------
    table : BalanceTable

    Returns
    -------
    Balance
    """
    key = f"balance.{table.kind}"
    return Balance(
        **_common(table),
        kind=table.kind,
        resolution=table.resolution,
        repeatability=_given(table.repeatability, number(f"{key}.repeatability") * table.resolution),
        linearity=_given(table.linearity, number(f"{key}.linearity") * table.resolution),
        capacity=table.capacity,
        splash_proof=_given(table.splash_proof, default(f"{key}.splash_proof").value),
        stability_filter=_given(table.stability_filter, default(f"{key}.stability_filter").value),
        works_warm=_given(table.works_warm, default("balance.works_warm").value),
    )


def meter(table: MeterTable, stated_error: Distribution | None) -> Meter:
    """
    Build a meter from its table.

    Parameters
    ----------
    table : MeterTable
    stated_error : Distribution or None
        Relative error that the bench file states for every meter. [1]

    Returns
    -------
    Meter
    """
    per_count = 0.0
    if table.constant is not None:
        per_count = 1.0 / table.constant
    elif table.step is not None:
        per_count = table.step
    return Meter(
        **_common(table),
        kind=table.kind,
        energy_per_count=per_count,
        reads=_given(table.reads, default("meter.reads").value),
        error=_meter_error(table) if stated_error is None else stated_error,
        max_voltage=_given(table.max_voltage, number("meter.max_voltage")),
        max_current=_given(table.max_current, number("meter.max_current")),
        max_power=_given(table.max_power, number("meter.max_power")),
        start_current=_given(table.start_current, number("meter.start_current")),
    )


def heater(table: HeaterTable) -> Heater:
    """
    Build a heater from its table.

    Parameters
    ----------
    table : HeaterTable

    Returns
    -------
    Heater
    """
    return Heater(
        **_common(table),
        power=table.power,
        rated_voltage=table.at,
        tolerance=_given(table.tolerance, number("heater.tolerance")),
        stem_diameter=_given(table.stem_diameter, number("heater.stem_diameter")),
        stems=_given(table.stems, int(number("heater.stems"))),
        minimum_depth=_given(table.minimum_depth, number("heater.minimum_depth")),
        held_by=_given(table.held_by, default("heater.held_by").value),
        control=_given(table.control, default("heater.control").value),
        flex=_given(table.flex, number("heater.flex")),
    )


def vessel(table: VesselTable, knowledge: Mapping[str, Distribution]) -> Vessel:
    """
    Build a vessel from its table.

    Parameters
    ----------
    table : VesselTable
    knowledge : mapping of str to Distribution
        Losses stated for this vessel.

    Returns
    -------
    Vessel

    Notes
    -----
    The nominal mark stands below the brim, so a height that is not stated is that of the mark and a share
    more. A mass that is not stated is that of side wall and floor of the material's usual thickness.
    """
    height = _given(table.height, number("vessel.brim") * table.mark)
    material = _given(table.material, default("vessel.material").value)
    wall = MATERIALS[material]
    area = math.pi * table.diameter * height + math.pi * table.diameter**2 / 4
    return Vessel(
        **_common(table),
        capacity=table.capacity,
        diameter=table.diameter,
        height=height,
        mass=_given(table.mass, area * wall.thickness * wall.density),
        material=material,
        jacket=_given(table.jacket, Jacket()),
        lid=_given(table.lid, default("vessel.lid").value),
        guard=_given(table.guard, default("vessel.guard").value),
        knowledge=knowledge,
    )


def mass_set(table: MassSetTable) -> MassSet:
    """
    Build a mass set from its table.

    Parameters
    ----------
    table : MassSetTable

    Returns
    -------
    MassSet

    Notes
    -----
    A limit stated in grams for each mass becomes the share of the lightest, the largest there can be.
    """
    relative = number("mass_set.accuracy")
    if table.accuracy is not None and table.accuracy.relative is not None:
        relative = table.accuracy.relative
    elif table.accuracy is not None and table.accuracy.absolute is not None:
        relative = table.accuracy.absolute / min(table.steps)
    return MassSet(**_common(table), steps=table.steps, accuracy=relative)


def fitting(table: JacketTable | LidTable | GuardTable) -> Fitting:
    """
    Build what is put on a vessel from its table.

    Parameters
    ----------
    table : JacketTable, LidTable or GuardTable

    Returns
    -------
    Fitting
    """
    own = {**_common(table), "fits": table.fits}
    match table:
        case JacketTable():
            return Fitting(role="jacket", makes=table.lagging, mass=_given(table.mass, number("jacket.mass")), **own)
        case LidTable():
            kind = _given(table.kind, default("lid.kind").value)
            return Fitting(role="lid", makes=kind, mass=_given(table.mass, number("lid.mass")), **own)
    kind = _given(table.kind, default("guard.kind").value)
    return Fitting(role="guard", makes=kind, mass=_given(table.mass, number("guard.mass")), **own)


def _common(table: ItemTable) -> dict[str, Any]:
    return {
        "name": table.name,
        "price": _given(table.price, number("item.price")),
        "owned": _given(table.owned, int(number("item.owned"))),
        "note": table.note,
        "accept_unsuitable": table.accept_unsuitable,
    }


def _given(value: Any, otherwise: Any) -> Any:
    return otherwise if value is None else value


def _meter_error(table: MeterTable) -> Distribution:
    if table.accuracy is not None:
        return Rectangular(-table.accuracy, table.accuracy)
    if table.kind == "display":
        return Rectangular(number("meter.display.error.low"), number("meter.display.error.high"))
    limit = number(f"meter.{table.kind}.accuracy")
    return Rectangular(-limit, limit)


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
