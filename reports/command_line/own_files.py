"""Files of one's own: those to start from (bench, shelves, blank readings sheets, budgets), and the check of one."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import TYPE_CHECKING

from budget.budget_file import read_budget_file
from design.bench_files.reader import read_bench
from design.kit import FITTING_ROLES
from reports.command_line.output_folder import write_folder
from reports.errors import OutputError
from reports.words.languages import ENGLISH

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable
    from pathlib import Path

BENCH = "demo.toml"
"""Bench file that everybody starts from, among the installed configs."""

SHEETS = "sheets"
"""Folder of the blank readings sheets, one a procedure, among the installed configs."""
BUDGETS = ("budgets/pendulum.toml", "budgets/wire.toml", "budgets/lens.toml")
"""Commented budget files to start from."""


def _starter_files() -> dict[str, bytes]:
    """Read the bench file to start from, as ``bench.toml``, its shelves, blank readings sheets, and budget files."""
    configs = files("configs")
    bench = (configs / BENCH).read_bytes()
    contents = {"bench.toml": bench}
    for place in tomllib.loads(bench.decode("utf-8")).get("shelves", {}).values():
        names = [place] if isinstance(place, str) else place
        contents.update({name: _read(configs, name) for name in names})
    sheets = sorted(path.name for path in (configs / SHEETS).iterdir() if path.name.endswith(".csv"))
    contents.update({f"{SHEETS}/{name}": _read(configs, f"{SHEETS}/{name}") for name in sheets})
    contents.update({name: _read(configs, name) for name in BUDGETS})
    return contents


def _read(folder: Traversable, name: str) -> bytes:
    for part in name.split("/"):
        folder = folder / part
    return folder.read_bytes()


def start(folder: Path) -> tuple[str, ...]:
    """
    Write the files to start from into a folder, and return their names.

    Raises
    ------
    OutputError
        If one of them is there already, or the folder cannot be written; nothing is written then.
    """
    contents = _starter_files()
    present = [name for name in contents if (folder / name).exists()]
    if present:
        raise OutputError(f"{folder}: {', '.join(present)} would be overwritten; give a folder without them")
    write_folder(folder, contents)
    return tuple(contents)


def run_check(file: Path) -> str:
    """Read a bench file or a budget file, and say that it can be used."""
    if _is_budget(file):
        model = read_budget_file(file).model
        return f"{file}: a budget file that can be used ({model.name or model.symbol}; inputs: {len(model.inputs)})."
    bench = read_bench(file)
    shelves = ((role, items) for role, items in bench.shelves.items() if items or role not in FITTING_ROLES)
    counted = ", ".join(f"{ENGLISH.text(f'shelf.{role}s').lower()}: {len(items)}" for role, items in shelves)
    return f"{file}: a bench file that can be used ({bench.name}; {counted})."


def _is_budget(file: Path) -> bool:
    """Tell whether a file states a measurand; a file that cannot be read is left to the reader of benches."""
    try:
        return "measurand" in tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return False
