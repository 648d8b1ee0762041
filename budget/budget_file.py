"""Budget files: a measurand, its inputs and one equation, read from TOML with every fault named."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from budget.distributions import Distribution
from budget.errors import BudgetError
from budget.file_faults import fault_lines
from budget.inputs import Correlation, DistributionSpec, InputQuantity, plain_number
from budget.model import MeasurementModel
from budget.report import BudgetReport, analyse
from budget.unit_check import check_units
from budget.units import convert_between

__all__ = ["BudgetFile", "BudgetReport", "analyse", "budget_from_tables", "read_budget_file"]

Text = Annotated[str, Field(strict=True)]
Word = Annotated[str, Field(strict=True, min_length=1)]
LARGEST_FILE = 2_000_000
"""Bytes; a budget file is a page or two of text."""
_DIFFERENCES = frozenset({"standard_uncertainty", "half_width", "limit_inexactness"})


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Measurand(_Table):
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


class _Intermediate(_Table):
    symbol: Word
    equation: Word
    name: Text = ""
    unit: Text = ""


class _Correlation(_Table):
    between: Annotated[list[Word], Field(min_length=2, max_length=2)]
    coefficient: Annotated[float, Field(ge=-1.0, le=1.0)]


class _File(_Table):
    measurand: _Measurand
    input: Annotated[list[_Input], Field(min_length=1)]
    intermediate: list[_Intermediate] = []
    correlation: list[_Correlation] = []
    scenario: Text = ""
    note: Text = ""


@dataclass(frozen=True)
class BudgetFile:
    """
    A budget file that has been read.

    Parameters
    ----------
    path : str
        The file.
    model : MeasurementModel
        Its model.
    coverage : float
        Coverage probability it asks for.
    scenario, note : str
        "invented" on examples; free text.
    """

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
    """
    Check the tables of a budget file, however they were read.

    Parameters
    ----------
    content : dict
        ``measurand``, ``input`` and the optional tables, as TOML gives them.
    name : str
        What messages call the file.

    Raises
    ------
    BudgetError
        As ``read_budget_file``.
    """
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
        inputs.append(InputQuantity(table.symbol, distribution, table.name, table.unit, table.source))
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
