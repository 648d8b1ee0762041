"""Rule profiles: how a school works out an uncertainty, read from data files."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

from design.bench_files.schema_faults import Origin, validated
from design.bench_files.text_files import read_bytes, refuse_file
from design.errors import BenchFileError, Fault

ReadingRule = Literal["half division", "full division", "rectangular"]
RepeatRule = Literal["half range", "largest deviation", "standard error"]
CombineRule = Literal["add", "root sum of squares"]
GradientRule = Literal["half of steepest less shallowest", "best less worst", "regression"]
AgreementRule = Literal["percentage difference", "expanded uncertainty", "z score"]
DEFAULT_RULES = "add-limits"
"""Preset used where none is asked for. (common practice, no source)"""
_WHAT = "a file of school rules, such as rules.toml, or the name of a preset"


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    source: str


class _Reading(_Table):
    rule: ReadingRule


class _Difference(_Table):
    readings: Literal[1, 2]


class _Repeats(_Table):
    rule: RepeatRule


class _Combine(_Table):
    rule: CombineRule
    coverage_factor: float | int = 1


class _Gradient(_Table):
    rule: GradientRule


class _Figures(_Table):
    digits: Literal[1, 2]


class _Agreement(_Table):
    rule: AgreementRule


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    name: str
    description: str
    reading: _Reading
    difference: _Difference
    repeats: _Repeats
    combine: _Combine
    gradient: _Gradient
    figures: _Figures
    agreement: _Agreement


@dataclass(frozen=True)
class SchoolRules:
    """
    A rule profile.

    Parameters
    ----------
    name, description : str
        In general words.
    reading : str
        Uncertainty of one reading, from the smallest division shown.
    readings_in_difference : int
        How many readings a difference counts.
    repeats, combine, gradient, agreement : str
        Rules by their words.
    coverage_factor : float
        Factor on the combined uncertainty; 1 where it is a limit already.
    figures : int
        Significant figures of the uncertainty.
    sources : mapping of str to str
        Where each rule comes from.
    """

    name: str
    description: str
    reading: ReadingRule
    readings_in_difference: int
    repeats: RepeatRule
    combine: CombineRule
    gradient: GradientRule
    agreement: AgreementRule
    coverage_factor: float
    figures: int
    sources: Mapping[str, str]


def preset_names() -> tuple[str, ...]:
    """Names of the presets that are installed."""
    names = (path.name for path in (files("configs") / "rules").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def read_rules(name: str) -> SchoolRules:
    """
    Read a rule profile.

    Parameters
    ----------
    name : str
        Name of a preset, or path of a file.

    Returns
    -------
    SchoolRules

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
    table, faults = validated(_File, raw, Origin(file))
    if table is None:
        raise BenchFileError(faults)
    if not 1 <= table.combine.coverage_factor <= 4:
        got = f"{table.combine.coverage_factor:g}"
        fault = Fault(file, "combine.coverage_factor", "", "is outside 1 to 4", got, "write 2, or leave it out")
        raise BenchFileError((fault,))
    return _rules(table)


def _rules(table: _File) -> SchoolRules:
    parts = ("reading", "difference", "repeats", "combine", "gradient", "figures", "agreement")
    return SchoolRules(
        name=table.name,
        description=table.description,
        reading=table.reading.rule,
        readings_in_difference=table.difference.readings,
        repeats=table.repeats.rule,
        combine=table.combine.rule,
        gradient=table.gradient.rule,
        agreement=table.agreement.rule,
        coverage_factor=float(table.combine.coverage_factor),
        figures=table.figures.digits,
        sources={part: getattr(table, part).source for part in parts},
    )
