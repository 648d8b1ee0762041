"""Files as bytes and text, with faults instead of the system's words."""

from __future__ import annotations

import re
from pathlib import Path

from design.errors import BenchFileError, Fault

LARGEST_FILE = 4_000_000
"""Bytes above which a file is surely not a bench or a shelf."""


def refuse_file(file: str, wrong: str, got: str, right: str, place: str = "") -> BenchFileError:
    """Build the error for a file that cannot be read at all."""
    return BenchFileError((Fault(file, place, "", wrong, got, right),))


def read_bytes(path: Path, file: str, what: str) -> bytes:
    """
    Read a file whole.

    Parameters
    ----------
    path : Path
        Where it is.
    file : str
        Its name in messages.
    what : str
        What it should be, with its article.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    BenchFileError
        If it is missing, a folder, no plain file, too large or may not be read.
    """
    try:
        if path.is_dir():
            raise refuse_file(file, "is a folder", "a folder", f"name {what}")
        if not path.exists():
            raise refuse_file(file, "does not exist", "no such file", f"check the name, or write {what} there")
        if not path.is_file():
            raise refuse_file(file, "is no plain file", "a device or pipe", f"name {what}")
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except BenchFileError:
        raise
    except PermissionError:
        raise refuse_file(file, "may not be read", "permission denied", "allow reading it, or copy it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refuse_file(file, "cannot be read", reason, f"name {what}") from None
    if len(content) > LARGEST_FILE:
        size = f"more than {LARGEST_FILE // 1_000_000} MB"
        raise refuse_file(file, "is too large", size, f"name {what}; a few thousand characters are usual")
    return content


def printable(value: bytes) -> str:
    """Show the first bytes of something that is no text."""
    return " ".join(f"{byte:02x}" for byte in value[:8]) or "nothing"


def decoded_sheet(content: bytes, file: str, what: str) -> str:
    """
    Text of a CSV sheet: UTF-8 with or without mark, UTF-16 with one, or Windows-1252.

    Parameters
    ----------
    content : bytes
        The file's content.
    file, what : str
        Its name in messages, and what it should be.

    Raises
    ------
    BenchFileError
        If it is no text.
    """
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    elif b"\0" in content:
        raise refuse_file(file, "is no text", printable(content), f"save the sheet as {what}")
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise refuse_file(file, "is no text", printable(content), "save the sheet as CSV in UTF-8")


def separator_of(text: str) -> str:
    """Find the separator of a CSV sheet: what stands most in the heading row, outside quotes."""
    lines = (line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#"))
    heading = re.sub(r'"[^"]*"', "", next(lines, ""))
    return max(";\t,", key=heading.count)
