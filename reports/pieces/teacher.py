"""Teacher summary on one side: what to buy and set, how the lesson goes, and what counts as a good result."""

from __future__ import annotations

from typing import Any

from reports.pieces.drawings import interval_line, lesson_bar, stage_names, swatch
from reports.pieces.marking import SHORT_SIGNS
from reports.pieces.parts import PieceBasis, TextTable
from reports.pieces.specification import ranges_of
from reports.words.names import quantity_name
from reports.words.plan import decision, kit_words

NAMED_SOURCES = 3


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the teacher summary."""
    _, say, plan, ranked = given.say.text, given.say, given.plan, given.ranked
    stages = stage_names(say, ranked.design.time_table)
    used, lesson = say.minutes(ranked.design.minutes), say.minutes(plan.lesson_minutes)
    return {
        "decision": decision(plan, ranked, kit_words(ranked.design), say),
        "kit": _kit(given),
        "stages": [(name, minutes, swatch(place)) for place, (name, minutes) in enumerate(stages)],
        "together": _("teacher.used", minutes=used, lesson=lesson),
        "lesson": lesson_bar(given, stages),
        "interval": interval_line(given),
        "good": _("teacher.inside_bar_lessons", coverage=say.percent_of_share(plan.coverage)),
        "sources": _sources(given),
        "uncorrected": _uncorrected(given),
        "circuit": _circuit(given),
        "signs": [given.texts(high, low) for high, low in SHORT_SIGNS],
    }


def _kit(given: PieceBasis) -> TextTable:
    """List the kit: what each item must do, and whether it is there."""
    _, say = given.say.text, given.say
    bought = {
        role: _("teacher.buy", number=say.fixed(number, 0), price=say.money(price, given.plan.currency))
        for role, _name, number, price in given.design.buy
        if number
    }
    rows = [
        (given.role(role), item.name, ranges_of(given, item), bought.get(role) or _("teacher.cupboard"))
        for role, item in given.design.kit.items.items()
    ]
    return given.grid("teacher.kit_one_group", ("word.item", "word.name", "word.figures", "teacher.there"), rows)


def _uncorrected(given: PieceBasis) -> str:
    """Say what the readings alone will give, where the plan corrects them."""
    if not given.design.corrected:
        return ""
    say = given.say
    low, high = (say.latent_heat(end, given.ranked.standard_uncertainty_percent) for end in given.uncorrected_range)
    return say.text("teacher.these_values_corrected", low=low, high=high)


def _sources(given: PieceBasis) -> TextTable:
    """Name the sources of error with the largest shares."""
    say = given.say
    rows = [
        (quantity_name(one.quantity, say), say.percent_of_share(one.share), say.signed_percent(one.bias_percent))
        for one in given.ranked.sources[:NAMED_SOURCES]
    ]
    return given.grid("teacher.what_makes_result", ("word.source", "word.share_variance", "word.bias"), rows, [1, 2])


def _circuit(given: PieceBasis) -> str:
    """Say how many sets one circuit carries."""
    say, limit = given.say, given.bench.supply.current_limit
    return say.text(
        "teacher.one_set_draws",
        current=say.in_unit(given.current, "A", 2),
        limit=say.in_unit(limit, "A"),
        sets=say.several("teacher.number_set", int(limit / given.current + 1e-9)),
    )
