"""Rule profiles: how a school works out an uncertainty, read from data files."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict

from design.bench_files.schema_faults import TableOrigin, validated
from design.bench_files.text_files import read_bytes, refuse_file
from design.errors import BenchFileError, Fault

DEFAULT_RULES = "add-limits"
"""Preset used where none is asked for. (common practice, no source)"""
_WHAT = "a file of school rules, such as rules.toml, or the name of a preset"
Word = TypeVar("Word")


class _RulesTable(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Sourced(_RulesTable):
    source: str


class _Rule(_Sourced, Generic[Word]):
    rule: Word


class _Difference(_Sourced):
    readings: Literal[1, 2]


class _Combine(_Rule[Literal["add", "root sum of squares"]]):
    coverage_factor: float | int = 1


class _Figures(_Sourced):
    digits: Literal[1, 2]


class SchoolRules(_RulesTable):
    """
    A rule profile, as its file has it; every rule with its source.

    Parameters
    ----------
    name, description : str
        In general words.
    reading
        Uncertainty of one reading, from the smallest division shown.
    difference
        How many readings a difference counts.
    repeats, gradient, agreement
        Rules by their words.
    combine
        How uncertainties add up, and the factor on them; 1 where they are limits already.
    figures
        Significant figures of the uncertainty.
    """

    name: str
    description: str
    reading: _Rule[Literal["half division", "full division", "rectangular"]]
    difference: _Difference
    repeats: _Rule[Literal["half range", "largest deviation", "standard error"]]
    combine: _Combine
    gradient: _Rule[Literal["half of steepest less shallowest", "best less worst", "regression"]]
    figures: _Figures
    agreement: _Rule[Literal["percentage difference", "expanded uncertainty", "z score"]]

    @property
    def coverage_factor(self) -> float:
        """Factor on the combined uncertainty."""
        return float(self.combine.coverage_factor)

    @property
    def sources(self) -> Mapping[str, str]:
        """Where each rule comes from."""
        return {part: table.source for part, table in self if isinstance(table, _Sourced)}


def preset_names() -> tuple[str, ...]:
    """Names of the presets that are installed."""
    names = (path.name for path in (files("configs") / "rules").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def read_rules(name: str) -> SchoolRules:
    """
    Read a rule profile: a preset by its name, or a file by its path.

    Raises
    ------
    BenchFileError
        If there is no such file or preset, or it is wrong.
    """
    if name in preset_names():
        content, file = (files("configs") / "rules" / f"{name}.toml").read_bytes(), f"{name}.toml"
    elif not name.endswith(".toml"):
        raise refuse_file(name, "is no preset of school rules", "an unknown name", f"write {', '.join(preset_names())}")
    else:
        content, file = read_bytes(Path(name), name, _WHAT), name
    try:
        raw = tomllib.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise refuse_file(file, "is broken TOML", str(error), "put this line right") from None
    rules, faults = validated(SchoolRules, raw, TableOrigin(file))
    if rules is None:
        raise BenchFileError(faults)
    if not 1 <= rules.coverage_factor <= 4:
        got = f"{rules.coverage_factor:g}"
        fault = Fault(file, "combine.coverage_factor", "", "is outside 1 to 4", got, "write 2, or leave it out")
        raise BenchFileError((fault,))
    return rules
