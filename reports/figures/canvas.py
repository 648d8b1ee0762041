"""What figures share: colours from the stylesheet, type, SVG fit to stand inside a page, and rows of bars."""

from __future__ import annotations

import io
import re
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from reports.tables.tables import Table


WIDE = 7.2
"""Width of a figure on paper and on a screen with room. [inch]"""
NARROW = 3.5
"""Width of the same figure on a telephone. [inch]"""
TEXT_SIZE = 8.5
"""Size of labels. [pt]"""
SMALL_TEXT = 7.5
COLOUR_NAMES = (
    "paper", "ink", "muted", "rule", "hair", "blue", "orange", "wash",
    *(f"level-{shade}" for shade in range(1, 7)),
)  # fmt: skip


@dataclass(frozen=True)
class Figure:
    """
    A figure for a page.

    Parameters
    ----------
    svg, narrow_svg : str
        Markup for paper and wide screens, and for narrow ones.
    alt : str
        What the figure says, with its numbers.
    caption : str
        How to read it.
    table : Table
        The numbers behind it.
    """

    svg: str
    narrow_svg: str
    alt: str
    caption: str
    table: Table


def figure(name: str, draw: Callable[[str, float], str], alt: str, caption: str, table: Table) -> Figure:
    """Draw a figure in both widths; ``draw`` is told the name and the width [inch] of each drawing."""
    return Figure(draw(name, WIDE), draw(f"{name}-narrow", NARROW), alt, caption, table)


@cache
def colours() -> dict[str, str]:
    """Read the light colours out of the stylesheet: name to ``#rrggbb``."""
    sheet = (files("reports") / "templates" / "style.css").read_text(encoding="utf-8")
    light = sheet[sheet.index(":root") : sheet.index("}")]
    found = dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6})", light))
    return {name: found[name] for name in COLOUR_NAMES}


@contextmanager
def drawing(name: str, width: float, height: float) -> Iterator[tuple[Any, Any]]:
    """
    Open a matplotlib figure with one pair of axes in the style of the pages.

    Parameters
    ----------
    name : str
        Salt of the identifiers in the SVG, so that the same drawing gives the same bytes.
    width, height : float
        Size. [inch]

    Yields
    ------
    tuple
        The figure and its axes, without frame.
    """
    import matplotlib as mpl
    from cycler import cycler
    from matplotlib.figure import Figure as Canvas

    ink = colours()["ink"]
    style: dict[str, Any] = {
        "svg.hashsalt": name,
        "svg.fonttype": "none",
        "font.family": "DejaVu Sans",
        "font.size": TEXT_SIZE,
        "text.color": ink,
        "axes.edgecolor": colours()["rule"],
        "axes.labelcolor": ink,
        "axes.linewidth": 0.8,
        "axes.prop_cycle": cycler(color=[ink]),
        "xtick.color": colours()["rule"],
        "ytick.color": colours()["rule"],
        "xtick.labelcolor": colours()["muted"],
        "ytick.labelcolor": colours()["muted"],
        "xtick.labelsize": SMALL_TEXT,
        "ytick.labelsize": SMALL_TEXT,
        "hatch.linewidth": 0.6,
        "patch.linewidth": 0.8,
        "lines.linewidth": 1.4,
        "axes.unicode_minus": True,
    }
    with mpl.rc_context(style):  # type: ignore[arg-type, unused-ignore]
        canvas = Canvas(figsize=(width, height))
        axes = canvas.add_axes((0, 0, 1, 1))
        axes.set_facecolor("none")
        canvas.patch.set_visible(False)
        for side in axes.spines.values():
            side.set_visible(False)
        yield canvas, axes


def row_label(axes: Any, position: float, text: str, characters: tuple[int, int] = (38, 50), **style: Any) -> None:
    """Name a row: left of the axes on a wide drawing, above its bar on a narrow one."""
    transform = axes.get_yaxis_transform()
    if axes.figure.get_figwidth() > NARROW:
        label = wrapped(text, characters[0])
        axes.text(-0.02, position, label, transform=transform, va="center", ha="right", **style)
        return
    label = wrapped(text, characters[1], 1)
    written = axes.text(0.0, position - 0.22, label, transform=transform, va="center", ha="left", **style)
    written.set_bbox(label_ground())


def signed_tick(value: float, say: Language = ENGLISH, *, zero: str = "0", unit: str = "") -> str:
    """Write a tick of an axis of errors; the true value in words."""
    if abs(value) < 1e-12:
        return zero
    number = say.number(f"{value:+g}".replace("-", rounding.MINUS))
    return f"{number}{rounding.THIN}{unit}" if unit else number


def side_title(axes: Any, text: str, above: float) -> None:
    """Write what the vertical axis shows, some inches above its upper end."""
    height = axes.get_position().height * axes.figure.get_figheight()
    axes.text(0, 1 + above / height, text, transform=axes.transAxes, ha="left", va="bottom", fontsize=SMALL_TEXT,
              color=colours()["muted"])  # fmt: skip


def label_ground() -> dict[str, Any]:
    """Ground of a label that stands over lines, so that none of them crosses its letters."""
    return {"facecolor": colours()["paper"], "edgecolor": "none", "pad": 0.6}


def axis_title(axes: Any, text: str) -> None:
    """Write what the horizontal axis shows, below its right end."""
    below = -0.30 / (axes.get_position().height * axes.figure.get_figheight())
    muted = colours()["muted"]
    axes.text(1.0, below, text, transform=axes.transAxes, ha="right", va="top", fontsize=SMALL_TEXT, color=muted)


def markup(canvas: Any, name: str, alt: str) -> str:
    """
    Write a drawing as SVG to be put inside a page, of the class of its width.

    Identifiers begin with the name, colours become the stylesheet's custom properties, the size is left
    to the page, and the text alternative is the accessible name.
    """
    css_class = "wide-figure" if canvas.get_figwidth() > NARROW else "narrow-figure"
    buffer = io.StringIO()
    canvas.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'(xlink:href="#|url\(#)([^")]+)', rf"\1{name}-\2", text)
    text = re.sub(r"font: ([0-9.]+px) [^;\"]+", r"font-size: \1", text)
    text = re.sub(r"font: ((?:bold|italic|[0-9]{3}) [0-9.]+px) [^;\"]+", _weight, text)
    text = text.replace("xlink:href", "href").replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    text = text.replace(' xmlns="http://www.w3.org/2000/svg"', "").replace(
        "*{stroke-linejoin", f"#{name} *{{stroke-linejoin"
    )
    for colour, value in colours().items():
        text = text.replace(value, f"var(--{colour})")
    head = text[: text.index(">")]
    box = re.search(r'viewBox="[^"]+"', head)
    if box is None:
        raise ValueError(f"the drawing {name} has no view box")
    opening = f'<svg id="{name}" class="{css_class}" {box.group()} role="img" aria-label="{_attribute(alt)}">'
    return opening + text[text.index(">") + 1 :].strip() + "\n"


def _weight(match: re.Match[str]) -> str:
    weight, size = match.group(1).split()
    return f"font-weight: {weight}; font-size: {size}"


def _attribute(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;").replace(">", "&gt;")


def wrapped(text: str, characters: int, lines: int = 2) -> str:
    """Break a label into at most some lines; what is left over ends in an ellipsis."""
    import textwrap

    return "\n".join(textwrap.wrap(text, characters, max_lines=lines, placeholder=" …"))


Look = Literal["solid", "hatched", "lined", "crossed", "faint", "own"]
HATCHES = {"solid": None, "own": None, "hatched": "//////", "faint": "//////", "lined": "----", "crossed": "xxxx"}
"""Hatching by look, so that looks differ without colour."""


@dataclass(frozen=True)
class IntervalRow:
    """A value with its interval, what it is called, and how it looks."""

    label: str
    value: float
    low: float
    high: float
    look: Look


@dataclass(frozen=True)
class ShareBar:
    """
    A part of a whole.

    Parameters
    ----------
    label, note : str
        What it is, and what stands behind its bar; the share in per cent where the note is left out.
    share : float
        Length. [1]
    interval : tuple of float or None
        Interval of the share, drawn as a thin line. [1]
    hatched : bool
        Hatched instead of solid.
    """

    label: str
    share: float
    interval: tuple[float, float] | None = None
    hatched: bool = False
    note: str = ""

    @property
    def end(self) -> float:
        """Right end of what is drawn. [1]"""
        return max(self.share, self.interval[1] if self.interval else 0.0)


@dataclass(frozen=True)
class About:
    """What rows stand about: a value, its word, the unit of the axis, and the part of the width for the labels."""

    value: float
    word: str
    unit: str
    labels: float
    say: Language = ENGLISH


def interval_rows(name: str, width: float, rows: Sequence[IntervalRow], about: About, alt: str) -> str:
    """Draw intervals about a value, as markup for a page."""
    wide = width > NARROW
    above, below = (0.2, 0.42) if about.value else (0.04, 0.36)
    height = (0.32 if wide else 0.48) * len(rows) + above + below
    with drawing(name, width, height) as (canvas, axes):
        left = about.labels if wide else 0.03
        axes.set_position((left, below / height, 0.96 - left, 1 - (above + below) / height))
        ends = [about.value, *(end for row in rows for end in (row.low, row.high, row.value))]
        span = max(ends) - min(ends) or 1.0
        axes.set_xlim(min(ends) - 0.05 * span, max(ends) + 0.05 * span)
        for position, row in enumerate(rows):
            _interval(axes, position, row, wide=wide)
        _about(axes, len(rows), about, wide=wide)
        return markup(canvas, name, alt)


def _interval(axes: Any, position: int, row: IntervalRow, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    edge = {"own": tint["orange"], "faint": tint["muted"]}.get(row.look, tint["blue"])
    axes.barh(
        place, row.high - row.low, left=row.low, height=0.46 if wide else 0.3, linewidth=1.1,
        facecolor=tint["blue"] if row.look == "solid" else tint["paper"], edgecolor=edge, hatch=HATCHES[row.look],
    )  # fmt: skip
    marker = "D" if row.look == "own" else "o"
    axes.plot([row.value], [place], marker=marker, markersize=6, color=tint["paper"], markeredgecolor=tint["ink"])
    row_label(axes, position, row.label, fontsize=SMALL_TEXT)


def _about(axes: Any, rows: int, about: About, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(about.value, color=colours()["ink"], linewidth=1.1, linestyle=(0, (3, 2)), zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(7 if wide else 4))
    if about.value == 0.0:
        axes.xaxis.set_major_formatter(
            FuncFormatter(lambda value, _: signed_tick(value, about.say, zero=about.word, unit=about.unit))
        )
        return
    axes.text(about.value, 1.01, about.word, transform=axes.get_xaxis_transform(), ha="center", va="bottom",
              fontsize=SMALL_TEXT)  # fmt: skip
    axis_title(axes, about.unit)


def share_rows(
    name: str, width: float, rows: Sequence[ShareBar], title: str, alt: str, *, halves: bool = False,
    say: Language = ENGLISH,
) -> str:  # fmt: skip
    """Draw shares of a whole, as markup for a page; with ``halves`` a line at one half, on an axis up to the whole."""
    wide = width > NARROW
    height = (0.42 if wide else 0.62) * len(rows) + 0.55
    with drawing(name, width, height) as (canvas, axes):
        left = 0.40 if wide else 0.02
        axes.set_position((left, 0.45 / height, 0.98 - left, 1 - 0.5 / height))
        reach = 100.0 if halves else 100 * max([row.end for row in rows] + [0.01])
        longest = max((len(row.note) for row in rows), default=0)
        room = (0.5 + 0.075 * longest) / (width * (0.98 - left))  # part of the width that the longest note takes
        axes.set_xlim(0, reach / max(1 - room, 0.3))
        for position, row in enumerate(rows):
            _share(axes, position, row, say, wide=wide)
        _scale(axes, len(rows), reach, say)
        if halves:
            axes.axvline(50, color=colours()["ink"], linewidth=0.9, linestyle=(0, (3, 2)), zorder=3)
        axis_title(axes, title)
        return markup(canvas, name, alt)


def _share(axes: Any, position: int, row: ShareBar, say: Language, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    axes.barh(
        place, 100 * max(row.share, 0.0), height=0.52 if wide else 0.34, linewidth=1.1, edgecolor=tint["blue"],
        facecolor=tint["paper"] if row.hatched else tint["blue"], hatch="//////" if row.hatched else None,
    )  # fmt: skip
    if row.interval:
        ends = [100 * max(end, 0.0) for end in row.interval]
        axes.plot(ends, [place, place], color=tint["ink"], linewidth=0.9)
        axes.plot(ends, [place, place], color=tint["ink"], linestyle="none", marker="|", markersize=5)
    written = say.percent_of_share(row.share) + (f"\u2003{row.note}" if row.note else "")
    axes.text(100 * row.end + axes.get_xlim()[1] * 0.02, place, written, va="center", ha="left")
    row_label(axes, position, row.label)


def _scale(axes: Any, rows: int, reach: float, say: Language) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    ticks = [tick for tick in MaxNLocator(5).tick_values(0, reach) if 0 <= tick <= reach * 1.05]
    axes.set_xticks(ticks, [say.number(f"{tick:g}") for tick in ticks])
