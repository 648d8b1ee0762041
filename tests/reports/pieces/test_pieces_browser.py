"""Printed pieces in Debian's chromium: sides of paper on A4 and US Letter, narrow screens, silence."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from design.bench import Bench
from design.kit import Fitting
from design.search.plan import Plan
from reports.pieces.registry import NAMES, PIECES, piece_files
from reports.rendering import Origin
from reports.words.languages import LANGUAGES, Language
from tests.reports.conftest import altered

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SIDES = {"teacher": 1, "student": 2, "technician": 1, "marking": 2, "faults": 1, "supply": 1, "purchase": 1, "risk": 2}
"""Most sides of paper of each piece."""
LONGEST = "de"
"""Language whose pieces are always printed; in the others, most words are shorter."""
SLOW = pytest.mark.slow
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def written(folder: Path, plan: Plan, bench: Bench, code: str) -> None:
    for name, content in piece_files(PIECES, plan, bench, Language(code), Origin("0.0.0", "2026-03-04")).items():
        (folder / name).write_bytes(content)


@pytest.fixture
def pieces(once: Callable[..., Path], plan: Plan, bench: Bench) -> Callable[[str], Path]:
    """Make the folder of all pieces in a language."""
    return lambda code: once(f"pieces-{code}", lambda folder: written(folder, plan, bench, code))


def sides(content: bytes) -> int:
    """Pages of a PDF file: its objects of the type Page (ISO 32000-1, 7.7.3.3)."""
    return len(re.findall(rb"/Type\s*/Page\b", content))


@pytest.mark.parametrize("code", [code if code == LONGEST else pytest.param(code, marks=SLOW) for code in LANGUAGES])
def test_pieces_fit_their_sides_of_paper(browser: Browser, pieces: Callable[[str], Path], code: str) -> None:
    page = browser.new_page()
    for name in NAMES:
        page.goto((pieces(code) / f"{name}.html").as_uri())
        for paper in ("A4", "Letter"):
            number = sides(page.pdf(format=paper, prefer_css_page_size=True))

            assert 1 <= number <= SIDES[name], f"{name} in {code} on {paper}"
    page.close()


@pytest.mark.parametrize("procedure", ["fixed-mass-restart", "two-powers", "series"])
def test_the_student_sheet_fits_two_sides_with_every_procedure(
    browser: Browser, tmp_path: Path, plan: Plan, bench: Bench, procedure: str
) -> None:
    assert plan.recommended is not None
    powers = (1400.0, 700.0) if procedure == "two-powers" else (1400.0,)
    correction = "cooling-run" if procedure == "fixed-mass-restart" else "calculated"
    design = altered(plan.recommended, procedure=procedure, powers_W=powers, correction=correction, mass_kg=0.05)
    written(tmp_path, dataclasses.replace(plan, recommended=design), bench, "de")
    page = browser.new_page()
    page.goto((tmp_path / "student.html").as_uri())

    assert {sides(page.pdf(format=paper, prefer_css_page_size=True)) for paper in ("A4", "Letter")} == {2}
    page.close()


@pytest.mark.parametrize(
    ("code", "procedure", "correction"),
    [
        pytest.param("en", "fixed-mass-kept-on", "cooling-run", marks=SLOW),
        ("de", "fixed-mass-kept-on", "cooling-run"),
        pytest.param("de", "fixed-mass-restart", "cooling-run", marks=SLOW),
        ("fr", "two-powers", "calculated"),
        pytest.param("es", "fixed-mass-restart", "calculated", marks=SLOW),
    ],
)
def test_pieces_fit_their_sides_with_all_put_on_the_vessel_and_marks_timed(
    browser: Browser, tmp_path: Path, fitted_plan: Plan, fitted_bench: Bench, code: str, procedure: str, correction: str
) -> None:
    assert fitted_plan.recommended is not None
    lid = Fitting(name="Slotted lid of the larger kind", role="lid", makes="loose", mass=0.05)
    guard = Fitting(name="Splash ring of enamelled steel", role="guard", makes="deflector", mass=0.06, price=16.0)
    powers = (1400.0, 700.0) if procedure == "two-powers" else (1400.0,)
    design = altered(fitted_plan.recommended,
        items={**fitted_plan.recommended.design.items, "lid": lid.name, "guard": guard.name},
        procedure=procedure, powers_W=powers, correction=correction, mass_kg=0.05, repeats=5, spare_kg=0.1,
    )  # fmt: skip
    bench = fitted_bench.with_shelves(lid=(lid,), guard=(guard,))
    written(tmp_path, dataclasses.replace(fitted_plan, recommended=design), bench, code)
    page = browser.new_page()
    for name in NAMES:
        page.goto((tmp_path / f"{name}.html").as_uri())
        number = max(sides(page.pdf(format=paper, prefer_css_page_size=True)) for paper in ("A4", "Letter"))

        assert number <= SIDES[name], name
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 768])
def test_pieces_fit_narrow_windows_and_are_silent(
    browser: Browser, pieces: Callable[[str], Path], width: int, scheme: str
) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme="dark" if scheme == "dark" else "light"
    )
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(message.text))
    page.on("request", lambda request: said.append(request.url) if not request.url.startswith("file:") else None)
    for name in NAMES:
        page.goto((pieces("de") / f"{name}.html").as_uri())

        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
    assert said == []
    context.close()


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation_of_wcag_22_a_and_aa(
    browser: Browser, pieces: Callable[[str], Path], scheme: str
) -> None:
    page = browser.new_page(color_scheme="dark" if scheme == "dark" else "light")
    axe = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
    for name in NAMES:
        page.goto((pieces("fr") / f"{name}.html").as_uri())
        page.evaluate(axe)
        found = page.evaluate("tags => axe.run({runOnly: {type: 'tag', values: tags}})", WCAG)

        assert [(each["id"], node["html"][:120]) for each in found["violations"] for node in each["nodes"]] == [], name
        assert len(found["passes"]) > 10
    page.close()
