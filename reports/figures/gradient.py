"""The readings of a run: mass against energy or time, with fitted, steepest and shallowest line, and the residuals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, colours, drawing, figure, markup
from reports.tables.tables import Column, table
from reports.words.evaluate import spread, to_place_of
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from budget.arrays import FloatArray
    from design.evaluation.gradients import RunLine
    from reports.tables.tables import Table

Drawn = tuple[str, float]
"""Name and width of a drawing."""
BOTTOM, TOP, GAP = 0.44, 0.10, 0.46
"""Room below, above and between the two panels. [inch]"""
DASHED, DOTTED = (0, (5, 2)), (0, (1, 1.6))


def gradient(name: str, line: RunLine, say: Language = ENGLISH, *, fitted: bool = True) -> Figure:
    """
    Draw a run; without ``fitted`` its readings alone, where the value that the lines give is not to be shown yet.

    Parameters
    ----------
    name : str
        Of the drawing, its own on the page.
    line : RunLine
        The run.
    say : Language
        Language of its words.
    fitted : bool
        Whether lines and residuals are drawn.
    """
    _ = say.text
    energy, mass, _time = line.run.span
    read = {
        "run": line.run.name,
        "marks": say.fixed(line.run.mass.size, 0),
        "mass": say.mass(mass),
        "energy": say.in_unit(energy / 1e3, "kJ", 4),
        "u_mark": say.in_unit(1e3 * line.mark_uncertainty, "g", 2),
    }
    said = read | _lines(line, say)
    alt, caption = _("graph.readings_alt", **read), _("graph.readings_caption", **read)
    if fitted:
        alt = f"{alt} {_('graph.exact_alt' if line.exact else 'graph.lines_alt', **said)}"
        lines = _("graph.exact_caption" if line.exact else "graph.lines_caption", **said)
        caption = " ".join([caption, lines, *_noise(line, say)])
    return figure(
        name,
        lambda own, width: _draw((own, width), line, (alt, say), fitted=fitted),
        alt,
        caption,
        _table(name, line, say, fitted=fitted),
    )


def _lines(line: RunLine, say: Language) -> dict[str, str]:
    """What the lines give: values to the place of the standard uncertainty, half of what the outer lines differ by."""
    half = 0.5 * abs(line.largest - line.smallest)
    about = half if line.exact else line.standard_uncertainty
    return {
        "value": to_place_of(line.value, about, say),
        "u": spread(about, say),
        "degrees": say.fixed(line.degrees_of_freedom, 0),
        "largest": to_place_of(line.largest, about, say),
        "smallest": to_place_of(line.smallest, about, say),
        "limit": spread(half, say),
        "worst": say.in_unit(1e3 * float(np.max(np.abs(line.residuals))), "g", 2),
    }


def _noise(line: RunLine, say: Language) -> list[str]:
    """Chi-square of the line, where the residuals say something of the noise."""
    if line.fit is None or line.exact:
        return []
    ratio = f"{say.significant(line.fit.chi_square, 2)} / {line.fit.degrees_of_freedom}"
    return [say.text("graph.chi_square", ratio=ratio, chance=say.percent(100.0 * line.fit.chance))]


def _along(line: RunLine) -> tuple[FloatArray, float, str]:
    """Progress in the unit that is drawn, its factor, and the key of its name."""
    factor, key = (1.0, "graph.time_axis") if line.against == "time" else (1e-3, "graph.energy_axis")
    return factor * line.progress, factor, key


def _draw(drawn: Drawn, line: RunLine, words: tuple[str, Language], *, fitted: bool) -> str:
    (name, width), (alt, say) = drawn, words
    wide = width > NARROW
    height = (4.4 if wide else 4.0) if fitted else 3.0
    low = 1.15 if fitted else 0.0
    high = height - BOTTOM - TOP - 0.2 - (low + GAP if fitted else 0.0)
    left = 0.085 if wide else 0.15
    with drawing(name, width, height) as (canvas, first):
        first.set_position((0.0, 0.0, 1.0, 1.0))
        first.set_axis_off()
        start = BOTTOM + (low + GAP if fitted else 0.0)
        upper = canvas.add_axes((left, start / height, 0.97 - left, high / height))
        _readings(upper, line, say, fitted=fitted)
        if fitted:
            lower = canvas.add_axes((left, BOTTOM / height, 0.97 - left, low / height))
            _residuals(lower, line, say)
            lower.set_xlim(upper.get_xlim())
        last = lower if fitted else upper
        _, _factor, key = _along(line)
        inches = (low if fitted else high) or 1.0
        last.text(1.0, -0.30 / inches, say.text(key), transform=last.transAxes, ha="right", va="top",
                  fontsize=SMALL_TEXT, color=colours()["muted"])  # fmt: skip
        return markup(canvas, name, alt)


def _frame(axes: Any, title: str, say: Language) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_facecolor("none")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(labelsize=SMALL_TEXT, length=2.5)
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.xaxis.set_major_locator(MaxNLocator(6))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: say.number(f"{value:g}".replace("-", "\u2212"))))
    axes.set_title(title, loc="left", fontsize=SMALL_TEXT, color=colours()["ink"], pad=4)


def _marks(axes: Any, x: FloatArray, y: FloatArray, bar: float) -> None:
    tint = colours()
    axes.errorbar(x, y, yerr=bar, fmt="o", markersize=4, color=tint["blue"], markeredgecolor=tint["ink"],
                  markeredgewidth=0.6, ecolor=tint["ink"], elinewidth=0.9, capsize=2.5, zorder=3)  # fmt: skip


def _readings(axes: Any, line: RunLine, say: Language, *, fitted: bool) -> None:
    tint, (x, factor, _) = colours(), _along(line)
    _frame(axes, say.text("graph.mass_axis"), say)
    _marks(axes, x, 1e3 * line.run.mass, 1e3 * line.mark_uncertainty)
    if not fitted:
        return
    ends = np.array([x[0], x[-1]])
    axes.plot(ends, 1e3 * np.array([line.fitted[0], line.fitted[-1]]), color=tint["ink"], linewidth=1.2,
              label=say.text("graph.fitted"))  # fmt: skip
    for corners, key, dash in zip(line.corners, ("graph.shallowest", "graph.steepest"), (DASHED, DOTTED), strict=True):
        along, masses = zip(*corners, strict=True)
        axes.plot(factor * np.array(along), 1e3 * np.array(masses), color=tint["orange"], linewidth=1.2,
                  linestyle=dash, label=say.text(key))  # fmt: skip
    axes.legend(frameon=False, fontsize=SMALL_TEXT, loc="upper left", handlelength=2.6, borderaxespad=0.0)


def _residuals(axes: Any, line: RunLine, say: Language) -> None:
    tint, (x, factor, _) = colours(), _along(line)
    _frame(axes, say.text("graph.residual_axis"), say)
    axes.axhline(0.0, color=tint["ink"], linewidth=1.2)
    for corners, dash in zip(line.corners, (DASHED, DOTTED), strict=True):
        along = np.array([place for place, _ in corners])
        off = [mass - line.of_fitted(place) for place, mass in corners]
        axes.plot(factor * along, 1e3 * np.array(off), color=tint["orange"], linewidth=1.2, linestyle=dash)
    _marks(axes, x, 1e3 * line.residuals, 1e3 * line.mark_uncertainty)


def _table(name: str, line: RunLine, say: Language, *, fitted: bool) -> Table:
    _, run = say.text, line.run
    columns = [
        Column("mark", _("graph.mark")),
        Column("energy_kJ", _("graph.energy"), "significant", "kJ", 5),
        Column("mass_g", _("graph.mass"), "significant", "g", 5),
        Column("time_s", _("graph.time"), "significant", "s", 5),
    ]
    rows = [
        [run.readings[place][0].mark or str(place) if len(run.readings) > 1 else str(place),
         float(run.energy[place]) / 1e3, 1e3 * float(run.mass[place]),
         None if run.time is None else float(run.time[place])]
        for place in range(run.mass.size)
    ]  # fmt: skip
    if fitted:
        columns.append(Column("residual_g", _("graph.residual"), "significant", "g", 2))
        rows = [[*row, 1e3 * float(off)] for row, off in zip(rows, line.residuals, strict=True)]
    return table(name, _("graph.readings_table", run=run.name), columns, rows, say)
