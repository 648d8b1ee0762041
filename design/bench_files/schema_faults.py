"""From pydantic's errors to faults in the words of the person who wrote the file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from design.errors import Fault, FieldError, meant
from design.fields import Kind

ModelT = TypeVar("ModelT", bound=BaseModel)
_LONGEST = 60
_DEEPEST = 4
_GENERIC = {
    "dict_type": ("must be a table", "write its keys in braces or under a heading"),
    "model_type": ("must be a table", "write its keys under a heading in square brackets"),
    "literal_error": ("is not one of the words known here", "write {expected}"),
    "finite_number": ("must be a finite number", "write a finite number"),
}


def shown(value: Any) -> str:
    """
    Write a value as it stands in a file, on one line and not too long.

    Examples
    --------
    >>> shown("0.1 kg"), shown(True), shown([1, 2])
    ('"0.1 kg"', 'true', '[1, 2]')
    """
    text = _shown(value, depth=0)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def _shown(value: Any, depth: int) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "nothing"
    if isinstance(value, str):
        return f'"{value[:_LONGEST]}"'
    if isinstance(value, list | tuple | Mapping):
        return _shown_collection(value, depth)
    return _shown_integer(value) if isinstance(value, int) else str(value)


def _shown_collection(value: Sequence[Any] | Mapping[str, Any], depth: int) -> str:
    if depth == _DEEPEST:
        return "…"
    if isinstance(value, Mapping):
        pairs = (f"{key} = {_shown(entry, depth + 1)}" for key, entry in list(value.items())[:_LONGEST])
        return f"{{{', '.join(pairs)}}}"
    return f"[{', '.join(_shown(entry, depth + 1) for entry in value[:_LONGEST])}]"


def _shown_integer(value: int) -> str:
    return str(value) if abs(value) < 10**_LONGEST else f"a whole number of {value.bit_length() * 3 // 10} digits"


@dataclass(frozen=True)
class TableOrigin:
    """
    Where a table of values came from.

    Parameters
    ----------
    file : str
        File as the reader named it.
    path : str
        Key path of the table, tables counted from one; or the row of a shelf file.
    item : str
        Name of the shelf item.
    columns : mapping of str to str, optional
        Headings of a shelf file by key, as they are written there.
    """

    file: str
    path: str = ""
    item: str = ""
    columns: Mapping[str, str] | None = None

    def place(self, *keys: str | int) -> str:
        """Key path of a value in the table, or its row and column."""
        if self.columns is not None and keys:
            return f'{self.path}, column "{self.columns.get(str(keys[0]), keys[0])}"'
        text = self.path
        for key in keys:
            if isinstance(key, int):
                text += f"[{key + 1}]"
            else:
                text += f".{_key(key)}" if text else _key(key)
        return text

    def fault(self, keys: tuple[str | int, ...], wrong: str, got: str, right: str) -> Fault:
        """Make a fault of this table."""
        return Fault(self.file, self.place(*keys), self.item, wrong, got, right)


def _key(key: str) -> str:
    bare = key.replace("_", "").replace("-", "").isalnum() and key.isascii()
    return key[:_LONGEST] if bare else shown(key)


def validated(model: type[ModelT], raw: Any, origin: TableOrigin) -> tuple[ModelT | None, tuple[Fault, ...]]:
    """
    Check a table against its model.

    Parameters
    ----------
    model : type of pydantic model
        What the table may hold.
    raw : Any
        The table as read.
    origin : TableOrigin
        Where it came from.

    Returns
    -------
    tuple of (model or None, tuple of Fault)
        The checked table, or ``None`` and its faults.
    """
    try:
        return model.model_validate(raw), ()
    except ValidationError as error:
        details = error.errors(include_url=False)
    faults: dict[str, Fault] = {}
    for detail in details:
        fault = _fault(model, raw, origin, detail)
        if fault is not None:
            faults.setdefault(fault.place if detail["loc"] else f"{fault.place} {fault.wrong}", fault)
    return None, tuple(faults.values())


def _fault(model: type[BaseModel], raw: Any, origin: TableOrigin, detail: ErrorDetails) -> Fault | None:
    """Say one of pydantic's errors in our words; ``None`` where faults of the headings said it already."""
    first, *rest = detail["loc"] or (None,)
    keys = () if first is None else (first, *(key for key in rest if isinstance(key, int)))
    kind, got = detail["type"], shown(detail["input"])
    if kind == "missing":
        if origin.columns is not None and str(first) not in origin.columns:
            return None
        return origin.fault(keys, "is missing", "nothing", _right(model, str(first)))
    if kind == "extra_forbidden":
        return origin.fault(keys, "unknown key", got, known_keys(str(first), model.model_fields))
    context = detail.get("ctx", {})
    error = context.get("error")
    if isinstance(error, FieldError):
        if error.keys:
            got = ", ".join(f"{key} = {shown(raw.get(key))}" for key in error.keys)
        return origin.fault(keys, error.wrong, got, error.right)
    reason = detail["msg"].removeprefix("Value error, ")
    wrong, right = _GENERIC.get(kind, (f"cannot be used: {reason}", "correct it or leave it out"))
    return origin.fault(keys, wrong, got, right.format(**context).replace("'", '"'))


def _right(model: type[BaseModel], key: str) -> str:
    for mark in model.model_fields[key].metadata:
        if isinstance(kind := getattr(mark, "func", None), Kind):
            return kind.right
    return f"write {key}"


def known_keys(key: str, known: Iterable[str]) -> str:
    """
    Say which keys a table knows, the likeliest first.

    Examples
    --------
    >>> known_keys("resolutoin", ["name", "resolution"])
    'did you mean "resolution"? known here: name, resolution'
    """
    names = list(known)
    return f"{meant(key, names)}known here: {', '.join(names)}"
