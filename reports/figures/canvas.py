"""What all figures share: colours from the stylesheet, type, and SVG fit to stand inside a page."""

from __future__ import annotations

import io
import re
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from reports.tables.tables import Table

WIDE = 7.2
"""Width of a figure on paper and on a screen with room. [inch]"""
NARROW = 3.5
"""Width of the same figure on a telephone. [inch]"""
TEXT_SIZE = 8.5
"""Size of labels. [pt]"""
SMALL_TEXT = 7.5
COLOUR_NAMES = (
    "paper",
    "ink",
    "muted",
    "rule",
    "hair",
    "blue",
    "orange",
    "wash",
    "level-1",
    "level-2",
    "level-3",
    "level-4",
    "level-5",
    "level-6",
)


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
