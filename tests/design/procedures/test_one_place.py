"""Words by which files name procedures, corrections and what a vessel is fitted with stand where each has its place."""

import ast
from collections.abc import Iterable
from pathlib import Path
from typing import get_args

from design.kit import FITTING_ROLES
from design.procedures.face import Correction
from design.procedures.registry import PROCEDURES

ROOT = Path(__file__).parents[3]
WORDS = {procedure.identifier for procedure in PROCEDURES} | set(get_args(Correction)) - {"none", "calculated"}


def outside(words: Iterable[str], package: str, *places: str) -> list[str]:
    """Literals of a package that are one of the words and do not stand in one of the places."""
    return [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.value}"
        for path in sorted((ROOT / package).rglob("*.py"))
        if not any(path.is_relative_to(ROOT / place) for place in places)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and node.value in set(words)
    ]


def test_a_procedure_is_named_in_its_own_file_and_where_it_is_presented() -> None:
    assert outside(WORDS, "design", "design/procedures", "design/chosen.py") == []
    assert outside(WORDS, "reports", "reports/words/procedures.py") == []
    assert outside(WORDS, "design") != []


def test_reports_name_what_a_vessel_is_fitted_with_where_shelves_are_listed() -> None:
    assert outside(FITTING_ROLES, "reports", "reports/tables/bench_listing.py") == []
    assert outside(FITTING_ROLES, "reports") != []
