"""What a bench file states of losses and meters as distributions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from budget.errors import BudgetError
from budget.quantities.distributions import Distribution
from budget.quantities.inputs import DistributionSpec
from design.bench import KNOWLEDGE
from design.bench_files.schema_faults import Origin, known_keys, shown, validated
from design.errors import Fault, FieldError
from design.fields import SHARE, Quantity

_PLAIN_KEYS = frozenset({"distribution", "dof", "top_ratio"})
_SPREAD_KEYS = frozenset({"standard_uncertainty", "half_width", "limit_inexactness"})
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
    quantity = KNOWLEDGE[key]
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
        except FieldError as error:
            faults.append(origin.fault(name, error.wrong, shown(value), error.right))
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
