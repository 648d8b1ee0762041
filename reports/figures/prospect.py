"""Where results will fall: the recommended kit and today's, as intervals about the true value."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.figures.canvas import NARROW, SMALL_TEXT, WIDE, Figure, colours, drawing, label_ground, markup
from reports.tables.tables import Column, Table, table
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.search.plan import Plan, RankedDesign

Row = tuple[str, "RankedDesign"]


def prospect(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> Figure:
    """Draw expected value and interval of the recommended design and, where there is one, of today's."""
    _ = say.text
    rows: list[Row] = [(_("word.recommended"), design)]
    if plan.current is not None:
        rows.append((_("prospect.today_kit"), plan.current))
    coverage = say.percent_of_share(plan.coverage)
    parts = [
        _(
            "prospect.name_bias_low",
            name=name,
            bias=say.signed_percent(one.bias_percent),
            low=say.signed_percent(one.interval_percent[0]),
            high=say.signed_percent(one.interval_percent[1]),
        )
        for name, one in rows
    ]
    alt = _("prospect.expected_result_interval", coverage=coverage, parts="; ".join(parts))
    return Figure(
        svg=_draw("prospect", rows, alt, WIDE, say),
        narrow_svg=_draw("prospect-narrow", rows, alt, NARROW, say),
        alt=alt,
        caption=_(
            "prospect.error_result_per_cent",
            coverage=coverage,
        ),
        table=_table(rows, say),
    )


def _table(rows: Sequence[Row], say: Language) -> Table:
    _ = say.text
    return table(
        "prospect",
        _("prospect.expected_error_interval"),
        (
            Column("kit", _("word.kit")),
            Column("bias_percent", _("word.bias"), "signed percent"),
            Column("low_percent", _("prospect.from"), "signed percent"),
            Column("high_percent", _("prospect.to"), "signed percent"),
        ),
        [(name, design.bias_percent, *design.interval_percent) for name, design in rows],
        say,
    )


def _draw(name: str, rows: Sequence[Row], alt: str, width: float, say: Language) -> str:
    wide = width > NARROW
    row = 0.34 if wide else 0.46
    height = row * len(rows) + 0.42
    with drawing(name, width, height) as (canvas, axes):
        left = 0.16 if wide else 0.02
        axes.set_position((left, 0.36 / height, 0.97 - left, 1 - 0.4 / height))
        ends = [0.0, *(end for _, design in rows for end in design.interval_percent)]
        span = max(ends) - min(ends) or 1.0
        axes.set_xlim(min(ends) - 0.04 * span, max(ends) + 0.04 * span)
        for position, (label, design) in enumerate(rows):
            _row(axes, position, label, design, wide=wide)
        _scale(axes, len(rows), say, wide=wide)
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _row(axes: Any, position: int, label: str, design: RankedDesign, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.18)
    low, high = design.interval_percent
    first = position == 0
    axes.barh(
        place,
        high - low,
        left=low,
        height=0.42 if wide else 0.3,
        facecolor=tint["blue"] if first else tint["paper"],
        edgecolor=tint["blue"] if first else tint["muted"],
        hatch=None if first else "//////",
        linewidth=1.1,
    )
    axes.plot(
        [design.bias_percent], [place], marker="o", markersize=7, color=tint["paper"], markeredgecolor=tint["ink"]
    )
    weight = "bold" if first else "normal"
    transform = axes.get_yaxis_transform()
    if wide:
        axes.text(-0.02, place, label, transform=transform, va="center", ha="right", weight=weight)
    else:
        written = axes.text(0.0, position - 0.22, label, transform=transform, va="center", ha="left", weight=weight)
        written.set_bbox(label_ground())


def _scale(axes: Any, rows: int, say: Language, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    tint = colours()
    axes.set_ylim(rows - 0.4, -0.6 if wide else -0.5)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(0, color=tint["ink"], linewidth=1.1, linestyle=(0, (3, 2)), zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(8 if wide else 5))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: _tick(value, say)))
    axes.tick_params(labelsize=SMALL_TEXT)


def _tick(value: float, say: Language) -> str:
    if abs(value) < 1e-12:
        return say.text("word.true_value")
    return say.number(f"{value:+g}".replace("-", rounding.MINUS)) + f"{rounding.THIN}%"
