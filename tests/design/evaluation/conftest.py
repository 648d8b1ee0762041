"""Sheets from the virtual bench, whose truth is known, for the tests of the evaluation."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from design.bench import Bench
from design.bench_files.reader import read_bench
from design.chosen import Design
from design.kit import Role
from design.procedures.face import pace_of
from design.procedures.registry import procedure_named
from design.rehearsal.behaviour import Truth
from design.rehearsal.playing import play
from design.rehearsal.script import script_of
from design.rehearsal.tally import sheet_columns, sheet_rows, written
from design.search.today import in_use
from design.setting.situation import Settings, situation_of
from design.sheets.cells import TypedSheet
from design.sheets.readings import Sheet
from design.sheets.readings_file import sheet_of

DEMO = Path(__file__).parents[3] / "configs" / "demo.toml"
DISPLAY: dict[Role, str] = {"balance": "Drip-proof bench balance"}
STEPPED: dict[Role, str] = {**DISPLAY, "heater": "Stepped heater", "meter": "Rail pulse meter"}

SHEETS = 1000
"""Sheets of a campaign; up to a hundred cost half as much to play."""

Rows = list[dict[str, str]]


@dataclass(frozen=True)
class Way:
    """A procedure on the demo bench: number of powers, correction, powers [W], mass step [kg], runs, other items."""

    procedure: str
    number_of_powers: int
    correction: str
    powers: tuple[float, ...]
    mass: float
    repeats: int
    items: tuple[tuple[Role, str], ...] = ()


WAYS = {
    "restart": Way("fixed-mass-restart", 1, "calculated", (700.0,), 0.12, 2),
    "kept on": Way("fixed-mass-kept-on", 1, "calculated", (700.0,), 0.12, 2),
    "whole counts": Way("whole-counts", 1, "calculated", (700.0,), 0.12, 2, tuple(DISPLAY.items())),
    "two powers": Way("two-powers", 2, "calculated", (1050.0, 350.0), 0.20, 1, tuple(STEPPED.items())),
    "series": Way("series", 1, "calculated", (700.0,), 0.20, 1, tuple(DISPLAY.items())),
    "series at two powers": Way("series", 2, "calculated", (1050.0, 350.0), 0.20, 1, tuple(STEPPED.items())),
    "cooling run": Way("whole-counts", 1, "cooling-run", (700.0,), 0.20, 1, tuple(DISPLAY.items())),
}


@dataclass(frozen=True)
class Handed:
    """Sheets handed in by many observers of one bench, with what was true of each."""

    used: Design
    bench: Bench
    sheets: tuple[Rows, ...]
    truth: Truth


@cache
def demo() -> Bench:
    return read_bench(DEMO)


def bench_for(way: Way) -> Bench:
    bench = demo()
    items: dict[Role, str] = {**bench.current.items, **dict(way.items)}
    current = replace(
        bench.current, procedure=way.procedure, correction=way.correction, items=items, power=way.powers[0]
    )
    return replace(bench, current=current)


def handed_in(name: str, number: int, seed: int) -> Handed:
    way = WAYS[name]
    bench = bench_for(way)
    used = in_use(bench)
    procedure = procedure_named(way.procedure, way.number_of_powers)
    settings = Settings(np.array([way.powers]), np.array([way.mass]), np.array([float(way.repeats)]))
    pace = pace_of(procedure, used.correction)
    situation = situation_of(used.conditions, used.kit, used.hardware, settings, pace)
    played = play(situation, script_of(procedure, situation), runs=number, seed=seed)
    noted = written(played)
    sheets = tuple(sheet_rows(noted, index, "1") for index in range(number))
    return Handed(used, bench, sheets, played.apparatus.truth)


def typed(rows: Sequence[dict[str, str]], columns: Sequence[str] = ()) -> Sheet:
    heads = tuple(columns) or sheet_columns(list(rows))
    cells = tuple((number, tuple(row.get(head, "") for head in heads)) for number, row in enumerate(rows, start=2))
    return sheet_of(TypedSheet(((1, heads), *cells), comma_is_decimal=False), "virtual.csv", "0" * 64)


@pytest.fixture(scope="session")
def hand_in(once: Callable[..., Path]) -> Callable[..., Handed]:
    """Play a way many times on the virtual bench: name, number, seed; a campaign is played once for the whole run."""

    @cache
    def campaign(name: str, number: int = SHEETS, seed: int = 11) -> Handed:
        def fill(folder: Path) -> None:
            (folder / "handed.pickle").write_bytes(pickle.dumps(handed_in(name, number, seed)))

        folder = once(f"campaign-{name.replace(' ', '-')}-{number}-{seed}", fill)
        handed: Handed = pickle.loads((folder / "handed.pickle").read_bytes())  # noqa: S301 - our own
        return handed

    return campaign


@pytest.fixture
def make_sheet() -> Callable[..., Sheet]:
    """Make a sheet of rows of typed cells."""
    return typed


@pytest.fixture
def demo_bench() -> Bench:
    """The demo bench, invented."""
    return demo()


@pytest.fixture
def two_runs() -> Rows:
    """Two good runs of fixed mass with stop and restart on the demo bench, invented."""
    marks = (("1", "0", "0", "12", "240"), ("1", "1", "432", "43", "120"),
             ("2", "0", "0", "50", "240"), ("2", "1", "438", "82", "120"))  # fmt: skip
    return [
        {"group": "1", "run": run, "mark": mark, "time_s": time, "counts": counts, "mass_g": mass, "heater": "on"}
        for run, mark, time, counts, mass in marks
    ]
