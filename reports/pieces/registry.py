"""The printed pieces by the words of the command line, and the files that they become."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from design.bench import Bench
from design.search.plan import Plan
from reports.errors import OutputError
from reports.pieces import faults, marking, purchase, risk, student, supply, teacher, technician
from reports.pieces.parts import PieceBasis, given_for
from reports.rendering import Origin, page
from reports.words.languages import Language

Values = Callable[[PieceBasis], dict[str, Any]]


@dataclass(frozen=True)
class Piece:
    """
    One printed piece: its name for the command line, template and file; keys of its title and of whom it is for.

    The values fill its template.
    """

    name: str
    title: str
    reader: str
    values: Values

    @property
    def file(self) -> str:
        """Name of its file."""
        return f"{self.name}.html"


PIECES = (
    Piece("teacher", "piece.teacher_summary", "piece.teacher", teacher.values),
    Piece("student", "piece.run_sheet", "piece.pupils", student.values),
    Piece("technician", "piece.technician_list", "piece.preparation_room", technician.values),
    Piece("marking", "piece.marking_sheet", "piece.teacher", marking.values),
    Piece("faults", "piece.faults_what_do", "piece.beside_bench", faults.values),
    Piece("supply", "word.mains_low_voltage", "piece.decision", supply.values),
    Piece("purchase", "piece.purchase_justification", "piece.office", purchase.values),
    Piece("risk", "piece.draft_risk_assessment", "piece.those_responsible", risk.values),
)
NAMES = tuple(piece.name for piece in PIECES)
FILES = tuple(piece.file for piece in PIECES)
"""Every file that pieces may be."""


def chosen(text: str | None) -> tuple[Piece, ...]:
    """
    Read the list of pieces that the command line asks for: names, ``"all"`` or ``"none"``; all where nothing is said.

    Raises
    ------
    OutputError
        If a name is none of the pieces'.
    """
    if text is None or text.strip() == "all":
        return PIECES
    words = [word.strip() for word in text.split(",") if word.strip()]
    if words == ["none"]:
        return ()
    for word in words:
        if word not in NAMES:
            raise OutputError(f"--pages {text}: {word!r} is no page; write some of {', '.join(NAMES)}, or all, or none")
    return tuple(piece for piece in PIECES if piece.name in words)


def piece_files(pieces: Sequence[Piece], plan: Plan, bench: Bench, say: Language, origin: Origin) -> dict[str, bytes]:
    """Write pieces as the contents of their files; ValueError where the plan recommends nothing."""
    if not pieces:
        return {}
    given = given_for(plan, bench, say, origin, fingerprint(plan, bench))
    return {piece.file: piece_page(piece, given).encode("utf-8") for piece in pieces}


def piece_page(piece: Piece, given: PieceBasis) -> str:
    """Write one piece as a page that loads nothing."""
    say = given.say
    common: dict[str, Any] = {
        "given": given,
        "_": say.text,
        "lang": say.code,
        "title": say.text(piece.title),
        "reader": say.text(piece.reader),
        "origin": given.origin,
        "day": say.day(given.origin.date),
        "invented": say.text("piece.example_bench_items") if given.plan.scenario == "invented" else "",
    }
    return page(f"pieces/{piece.name}.html", {**common, **piece.values(given)})


def fingerprint(plan: Plan, bench: Bench) -> str:
    """Short mark of what a plan was made of, the same for the same bench file, seed and trials."""
    text = f"{replace(bench, path='')!r} {plan.seed} {plan.trials}"
    return hashlib.sha256(text.encode()).hexdigest()[:8]
