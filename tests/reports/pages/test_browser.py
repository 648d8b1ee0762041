"""The pages in Debian's chromium."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from budget.budget_file import read_budget_file
from budget.report import analyse
from design.bench import Bench
from design.procedures.registry import PROCEDURES
from design.search.plan import Plan
from reports.pages.budget_page import budget_page
from reports.pages.plan_page import plan_page
from reports.rendering import Origin
from reports.words.languages import LANGUAGES, language
from tests.reports.conftest import altered

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opened = Callable[..., "Page"]
BUDGETS = Path(__file__).parents[3] / "configs" / "budgets"


def long_ranking(plan: Plan) -> Plan:
    """Give a plan a ranking of every procedure, with long names and a price of six places."""
    items = {**plan.ranking[0].design.items, "vessel": "Cut-down demonstration cylinder, 1.4 L, cork and slotted cover"}
    return dataclasses.replace(
        plan,
        ranking=tuple(
            altered(plan.ranking[0], items=items, procedure=procedure.identifier, correction="calculated",
                powers_W=(1400.0, 700.0, 350.0)[: procedure.number_of_powers],
                price=1170.5, minutes=104.0, bias_percent=-12.4,
            )
            for procedure in {known.identifier: known for known in PROCEDURES}.values()
        ),
    )  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_the_page_fits_its_window_and_is_silent(opened: Opened, example_report: Path, width: int, scheme: str) -> None:
    said: list[str] = []
    page = opened(example_report, width, said, color_scheme=scheme)

    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert said == []


@pytest.mark.parametrize("width", [320, 1280])
def test_one_drawing_of_each_figure_is_shown_and_none_is_cut(opened: Opened, example_report: Path, width: int) -> None:
    page = opened(example_report, width)
    shown = page.evaluate(
        """[...document.querySelectorAll('figure')].map(f =>
             [...f.querySelectorAll('svg')].filter(s => getComputedStyle(s).display !== 'none').length)"""
    )
    outside = page.evaluate(
        """[...document.querySelectorAll('figure svg')].filter(s => getComputedStyle(s).display !== 'none')
             .flatMap(s => [...s.querySelectorAll('text')].filter(t => {
                const a = t.getBoundingClientRect(), b = s.getBoundingClientRect();
                return a.left < b.left - 1 || a.right > b.right + 1 || a.top < b.top - 1 || a.bottom > b.bottom + 1;
             }).map(t => t.textContent))"""
    )

    assert set(shown) == {1}
    assert outside == []


@pytest.mark.parametrize("width", [320, 1280])
def test_no_two_labels_of_a_figure_overlap(opened: Opened, example_report: Path, width: int) -> None:
    page = opened(example_report, width)
    meeting = page.evaluate(
        """[...document.querySelectorAll('figure svg')].filter(s => getComputedStyle(s).display !== 'none')
             .flatMap(s => {
                const ts = [...s.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
                return ts.flatMap(([n, a], i) => ts.slice(i + 1).filter(([m, b]) =>
                    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 &&
                    Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 0.35 * Math.min(a.height, b.height)
                ).map(([m]) => s.id + ': ' + n + ' / ' + m));
             })"""
    )

    assert meeting == []


@pytest.mark.parametrize(("code", "width"), [("en", 1024), *((code, 1280) for code in LANGUAGES)])
def test_the_ranking_shows_every_column_without_scrolling(
    opened: Opened, plan: Plan, bench: Bench, tmp_path: Path, code: str, width: int
) -> None:
    path = tmp_path / "report.html"
    path.write_text(
        plan_page(long_ranking(plan), bench, Origin("0.0.0", "2026-03-04"), say=language(code)), encoding="utf-8"
    )
    page = opened(path, width)
    hidden = page.evaluate(
        "(s => s.scrollWidth - s.clientWidth)(document.querySelector('#ranking-section .scroll'))",
    )
    cut = page.evaluate(
        """[...document.querySelectorAll('#ranking-section th, #ranking-section td')]
             .filter(c => c.scrollWidth > c.clientWidth + 1).map(c => c.textContent)"""
    )

    assert hidden == 0
    assert cut == []


@pytest.mark.parametrize("name", sorted(path.stem for path in BUDGETS.glob("*.toml")))
def test_the_budget_shows_contribution_and_share_at_a_thousand_pixels(
    opened: Opened, tmp_path: Path, name: str
) -> None:
    file = read_budget_file(BUDGETS / f"{name}.toml")
    path = tmp_path / "report.html"
    path.write_text(
        budget_page(analyse(file.model, trials=4096), file, 0, Origin("0.0.0", "2026-03-04")), encoding="utf-8"
    )
    page = opened(path, 1000)
    hidden, last = page.evaluate(
        """(s => [s.scrollWidth - s.clientWidth, [...s.querySelectorAll('thead th')].pop().textContent])(
             document.querySelector('#budget-section .scroll'))"""
    )

    assert last == "Share"
    assert hidden == 0


def test_the_dark_page_is_dark_and_its_figures_are_too(opened: Opened, example_report: Path) -> None:
    page = opened(example_report, 1280, color_scheme="dark")
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    label = page.evaluate("getComputedStyle(document.querySelector('#walk text')).fill")

    assert max(int(part) for part in paper[4:-1].split(",")) < 60
    assert min(int(part) for part in label[4:-1].split(",")) > 150


def test_the_skip_link_comes_first_for_the_keyboard(opened: Opened, example_report: Path) -> None:
    page = opened(example_report, 1280)
    page.keyboard.press("Tab")

    assert page.evaluate("document.activeElement.className") == "skip"


def test_the_decision_fits_on_the_first_sheet_of_paper(opened: Opened, crowded_report: Path, tmp_path: Path) -> None:
    page = opened(crowded_report, 794)
    page.emulate_media(media="print")
    # A4 less the margins of the stylesheet: 297 - 15 - 16 mm high, 210 - 2 * 16 mm wide, at 96 px an inch.
    page.set_viewport_size({"width": round(178 / 25.4 * 96), "height": 1000})
    height = page.evaluate("document.querySelector('.first-page').getBoundingClientRect().height")
    page.pdf(path=tmp_path / "report.pdf", prefer_css_page_size=True)

    assert height <= 266 / 25.4 * 96
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")


def test_paper_shows_what_the_screen_folds_away(opened: Opened, example_report: Path) -> None:
    page = opened(example_report, 794)
    page.emulate_media(media="print")

    assert page.evaluate("getComputedStyle(document.querySelector('nav')).display") == "none"
    assert page.evaluate("document.querySelector('#walk-section details table').getBoundingClientRect().height") > 50
