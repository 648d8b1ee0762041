"""From checked tables to the parts of a bench, with defaults where a table is silent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, get_args

from pydantic_core import PydanticCustomError

from budget.errors import BudgetError
from budget.quantities.distributions import Distribution
from budget.quantities.inputs import DistributionSpec
from design.bench import Current, Lesson, Objective, Observer, Purse, Room, SearchRange, Supply
from design.bench_files.defaults import number
from design.bench_files.fields import SHARE, Quantity
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
from design.bench_files.schema_faults import Origin, known_keys, shown, validated
from design.errors import Fault
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


_PLAIN_KEYS = frozenset({"distribution", "dof", "top_ratio"})
_SPREAD_KEYS = frozenset({"standard_uncertainty", "half_width", "limit_inexactness"})
_LOSS = Quantity("a power", "W", "28 W", "0 W", "5 kW")
QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        "wall_loss": _LOSS,
        "base_loss": _LOSS,
        "return_loss": _LOSS,
        "carry_over": Quantity("a share", SHARE, "0.02 %", "0 %", "50 %", plain=True),
        "restart_cooling": Quantity("an energy", "J", "1.2 kJ", "0 J", "10 MJ"),
        "meter_error": Quantity("a share", SHARE, "-2 %", "-50 %", "50 %", plain=True),
    }
)
"""How each stated quantity is read."""
_SPREADS = MappingProxyType({"W": "5 W", "J": "0.3 kJ", SHARE: "0.01 %"})
_EXAMPLE = 'write {{distribution = "normal", estimate = "{0}", standard_uncertainty = "{1}"}} or {{value = "{0}"}}'


def stated_knowledge(
    tables: Mapping[str, Any], keys: tuple[str, ...], origin: Origin
) -> tuple[Mapping[str, Distribution], tuple[Fault, ...]]:
    """
    Read stated distributions.

    Parameters
    ----------
    tables : mapping of str to table
        What the file says, by key.
    keys : tuple of str
        Keys that may be stated here.
    origin : Origin
        Where the tables stand.

    Returns
    -------
    tuple of (mapping of str to Distribution, tuple of Fault)
        Distributions in W, J or as shares, and what is wrong.
    """
    distributions: dict[str, Distribution] = {}
    faults: list[Fault] = []
    for key, table in tables.items():
        if key not in keys:
            faults.append(origin.fault((key,), "unknown key", shown(table), known_keys(key, keys)))
            continue
        read = _distribution(key, table, origin)
        if isinstance(read, tuple):
            faults += read
        else:
            distributions[key] = read
    return distributions, tuple(faults)


def _distribution(key: str, table: Any, origin: Origin) -> Distribution | tuple[Fault, ...]:
    quantity = QUANTITIES[key]
    if not isinstance(table, Mapping):
        right = _EXAMPLE.format(quantity.example, _SPREADS[quantity.unit])
        return (origin.fault((key,), "must be a table in braces", shown(table), right),)
    inner = Origin(origin.file, origin.place(key), origin.item)
    numbers, wrong = _numbers(quantity, table, inner)
    spec, faults = validated(DistributionSpec, dict(table), inner)
    known = {fault.place for fault in wrong}
    wrong += [fault for fault in faults if fault.place not in known]
    if spec is None or wrong:
        return tuple(wrong)
    try:
        return spec.build(lambda value, name: numbers[_token(name, value)])
    except BudgetError as error:
        right = f"{error}; {_EXAMPLE.format(quantity.example, _SPREADS[quantity.unit])}"
        return (origin.fault((key,), "is no distribution", shown(table), right),)


def _numbers(quantity: Quantity, table: Mapping[str, Any], origin: Origin) -> tuple[dict[str, float], list[Fault]]:
    """Values in SI units, and what is wrong with those that cannot be read."""
    numbers: dict[str, float] = {}
    faults = []
    for name, value in _values(table):
        try:
            numbers[_token(name[0], value)] = _read(quantity, name[0], value)
        except PydanticCustomError as error:
            context = error.context or {}
            faults.append(origin.fault(name, str(context["wrong"]), shown(value), str(context["right"])))
    return numbers, faults


def _values(table: Mapping[str, Any]) -> list[tuple[tuple[str, *tuple[int, ...]], Any]]:
    """Every value with a unit, under its key or its key and place in a list."""
    values: list[tuple[tuple[str, *tuple[int, ...]], Any]] = []
    for name, value in table.items():
        if name in _PLAIN_KEYS or name not in DistributionSpec.model_fields:
            continue
        if isinstance(value, list):
            values += [((name, index), entry) for index, entry in enumerate(value)]
        else:
            values.append(((name,), value))
    return values


def _token(name: str, value: object) -> str:
    return f"{name} {type(value).__name__} {value}"


def _read(quantity: Quantity, name: str, value: Any) -> float:
    if name in _SPREAD_KEYS:
        quantity = replace(quantity, example=quantity.example.lstrip("-"), low=f"0 {quantity.high.split()[-1]}")
    return quantity(value)
