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
from reports.words.languages import ENGLISH
from reports.words.rehearse import decision, design_words

if TYPE_CHECKING:
    from design.rehearsal.campaign import Rehearsal
    from reports.rendering import Origin
    from reports.tables.tables import Table

SECTIONS = ("coverage", "differs", "spread", "traces", "sheet", "truth", "books", "behaviour", "computed")
"""Sections behind the first page, in order."""


def rehearse_page(rehearsal: Rehearsal, sheet: Table, origin: Origin) -> str:
    """Write the rehearsal report as one HTML document that loads nothing."""
    tables = {found.name: found for found in rehearse_tables.rehearsal_tables(rehearsal)}
    groups = len({row[0] for row in sheet.rows})
    first = tuple(row for row in sheet.rows if row[0] == sheet.rows[0][0])
    values: dict[str, Any] = {
        "rehearsal": rehearsal,
        "origin": origin,
        "words": ENGLISH.group("rehearse"),
        "invented": ENGLISH.text("rehearse.invented") if rehearsal.bench.scenario == "invented" else "",
        "decision": decision(rehearsal),
        "facts": facts(rehearsal),
        "safety": wording.safety(),
        "contents": [(f"{name}-section", ENGLISH.text(f"rehearse.{name}")) for name in SECTIONS],
        "figures": {"reported": reported(rehearsal), "traces": traces(rehearsal)},
        "tables": {**tables, "readings": replace(sheet, rows=first)},
        "differs_intro": ENGLISH.text("rehearse.differs_intro", runs=runs_of_each(rehearsal)),
        "sheet_intro": ENGLISH.text("rehearse.sheet_intro", groups="one group" if groups == 1 else f"{groups} groups"),
        "closure": closure(rehearsal),
        "computed": computed(rehearsal, origin),
    }
    return page("rehearse.html", values)


def runs_of_each(rehearsal: Rehearsal) -> str:
    """Number of runs in each world that differs."""
    return rounding.grouped(str(rehearsal.elsewhere[0].runs))


def facts(rehearsal: Rehearsal) -> tuple[tuple[str, str], ...]:
    """Say what was rehearsed, as pairs of label and text."""
    ranked = rehearsal.ranked
    kit = ", ".join(f"{wording_items.role(role)} “{name}”" for role, name in ranked.design.items.items())
    return (
        ("Kit", kit),
        ("Way", design_words(rehearsal)),
        ("True value", rounding.in_unit(rehearsal.reference / 1000.0, "kJ/kg", 5)),
        ("Lesson", rounding.minutes(ranked.design.minutes)),
    )


def closure(rehearsal: Rehearsal) -> str:
    """Say how well the books close."""
    played = rehearsal.played
    energy, mass = (float(abs(gap(played.apparatus, played.state)).max()) for gap in (energy_gap, mass_gap))
    return (
        f"Largest gap in any of {played.apparatus.runs} runs: energy {energy:.1e} of what came in, mass {mass:.1e} of "
        "the fill."
    )


def computed(rehearsal: Rehearsal, origin: Origin) -> tuple[tuple[str, str], ...]:
    """Say how the rehearsal was computed, as pairs of label and text."""
    trials = rounding.grouped(str(rehearsal.budget_errors.size))
    return (
        ("Program", f"boiloff {origin.version}, {origin.date}"),
        ("Virtual bench", f"steps of {rounding.in_unit(STEP, 's')}; seed {rehearsal.seed}"),
        ("Budget", f"{trials} trials of the measurement model on a scrambled Sobol’ sample"),
        ("Binomial interval", "Clopper and Pearson, 95 %"),
    )
