"""Purchase justification: the need, the error before and after, what to ask for in figures, what else was looked at."""

from __future__ import annotations

from typing import Any

from design.kit import Item
from design.search.plan import RankedDesign
from reports.pieces.parts import BLANK, Given, Grid, grid, role_name, sentence_start
from reports.pieces.specification import figures_of

QUOTES = 3
"""Quotations to leave room for."""
ALTERNATIVES = 3


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the purchase justification."""
    return {
        "need": need(given),
        "specification": specification(given),
        "effect": effect_table(given),
        "alternatives": alternatives(given),
        "quotes": quotes(given),
        "questions": questions(given),
    }


def need(given: Given) -> str:
    """Say the need in one line."""
    _, say, design, today = given.say.text, given.say, given.design, given.plan.current
    if not design.buy:
        return _("purchase.nothing_has_bought")
    things = say.listed([role_name(say, role) for role, *_rest in design.buy])
    if today is None:
        return _("purchase.needed_class_can", things=things, after=say.percent(design.rms_error_percent))
    return _(
        "purchase.needed_class_measures",
        things=things,
        after=say.percent(design.rms_error_percent),
        before=say.percent(today.rms_error_percent),
    )


def specification(given: Given) -> Grid:
    """What to ask suppliers for: number and figures of each item, no names."""
    _, say = given.say.text, given.say
    items: dict[str, Item] = {str(role): item for role, item in given.kit.items.items()}
    rows = [
        (
            sentence_start(role_name(say, role)),
            say.fixed(number, 0),
            "; ".join(figures_of(given, items[role])),
            say.money(price, given.plan.currency),
        )
        for role, _name, number, price in given.design.buy
    ]
    if rows:
        total = say.money(given.design.price, given.plan.currency)
        rows.append((_("purchase.together"), BLANK, BLANK, total))
    headings = (_("word.item"), _("word.number"), _("purchase.must_able_do"), _("purchase.price_bench_file"))
    return grid(_("purchase.specification"), headings, rows, [1, 3])


def effect_table(given: Given) -> Grid:
    """Error before and after, from its parts."""
    _, say, today = given.say.text, given.say, given.plan.current
    columns = [("", given.design)] if today is None else [(_("purchase.today"), today), ("", given.design)]
    headings = [_("purchase.result"), *(name or _("purchase.purchase") for name, _design in columns)]
    rows = [
        (_("purchase.bias"), *(say.signed_percent(design.bias_percent) for _name, design in columns)),
        (
            _("objective.standard_uncertainty"),
            *(say.percent(design.standard_uncertainty_percent) for _name, design in columns),
        ),
        (_("objective.rms_error"), *(say.percent(design.rms_error_percent) for _name, design in columns)),
        (_("purchase.time_lesson"), *(say.minutes(design.minutes) for _name, design in columns)),
    ]
    return grid(_("purchase.what_changes"), headings, rows, range(1, len(headings)))


def alternatives(given: Given) -> Grid:
    """Cheaper designs of the price frontier, and why each was not taken."""
    _, say = given.say.text, given.say
    cheaper = [one for one in given.plan.frontier if one.price < given.design.price]
    rows = [
        (
            say.money(one.price, given.plan.currency),
            _bought(given, one),
            say.percent(one.rms_error_percent),
            _(
                "purchase.error_times_choice",
                factor=say.significant(one.rms_error_percent / given.design.rms_error_percent, 2),
            ),
        )
        for one in sorted(cheaper, key=lambda one: -one.price)[:ALTERNATIVES]
    ]
    headings = (_("word.price"), _("word.to_buy"), _("objective.rms_error"), _("purchase.why_not"))
    return grid(_("purchase.cheaper_alternatives"), headings, rows, [0, 2])


def _bought(given: Given, design: RankedDesign) -> str:
    if not design.buy:
        return given.say.text("word.nothing")
    return given.say.listed([f"{number} × {role_name(given.say, role)}" for role, _name, number, _price in design.buy])


def quotes(given: Given) -> Grid:
    """Empty lines for quotations."""
    _ = given.say.text
    headings = (
        _("purchase.quotation"),
        _("purchase.supplier"),
        _("word.date"),
        _("purchase.price_delivery"),
        _("purchase.meets_every_figure"),
    )
    return grid(
        _("purchase.quotations"), headings, [(str(n), *[BLANK] * 4) for n in range(1, QUOTES + 1)], writing=True
    )


def questions(given: Given) -> tuple[str, ...]:
    """Boxes to tick before buying."""
    _ = given.say.text
    return (
        _("purchase.can_borrowed_shared"),
        _("purchase.tried_one_set"),
        _("purchase.cost_testing_storing"),
        _("purchase.agreed_whoever_looks"),
    )
