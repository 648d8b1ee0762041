"""What pydantic finds wrong in a file, said to the person who wrote the file."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError


def fault_lines(fault: ValidationError, content: Mapping[str, Any]) -> list[str]:
    """
    Return a line for every fault: key path, what must be there, what was got.

    Parameters
    ----------
    fault : pydantic.ValidationError
        The faults.
    content : mapping
        What the file held; tables are named by their symbol where they have one.
    """
    lines: dict[str, str] = {}
    for error in fault.errors(include_url=False):
        place = [part for part in error["loc"] if not _is_branch(part)]
        where = _where(place, content)
        lines.setdefault(where, _line(where, place, error))  # one fault of a union is enough
    return list(lines.values())


def _line(where: str, place: list[Any], error: Any) -> str:
    given = error["input"]
    match error["type"]:
        case "missing":
            return f"{where}: must be given (got nothing)"
        case "extra_forbidden":
            return f"{where}: must be a key of this table (got an unknown key{_nearest(place)})"
        case "literal_error":
            return f"{where}: must be one of {_choices(error)} (got {_said(given)}{_like(given, error)})"
        case "float_type" if len(error["loc"]) != len(place):
            return f"{where}: must be a number or text with a unit (got {_said(given)})"
        case kind:
            return f"{where}: {_rule(kind, error)} (got {_said(given)})"


def _rule(kind: str, error: Any) -> str:
    context = error.get("ctx", {})
    rules = {
        "greater_than": f"must be greater than {context.get('gt')}",
        "less_than": f"must be less than {context.get('lt')}",
        "greater_than_equal": f"must be at least {context.get('ge')}",
        "less_than_equal": f"must be at most {context.get('le')}",
        "too_short": f"must have at least {context.get('min_length')} entries",
        "too_long": f"must have at most {context.get('max_length')} entries",
        "string_too_short": "must not be empty",
        "string_type": "must be text in quotes",
        "float_type": "must be a number",
        "list_type": "must be a list; begin each entry with a line in double square brackets",
        "model_type": "must be a table",
        "dict_type": "must be a table",
    }
    return rules.get(kind, "must be a number or text with a unit")


def _is_branch(part: object) -> bool:
    """Tell pydantic's names for the branches of a union from keys."""
    return isinstance(part, str) and (part in ("float", "int", "str") or "[" in part)


def _where(place: list[Any], content: Any) -> str:
    words: list[str] = []
    inside = content
    for part in place:
        if isinstance(part, int):
            inside = inside[part] if isinstance(inside, list) and part < len(inside) else None
            symbol = inside.get("symbol") if isinstance(inside, dict) else None
            words[-1] += f" {part + 1}" + (f" ({symbol})" if isinstance(symbol, str) and symbol else "")
        else:
            inside = inside.get(part) if isinstance(inside, dict) else None
            words.append(str(part))
    return ": ".join(words) or "file"


def _nearest(place: list[Any]) -> str:
    known = (
        "measurand input intermediate correlation scenario note"
        if len(place) == 1
        else "symbol name unit equation coverage distribution estimate standard_uncertainty dof half_width low high "
        "top_ratio limit_inexactness readings value source between coefficient"
    )
    close = difflib.get_close_matches(str(place[-1]), known.split(), n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def _choices(error: Any) -> str:
    return str(error.get("ctx", {}).get("expected", "")).replace("'", "").replace(" or ", ", ")


def _like(given: object, error: Any) -> str:
    close = difflib.get_close_matches(str(given).lower(), _choices(error).split(", "), n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def _said(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
