"""The plan report: what a teacher decides on the first page, and everything it rests on behind it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reports.figures.error_map import error_map
from reports.figures.frontier import frontier
from reports.figures.prospect import prospect
from reports.figures.sources import sources
from reports.figures.waterfall import waterfall, worth_drawing
from reports.pages import made_of
from reports.pages.what_if import asset, ranking_data, what_if_section
from reports.rendering import page
from reports.tables import bench_listing
from reports.tables import plan as plan_tables
from reports.tables.search import search_tables
from reports.tables.tables import Column, Table, listed
from reports.tables.walk import effect_steps, walk
from reports.words import mathml, rounding, run_sheet
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import caution, distribution_words, quantity_name, source_words
from reports.words.search import (
    chances_explained,
    choice_rule,
    discarded_sentence,
    ladder_sentences,
    partial_sentence,
    robust_sentence,
    stands_on,
    sure_facts,
    tie_sentence,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from budget.model.measurement import MeasurementModel
    from design.bench import Bench
    from design.search.plan import Plan, RankedDesign
    from reports.figures.canvas import Figure
    from reports.pieces.registry import Piece
    from reports.rendering import Origin
    from reports.tables.walk import Step

SECTIONS = ("walk", "map", "what-if", "money", "ranking", "sure", "run", "cautions", "computed")
"""Sections behind the first page, in order; the map and the dials only where there are any."""


def plan_page(
    plan: Plan, bench: Bench, origin: Origin, *, pieces: Sequence[Piece] = (), say: Language = ENGLISH
) -> str:
    """
    Write the plan report, beside which these pieces stand, as one HTML document that loads nothing.

    Raises
    ------
    ValueError
        If the plan recommends nothing.
    """
    ranked = plan.recommended
    if ranked is None:
        raise ValueError("a report needs a recommended design (got a plan without one)")
    words = wording.kit_words(ranked.design)
    figures, tables = plan_figures(plan, ranked, say), _tables(plan, ranked, say)
    headings = say.group("heading")
    what_if = what_if_section(plan, say)
    values: dict[str, Any] = {
        "plan": plan,
        "pieces": [(piece.file, say.text(piece.title), say.text(piece.reader)) for piece in pieces],
        "pieces_heading": say.text("computed.print"),
        "origin": origin,
        "lang": say.code,
        "text": headings,
        "invented": say.text("decision.invented") if plan.scenario == "invented" else "",
        "decision": wording.decision(plan, ranked, words, say),
        "summary": wording.summary(plan, ranked, words, say),
        "notes": wording.notes(plan, ranked.design, say),
        "untested": say.text("decision.losses_untested"),
        "safety": wording.safety(say),
        "cautions": cautions(plan, say),
        "heater_off": say.text("caution.heater_off_warning"),
        "contents": [
            (
                f"{name}-section",
                {**headings, "money": headings["frontier"], "what-if": say.text("what_if.heading")}[name],
            )
            for name in SECTIONS
            if (name != "map" or figures["map"] is not None) and (name != "what-if" or what_if is not None)
        ],
        "search": {**search_parts(plan, say), "stands_on": stands_on(plan, ranked.design, say)},
        "sure": sure_facts(plan, ranked, say),
        "rule": choice_rule(plan, ranked.design, say),
        "chances": chances_explained(plan, say),
        "figures": figures,
        "live": {
            "what_if": what_if,
            "ranking_data": ranking_data(plan_tables.ranking_table(plan, say=say), plan.currency, say),
            "ranking_script": asset("ranking_table.js"),
            "style": asset("what_if.css"),
        },
        "tables": tables,
        "readings_alone": _readings_alone(plan, ranked, say),
        "steps": run_sheet.steps(ranked.design, words, say),
        "reckoning": run_sheet.reckoning(ranked.design, plan.model, words, say),
        "budget_total": _budget_total(ranked, say),
        "computed": computed(plan, origin, say),
        "equations": equations(plan.model) if plan.model else "",
        "formulas": formulas(plan.model, say) if plan.model else (),
        "bench_facts": bench_listing.bench_facts(bench, say),
        "shelves": bench_listing.shelf_tables(bench, say),
    }
    return page("report.html", values)


def search_parts(plan: Plan, say: Language = ENGLISH) -> dict[str, Any]:
    """Say what the search answers beside the ranking; tables only where there are answers."""
    answers = plan.answers
    parts: dict[str, Any] = {
        "text": say.group("search"),
        "partial": partial_sentence(plan, say),
        "tables": search_tables(plan, say),
    }
    return parts | {
        "ladder": ladder_sentences(answers, say) if answers else (),
        "tie": tie_sentence(plan, answers, say) if answers else "",
        "robust": robust_sentence(plan, answers, say) if answers else "",
        "discarded": discarded_sentence(answers, say) if answers else "",
    }


def plan_figures(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> dict[str, Figure | None]:
    """Draw the figures of the report; the map only where the plan has a feasible one."""
    grid = plan.error_map
    has_map = grid is not None and bool((grid.limit == "").any())
    return {
        "prospect": prospect(plan, design, say),
        "walk": _walk("walk", walk(design, plan.model, say), plan.latent_heat, say),
        "walk_today": _walk("walk-today", walk(plan.current, plan.current_model, say), plan.latent_heat, say)
        if plan.current
        else None,
        "shares": sources(design.sources, say),
        "map": error_map(grid, design, plan.objective, say) if grid is not None and has_map else None,
        "frontier": frontier(plan, say),
    }


def _walk(name: str, steps: Sequence[Step], true_value: float, say: Language) -> Figure | None:
    return waterfall(name, steps, true_value, say) if worth_drawing(steps) else None


def _readings_alone(plan: Plan, ranked: RankedDesign, say: Language) -> str:
    several = len(ranked.design.powers) > 1
    if not ranked.design.corrected:
        return say.text("walk.readings_are_together" if several else "walk.readings_are")
    error = sum(step.percent for step in effect_steps(ranked, plan.model))
    value = wording.latent_heat(plan.latent_heat * (1 + error / 100), ranked.standard_uncertainty_percent, say)
    return say.text(
        "walk.readings_together" if several else "walk.readings_alone", value=value, error=say.signed_percent(error)
    )


def cautions(plan: Plan, say: Language = ENGLISH) -> tuple[str, ...]:
    """Give our own cautions about injury first, then those of the plan, each once."""
    return tuple(dict.fromkeys((*wording.safety(say), *(caution(one, say) for one in plan.cautions))))


def equations(model: MeasurementModel) -> str:
    """Write the measurement model as the text that is evaluated: the steps, then the measurand."""
    pairs = (*model.intermediates, (model.symbol, model.equation))
    width = max(len(symbol) for symbol, _ in pairs)
    return "\n".join(f"{symbol:<{width}} = {text}" for symbol, text in pairs)


def formulas(model: MeasurementModel, say: Language = ENGLISH) -> tuple[str, ...]:
    """Write the measurement model as people write equations, in MathML: the steps, then the measurand."""
    pairs = (*model.intermediates, (model.symbol, model.equation))
    return tuple(mathml.equation(symbol, text, say) for symbol, text in pairs)


def computed(plan: Plan, origin: Origin, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Say how the plan was computed, as pairs of label and text."""
    _, counted = say.text, (plan.considered, plan.feasible, plan.considered - plan.feasible)
    considered, feasible, rejected = (rounding.grouped(str(number)) for number in counted)
    return (
        (_("computed.program"), f"boiloff {origin.version}, {origin.date}"),
        (
            _("computed.seed_trials"),
            _("computed.seed_trials_one_shared", seed=str(plan.seed), trials=rounding.grouped(str(plan.trials))),
        ),
        (
            _("computed.reference"),
            _(
                "computed.boiling_point",
                value=say.in_unit(plan.latent_heat / 1000, "kJ/kg", 6),
                pressure=say.in_unit(plan.pressure / 1000, "kPa", 5),
                temperature=say.in_unit(plan.boiling_point, "°C", 4),
            ),
        ),
        (
            _("computed.made_small"),
            _(
                "computed.differences_up_count",
                objective=wording.objective(plan.objective, say),
                margin=say.percent(plan.margin_percent),
            ),
        ),
        (_("computed.coverage"), say.percent_of_share(plan.coverage)),
        (
            _("word.combinations"),
            _("computed.considered_feasible_rejected", considered=considered, feasible=feasible, rejected=rejected),
        ),
    )


def inputs_table(
    model: MeasurementModel, known: Collection[str], name: str = "inputs", say: Language = ENGLISH
) -> Table:
    """Inputs of a measurement model that the budget does not list: what is set, or known so well that it is exact."""
    _ = say.text
    return listed(
        name,
        _("table.inputs_held_constant"),
        [quantity for quantity in model.inputs if quantity.symbol not in known],
        (
            Column("symbol", _("table.symbol"), "symbol"),
            Column("quantity", _("table.quantity"), cell=lambda one: quantity_name(one.name, say)),
            Column("estimate", _("table.estimate"), "significant", "", 5, cell=lambda one: one.distribution.mean),
            Column(
                "standard_uncertainty",
                _("table.standard_uncertainty"),
                "significant",
                "",
                2,
                cell=lambda one: one.distribution.standard_uncertainty,
            ),
            Column("unit", _("table.unit")),
            Column(
                "distribution",
                _("table.distribution"),
                cell=lambda one: distribution_words(one.distribution.describe(), say),
            ),
            Column("evidence", _("table.evidence"), cell=lambda one: source_words(one.source, say)),
        ),
        say,
    )


def _tables(plan: Plan, ranked: RankedDesign, say: Language) -> dict[str, Table | None]:
    budget = plan_tables.budget_table(ranked, say=say)
    return {
        "biases": plan_tables.bias_table(effect_steps(ranked, plan.model, say), ranked.sources, say=say),
        "budget": budget.only([column.key for column in budget.columns if column.key != "evidence"]),
        "knowledge": replace(budget.only(["quantity", "evidence"]), caption=say.text("heading.evidence")),
        "evidence": made_of.evidence_table(say=say),
        "defaults": made_of.defaults_table(say=say),
        "ranking": plan_tables.ranking_table(plan, say=say).bare(),
        "time_table": plan_tables.time_table(ranked.design, say=say),
        "signs": plan_tables.sign_table(say=say),
        "rejected": plan_tables.rejected_table(plan, say=say),
        "inputs": inputs_table(plan.model, {source.symbol for source in ranked.sources}, say=say)
        if plan.model
        else None,
    }


def _budget_total(design: RankedDesign, say: Language) -> str:
    value = say.with_standard_uncertainty(
        design.expected_J_per_kg / 1000,
        design.expected_J_per_kg / 1000 * design.standard_uncertainty_percent / 100,
        "kJ/kg",
    )
    return say.text(
        "budget.total",
        value=value,
        uncertainty=say.percent(design.standard_uncertainty_percent),
        bias=say.signed_percent(design.bias_percent),
        rms=say.percent(design.rms_error_percent),
    )
