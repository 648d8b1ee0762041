"""The folder of a report: it appears whole or not at all, and an earlier report is never lost."""

from __future__ import annotations

import os
import secrets
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from reports.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


STORE = "finished"
"""Folder in which a stopped search keeps what it has finished."""


def check_folder(folder: Path) -> None:
    """
    Make sure, before anything is computed, that a report can be written to a folder.

    Raises
    ------
    OutputError
        If the path is a file, or it or the nearest folder above it cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"--out {folder}: is a file; give the name of a folder")
    above = next((path for path in (folder, *folder.absolute().parents) if path.exists()), None)
    if above is None or not above.is_dir():
        raise OutputError(f"--out {folder}: {above or folder} is not a folder; give a folder in one that exists")
    for place in {above, folder.absolute().parent} if folder.exists() else {above}:
        _try_to_write(folder, place)


def write_folder(folder: Path, contents: Mapping[str, bytes], obsolete: Iterable[str] = ()) -> None:
    """
    Write files into a folder so that a reader finds all the old ones or all the new ones.

    The folder is made where it does not exist; files in it that are not named are kept, and obsolete ones, of an
    earlier report, are taken away.

    Raises
    ------
    OutputError
        If a file cannot be written; what was there before is then there again.
    """
    target = folder.resolve()
    made = [path for path in (target.parent, *target.parent.parents) if not path.exists()]
    workshop = target.parent / f".{target.name}-{secrets.token_hex(4)}"
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        new = workshop / target.name
        new.mkdir(parents=True)
        for name, content in contents.items():
            (new / name).parent.mkdir(parents=True, exist_ok=True)
            (new / name).write_bytes(content)
        if target.exists():
            _exchange(new, target, workshop / "old", [*contents, *(set(obsolete) - set(contents))])
        else:
            new.rename(target)
    except OSError as error:
        for path in made:
            _remove_if_empty(path, workshop)
        raise OutputError(f"--out {folder}: cannot be written ({error.strerror or error})") from error
    finally:
        shutil.rmtree(workshop, ignore_errors=True)


def clear(folder: Path, names: Iterable[str]) -> None:
    """Take away what a stopped search left, and the folders where nothing else is in them."""
    if not folder.is_dir():
        return
    shutil.rmtree(folder / STORE, ignore_errors=True)
    places = {folder}
    for name in names:
        (folder / name).unlink(missing_ok=True)
        places.add((folder / name).parent)
    for place in sorted(places, reverse=True):
        if place.is_dir() and not any(place.iterdir()):
            place.rmdir()


def _exchange(new: Path, target: Path, old: Path, names: Iterable[str]) -> None:
    """Move old files out and new ones in, one by one; put everything back where one fails."""
    done: list[str] = []
    try:
        for name in names:
            done.append(name)
            if (target / name).exists():
                (old / name).parent.mkdir(parents=True, exist_ok=True)
                (target / name).rename(old / name)
            if (new / name).exists():
                (target / name).parent.mkdir(parents=True, exist_ok=True)
                (new / name).rename(target / name)
    except BaseException:
        for name in done:
            if (old / name).exists():
                (old / name).replace(target / name)
            elif not (new / name).exists() and (target / name).is_file():
                (target / name).unlink()
        raise


def _remove_if_empty(path: Path, workshop: Path) -> None:
    shutil.rmtree(workshop, ignore_errors=True)
    if path.is_dir() and not any(path.iterdir()):
        path.rmdir()


def _try_to_write(folder: Path, place: Path) -> None:
    """Write and take away an empty file: permissions alone do not tell on every file system."""
    probe = place / f".boiloff-{secrets.token_hex(4)}"
    try:
        probe.touch(exist_ok=False)
        probe.unlink()
    except OSError as error:
        raise OutputError(
            f"--out {folder}: {place} cannot be written ({error.strerror or error}); "
            "give a folder that you may write to"
        ) from error
    if not os.access(place, os.X_OK):
        raise OutputError(f"--out {folder}: {place} cannot be opened; give a folder that you may write to")
