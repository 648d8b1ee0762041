"""Where results will fall: the recommended kit and today's, as intervals about the true value."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.figures.canvas import About, Figure, IntervalRow, figure, interval_rows
from reports.tables.tables import Column, Table, table
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.search.plan import Plan, RankedDesign


def prospect(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> Figure:
    """Draw expected value and interval of the recommended design and, where there is one, of today's."""
    _ = say.text
    rows = [(_("word.recommended"), design)]
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
    drawn = [
        IntervalRow(name, one.bias_percent, *one.interval_percent, "solid" if place == 0 else "faint")
        for place, (name, one) in enumerate(rows)
    ]
    about = About(0.0, _("word.true_value"), "%", 0.16, say)
    return figure(
        "prospect",
        lambda name, width: interval_rows(name, width, drawn, about, alt),
        alt,
        _("prospect.error_result_per_cent", coverage=coverage),
        _table(rows, say),
    )


def _table(rows: Sequence[tuple[str, RankedDesign]], say: Language) -> Table:
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
