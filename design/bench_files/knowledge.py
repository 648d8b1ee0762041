"""
What is known of losses, droplets and meter: ``[knowledge]`` of a bench file, or of a file by itself.

Its key ``of`` names the vessel and the meter that it was learned with; what belongs to them is then said of them alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from budget.errors import BudgetError
from budget.quantities.distributions import Distribution
from budget.quantities.inputs import DistributionSpec
from design.bench import KNOWLEDGE, Bench
from design.bench_files.schema_faults import TableOrigin, known_keys, shown, validated
from design.bench_files.text_files import read_bytes, refuse_file, toml_tables
from design.errors import BenchFileError, Fault, FieldError, spaced
from design.fields import SHARE, Quantity
from design.kit import LOSSES

HOLDERS = ("vessel", "meter")
"""Items that knowledge may be said of."""
METER = "meter_error"


@dataclass(frozen=True)
class Known:
    """
    Knowledge as a file states it.

    Parameters
    ----------
    stated : mapping of str to Distribution
        By key; W, J or shares.
    of : mapping of str to str
        Vessel and meter that it is of, by role; those not named: of all.
    origin : TableOrigin
        Where it stands.
    """

    stated: Mapping[str, Distribution]
    of: Mapping[str, str]
    origin: TableOrigin

    @property
    def general(self) -> dict[str, Distribution]:
        """What holds for the bench as a whole."""
        return {key: value for key, value in self.stated.items() if _holder(key) not in self.of}


def _holder(key: str) -> str:
    """Role of the item that a key is about; empty where it is about none."""
    return "vessel" if key in LOSSES else "meter" if key == METER else ""


def read_knowledge(path: Path) -> Known:
    """
    Read a file with a ``[knowledge]`` table, such as an evaluation writes what it has learned.

    Raises
    ------
    BenchFileError
        If there is no such table, or it is wrong.
    """
    file = str(path)
    raw = toml_tables(read_bytes(Path(path), file, "a file of knowledge, such as knowledge.toml"), file)
    table = raw.get("knowledge")
    if not isinstance(table, dict) or not table:
        raise refuse_file(file, "has no knowledge", "no table [knowledge]", "write what is known under [knowledge]")
    known, faults = knowledge_of(table, TableOrigin(file, "knowledge"))
    if faults:
        raise BenchFileError(faults)
    return known


def knowledge_of(table: Mapping[str, Any], origin: TableOrigin) -> tuple[Known, tuple[Fault, ...]]:
    """Read a ``[knowledge]`` table, and say what is wrong with it."""
    stated, faults = stated_knowledge(
        {key: value for key, value in table.items() if key != "of"}, tuple(KNOWLEDGE), origin
    )
    of, wrong = _holders(table.get("of", {}), origin)
    return Known(stated, of, origin), (*faults, *wrong)


def _holders(raw: Any, origin: TableOrigin) -> tuple[dict[str, str], list[Fault]]:
    right = 'write of = {vessel = "Tall beaker", meter = "Rail meter"}'
    if not isinstance(raw, dict):
        return {}, [origin.fault(("of",), "must be a table", shown(raw), right)]
    faults = [
        origin.fault(("of", role), "unknown key", shown(name), known_keys(role, HOLDERS))
        for role, name in raw.items()
        if role not in HOLDERS
    ]
    faults += [
        origin.fault(("of", role), "must be the name of an item", shown(name), right)
        for role, name in raw.items()
        if role in HOLDERS and not isinstance(name, str)
    ]
    return {role: spaced(name) for role, name in raw.items() if role in HOLDERS and isinstance(name, str)}, faults


def with_knowledge(bench: Bench, known: Known) -> Bench:
    """
    Put knowledge in the place of what a bench says: of the vessel and the meter that it is of, else of all.

    Raises
    ------
    BenchFileError
        If the bench has no item of that name.
    """
    faults = [
        known.origin.fault(
            ("of", role),
            "is no item of the bench",
            f'"{name}"',
            "write " + " or ".join(f'"{item.name}"' for item in bench.shelves[role]),  # type: ignore[index]
        )
        for role, name in known.of.items()
        if name not in {item.name for item in bench.shelves[role]}  # type: ignore[index]
    ]
    if faults:
        raise BenchFileError(tuple(faults))
    bench = replace(bench, knowledge={**bench.knowledge, **known.general})
    losses = {key: value for key, value in known.stated.items() if _holder(key) == "vessel"}
    if losses and "vessel" in known.of:
        bench = bench.with_shelves(
            vessel=tuple(
                replace(one, knowledge={**one.knowledge, **losses}) if one.name == known.of["vessel"] else one
                for one in bench.vessels
            )
        )
    if METER in known.stated:
        named = known.of.get("meter")
        bench = bench.with_shelves(
            meter=tuple(
                replace(one, error=known.stated[METER]) if named in (None, one.name) else one for one in bench.meters
            )
        )
    return bench


_PLAIN_KEYS = frozenset({"distribution", "dof", "top_ratio"})
_SPREAD_KEYS = frozenset({"standard_uncertainty", "expanded_uncertainty", "half_width", "limit_inexactness"})
_SPREADS = MappingProxyType({"W": "5 W", "J": "0.3 kJ", SHARE: "0.01 %"})
_EXAMPLE = 'write {{distribution = "normal", estimate = "{0}", standard_uncertainty = "{1}"}} or {{value = "{0}"}}'


def stated_knowledge(
    tables: Mapping[str, Any], keys: tuple[str, ...], origin: TableOrigin
) -> tuple[Mapping[str, Distribution], tuple[Fault, ...]]:
    """
    Read stated distributions.

    Parameters
    ----------
    tables : mapping of str to table
        What the file says, by key.
    keys : tuple of str
        Keys that may be stated here.
    origin : TableOrigin
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


def _distribution(key: str, table: Any, origin: TableOrigin) -> Distribution | tuple[Fault, ...]:
    quantity = KNOWLEDGE[key]
    if not isinstance(table, Mapping):
        right = _EXAMPLE.format(quantity.example, _SPREADS[quantity.unit])
        return (origin.fault((key,), "must be a table in braces", shown(table), right),)
    inner = TableOrigin(origin.file, origin.place(key), origin.item)
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


def _numbers(quantity: Quantity, table: Mapping[str, Any], origin: TableOrigin) -> tuple[dict[str, float], list[Fault]]:
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
