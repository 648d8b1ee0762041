"""Tables of what a search answers beside the ranking: purchases, limits, the cupboard, ties and trials."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from reports.tables.tables import Cell, Column, Table, listed, table
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import moved_limit_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.chosen import Design, Purchase
    from design.search.plan import Answers, MovedLimit, Plan, Rung, Trial, Tried

TABLES = ("ladder", "limits", "owned", "ties", "robustness", "trials")
"""Names of the tables, each a file of its own."""


def search_tables(plan: Plan, say: Language = ENGLISH) -> dict[str, Table]:
    """Every table of what a search answers beside the ranking."""
    answers = plan.answers
    if answers is None:
        return {}
    found = (
        ladder_table(plan, answers, say),
        limits_table(plan, answers, say),
        owned_table(plan, answers, say),
        ties_table(plan, answers, say),
        robustness_table(plan, answers, say),
        trials_table(answers, say),
    )
    return {each.name: each for each in found}


def ladder_table(plan: Plan, answers: Answers, say: Language = ENGLISH) -> Table:
    """Purchases in order, from what is owned."""
    _ = say.text
    rows: list[tuple[Cell, ...]] = []
    if answers.ladder.start is not None:
        rows.append((_("table.in_the_cupboard"), 0.0, 0.0, None, *_choice_cells(answers.ladder.start, say)))
    for rung in answers.ladder.rungs:
        names = "; ".join(name if number == 1 else f"{number} × {name}" for _, name, number, _ in rung.bought)
        rows.append((names, rung.price, rung.spent, -rung.lowered_percent, *_choice_cells(rung.choice, say)))
    return table(
        "ladder",
        _("table.purchases_one_after_another"),
        (
            Column("buy", _("table.buy")),
            Column("price", _("word.price"), "money", plan.currency),
            Column("spent", _("table.spent_so_far"), "money", plan.currency),
            Column("change_percent", _("table.change_error"), "signed percent"),
            *_choice_columns(plan, say),
        ),
        rows,
        say,
    )


def limits_table(plan: Plan, answers: Answers, say: Language = ENGLISH) -> Table:
    """What moving each limit would bring."""
    _ = say.text
    return table(
        "limits",
        _("table.limits_moved_one_time"),
        (
            Column("limit", _("table.limit")),
            Column("more", _("table.moved_by")),
            Column("change_percent", _("table.change_error"), "signed percent"),
            *_choice_columns(plan, say),
        ),
        [
            (
                moved_limit_name(moved.limit, say),
                f"{moved.step:g} {moved.unit}",
                -moved.lowered_percent,
                *_choice_cells(moved.choice, say),
            )
            for moved in answers.limits
        ],
        say,
    )


def owned_table(plan: Plan, answers: Answers, say: Language = ENGLISH) -> Table:
    """What each item of the cupboard is worth."""
    _ = say.text
    objective = wording.objective(plan.objective, say)
    return listed(
        "owned",
        _("table.items_cupboard"),
        answers.owned,
        (
            Column("item", _("word.item"), cell=lambda one: one.name),
            Column("role", _("table.what_for"), cell=lambda one: wording_items.role(one.role, say)),
            Column("used", _("table.used"), cell=lambda one: _("word.yes") if one.used else _("word.no")),
            Column("with_percent", _("table.with_it", objective=objective), "percent"),
            Column("without_percent", _("table.without_it", objective=objective), "percent"),
        ),
        say,
    )


def ties_table(plan: Plan, answers: Answers, say: Language = ENGLISH) -> Table:
    """Designs that cannot be told apart from the first."""
    _ = say.text
    designs = [plan.ranking[row] for row in answers.tied]
    return listed(
        "ties",
        _("table.designs_cannot_told"),
        designs,
        (
            Column("kit", _("word.kit"), cell=lambda one: "; ".join(one.design.items.values())),
            Column("procedure", _("table.procedure"), cell=lambda one: wording.method(one.design, say)),
            Column("price", _("word.price"), "money", plan.currency, cell=lambda one: one.design.price),
            Column("objective_percent", wording.objective(plan.objective, say), "percent"),
            Column("numerical_error_percent", _("word.numerical_error"), "percent"),
            Column(
                "within_margin_percent",
                _("table.probability_within_margin"),
                "percent",
                cell=lambda one: 100 * one.within_margin_probability,
            ),
            Column("regret_percent", _("table.regret"), "percent"),
        ),
        say,
    )


def robustness_table(plan: Plan, answers: Answers, say: Language = ENGLISH) -> Table:
    """The plan where assumptions are otherwise."""
    _ = say.text
    found = answers.robustness
    return listed(
        "robustness",
        _("robustness.caption"),
        found.rows if found else (),
        (
            Column(
                "assumption", _("robustness.assumption"), cell=lambda one: say.text(f"robustness.if.{one.assumption}")
            ),
            Column("error_percent", wording.objective(plan.objective, say), "percent"),
            Column(
                "best",
                _("robustness.best"),
                cell=lambda one: _("robustness.same") if one.best == 0 else _row_words(plan, one.best, say),
            ),
            Column("lost_percent", _("robustness.lost"), "percent"),
        ),
        say,
    )


def _row_words(plan: Plan, row: int, say: Language) -> str:
    """Name a row of the ranking by its number and by what sets it off from the first: kit, else method."""
    first, other = plan.ranking[0].design, plan.ranking[row].design
    kit = "; ".join(name for name in other.items.values() if name not in first.items.values())
    return say.text("robustness.row", rank=row + 1, method=kit or wording.method(other, say))


def trials_table(answers: Answers, say: Language = ENGLISH) -> Table:
    """What each trial before the purchase would be worth."""
    _ = say.text
    return listed(
        "trials",
        _("table.trials_before_purchase"),
        answers.trials,
        (
            Column("trial", _("word.trial"), cell=lambda one: say.name("trial", one.trial, "name")),
            Column("informs", _("table.it_tells"), cell=lambda one: say.name("trial", one.trial, "informs")),
            Column("choosing_percent", _("table.error_lowered_choosing"), "percent"),
            Column("correcting_percent", _("table.choosing_correcting"), "percent"),
        ),
        say,
    )


def answers_record(answers: Answers | None) -> dict[str, Any] | None:
    """Put what a search answers into dictionaries and lists."""
    if answers is None:
        return None
    ladder, robust = answers.ladder, answers.robustness
    return {
        "ladder": {
            "today_percent": ladder.today_percent,
            "start": _tried_record(ladder.start) if ladder.start else None,
            "rungs": [_with_choice(rung, bought=bought_record(rung.bought)) for rung in ladder.rungs],
            "ends": ladder.ends,
        },
        "limits": [_with_choice(moved, limit=moved_limit_name(moved.limit)) for moved in answers.limits],
        "of_kit": [asdict(one) for one in answers.of_kit],
        "owned": [asdict(item) for item in answers.owned],
        "tied": answers.tied,
        "robustness": None
        if robust is None
        else {
            "assumptions": [asdict(one) for one in robust.rows],
            "least_regret": robust.least_regret,
            "largest_loss_percent": robust.largest_loss_percent,
        },
        "trials": [_trial_record(trial) for trial in answers.trials],
        "discarded": answers.discarded,
        "sampled": answers.sampled,
    }


def bought_record(bought: Sequence[Purchase]) -> list[dict[str, Any]]:
    """Put purchases into dictionaries."""
    return [{"role": role, "item": item, "number": number, "price": price} for role, item, number, price in bought]


def filling_record(design: Design) -> dict[str, Any]:
    """Put into a dictionary how full the vessel of a design is, and the limits that it stands on."""
    return {
        "level_cold_mm": 1000.0 * design.level("cold_level"),
        "level_boiling_mm": 1000.0 * design.level("boiling_level"),
        "stands_on": list(design.stands_on),
        "headroom": design.headroom,
    }


def _with_choice(one: Rung | MovedLimit, **parts: Any) -> dict[str, Any]:
    """Put a purchase or a moved limit into a dictionary, and the design that it leads to."""
    record = {field.name: getattr(one, field.name) for field in fields(one)}
    return {**record, **parts, "choice": _tried_record(one.choice)}


def _trial_record(trial: Trial) -> dict[str, Any]:
    words = {
        "trial": ENGLISH.name("trial", trial.trial, "name"),
        "informs": ENGLISH.name("trial", trial.trial, "informs"),
    }
    return words | {key: value for key, value in asdict(trial).items() if key != "trial"}


def _tried_record(tried: Tried) -> dict[str, Any]:
    design = tried.design
    return {
        "items": dict(design.items),
        "procedure": design.procedure.identifier,
        "correction": design.correction,
        "powers_W": list(design.powers),
        "mass_kg": design.mass,
        "repeats": design.repeats,
        "reading": design.reading,
        "price": design.price,
        "minutes": design.minutes,
        "objective_percent": tried.objective_percent,
        "fill_kg": tried.design.fill,
        **filling_record(tried.design),
    }


def _choice_columns(plan: Plan, say: Language) -> tuple[Column, ...]:
    _ = say.text
    return (
        Column("objective_percent", wording.objective(plan.objective, say), "percent"),
        Column("kit", _("word.kit")),
        Column("procedure", _("table.procedure")),
        Column("setting", _("table.setting")),
    )


def _choice_cells(choice: Tried, say: Language) -> tuple[Cell, ...]:
    design = choice.design
    return (
        choice.objective_percent,
        "; ".join(design.items.values()),
        wording.method(design, say),
        "; ".join(
            (
                say.listed([say.power(power) for power in design.powers]),
                wording.mass(design.mass, say),
                wording.times(design.repeats, say),
            )
        ),
    )
