"""Budget files: a measurand, its inputs and one equation, read from TOML with every fault named."""

from __future__ import annotations

import difflib
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.model.unit_check import check_units
from budget.quantities.distributions import Distribution
from budget.quantities.inputs import Correlation, DistributionSpec, InputQuantity, plain_number
from budget.quantities.units import convert_between


def fault_lines(fault: ValidationError, content: Mapping[str, Any]) -> list[str]:
    """Return a line for every fault of what a file held: key path, what must be there, what was got."""
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
        else "symbol name unit equation coverage distribution estimate standard_uncertainty expanded_uncertainty "
        "coverage_factor dof half_width low high top_ratio limit_inexactness readings value source type certificate "
        "calibration_date between coefficient"
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


Text = Annotated[str, Field(strict=True)]
Word = Annotated[str, Field(strict=True, min_length=1)]
LARGEST_FILE = 2_000_000
"""Bytes; a budget file is a page or two of text."""
_DIFFERENCES = frozenset({"standard_uncertainty", "expanded_uncertainty", "half_width", "limit_inexactness"})


class _BudgetTable(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Measurand(_BudgetTable):
    symbol: Word
    equation: Word
    name: Text = ""
    unit: Text = ""
    coverage: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.95


class _Input(DistributionSpec):
    symbol: Word
    name: Text = ""
    unit: Text = ""
    source: Text = ""
    type: Literal["", "A", "B"] = ""
    certificate: Text = ""
    calibration_date: date | Text = ""


class _Intermediate(_BudgetTable):
    symbol: Word
    equation: Word
    name: Text = ""
    unit: Text = ""


class _Correlation(_BudgetTable):
    between: Annotated[list[Word], Field(min_length=2, max_length=2)]
    coefficient: Annotated[float, Field(ge=-1.0, le=1.0)]


class _File(_BudgetTable):
    measurand: _Measurand
    input: Annotated[list[_Input], Field(min_length=1)]
    intermediate: list[_Intermediate] = []
    correlation: list[_Correlation] = []
    scenario: Text = ""
    note: Text = ""


@dataclass(frozen=True)
class BudgetFile:
    """A budget file that has been read; its ``scenario`` is "invented" on examples."""

    path: str
    model: MeasurementModel
    coverage: float
    scenario: str = ""
    note: str = ""


def read_budget_file(path: Path | str) -> BudgetFile:
    """
    Read and check a budget file.

    Parameters
    ----------
    path : path-like
        A TOML file with ``[measurand]``, ``[[input]]`` and, where needed, ``[[intermediate]]`` and
        ``[[correlation]]`` tables.

    Raises
    ------
    BudgetError
        With a line for every fault found: file, key path, what must be there, what was got.
    """
    return budget_from_tables(_content(Path(path), str(path)), str(path))


def budget_from_tables(content: dict[str, Any], name: str) -> BudgetFile:
    """Check the tables of a budget file, however they were read; ``name`` is what messages call it."""
    try:
        tables = _File.model_validate(content)
    except ValidationError as fault:
        raise BudgetError("\n".join(f"{name}: {line}" for line in fault_lines(fault, content))) from None
    inputs, faults = _inputs(tables)
    if faults:
        raise BudgetError("\n".join(f"{name}: {line}" for line in faults))
    try:
        model = MeasurementModel(
            symbol=tables.measurand.symbol,
            name=tables.measurand.name,
            unit=tables.measurand.unit,
            inputs=tuple(inputs),
            intermediates=tuple((step.symbol, step.equation) for step in tables.intermediate),
            equation=tables.measurand.equation,
            correlations=tuple(_correlation(table) for table in tables.correlation),
        )
        check_units(model, {step.symbol: step.unit for step in tables.intermediate if step.unit})
    except BudgetError as fault:
        raise BudgetError("\n".join(f"{name}: {line}" for line in str(fault).splitlines())) from None
    return BudgetFile(name, model, tables.measurand.coverage, tables.scenario, tables.note)


def _content(path: Path, name: str) -> dict[str, Any]:
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise BudgetError(
                f"{name}: must be a budget file of at most {LARGEST_FILE} bytes (got {path.stat().st_size})"
            )
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BudgetError(f"{name}: must be a text file in UTF-8 (got bytes that are none)") from None
    except OSError as fault:
        raise BudgetError(f"{name}: must be a file that can be read (got {fault.strerror or fault})") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise BudgetError(f"{name}: must be a TOML file (got: {fault})") from None
    except RecursionError:
        raise BudgetError(f"{name}: must be a TOML file without deep nesting (got one too deep to read)") from None


def _inputs(tables: _File) -> tuple[list[InputQuantity], list[str]]:
    """Build the input quantities and collect the faults of all of them."""
    inputs: list[InputQuantity] = []
    faults: list[str] = []
    for number, table in enumerate(tables.input, start=1):
        try:
            distribution: Distribution = table.build(_converter(table.unit))
        except BudgetError as fault:
            faults.append(f"input {number} ({table.symbol}): {fault}")
            continue
        factor = table.coverage_factor
        inputs.append(
            InputQuantity(
                table.symbol,
                distribution,
                table.name,
                table.unit,
                table.source,
                evaluation=table.type,
                certificate=table.certificate,
                calibration_date=str(table.calibration_date),
                coverage_factor=None if factor is None else plain_number(factor, "coverage_factor"),
            )
        )
    return inputs, faults


def _correlation(table: _Correlation) -> Correlation:
    """Take the pair in the form in which equations carry symbols; whether they are inputs, the model looks at."""
    one, other = (unicodedata.normalize("NFKC", symbol.strip()) for symbol in table.between)
    return Correlation((one, other), table.coefficient)


def _converter(unit: str) -> Callable[[object, str], float]:
    """Return what turns a number, or text with a unit, into the unit of the input."""

    def to_number(value: object, key: str) -> float:
        if isinstance(value, str) and unit:
            try:
                return convert_between(value, unit, difference=key in _DIFFERENCES)
            except BudgetError as fault:
                raise BudgetError(f"{key}: {str(fault).removeprefix('value: ')}") from None
        return plain_number(value, key)

    return to_number
