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
from reports.words.languages import ENGLISH
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


def compare_page(comparison: Comparison, origin: Origin) -> str:
    """Write the comparison report as one HTML document that loads nothing."""
    population = comparison.population
    tables = {found.name: found for found in compare_tables.compare_tables(comparison)}
    values: dict[str, Any] = {
        "comparison": comparison,
        "origin": origin,
        "words": ENGLISH.group("compare"),
        "invented": ENGLISH.text("compare.invented") if comparison.bench.scenario == "invented" else "",
        "decision": wording_compare.decision(comparison),
        "facts": facts(comparison),
        "contents": [(f"{name}-section", ENGLISH.text(f"compare.{key}")) for name, key in SECTIONS],
        "figures": {
            "methods": figures.methods(comparison),
            "sweeps": [(figures.crossing(sweep), wording_compare.overtakings(sweep)) for sweep in comparison.crossings],
            "population": figures.population(comparison),
        },
        "tables": tables,
        "population_intro": ENGLISH.text(
            "compare.population_intro", kits=population.kits, seed=comparison.seed, drawn=population.drawn
        ),
        "cancels_intro": ENGLISH.text(
            "compare.cancels_intro", common="; ".join(error_names(compare_tables.kept_by_all()))
        ),
        "heater_off_text": wording_compare.heater_off(comparison),
        "heater_off_warning": ENGLISH.text("caution.heater_off_warning"),
        "safety": wording.safety(),
        "limits": [ENGLISH.text(f"compare_fails.{key}") for key in LIMITS],
        "usual_model": equations(comparison.usual.design.model),
        "models": models(comparison),
        "computed": computed(comparison, origin),
    }
    return page("compare.html", values)


def facts(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    """Say what was compared, as pairs of label and text."""
    usual = comparison.usual
    kit = ", ".join(f"{wording_items.role(role)} “{name}”" for role, name in usual.items.items())
    return (
        ("Kit", kit),
        ("Used today", f"{wording_compare.way(usual.design)}; {compare_tables.setting(usual)}"),
        ("Heat loss to expect", rounding.in_unit(usual.design.loss, "W", 2)),
        (
            "Today’s error",
            f"bias {rounding.signed_percent(usual.bias_percent)}, standard uncertainty "
            f"{rounding.percent(usual.standard_uncertainty_percent)}, rms {rounding.percent(usual.rms_error_percent)}",
        ),
    )


def models(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    """Text of every measurement model by procedure and correction."""
    return tuple(
        (wording_compare.way(method.design), equations(method.design.model)) for method in comparison.procedures
    )


def computed(comparison: Comparison, origin: Origin) -> tuple[tuple[str, str], ...]:
    """Say how the comparison was computed, as pairs of label and text."""
    water = comparison.conditions.water
    return (
        ("Program", f"boiloff {origin.version}, {origin.date}"),
        (
            "Seed and trials",
            f"seed {comparison.seed}, {rounding.grouped(str(comparison.trials))} trials on one sample that all methods "
            "share (scrambled Sobol’ points), so that differences are sharper than the values",
        ),
        (
            "Reference",
            f"{rounding.in_unit(water.latent_heat / 1000, 'kJ/kg', 6)} "
            f"at {rounding.in_unit(water.pressure / 1000, 'kPa', 5)}, "
            f"boiling point {rounding.in_unit(celsius(water.boiling_point), '°C', 4)}",
        ),
        ("Rms error", "square root of bias² + standard uncertainty², relative to the true value"),
        ("Coverage", rounding.percent_of_share(comparison.bench.search.coverage)),
    )
