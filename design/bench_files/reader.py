"""
Bench files: from TOML, and shelves in CSV or XLSX beside it, to a bench in SI units.

This is the only place where units are converted. Everything wrong with a file is said at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from design.bench import Bench
from design.bench_files import items as bench_items
from design.bench_files.items import NAMES, TABLES
from design.bench_files.knowledge import knowledge_of, stated_knowledge, with_knowledge
from design.bench_files.schema_faults import TableOrigin, known_keys, shown, validated
from design.bench_files.shelf_files import ShelfRow, read_shelf
from design.bench_files.tables import KEYS, SECTIONS, FileTable, keys_of, table_of
from design.bench_files.text_files import read_bytes, toml_tables
from design.errors import BenchFileError, Fault, spaced
from design.kit import FITTING_ROLES, LOSSES, ROLES, Fitting, Item, Role, Vessel, needed_roles
from design.procedures.registry import PROCEDURES

_HEAD = table_of("bench", keys_of(Bench))
_TABLES = (*SECTIONS, "knowledge", "shelves")


def read_bench(path: Path) -> Bench:
    """
    Read and check a bench file with the shelf files it names.

    Parameters
    ----------
    path : Path
        TOML file, UTF-8.

    Returns
    -------
    Bench
        In SI units, with `design.bench_files.tables.DEFAULTS` where the file is silent.

    Raises
    ------
    BenchFileError
        If anything is wrong with the file or one of its shelf files; it carries every fault found.
    """
    file = str(path)
    raw = toml_tables(read_bytes(Path(path), file, "a bench file, such as bench.toml"), file)
    return _Reading(file, Path(path).parent, raw).bench()


class _Reading:
    """One reading of a file: the parts of the bench that could be read, and the faults found on the way."""

    def __init__(self, file: str, folder: Path, raw: Mapping[str, Any]) -> None:
        self.file, self.folder, self.raw = file, folder, raw
        self.parts: dict[str, Any] = {"path": file}
        self.shelves: dict[Role, tuple[Item, ...]] = {}
        self.faults: list[Fault] = []

    def bench(self) -> Bench:
        """Read everything, then hand over the bench or all faults."""
        self._head()
        for name in SECTIONS:
            if name != "current":
                self._section(name)
        rows = self._rows()
        self._section("current", items=self._items_in_use(rows))
        known, faults = knowledge_of(self._table("knowledge"), TableOrigin(self.file, "knowledge"))
        self.faults += faults
        self.parts["knowledge"] = known.general
        for role in ROLES:
            self._shelf(role, rows[role])
        vessels = [_plain_name(row) for row in rows["vessel"]]
        for role in FITTING_ROLES:
            self.faults += bench_items.fit_faults(rows[role], vessels)
        self._empty_shelves(rows)
        if self.faults:
            raise BenchFileError(tuple(self.faults))
        return with_knowledge(Bench(**self.parts, shelves=self.shelves), known)

    def _head(self) -> None:
        known = (*_HEAD.model_fields, *_TABLES, *ROLES)
        self.faults += [
            TableOrigin(self.file).fault((key,), "unknown key", shown(value), known_keys(key, known))
            for key, value in self.raw.items()
            if key not in known
        ]
        head = {key: self.raw[key] for key in _HEAD.model_fields if key in self.raw}
        table = self._checked(_HEAD, head, TableOrigin(self.file))
        if table is not None:
            self.parts |= table.stated

    def _section(self, name: str, **given: Any) -> None:
        needed: dict[str, str] = {}
        for word, key in KEYS[name].items():
            if key.needed:
                needed.setdefault(key.field.name, f"{word} = {key.kind.written}")
        if name not in self.raw and needed:
            examples = " and ".join(needed.values())
            self._add(name, "is missing", "nothing", f"write [{name}] with {examples}")
            return
        raw = self._table(name)
        if raw is not self.raw.get(name, raw):
            return
        table = self._checked(TABLES[name], raw, TableOrigin(self.file, name))
        faults = bench_items.raw_faults(name, raw, TableOrigin(self.file, name))
        self.faults += faults
        if table is not None and not faults:
            self.parts[name] = bench_items.made(name, table, **given)

    def _table(self, name: str) -> dict[str, Any]:
        """Table of that name; an empty one where it is missing or no table."""
        raw = self.raw.get(name, {})
        if isinstance(raw, dict):
            return raw
        self._add(name, "must be a table", shown(raw), f"write its keys under a line [{name}]")
        return {}

    def _rows(self) -> dict[Role, list[ShelfRow]]:
        """Items of every shelf: those of the file, then those of the shelf file beside it."""
        rows = {role: self._tables(role) for role in ROLES}
        shelves = self._checked(NAMES, self._table("shelves"), TableOrigin(self.file, "shelves"))
        for role, name in _by_role(shelves).items():
            kinds = {name: key.kind for name, key in KEYS[role].items()}
            required = [key for key, info in TABLES[role].model_fields.items() if info.is_required()]
            try:
                found, faults = read_shelf(self.folder / name, name, kinds, required)
            except BenchFileError as error:
                found, faults = [], list(error.faults)
            rows[role] += found
            self.faults += faults
        return rows

    def _tables(self, role: Role) -> list[ShelfRow]:
        raw = self.raw.get(role, [])
        if not isinstance(raw, list) or not all(isinstance(table, dict) for table in raw):
            self._add(role, "must be a table for each item", shown(raw), f"head each item with a line [[{role}]]")
            return []
        return [
            ShelfRow(table, TableOrigin(self.file, f"{role}[{index}]", shown(table.get("name", "")).strip('"')))
            for index, table in enumerate(raw, start=1)
        ]

    def _items_in_use(self, rows: Mapping[Role, Sequence[ShelfRow]]) -> dict[Role, str]:
        stated = self._table("current").get("items", {})
        items = self._checked(NAMES, stated, TableOrigin(self.file, "current.items"))
        if isinstance(stated, dict):
            names = {role: [_plain_name(row) for row in rows[role]] for role in ROLES}
            self.faults += bench_items.current_item_faults(stated, names, self.file)
        return _by_role(items)

    def _shelf(self, role: Role, rows: Sequence[ShelfRow]) -> None:
        self.faults += bench_items.duplicate_faults(role, rows)
        items = (self._item(role, row) for row in rows)
        self.shelves[role] = tuple(item for item in items if item is not None)

    def _item(self, role: Role, row: ShelfRow) -> Item | None:
        kind = ROLES[role].kind
        table = self._checked(TABLES[role], row.values, row.origin)
        self.faults += bench_items.raw_faults(role, row.values, row.origin)
        losses = {key: row.values[key] for key in LOSSES if key in row.values and kind is Vessel}
        stated, faults = stated_knowledge(losses, tuple(LOSSES), row.origin)
        self.faults += faults
        if table is None or self.faults:
            return None
        given: dict[str, Any] = {"role": role} if kind is Fitting else {"knowledge": stated} if kind is Vessel else {}
        item: Item = bench_items.made(role, table, **given)
        return item

    def _empty_shelves(self, rows: Mapping[Role, Sequence[ShelfRow]]) -> None:
        procedures = self._table("search").get("procedures")
        massless = {procedure.identifier for procedure in PROCEDURES if not procedure.needs_mass_set}
        needs_masses = not isinstance(procedures, list) or not all(
            isinstance(name, str) and spaced(name).casefold() in massless for name in procedures
        )
        named = self._table("shelves")
        for role in needed_roles(mass_set=needs_masses):
            if rows[role] or role in named or not isinstance(self.raw.get(role, []), list):
                continue
            right = f"write at least one [[{role}]], or name a shelf file under [shelves]"
            if role == "mass_set":
                right += "; or leave the fixed-mass procedures out of [search] procedures"
            self._add(role, "shelf is empty", "no item", right)

    def _checked(self, model: type[FileTable], raw: Any, origin: TableOrigin) -> FileTable | None:
        table, faults = validated(model, raw, origin)
        self.faults += faults
        return table

    def _add(self, place: str, wrong: str, got: str, right: str) -> None:
        self.faults.append(Fault(self.file, place, "", wrong, got, right))


def _by_role(names: FileTable | None) -> dict[Role, str]:
    return {} if names is None else {role: names.stated[role] for role in ROLES if role in names.stated}


def _plain_name(row: ShelfRow) -> str:
    name = row.values.get("name")
    return spaced(name) if isinstance(name, str) else ""
