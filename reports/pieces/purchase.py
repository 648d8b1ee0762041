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
        return _("Nothing has to be bought: what is in the cupboard does it.")
    things = say.listed([role_name(say, role) for role, *_rest in design.buy])
    if today is None:
        return _(
            "Needed: {things}, so that a class can measure the specific latent heat of vaporisation to {after}; the "
            "kit in the cupboard cannot do it.",
            things=things,
            after=say.percent(design.rms_error_percent),
        )
    return _(
        "Needed: {things}, so that a class measures the specific latent heat of vaporisation to {after} instead of "
        "{before}.",
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
        rows.append((_("Together"), BLANK, BLANK, total))
    headings = (_("Item"), _("Number"), _("Must be able to do"), _("Price in the bench file"))
    return grid(_("Specification"), headings, rows, [1, 3])


def effect_table(given: Given) -> Grid:
    """Error before and after, from its parts."""
    _, say, today = given.say.text, given.say, given.plan.current
    columns = [("", given.design)] if today is None else [(_("today"), today), ("", given.design)]
    headings = [_("Of the result"), *(name or _("with the purchase") for name, _design in columns)]
    rows = [
        (_("bias"), *(say.signed_percent(design.bias_percent) for _name, design in columns)),
        (
            _("standard uncertainty"),
            *(say.percent(design.standard_uncertainty_percent) for _name, design in columns),
        ),
        (_("rms error"), *(say.percent(design.rms_error_percent) for _name, design in columns)),
        (_("time of a lesson"), *(say.minutes(design.minutes) for _name, design in columns)),
    ]
    return grid(_("What it changes"), headings, rows, range(1, len(headings)))


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
                "error {factor} times that of the choice",
                factor=say.significant(one.rms_error_percent / given.design.rms_error_percent, 2),
            ),
        )
        for one in sorted(cheaper, key=lambda one: -one.price)[:ALTERNATIVES]
    ]
    headings = (_("Price"), _("To buy"), _("rms error"), _("Why not"))
    return grid(_("Cheaper alternatives"), headings, rows, [0, 2])


def _bought(given: Given, design: RankedDesign) -> str:
    if not design.buy:
        return given.say.text("nothing")
    return given.say.listed([f"{number} × {role_name(given.say, role)}" for role, _name, number, _price in design.buy])


def quotes(given: Given) -> Grid:
    """Empty lines for quotations."""
    _ = given.say.text
    headings = (_("Quotation"), _("Supplier"), _("Date"), _("Price with delivery"), _("Meets every figure?"))
    return grid(_("Quotations"), headings, [(str(n), *[BLANK] * 4) for n in range(1, QUOTES + 1)], writing=True)


def questions(given: Given) -> tuple[str, ...]:
    """Boxes to tick before buying."""
    _ = given.say.text
    return (
        _("Can it be borrowed or shared instead?"),
        _("Tried with one set before the others are ordered?"),
        _("Cost of testing, storing and replacing it over the years looked at?"),
        _("Agreed with whoever looks after the electrical equipment?"),
    )
