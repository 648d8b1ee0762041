"""Tables of a bench file, made from the fields that they fill: keys, pydantic models with JSON Schema, usual values."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass, replace
from functools import partial
from typing import Annotated, Any, NamedTuple, get_args, get_type_hints

import pydantic

from design.bench import Bench
from design.fields import (
    SHARE,
    Among,
    Choice,
    Count,
    Flag,
    Kind,
    Listing,
    Nested,
    Number,
    Owned,
    PowerSettings,
    Quantity,
    Text,
    Usual,
)
from design.kit import ROLES, Item
from design.procedures.face import Correction
from design.procedures.registry import PROCEDURES

WORDS: Mapping[str, tuple[str, ...]] = {
    "procedures": tuple(dict.fromkeys(procedure.identifier for procedure in PROCEDURES)),
    "corrections": get_args(Correction),
}


class Key(NamedTuple):
    """A key of a table: its field, how its value is read, what is usual, and keys one of which must stand alone."""

    field: Field[Any]
    kind: Kind
    usual: tuple[Usual, ...]
    alternatives: tuple[tuple[str, Kind], ...]

    @property
    def has_default(self) -> bool:
        """Whether the field has a value of its own where nobody states one."""
        return self.field.default is not MISSING or self.field.default_factory is not MISSING

    @property
    def needed(self) -> bool:
        """Whether a file must state it, or one of its alternatives."""
        return not (self.usual or self.kind.optional or self.has_default)


def keys_of(owner: type, heading: str = "") -> Mapping[str, Key]:
    """Every key of the table under a heading: what all items have, what must stand, and the rest."""
    hints = get_type_hints(owner, include_extras=True)
    keys: dict[str, Key] = {}
    for field in fields(owner):
        marks = getattr(hints[field.name], "__metadata__", ())
        kinds = [_known(mark) for mark in marks if isinstance(mark, Kind) and mark.role in {"", heading}]
        rows = (mark for mark in marks if isinstance(mark, Usual))
        usual = tuple(row for row in rows if row.case == heading or row.case not in ROLES)
        named = tuple((name, kind) for kind in kinds for name in kind.keys or (field.name,))
        keys |= {name: Key(field, kind, usual, named if len(kinds) > 1 else ()) for name, kind in named}
    common = {field.name for field in fields(Item)}
    return dict(sorted(keys.items(), key=lambda entry: (entry[1].field.name not in common, not entry[1].needed)))


def _known(kind: Kind) -> Kind:
    """The kind with the words of procedures and corrections, which are written elsewhere."""
    if isinstance(kind, Listing):
        return replace(kind, of=_known(kind.of))
    return Choice(WORDS[kind.words], help=kind.help) if isinstance(kind, Among) else kind


SECTIONS: Mapping[str, type] = {
    name: owner for name, owner in get_type_hints(Bench).items() if isinstance(owner, type) and is_dataclass(owner)
}
"""What each table of a bench file fills that is no item, in the order of the bench."""
OWNERS: Mapping[str, type] = {**SECTIONS, **{role: part.kind for role, part in ROLES.items()}}
"""What the table under each heading fills."""
KEYS: Mapping[str, Mapping[str, Key]] = {heading: keys_of(owner, heading) for heading, owner in OWNERS.items()}
"""Keys of the table under each heading."""


class FileTable(pydantic.BaseModel):
    """A table of the file; unknown keys are refused."""

    model_config = pydantic.ConfigDict(extra="forbid", frozen=True, strict=True)

    @property
    def stated(self) -> dict[str, Any]:
        """Values of the keys that stand in the file, in SI units."""
        return {key: getattr(self, key) for key in type(self).model_fields if key in self.model_fields_set}


def table_of(
    title: str, keys: Mapping[str, Key], check: Callable[[Mapping[str, Any]], None] | None = None
) -> type[FileTable]:
    """
    Make the model of a table; its JSON Schema says units, ranges, defaults and help of every key.

    Parameters
    ----------
    title : str
        Name of the table.
    keys : mapping of str to Key
    check : callable (dict), optional
        Refuses values that do not go together with a ``FieldError``.
    """

    def checked(table: FileTable) -> FileTable:
        if check is not None:
            check(table.stated)
        return table

    entries: dict[str, Any] = {}
    for name, key in keys.items():
        default = ... if key.needed and not key.alternatives else None
        told = pydantic.Field(default, description=key.kind.help or None, json_schema_extra=partial(_tell, key))
        entries[name] = (_annotation(key.kind), told)
    validators: dict[str, Any] = {"checked": pydantic.model_validator(mode="after")(checked)}
    return pydantic.create_model(title, __base__=FileTable, __validators__=validators, **entries)


def _annotation(kind: Kind) -> Any:
    if isinstance(kind, Listing):
        once = pydantic.AfterValidator(lambda entries: tuple(dict.fromkeys(entries)) if kind.once else entries)
        return Annotated[tuple[_annotation(kind.of), ...], pydantic.BeforeValidator(kind), once]  # type: ignore[misc]
    return Annotated[Any, pydantic.PlainValidator(kind), pydantic.WithJsonSchema(_json_schema(kind))]


def _json_schema(kind: Kind) -> dict[str, Any]:
    """What JSON Schema says of one value."""
    told: dict[str, Any] = {"type": "string"}
    match kind:
        case Quantity():
            told |= {"unit": kind.unit or "1", "low": kind.low, "high": kind.high}
        case Number() | Count():
            told = {"type": "number" if isinstance(kind, Number) else "integer"}
            told |= {"minimum": kind.low, "maximum": kind.high}
        case Choice():
            told = {"enum": [*kind.words]}
        case Flag():
            told = {"type": "boolean"}
        case Owned():
            told = {"anyOf": [{"type": "boolean"}, {"type": "integer", "minimum": 0}]}
        case PowerSettings():
            powers = {"type": "array", "minItems": 1, "items": _json_schema(kind.of)}
            told = {"anyOf": [{"enum": ["none", "stepless"]}, powers]}
        case Nested():
            told = {"type": "object"}
    return told | ({"examples": [kind.example]} if isinstance(kind, Quantity | Text) else {})


def _tell(key: Key, schema: dict[str, Any]) -> None:
    """Let JSON Schema say of a key that may be left out its default as a file would state it, and what is usual."""
    schema.pop("default", None)
    rows = [
        {"default": _written(row, key), "range": row.range, "source": row.source}
        | ({"for": row.case} if row.case else {})
        | ({"times": row.per} if row.per else {})
        for row in key.usual
    ]
    schema |= rows[0] if len(rows) == 1 and not key.usual[0].name else {"usual": rows} if rows else {}


def usual_value(row: Usual, key: Key) -> Any:
    """What is taken where a key is left out: the field's default, or the row's own value."""
    return key.field.default if row.value is None else row.value


def _written(row: Usual, key: Key) -> Any:
    value = usual_value(row, key)
    if row.per or row.unit or isinstance(value, str) or not isinstance(key.kind, Quantity):
        return value
    if math.isinf(value):
        return None
    return f"{100 * value:g} %" if key.kind.unit == SHARE else f"{value:g} {key.kind.unit}"


def filled(heading: str, values: Mapping[str, Any], **given: Any) -> Any:
    """
    Make a section or an item, with the usual values where the file is silent.

    Parameters
    ----------
    heading : str
        Of its table.
    values : mapping of str to value
        What the file states, in SI units, by key.
    **given
        Fields that are not read from a key of their own.
    """
    for name, key in KEYS[heading].items():
        field = key.field.name
        if field in given:
            continue
        if name in values:
            given[field] = values[name]
        elif not key.has_default:
            row = next(row for row in key.usual if row.case in {"", heading, values.get("kind")})
            value: Any = usual_value(row, key)
            given[field] = value * given[row.per] if row.per else value
    return OWNERS[heading](**given)


@dataclass(frozen=True)
class Default:
    """One value taken where a file is silent: key with its kind, value in its unit, values met in schools, source."""

    name: str
    value: float | str | bool
    range: str
    unit: str
    source: str


def _defaults() -> Iterator[Default]:
    common = keys_of(Item)
    roles = sorted(ROLES, key=lambda role: ROLES[role].had_by)
    tables = [(heading, KEYS[heading]) for heading in SECTIONS] + [("item", common)]
    tables += [(role, {name: key for name, key in KEYS[role].items() if name not in common}) for role in roles]
    for heading, keys in tables:
        rows = [(row, name, key) for name, key in keys.items() for row in key.usual]
        for row, name, key in sorted(rows, key=lambda entry: entry[0].order):
            path = ".".join(filter(None, (heading, "" if row.case == heading else row.case, row.name or name)))
            unit = (key.kind.unit or "1") if isinstance(key.kind, Quantity) else ""
            yield Default(path, usual_value(row, key), row.range, row.unit or row.per or unit, row.source)


DEFAULTS: tuple[Default, ...] = tuple(_defaults())
"""Everything that is taken where a bench file is silent, in SI units."""
