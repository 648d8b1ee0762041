"""The JSON of a report for other programs: to standard output for a pipe, or to a file of its own."""

from __future__ import annotations

import sys
from pathlib import Path

from reports.errors import OutputError

STANDARD_OUTPUT = "-"


def deliver(content: bytes, target: str) -> None:
    """
    Write the JSON file of a report once more where it was asked for.

    Parameters
    ----------
    content : bytes
        The file as it stands in the report's folder, UTF-8.
    target : str
        ``"-"`` for standard output, or a path; nothing is written where it is empty.

    Raises
    ------
    OutputError
        If the path cannot be written.
    """
    if not target:
        return
    if target != STANDARD_OUTPUT:
        try:
            Path(target).write_bytes(content)
        except OSError as error:
            raise OutputError(
                f"--json {target}: cannot be written ({error.strerror}); give a file in a folder that exists, or -"
            ) from error
        return
    stream = getattr(sys.stdout, "buffer", None)
    if stream is None:
        sys.stdout.write(content.decode("utf-8"))
    else:
        sys.stdout.flush()
        stream.write(content)
        stream.flush()
