"""Where on a map the name of a limit has room: inside its region, beside the edge that it makes."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.canvas import SMALL_TEXT, colours

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

    from design.plan import ErrorMap

CHARACTER = 0.066
"""Width to allow for a character of a name. [inch]"""
LINE = 0.145
"""Height to allow for a line of it. [inch]"""
ROOM = 0.12
"""Free space to leave around a name, both ways together. [inch]"""


@dataclass(frozen=True)
class Name:
    """A name broken into lines, and the middle of its place in columns and rows of the map."""

    text: str
    column: float
    row: float


def names_with_room(grid: ErrorMap, spot: tuple[int, int], cell: tuple[float, float]) -> dict[str, Name]:
    """
    Place the names of those limits whose region has room for them.

    Parameters
    ----------
    grid : ErrorMap
        The map.
    spot : tuple of int
        Row and column to keep free.
    cell : tuple of float
        Width and height of a cell. [inch]

    Returns
    -------
    dict of str to Name
        By the limit; a limit without room for its name is left out.
    """
    found = {}
    for limit in dict.fromkeys(str(text) for text in grid.limit.ravel() if text):
        region = grid.limit == limit
        region[spot] = False
        placed = _place(limit, region, grid.limit == "", cell)
        if placed is not None:
            found[limit] = placed
    return found


def draw_names(axes: Any, named: dict[str, Name]) -> None:
    """Write the names on the map, each on a ground of its own so that the hatching does not cross the letters."""
    tint = colours()
    box = {"boxstyle": "square,pad=0.25", "facecolor": tint["paper"], "edgecolor": "none"}
    for name in named.values():
        axes.text(
            name.column, name.row, name.text, ha="center", va="center", fontsize=SMALL_TEXT, linespacing=1.15, bbox=box
        )


def _place(limit: str, region: np.ndarray, feasible: np.ndarray, cell: tuple[float, float]) -> Name | None:
    """Of all rectangles that hold the name take the one nearest to the feasible settings, then the largest."""
    best: tuple[float, float] | None = None
    chosen = None
    for top, left, height, width in _rectangles(region):
        characters = int((width * cell[0] - ROOM) / CHARACTER)
        lines = textwrap.wrap(limit, characters, break_long_words=False) if characters > 0 else []
        fits = lines and max(map(len, lines)) <= characters and len(lines) * LINE + ROOM <= height * cell[1]
        if not fits:
            continue
        row, column = top + (height - 1) / 2, left + (width - 1) / 2
        score = (float(len(lines)), _distance(feasible, row, column))
        if best is None or score < best:
            best, chosen = score, Name("\n".join(lines), column, row)
    return chosen


def _rectangles(region: np.ndarray) -> Iterator[tuple[int, int, int, int]]:
    """First row, first column, height and width of every rectangle inside the region that cannot grow sideways."""
    import numpy as np

    rows, columns = region.shape
    for top in range(rows):
        for bottom in range(top, rows):
            inside = np.all(region[top : bottom + 1], axis=0)
            start = None
            for column in range(columns + 1):
                if column < columns and inside[column]:
                    start = column if start is None else start
                elif start is not None:
                    yield top, start, bottom - top + 1, column - start
                    start = None


def _distance(feasible: np.ndarray, row: float, column: float) -> float:
    """Distance of a place from the nearest feasible setting, in cells; 0 where there is none."""
    import numpy as np

    rows, columns = np.nonzero(feasible)
    if not len(rows):
        return 0.0
    return float(np.min(np.hypot(rows - row, columns - column)))
