"""Errors of the bench, in the words of the person who wrote the file."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


class DesignError(ValueError):
    """Something about the bench that its owner can put right; the message says what and how."""


class FieldError(ValueError):
    """What is wrong with a value, what would be right, and which keys of a table show it."""

    def __init__(self, wrong: str, right: str, keys: tuple[str, ...] = ()) -> None:
        super().__init__(f"{wrong}; {right}")
        self.wrong, self.right, self.keys = wrong, right, keys


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Find the known word most like the one given, if any is like it."""
    folded = {name.casefold(): name for name in known}
    match = difflib.get_close_matches(word.casefold()[:60], folded, n=1, cutoff=0.6)
    return folded[match[0]] if match else None


def meant(word: str, known: Iterable[str]) -> str:
    """Ask whether the known word most like the one given was meant; empty where none is like it."""
    near = nearest(word, known)
    return f'did you mean "{near}"? ' if near else ""


def spaced(text: str) -> str:
    """Strip a text and make every run of white space in it one space."""
    return " ".join(text.split())


@dataclass(frozen=True)
class Fault:
    """
    One thing wrong with a file.

    Parameters
    ----------
    file : str
        File as the reader named it.
    place : str
        Key path (``balance[2].resolution``, tables counted from one) or row and column; empty for the
        file as a whole.
    item : str
        Name of the shelf item, where there is one.
    wrong : str
        What is wrong.
    got : str
        The value found, as it stands in the file.
    right : str
        What would be right.
    """

    file: str
    place: str
    item: str
    wrong: str
    got: str
    right: str

    def __str__(self) -> str:
        """Give the fault on one line, fit for a terminal."""
        item = f'"{self.item}"' if self.item else ""
        where = " ".join(part for part in (self.place, item) if part)
        head = f"{self.file}: {where}: " if where else f"{self.file}: "
        line = f"{head}{self.wrong} (got {self.got}); {self.right}"
        return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in line)


class BenchFileError(DesignError):
    """
    A bench file, or a shelf file beside it, that cannot be used.

    Parameters
    ----------
    faults : tuple of Fault
        Everything found wrong, in file order; at least one.
    """

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(write_message(faults))
        self.faults = faults


def write_message(faults: tuple[Fault, ...]) -> str:
    r"""
    Write faults as plain text for a terminal: one line each, under a count where there are several.

    Parameters
    ----------
    faults : tuple of Fault
        What was found wrong.

    Returns
    -------
    str
        The text, without a line feed at its end.

    Examples
    --------
    >>> fault = Fault("a.toml", "lesson.length", "", "is missing", "nothing", 'write "70 min"')
    >>> print(write_message((fault,)))
    a.toml: lesson.length: is missing (got nothing); write "70 min"
    """
    lines = [str(fault) for fault in faults]
    if len(lines) == 1:
        return lines[0]
    return "\n".join([f"{len(lines)} things to put right:", *lines])
