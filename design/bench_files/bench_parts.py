"""From checked tables to the parts of a bench, with defaults where a table is silent."""

from __future__ import annotations

from typing import Any, get_args

from design.bench import Current, Lesson, Objective, Observer, Purse, Room, SearchRange, Supply
from design.bench_files.defaults import number
from design.bench_files.schema import (
    CurrentTable,
    LessonTable,
    ObserverTable,
    PurseTable,
    RoleTable,
    RoomTable,
    SearchTable,
    SupplyTable,
)
from design.kit import ROLES, Role
from design.physics.water import pressure_at_altitude


def room(table: RoomTable) -> Room:
    """Room, with the pressure of the standard atmosphere where the file states an altitude."""
    pressure = table.pressure
    if pressure is None:
        pressure = pressure_at_altitude(table.altitude or 0.0)
    return Room(pressure=pressure, temperature=table.temperature)


def supply(table: SupplyTable) -> Supply:
    """Supply."""
    tolerance = _given(table.tolerance, number("supply.tolerance"))
    return Supply(voltage=table.voltage, tolerance=tolerance, current_limit=table.current_limit)


def lesson(table: LessonTable) -> Lesson:
    """Lesson; the usual handling takes at most half of a short one."""
    handling = _given(table.handling, min(number("lesson.handling"), table.length / 2))
    return Lesson(length=table.length, handling=handling, groups=_given(table.groups, int(number("lesson.groups"))))


def purse(table: PurseTable) -> Purse:
    """Purse."""
    return Purse(currency=table.currency, amount=table.amount)


def observer(table: ObserverTable) -> Observer:
    """Observer."""
    return Observer(
        reaction_time=_given(table.reaction_time, number("observer.reaction_time")),
        tipping=_given(table.tipping, number("observer.tipping")),
    )


def search(table: SearchTable) -> SearchRange:
    """Give what the search may vary, each value once."""
    objective: Objective = get_args(Objective)[0] if table.objective is None else table.objective
    return SearchRange(
        powers=tuple(dict.fromkeys(table.powers)),
        masses=tuple(dict.fromkeys(table.masses)),
        repeats=tuple(dict.fromkeys(table.repeats)),
        procedures=tuple(dict.fromkeys(table.procedures)),
        corrections=tuple(dict.fromkeys(table.corrections)),
        readings=tuple(dict.fromkeys(table.readings)),
        spare_water=tuple(dict.fromkeys(table.spare_water)),
        objective=objective,
        coverage=_given(table.coverage, number("search.coverage")),
        margin=_given(table.margin, number("search.margin")),
    )


def current(table: CurrentTable, items: RoleTable) -> Current:
    """Give what is done today."""
    return Current(
        items=named(items),
        procedure=table.procedure,
        correction=table.correction,
        power=table.power,
        mass=table.mass,
        repeats=table.repeats,
        reading=table.reading,
        fill=table.fill,
    )


def named(table: RoleTable) -> dict[Role, str]:
    """Roles that a table gives a name, with the name."""
    names = {role: getattr(table, role) for role in ROLES}
    return {role: name for role, name in names.items() if name is not None}


def _given(value: Any, otherwise: Any) -> Any:
    return otherwise if value is None else value
