"""The rehearsal report: whether the stated interval holds the true value, and one run from start to end."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from design.rehearsal.playing import STEP
from design.rehearsal.state import energy_gap, mass_gap
from reports.figures.reported import reported
from reports.figures.traces import traces
from reports.rendering import page
from reports.tables import rehearse as rehearse_tables
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH, Language
from reports.words.rehearse import decision, design_words

if TYPE_CHECKING:
    from design.rehearsal.campaign import Rehearsal
    from reports.rendering import Origin
    from reports.tables.tables import Table

SECTIONS = ("coverage", "differs", "spread", "traces", "sheet", "truth", "books", "behaviour", "computed")
"""Sections behind the first page, in order."""
WORDS = (
    "kicker", "question", "coverage", "coverage_intro", "differs", "spread", "spread_intro", "traces", "traces_intro",
    "sheet", "truth", "truth_intro", "books", "books_intro", "behaviour", "behaviour_intro", "computed",
)  # fmt: skip
"""Headings and introductions."""


def rehearse_page(rehearsal: Rehearsal, sheet: Table, origin: Origin, say: Language = ENGLISH) -> str:
    """Write the rehearsal report as one HTML document that loads nothing."""
    tables = {found.name: found for found in rehearse_tables.rehearsal_tables(rehearsal, say)}
    groups = len({row[0] for row in sheet.rows})
    first = tuple(row for row in sheet.rows if row[0] == sheet.rows[0][0])
    values: dict[str, Any] = {
        "rehearsal": rehearsal,
        "origin": origin,
        "lang": say.code,
        "text": say.group("heading"),
        "words": {name: say.text(f"rehearse.{name}") for name in WORDS},
        "invented": say.text("rehearse.invented") if rehearsal.bench.scenario == "invented" else "",
        "decision": decision(rehearsal, say),
        "facts": facts(rehearsal, say),
        "safety": wording.safety(say),
        "contents": [(f"{name}-section", say.text(f"rehearse.{name}")) for name in SECTIONS],
        "figures": {"reported": reported(rehearsal, say), "traces": traces(rehearsal, say)},
        "tables": {**tables, "readings": replace(sheet, rows=first)},
        "differs_intro": say.text("rehearse.differs_intro", runs=runs_of_each(rehearsal)),
        "sheet_intro": say.text("rehearse.sheet_intro", groups=say.several("rehearse.groups", groups)),
        "closure": closure(rehearsal, say),
        "computed": computed(rehearsal, origin, say),
    }
    return page("rehearse.html", values)


def runs_of_each(rehearsal: Rehearsal) -> str:
    """Number of runs in each world that differs."""
    return rounding.grouped(str(rehearsal.elsewhere[0].runs))


def facts(rehearsal: Rehearsal, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Say what was rehearsed, as pairs of label and text."""
    ranked, _ = rehearsal.ranked, say.text
    kit = say.listed(
        [wording_items.named(wording_items.role(role, say), name, say) for role, name in ranked.design.items.items()]
    )
    return (
        (_("rehearse.label_kit"), kit),
        (_("rehearse.label_way"), design_words(rehearsal, say)),
        (_("rehearse.label_true"), say.in_unit(rehearsal.reference / 1000.0, "kJ/kg", 5)),
        (_("rehearse.label_lesson"), say.minutes(ranked.design.minutes)),
    )


def closure(rehearsal: Rehearsal, say: Language = ENGLISH) -> str:
    """Say how well the books close."""
    played = rehearsal.played
    energy, mass = (float(abs(gap(played.apparatus, played.state)).max()) for gap in (energy_gap, mass_gap))
    values = {"energy": say.number(f"{energy:.1e}"), "mass": say.number(f"{mass:.1e}")}
    return say.text("rehearse.closure", runs=str(played.apparatus.runs), **values)


def computed(rehearsal: Rehearsal, origin: Origin, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Say how the rehearsal was computed, as pairs of label and text."""
    _ = say.text
    trials = rounding.grouped(str(rehearsal.budget_errors.size))
    steps = _("rehearse.bench_steps", step=say.in_unit(STEP, "s"), seed=str(rehearsal.seed))
    return (
        (_("rehearse.label_program"), f"boiloff {origin.version}, {origin.date}"),
        (_("rehearse.label_bench"), steps),
        (_("rehearse.label_budget"), _("rehearse.budget_trials", trials=trials)),
        (_("rehearse.label_binomial"), _("rehearse.binomial")),
    )
