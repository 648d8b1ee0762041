"""Error of the recommended kit over mass and power, with the limits that bound the feasible settings."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, axis_title, colours, drawing, figure, markup, side_title
from reports.tables.plan import map_table
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import limit_name

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    import numpy as np

    from design.chosen import Design
    from design.search.plan import ErrorMap, RankedDesign


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


Segment = list[tuple[float, float]]

LEVELS = 6
"""Shades of the map; the numbers in the cells say the values."""
HATCHES = ("////", "\\\\\\\\", "---", "|||", "//", "\\\\")


def error_map(grid: ErrorMap, design: RankedDesign, objective: str, say: Language = ENGLISH) -> Figure:
    """Draw the map; ``objective`` names what the search made small."""
    word, table = wording.objective(objective, say), map_table(grid, objective, say=say)
    grid = replace(grid, limit=_limits_in(grid, say))
    alt = _message(grid, design, word, say)
    return figure(
        "map",
        lambda own, width: _draw(own, grid, design, (alt, say), width),
        alt,
        say.text(
            "error_map.numbers_per_cent",
            objective=word,
        ),
        table,
    )


def limit_letters(grid: ErrorMap, named: Collection[str] = ()) -> dict[str, str]:
    """Give each limit that is not named on the map a letter, the one that excludes most settings first."""
    texts = [str(text) for text in grid.limit.ravel() if text and str(text) not in named]
    ordered = sorted(set(texts), key=lambda text: (-texts.count(text), text))
    return {text: chr(ord("A") + number) if number < 26 else str(number) for number, text in enumerate(ordered)}


def nearest_cell(grid: ErrorMap, design: Design) -> tuple[int, int]:
    """Row and column of the setting that is nearest to the recommended one."""
    rows = [abs(float(mass) - design.mass) for mass in grid.masses_kg]
    columns = [abs(float(power) - max(design.powers)) for power in grid.powers_W]
    return rows.index(min(rows)), columns.index(min(columns))


def _message(grid: ErrorMap, ranked: RankedDesign, word: str, say: Language) -> str:
    feasible = grid.limit == ""
    share = float(feasible.mean())
    low, high = float(grid.objective_percent[feasible].min()), float(grid.objective_percent[feasible].max())
    powers, masses = (
        say.text("error_map.low_high", low=write(float(axis[0]), say), high=write(float(axis[-1]), say))
        for write, axis in ((wording.power, grid.powers_W), (wording.mass, grid.masses_kg))
    )
    return say.text(
        "error_map.map_over_power",
        objective=word,
        powers=powers,
        masses=masses,
        share=say.percent_of_share(share),
        low=say.percent(low),
        high=say.percent(high),
        power=wording.powers(ranked.design.powers, say),
        mass=wording.mass(ranked.design.mass, say),
        error=say.percent(ranked.objective_percent),
        limits="; ".join(limit_letters(grid)) or say.text("word.none"),
    )


def _limits_in(grid: ErrorMap, say: Language) -> np.ndarray:
    """Name the limits of the map in a language."""
    import numpy as np

    return np.array([[limit_name(str(key), say) if key else "" for key in row] for row in grid.limit], dtype=object)


def _draw(name: str, grid: ErrorMap, ranked: RankedDesign, words: tuple[str, Language], width: float) -> str:
    alt, say = words
    wide = width > NARROW
    rows = len(grid.masses_kg)
    plot = min(max(0.27 * rows, 0.9), 3.6 if wide else 3.0)
    left, right = (0.085, 0.985) if wide else (0.155, 0.98)
    inches = ((right - left) * width / len(grid.powers_W), plot / rows)
    spot = nearest_cell(grid, ranked.design)
    named = names_with_room(grid, spot, inches)
    letters = limit_letters(grid, named)
    key = _key_lines(letters, 92 if wide else 52)
    below = 0.52 + 0.19 * len(key)
    height = plot + below + (0.36 if wide else 0.56)
    with drawing(name, width, height) as (canvas, axes):
        axes.set_position((left, below / height, right - left, plot / height))
        _cells(axes, grid)
        _edges(axes, grid)
        _numbers(axes, grid, (spot, inches), say)
        draw_names(axes, named)
        _letters(axes, grid, letters, spot)
        _recommended(axes, (ranked, spot, plot), say)
        _axes(axes, grid, inches, say)
        for number, line in enumerate(key):
            canvas.text(left, (below - 0.50 - 0.19 * number) / height, line, va="top", ha="left")
        return markup(canvas, name, alt)


def _key_lines(letters: Mapping[str, str], characters: int) -> list[str]:
    lines: list[str] = []
    for text, letter in letters.items():
        lines += textwrap.wrap(f"{letter}\u2002{text}", characters, subsequent_indent="     ")
    return lines


def _runs(labels: np.ndarray) -> Iterator[tuple[int, int, int, Any]]:
    """Row, first column, number of columns and label of each run of equal labels."""
    for i, row in enumerate(labels):
        start = 0
        for j in range(1, len(row) + 1):
            if j == len(row) or row[j] != row[start]:
                yield i, start, j - start, row[start]
                start = j


def _classes(grid: ErrorMap) -> np.ndarray:
    """Shade of each feasible cell, 1 for the smallest errors, by equal parts of their ranking."""
    import numpy as np

    feasible = grid.limit == ""
    ends = np.quantile(grid.objective_percent[feasible], np.linspace(0, 1, LEVELS + 1)[1:-1])
    shades: np.ndarray = np.digitize(grid.objective_percent, ends, right=True) + 1
    return shades


def _cells(axes: Any, grid: ErrorMap) -> None:
    from matplotlib.patches import Rectangle

    tint = colours()
    labels = _classes(grid).astype(object)
    broken = grid.limit != ""
    labels[broken] = grid.limit[broken]
    hatches = {text: HATCHES[number % len(HATCHES)] for number, text in enumerate(limit_letters(grid))}
    for i, start, length, label in _runs(labels):
        where = (start - 0.5, i - 0.5)
        if isinstance(label, str):
            axes.add_patch(
                Rectangle(
                    where, length, 1, facecolor=tint["paper"], edgecolor=tint["rule"], hatch=hatches[label], linewidth=0
                )
            )
        else:
            shade = tint[f"level-{label}"]
            axes.add_patch(Rectangle(where, length, 1, facecolor=shade, edgecolor=shade, linewidth=1))


def _edges(axes: Any, grid: ErrorMap) -> None:
    """Draw the edge of the feasible settings, and finer lines between one limit and the next."""
    from matplotlib.collections import LineCollection

    strong: list[Segment] = []
    fine: list[Segment] = []
    limit = grid.limit
    rows, columns = limit.shape
    for i in range(rows):
        for j in range(columns):
            if j + 1 < columns and limit[i, j] != limit[i, j + 1]:
                line = [(j + 0.5, i - 0.5), (j + 0.5, i + 0.5)]
                (fine if limit[i, j] and limit[i, j + 1] else strong).append(line)
            if i + 1 < rows and limit[i, j] != limit[i + 1, j]:
                line = [(j - 0.5, i + 0.5), (j + 0.5, i + 0.5)]
                (fine if limit[i, j] and limit[i + 1, j] else strong).append(line)
    tint = colours()
    axes.add_collection(LineCollection(fine, colors=tint["rule"], linewidths=0.8))
    axes.add_collection(LineCollection(strong, colors=tint["ink"], linewidths=1.6))


def _numbers(axes: Any, grid: ErrorMap, room: tuple[tuple[int, int], tuple[float, float]], say: Language) -> None:
    """Write the values in as many cells as there is room for, so placed that the ring has a free cell."""
    spot, inches = room
    across, up = math.ceil(0.43 / inches[0]), math.ceil(0.24 / inches[1])
    for i in range(spot[0] % up, len(grid.masses_kg), up):
        for j in range(spot[1] % across, len(grid.powers_W), across):
            if (i, j) == spot or grid.limit[i, j]:
                continue
            text = say.significant(float(grid.objective_percent[i, j]), 2)
            axes.text(j, i, text, ha="center", va="center", fontsize=SMALL_TEXT)


def _letters(axes: Any, grid: ErrorMap, letters: Mapping[str, str], spot: tuple[int, int]) -> None:
    tint = colours()
    for text, letter in letters.items():
        cells = [
            (i, j)
            for i in range(len(grid.masses_kg))
            for j in range(len(grid.powers_W))
            if grid.limit[i, j] == text and (i, j) != spot
        ]
        if not cells:
            continue
        middle = [sum(cell[axis] for cell in cells) / len(cells) for axis in (0, 1)]
        i, j = min(cells, key=lambda cell: math.dist(cell, middle))
        box = {"boxstyle": "circle,pad=0.25", "facecolor": tint["paper"], "edgecolor": tint["ink"], "linewidth": 0.9}
        axes.text(j, i, letter, ha="center", va="center", weight="bold", bbox=box)


def _recommended(axes: Any, drawn: tuple[RankedDesign, tuple[int, int], float], say: Language) -> None:
    """Draw the ring, and the same ring with its meaning above the map, where it hides no number."""
    ranked, spot, plot = drawn
    tint = colours()
    set_so = f"{wording.powers(ranked.design.powers, say)}, {wording.mass(ranked.design.mass, say)}"
    label = f"{say.text('word.recommended')}: {set_so}, {say.percent(ranked.objective_percent)}"
    above = 1 + (0.17 if axes.figure.get_figwidth() > NARROW else 0.40) / plot
    written = axes.text(1.0, above, label, transform=axes.transAxes, ha="right", va="center", weight="bold")
    axes.figure.draw_without_rendering()
    left = written.get_window_extent().transformed(axes.transAxes.inverted()).x0
    ring = {"marker": "o", "markerfacecolor": tint["paper"], "markeredgecolor": tint["orange"]}
    for x, y, transform in (
        (spot[1], spot[0], axes.transData),
        (left - 0.13 / axes.bbox.width * axes.figure.dpi, above, axes.transAxes),
    ):
        axes.plot([x], [y], markersize=11, markeredgewidth=2.4, transform=transform, clip_on=False, **ring)
        axes.plot([x], [y], marker="o", markersize=3, color=tint["orange"], transform=transform, clip_on=False)


def _axes(axes: Any, grid: ErrorMap, inches: tuple[float, float], say: Language) -> None:
    rows, columns = len(grid.masses_kg), len(grid.powers_W)
    axes.set_xlim(-0.5, columns - 0.5)
    axes.set_ylim(-0.5, rows - 0.5)
    across, up = math.ceil(0.62 / inches[0]), math.ceil(0.24 / inches[1])
    scale, unit = (1000, "kW") if float(grid.powers_W[-1]) >= 1000 else (1, "W")
    marks = range(0, columns, across)
    axes.set_xticks(marks, [say.number(f"{float(grid.powers_W[j]) / scale:.3g}") for j in marks])
    marks = range(0, rows, up)
    axes.set_yticks(marks, [say.fixed(float(grid.masses_kg[i]) * 1000, 0) for i in marks])
    axes.tick_params(length=2.5, width=0.7)
    axis_title(axes, say.text("error_map.power_unit", unit=unit))
    side_title(axes, say.text("error_map.mass_g"), 0.1)
