"""The comparison report: the curriculum designer's page, with everything a sceptic needs to check it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from design.physics.losses import celsius
from reports.figures import comparison as figures
from reports.pages.plan_page import equations
from reports.rendering import page
from reports.tables import compare as compare_tables
from reports.words import compare as wording_compare
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words import rounding
from reports.words.compare import LIMITS
from reports.words.languages import ENGLISH, Language
from reports.words.names import error_names

if TYPE_CHECKING:
    from design.comparison.side_by_side import Comparison
    from reports.rendering import Origin

SECTIONS = (
    ("procedures", "procedures"),
    ("improvements", "improvements"),
    ("crossings", "crossings"),
    ("population", "population_heading"),
    ("heater-off", "heater_off"),
    ("cancels", "cancels"),
    ("cautions", "cautions"),
    ("checked", "checked"),
)
"""Sections behind the first page, in order, with the key of their heading."""


def compare_page(comparison: Comparison, origin: Origin, say: Language = ENGLISH) -> str:
    """Write the comparison report as one HTML document that loads nothing."""
    population = comparison.population
    tables = {found.name: found for found in compare_tables.compare_tables(comparison, say)}
    values: dict[str, Any] = {
        "comparison": comparison,
        "origin": origin,
        "lang": say.code,
        "text": say.group("heading"),
        "words": say.group("compare"),
        "invented": say.text("compare.invented") if comparison.bench.scenario == "invented" else "",
        "decision": wording_compare.decision(comparison, say),
        "facts": facts(comparison, say),
        "contents": [(f"{name}-section", say.text(f"compare.{key}")) for name, key in SECTIONS],
        "figures": {
            "methods": figures.methods(comparison, say),
            "sweeps": [
                (figures.crossing(sweep, say), wording_compare.overtakings(sweep, say))
                for sweep in comparison.crossings
            ],
            "population": figures.population(comparison, say),
        },
        "tables": tables,
        "population_intro": say.text(
            "compare.population_intro", kits=population.kits, seed=comparison.seed, drawn=population.drawn
        ),
        "cancels_intro": say.text(
            "compare.cancels_intro", common="; ".join(error_names(compare_tables.kept_by_all(), say))
        ),
        "heater_off_text": wording_compare.heater_off(comparison, say),
        "heater_off_warning": say.text("caution.heater_off_warning"),
        "safety": wording.safety(say),
        "limits": [say.text(f"compare_fails.{key}") for key in LIMITS],
        "usual_model": equations(comparison.usual.design.model),
        "models": models(comparison, say),
        "computed": computed(comparison, origin, say),
    }
    return page("compare.html", values)


def facts(comparison: Comparison, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Say what was compared, as pairs of label and text."""
    usual, _ = comparison.usual, say.text
    kit = say.listed(
        [wording_items.named(wording_items.role(role, say), name, say) for role, name in usual.items.items()]
    )
    error = _(
        "compare.todays_error",
        bias=say.signed_percent(usual.bias_percent),
        uncertainty=say.percent(usual.standard_uncertainty_percent),
        rms=say.percent(usual.rms_error_percent),
    )
    today = f"{wording_compare.way(usual.design, say)}; {compare_tables.setting(usual, say)}"
    return (
        (_("compare.label_kit"), kit),
        (_("compare.label_today"), today),
        (_("compare.label_loss"), say.in_unit(usual.design.loss, "W", 2)),
        (_("compare.label_error"), error),
    )


def models(comparison: Comparison, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Text of every measurement model by procedure and correction."""
    return tuple(
        (wording_compare.way(method.design, say), equations(method.design.model)) for method in comparison.procedures
    )


def computed(comparison: Comparison, origin: Origin, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Say how the comparison was computed, as pairs of label and text."""
    water, _ = comparison.conditions.water, say.text
    trials = rounding.grouped(str(comparison.trials))
    reference = _(
        "compare.reference",
        value=say.in_unit(water.latent_heat / 1000, "kJ/kg", 6),
        pressure=say.in_unit(water.pressure / 1000, "kPa", 5),
        boiling=say.in_unit(celsius(water.boiling_point), "°C", 4),
    )
    return (
        (_("compare.label_program"), f"boiloff {origin.version}, {origin.date}"),
        (_("compare.label_seed"), _("compare.seed_and_trials", seed=str(comparison.seed), trials=trials)),
        (_("compare.label_reference"), reference),
        (_("compare.label_rms"), _("compare.rms_is")),
        (_("compare.label_coverage"), say.percent_of_share(comparison.bench.search.coverage)),
    )
