"""
Frozen results: what every command computes stays what it was, number by number, while the code is moved about.

Each JSON file beside this one holds every number of one run of a command, at seed 7. A fresh run must have the same
keys in the same order, the same words, and numbers equal to 1e-9 of themselves (about zero to 1e-12, of a latent heat
where it is one); the first difference is named by its path. Left out are the version of boiloff, which a release
changes, and the folder of this checkout before the names of files; nothing else is.

To freeze anew, after a change that is meant to change results::

    FREEZE=1 pytest -q tests/frozen

Look at the differences before they are committed, and write the reason into CHANGELOG.md: a result that changes
without one is a fault.

The readings under ``sheets`` were played once on the virtual bench (seed 23) and are kept as they are.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reports.command_line.cli import main

HERE = Path(__file__).parent
CONFIGS = HERE.parents[1] / "configs"
RELATIVE = 1e-9
ABSOLUTE = 1e-12
LATENT_HEAT = 2.26e6
FREEZE = os.environ.get("FREEZE") == "1"

DISPLAY = {"Old beam balance": "Drip-proof bench balance"}
STEPPED = {**DISPLAY, "Travel heater": "Stepped heater", "Old disk meter": "Rail pulse meter"}
SHEETS: dict[str, tuple[str, dict[str, str]]] = {
    "fixed-mass-restart": ("fixed-mass-restart", {}),
    "fixed-mass-kept-on": ("fixed-mass-kept-on", {}),
    "whole-counts": ("whole-counts", DISPLAY),
    "two-powers": ("two-powers", STEPPED),
    "series": ("series", DISPLAY),
    "cooling-run": ("whole-counts", DISPLAY),
}
"""Procedure of each sheet, and items of the demo bench that are exchanged for it under ``[current]``."""


def computed(folder: Path, command: str, *arguments: str | Path) -> dict[str, Any]:
    """Run a command, and read the JSON that it writes."""
    out = folder / "out"
    options = ("--seed", "7", "--workers", "1", "--quiet", "--out", str(out))
    assert main([command, *map(str, arguments), *options]) == 0
    text = (out / f"{command}.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text.replace(f"{CONFIGS.parent.as_posix()}/", ""))
    found.pop("boiloff", None)
    return found


def differences(frozen: Any, fresh: Any, path: str = "") -> Iterator[str]:
    """Paths where two JSON values differ, in their order."""
    if isinstance(frozen, dict) and isinstance(fresh, dict):
        if list(frozen) != list(fresh):
            yield f"{path or 'top'}: keys {list(frozen)} became {list(fresh)}"
        for key in frozen.keys() & fresh.keys():
            yield from differences(frozen[key], fresh[key], f"{path}.{key}".lstrip("."))
    elif isinstance(frozen, list) and isinstance(fresh, list):
        if len(frozen) != len(fresh):
            yield f"{path}: {len(frozen)} entries became {len(fresh)}"
        for place, (one, other) in enumerate(zip(frozen, fresh, strict=False)):
            yield from differences(one, other, f"{path}[{place}]")
    elif not alike(frozen, fresh, LATENT_HEAT if path.endswith("J_per_kg") else 1.0):
        yield f"{path}: {frozen!r} became {fresh!r}"


def alike(frozen: Any, fresh: Any, size: float) -> bool:
    if is_number(frozen) and is_number(fresh):
        return math.isclose(frozen, fresh, rel_tol=RELATIVE, abs_tol=ABSOLUTE * size)
    return type(frozen) is type(fresh) and bool(frozen == fresh)


def is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def check(name: str, fresh: dict[str, Any]) -> None:
    """Compare a fresh run with the frozen one, or freeze it."""
    file = HERE / f"{name}.json"
    if FREEZE:
        text = json.dumps(fresh, ensure_ascii=False, separators=(",", ":"))
        file.write_text(f"{text}\n", encoding="utf-8")
    frozen = json.loads(file.read_text(encoding="utf-8"))
    first = next(differences(frozen, fresh), "")
    assert not first, f"{file.name}: {first}"


def bench_of(folder: Path, procedure: str, items: dict[str, str]) -> Path:
    """Write the demo bench with other items in use and another procedure."""
    text = (CONFIGS / "demo.toml").read_text(encoding="utf-8").replace('"shelves/', f'"{CONFIGS.as_posix()}/shelves/')
    before, heading, after = text.partition("[current]")
    current, shelves, rest = after.partition("[shelves]")
    for name, other in {"fixed-mass-restart": procedure, **items}.items():
        assert name in current
        current = current.replace(name, other)
    bench = folder / "bench.toml"
    bench.write_text(f"{before}{heading}{current}{shelves}{rest}", encoding="utf-8")
    return bench


@pytest.mark.parametrize(
    "name", [pytest.param("demo", marks=pytest.mark.slow), "altitude", "mains120", "low-voltage", "cupboard"]
)
def test_the_plan_of_a_bench_is_what_it_was(name: str, tmp_path: Path) -> None:
    check(f"plan-{name}", computed(tmp_path, "plan", CONFIGS / f"{name}.toml"))


@pytest.mark.slow
def test_the_plan_of_the_large_bench_is_what_it_was(tmp_path: Path) -> None:
    check("plan-large", computed(tmp_path, "plan", CONFIGS / "large" / "bench.toml"))


@pytest.mark.parametrize("name", sorted(file.stem for file in (CONFIGS / "budgets").glob("*.toml")))
def test_the_budget_of_an_equation_is_what_it_was(name: str, tmp_path: Path) -> None:
    check(f"budget-{name}", computed(tmp_path, "budget", CONFIGS / "budgets" / f"{name}.toml"))


@pytest.mark.parametrize("name", sorted(file.stem for file in (CONFIGS / "sheets").glob("*.csv")))
def test_what_readings_give_is_what_it_was(name: str, tmp_path: Path) -> None:
    procedure, items = SHEETS[name]
    correction = ("--correction", "cooling-run") if name == "cooling-run" else ()
    arguments = (bench_of(tmp_path, procedure, items), HERE / "sheets" / f"{name}.csv", "--teacher", *correction)
    check(f"evaluate-{name}", computed(tmp_path, "evaluate", *arguments))


@pytest.mark.slow
def test_the_comparison_of_the_demo_is_what_it_was(tmp_path: Path) -> None:
    check("compare-demo", computed(tmp_path, "compare", CONFIGS / "demo.toml", "--trials", "2048"))


@pytest.mark.slow
def test_the_rehearsal_of_the_demo_is_what_it_was(tmp_path: Path) -> None:
    check("rehearse-demo", computed(tmp_path, "rehearse", CONFIGS / "demo.toml", "--runs", "40", "--trials", "2048"))


@pytest.mark.parametrize(
    ("fresh", "path"),
    [
        ({"a": [1.0, {"b": 2.0000001}], "c": "x", "d": 0.0}, "a[1].b: 2.0 became 2.0000001"),
        ({"a": [1.0, {"b": 2.0}], "c": "y", "d": 0.0}, "c: 'x' became 'y'"),
        ({"a": [1.0], "c": "x", "d": 0.0}, "a: 2 entries became 1"),
        ({"a": [1.0, {"b": 2.0}], "c": "x"}, "top: keys ['a', 'c', 'd'] became ['a', 'c']"),
        ({"a": [1.0, {"b": 2.0}], "c": "x", "d": None}, "d: 0.0 became None"),
        ({"a": [True, {"b": 2.0}], "c": "x", "d": 0.0}, "a[0]: 1.0 became True"),
    ],
)
def test_a_difference_is_named_by_its_path(fresh: dict[str, Any], path: str) -> None:
    frozen = {"a": [1.0, {"b": 2.0}], "c": "x", "d": 0.0}

    assert list(differences(frozen, fresh)) == [path]
    assert not list(differences(frozen, {"a": [1 + 1e-11, {"b": 2}], "c": "x", "d": 1e-13}))
