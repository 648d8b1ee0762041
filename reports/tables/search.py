"""Tables of what a search answers beside the ranking: purchases, limits, the cupboard, ties and trials."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from reports.tables.tables import Cell, Column, Table, table
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import N_
from reports.words.sentences import OBJECTIVES

if TYPE_CHECKING:
    from design.search.plan import Answers, Choice, Plan

TABLES = ("ladder", "limits", "owned", "ties", "trials")
"""Names of the tables, each a file of its own."""


def search_tables(plan: Plan) -> dict[str, Table]:
    """Every table of what a search answers beside the ranking."""
    answers = plan.answers
    if answers is None:
        return {}
    found = (
        ladder_table(plan, answers),
        limits_table(plan, answers),
        owned_table(plan, answers),
        ties_table(plan, answers),
        trials_table(answers),
    )
    return {each.name: each for each in found}


def ladder_table(plan: Plan, answers: Answers) -> Table:
    """Purchases in order, from what is owned."""
    rows: list[tuple[Cell, ...]] = []
    if answers.ladder.start is not None:
        rows.append((N_("what is in the cupboard"), 0.0, 0.0, None, *_choice_cells(answers.ladder.start)))
    for rung in answers.ladder.rungs:
        names = "; ".join(name if number == 1 else f"{number} × {name}" for _, name, number, _ in rung.bought)
        rows.append((names, rung.price, rung.spent, -rung.lowered_percent, *_choice_cells(rung.choice)))
    return table(
        "ladder",
        "Purchases, one after another",
        (
            Column("buy", "Buy"),
            Column("price", "Price", "money", plan.currency),
            Column("spent", "Spent so far", "money", plan.currency),
            Column("change_percent", "Change of the error", "signed percent"),
            *_choice_columns(plan),
        ),
        rows,
    )


def limits_table(plan: Plan, answers: Answers) -> Table:
    """What moving each limit would bring."""
    return table(
        "limits",
        "Limits moved one at a time",
        (
            Column("limit", "Limit"),
            Column("more", "Moved by"),
            Column("change_percent", "Change of the error", "signed percent"),
            *_choice_columns(plan),
        ),
        [
            (moved.limit, f"{moved.step:g} {moved.unit}", -moved.lowered_percent, *_choice_cells(moved.choice))
            for moved in answers.limits
        ],
    )


def owned_table(plan: Plan, answers: Answers) -> Table:
    """What each item of the cupboard is worth."""
    objective = OBJECTIVES.get(plan.objective, plan.objective)
    return table(
        "owned",
        "Items of the cupboard",
        (
            Column("item", "Item"),
            Column("role", "What for"),
            Column("used", "Used"),
            Column("with_percent", f"{objective}, with it", "percent"),
            Column("without_percent", f"{objective}, without it", "percent"),
        ),
        [
            (
                item.name,
                wording_items.role(item.role),
                "yes" if item.used else "no",
                item.with_percent,
                item.without_percent,
            )
            for item in answers.owned
        ],
    )


def ties_table(plan: Plan, answers: Answers) -> Table:
    """Designs that cannot be told apart from the first."""
    designs = [plan.ranking[row] for row in answers.tied]
    return table(
        "ties",
        "Designs that cannot be told apart from the first",
        (
            Column("kit", "Kit"),
            Column("procedure", "Procedure"),
            Column("price", "Price", "money", plan.currency),
            Column("objective_percent", OBJECTIVES.get(plan.objective, plan.objective), "percent"),
            Column("numerical_error_percent", "Numerical error", "percent"),
            Column("best_probability_percent", "Probability to be the best", "percent"),
            Column("within_margin_percent", "Probability to be within the margin", "percent"),
        ),
        [
            (
                "; ".join(design.items.values()),
                wording.method(design),
                design.price,
                design.objective_percent,
                design.numerical_error_percent,
                100 * design.best_probability,
                100 * design.within_margin_probability,
            )
            for design in designs
        ],
    )


def trials_table(answers: Answers) -> Table:
    """What each trial before the purchase would be worth."""
    return table(
        "trials",
        "Trials before the purchase",
        (
            Column("trial", "Trial"),
            Column("informs", "It tells the"),
            Column("choosing_percent", "Error lowered by choosing", "percent"),
            Column("correcting_percent", "by choosing and correcting", "percent"),
            Column("best_probability_percent", "Probability that the best is then chosen", "percent"),
        ),
        [
            (
                trial.trial,
                trial.informs,
                trial.choosing_percent,
                trial.correcting_percent,
                100 * trial.best_probability,
            )
            for trial in answers.trials
        ],
    )


def answers_record(answers: Answers | None) -> dict[str, Any] | None:
    """Put what a search answers into dictionaries and lists."""
    if answers is None:
        return None
    record = asdict(answers)
    ladder = record["ladder"]
    for rung in ladder["rungs"]:
        rung["bought"] = [
            {"role": role, "item": item, "number": number, "price": price}
            for role, item, number, price in rung["bought"]
        ]
    return record


def _choice_columns(plan: Plan) -> tuple[Column, ...]:
    return (
        Column("objective_percent", OBJECTIVES.get(plan.objective, plan.objective), "percent"),
        Column("kit", "Kit"),
        Column("procedure", "Procedure"),
        Column("setting", "Setting"),
    )


def _choice_cells(choice: Choice) -> tuple[Cell, ...]:
    powers = " and ".join(wording.power(power) for power in choice.powers_W)
    return (
        choice.objective_percent,
        "; ".join(choice.items.values()),
        wording.method(choice),
        f"{powers}; {wording.mass(choice.mass_kg)}; {wording.times(choice.repeats)}",
    )
