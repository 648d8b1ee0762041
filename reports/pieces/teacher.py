"""Teacher summary on one side: what to buy and set, how the lesson goes, and what counts as a good result."""

from __future__ import annotations

from typing import Any

from reports.pieces.drawings import interval_line, lesson_bar, stage_names, swatch
from reports.pieces.marking import SHORT_SIGNS
from reports.pieces.parts import Given, Grid, grid, role_name
from reports.pieces.specification import ranges_of
from reports.words.names import quantity_name
from reports.words.plan import decision, kit_words

NAMED_SOURCES = 3


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the teacher summary."""
    stages = stage_names(given.say, given.design.time_table)
    return {
        "decision": decision(given.plan, given.design, kit_words(given.design.design), given.say),
        "kit": kit_table(given),
        "stages": [(name, minutes, swatch(place)) for place, (name, minutes) in enumerate(stages)],
        "together": together(given),
        "lesson": lesson_bar(given, stages),
        "interval": interval_line(given),
        "good": good_result(given),
        "sources": source_table(given),
        "uncorrected": uncorrected(given),
        "circuit": circuit(given),
        "signs": [(given.say.text(high), given.say.text(low)) for high, low in SHORT_SIGNS],
    }


def kit_table(given: Given) -> Grid:
    """List the kit: what each item must do, and whether it is there."""
    _, say = given.say.text, given.say
    bought = {role: (number, price) for role, _name, number, price in given.design.buy}
    rows = []
    for role, item in given.kit.items.items():
        number, price = bought.get(role, (0, 0.0))
        have = (
            _("teacher.buy", number=say.fixed(number, 0), price=say.money(price, given.plan.currency))
            if number
            else _("teacher.cupboard")
        )
        rows.append((role_name(say, role), item.name, ranges_of(given, item), have))
    return grid(
        _("teacher.kit_one_group"), (_("word.item"), _("word.name"), _("word.figures"), _("teacher.there")), rows
    )


def together(given: Given) -> str:
    """Say how much of the lesson is used."""
    say = given.say
    return say.text(
        "teacher.used", minutes=say.minutes(given.design.minutes), lesson=say.minutes(given.plan.lesson_minutes)
    )


def good_result(given: Given) -> str:
    """Say what to do with a result inside or outside the interval drawn."""
    return given.say.text("teacher.inside_bar_lessons", coverage=given.say.percent_of_share(given.plan.coverage))


def uncorrected(given: Given) -> str:
    """Say what the readings alone will give, where the plan corrects them."""
    if given.design.correction == "none":
        return ""
    say = given.say
    low, high = (say.latent_heat(end, given.design.standard_uncertainty_percent) for end in given.uncorrected_range)
    return say.text("teacher.these_values_corrected", low=low, high=high)


def source_table(given: Given) -> Grid:
    """Name the sources of error with the largest shares."""
    _, say = given.say.text, given.say
    rows = []
    for source in given.design.sources[:NAMED_SOURCES]:
        share = say.percent_of_share(source.share)
        rows.append((quantity_name(source.quantity, say), share, say.signed_percent(source.bias_percent)))
    return grid(
        _("teacher.what_makes_result"), (_("word.source"), _("word.share_variance"), _("word.bias")), rows, [1, 2]
    )


def circuit(given: Given) -> str:
    """Say how many sets one circuit carries."""
    say, limit = given.say, given.bench.supply.current_limit
    sets = int(limit / given.current + 1e-9)
    return say.text(
        "teacher.one_set_draws",
        current=say.in_unit(given.current, "A", 2),
        limit=say.in_unit(limit, "A"),
        sets=say.several("teacher.number_set", sets),
    )
