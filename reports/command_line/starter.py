"""The files to start from: a commented bench file, the shelves beside it, and blank readings sheets."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from reports.command_line.output_folder import write_folder
from reports.errors import OutputError

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable
    from pathlib import Path

BENCH = "demo.toml"
"""Bench file that everybody starts from, among the installed configs."""

SHEETS = "sheets"
"""Folder of the blank readings sheets, one a procedure, among the installed configs."""


def starter_files() -> dict[str, bytes]:
    """Read the bench file to start from, as ``bench.toml``, the shelves that it names, and blank readings sheets."""
    import tomllib

    configs = files("configs")
    bench = (configs / BENCH).read_bytes()
    contents = {"bench.toml": bench}
    for place in tomllib.loads(bench.decode("utf-8")).get("shelves", {}).values():
        names = [place] if isinstance(place, str) else place
        contents.update({name: _read(configs, name) for name in names})
    sheets = sorted(path.name for path in (configs / SHEETS).iterdir() if path.name.endswith(".csv"))
    contents.update({f"{SHEETS}/{name}": _read(configs, f"{SHEETS}/{name}") for name in sheets})
    return contents


def _read(folder: Traversable, name: str) -> bytes:
    for part in name.split("/"):
        folder = folder / part
    return folder.read_bytes()


def start(folder: Path) -> tuple[str, ...]:
    """
    Write the files to start from into a folder.

    Returns
    -------
    tuple of str
        Names of the files written.

    Raises
    ------
    OutputError
        If one of them is there already, or the folder cannot be written; nothing is written then.
    """
    contents = starter_files()
    present = [name for name in contents if (folder / name).exists()]
    if present:
        raise OutputError(f"{folder}: {', '.join(present)} would be overwritten; give a folder without them")
    write_folder(folder, contents)
    return tuple(contents)
