"""A design as ``plan.json`` states it, read back for the readings that were taken with it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, Field

from design.bench_files.schema_faults import TableOrigin, shown, validated
from design.bench_files.text_files import read_bytes, refuse_file
from design.errors import BenchFileError, Fault
from design.kit import Role
from design.search.planned import Planned
from reports.pages.made_of import bench_record

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from design.bench import Bench

_WHAT = "the plan.json that boiloff plan wrote"
_NOT_READINGS = frozenset({"price", "owned", "note", "accept_unsuitable"})
"""Keys of an item on which no reading hangs."""


class _DesignRecord(BaseModel):
    """What of a design in the ranking is needed here."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)

    items: dict[Role, str]
    procedure: str
    correction: str
    reading: str
    powers_W: tuple[float, ...] = Field(min_length=1)  # noqa: N815 - the key of the file
    mass_kg: float
    fill_kg: float
    spare_kg: float
    steady_s: float
    repeats: int


def read_planned(file: Path, bench: Bench, place: int | None = None) -> Planned:
    """
    Read a design of a plan.

    Parameters
    ----------
    file : Path
        The plan as JSON.
    bench : Bench
        The bench that it must be a plan of.
    place : int, optional
        Place in the ranking, 1 the best; the recommended design if left out.

    Raises
    ------
    BenchFileError
        If it is no plan, the plan of another bench, or has no such design.
    """
    name = str(file)
    raw = _record(read_bytes(file, name, _WHAT), name)
    if raw.get("bench") != bench.name:
        right = f"give the plan of {shown(bench.name)}, or plan it: boiloff plan {bench.path}"
        raise refuse_file(name, "is a plan of another bench", shown(raw.get("bench")), right, "bench")
    place_of, record = _design(raw, place, name)
    found, faults = validated(_DesignRecord, record, TableOrigin(name, place_of))
    if found is None:
        raise BenchFileError(faults)
    faults = tuple(_changed(raw, found.items, bench, TableOrigin(name, f"{place_of}.items")))
    if faults:
        raise BenchFileError(faults)
    return Planned(
        items=found.items,
        procedure=found.procedure,
        correction=found.correction,
        reading=found.reading,
        powers=found.powers_W,
        mass=found.mass_kg,
        fill=found.fill_kg,
        spare=found.spare_kg,
        steady=found.steady_s,
        repeats=found.repeats,
    )


def _record(content: bytes, name: str) -> dict[str, Any]:
    try:
        raw = json.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise refuse_file(name, "is broken JSON", str(error), f"give {_WHAT}") from None
    if not isinstance(raw, dict) or not isinstance(raw.get("ranking"), list) or "bench_file" not in raw:
        raise refuse_file(name, "is not a plan", shown(raw), f"give {_WHAT}", "ranking")
    return raw


def _design(raw: Mapping[str, Any], place: int | None, name: str) -> tuple[str, Any]:
    """Key and record of the design asked for."""
    if place is None:
        return "recommended", raw.get("recommended")
    ranking = raw["ranking"]
    if place > len(ranking):
        right = f"write --design with a place from 1 to {len(ranking)}, as the ranking of the plan shows them"
        raise refuse_file(name, f"has no design {place}", f"a ranking of {len(ranking)}", right, "ranking")
    return f"ranking[{place}]", ranking[place - 1]


def _changed(raw: Mapping[str, Any], items: Mapping[Role, str], bench: Bench, origin: TableOrigin) -> Iterator[Fault]:
    """Items of the design that the bench has no longer, or not as they were when the plan was made."""
    then, now = raw["bench_file"], bench_record(bench)
    for role, name in items.items():
        old, new = _named(then, role, name), _named(now, role, name)
        if new is None:
            right = f"put it back on the {role.replace('_', ' ')} shelf of the bench file, or plan anew"
            yield origin.fault((role,), "is not on the bench", shown(name), right)
        elif old is not None:
            different = [key for key in new if key in old and key not in _NOT_READINGS and old[key] != new[key]]
            if different:
                got = ", ".join(f"{key} = {shown(old[key])} in the plan and {shown(new[key])} now" for key in different)
                right = "give the bench file that the plan was made of, or plan anew"
                yield TableOrigin(origin.file, origin.path, name).fault((role,), "has been changed since", got, right)


def _named(record: Any, role: str, name: str) -> dict[str, Any] | None:
    shelf = record.get(f"{role}s") if isinstance(record, dict) else None
    found = (item for item in shelf or () if isinstance(item, dict) and item.get("name") == name)
    return next(found, None)
