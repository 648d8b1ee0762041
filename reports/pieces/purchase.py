"""Purchase justification: the need, the error before and after, what to ask for in figures, what else was looked at."""

from __future__ import annotations

from typing import Any

from design.chosen import Design
from design.kit import Item
from reports.pieces.parts import BLANK, PieceBasis, TextTable, sentence_start
from reports.pieces.specification import figures_of

QUOTES = 3
"""Quotations to leave room for."""
ALTERNATIVES = 3
QUOTATION = (
    "purchase.quotation", "purchase.supplier", "word.date", "purchase.price_delivery", "purchase.meets_every_figure",
)  # fmt: skip


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the purchase justification."""
    lines = [(str(number), *[BLANK] * 4) for number in range(1, QUOTES + 1)]
    return {
        "need": _need(given),
        "specification": _specification(given),
        "effect": _effect(given),
        "alternatives": _alternatives(given),
        "quotes": given.grid("purchase.quotations", QUOTATION, lines, writing=True),
        "questions": given.texts(
            "purchase.can_borrowed_shared", "purchase.tried_one_set", "purchase.cost_testing_storing",
            "purchase.agreed_whoever_looks",
        ),
    }  # fmt: skip


def _need(given: PieceBasis) -> str:
    """Say the need in one line."""
    _, say, ranked, today = given.say.text, given.say, given.ranked, given.plan.current
    if not ranked.design.buy:
        return _("purchase.nothing_has_bought")
    things = say.listed([given.role(role) for role, *_rest in ranked.design.buy])
    after = say.percent(ranked.rms_error_percent)
    if today is None:
        return _("purchase.needed_class_can", things=things, after=after)
    before = say.percent(today.rms_error_percent)
    return _("purchase.needed_class_measures", things=things, after=after, before=before)


def _specification(given: PieceBasis) -> TextTable:
    """What to ask suppliers for: number and figures of each item, no names."""
    say, currency = given.say, given.plan.currency
    items: dict[str, Item] = {str(role): item for role, item in given.design.kit.items.items()}
    rows = [
        (
            sentence_start(given.role(role)),
            say.fixed(number, 0),
            "; ".join(figures_of(given, items[role])),
            say.money(price, currency),
        )
        for role, _name, number, price in given.design.buy
    ]
    if rows:
        rows.append((say.text("purchase.together"), BLANK, BLANK, say.money(given.design.price, currency)))
    headings = ("word.item", "word.number", "purchase.must_able_do", "purchase.price_bench_file")
    return given.grid("purchase.specification", headings, rows, [1, 3])


def _effect(given: PieceBasis) -> TextTable:
    """Error before and after, from its parts."""
    say, today = given.say, given.plan.current
    designs = [given.ranked] if today is None else [today, given.ranked]
    headings = ("purchase.result", *(["purchase.today"] if today else []), "purchase.purchase")
    rows = [
        (say.text("purchase.bias"), *(say.signed_percent(one.bias_percent) for one in designs)),
        (
            say.text("objective.standard_uncertainty"),
            *(say.percent(one.standard_uncertainty_percent) for one in designs),
        ),
        (say.text("objective.rms_error"), *(say.percent(one.rms_error_percent) for one in designs)),
        (say.text("purchase.time_lesson"), *(say.minutes(one.design.minutes) for one in designs)),
    ]
    return given.grid("purchase.what_changes", headings, rows, range(1, len(headings)))


def _alternatives(given: PieceBasis) -> TextTable:
    """Cheaper designs of the price frontier, and why each was not taken."""
    say, chosen = given.say, given.ranked
    cheaper = [one for one in given.plan.frontier if one.design.price < chosen.design.price]
    rows = [
        (
            say.money(one.design.price, given.plan.currency),
            _bought(given, one.design),
            say.percent(one.rms_error_percent),
            say.text(
                "purchase.error_times_choice",
                factor=say.significant(one.rms_error_percent / chosen.rms_error_percent, 2),
            ),
        )
        for one in sorted(cheaper, key=lambda one: -one.design.price)[:ALTERNATIVES]
    ]
    headings = ("word.price", "word.to_buy", "objective.rms_error", "purchase.why_not")
    return given.grid("purchase.cheaper_alternatives", headings, rows, [0, 2])


def _bought(given: PieceBasis, design: Design) -> str:
    if not design.buy:
        return given.say.text("word.nothing")
    return given.say.listed([f"{number} × {given.role(role)}" for role, _name, number, _price in design.buy])
