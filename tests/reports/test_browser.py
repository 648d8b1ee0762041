"""The pages in Debian's chromium; where there is none these tests are left out, unless BOILOFF_BROWSER=required."""

from __future__ import annotations

import dataclasses
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from budget.budget_file import analyse, read_budget_file
from design.bench import Bench
from design.procedures.registry import PROCEDURES
from design.search.plan import Plan
from reports.pages.budget_page import budget_page
from reports.pages.plan_page import plan_page
from reports.rendering import Origin
from reports.words.languages import LANGUAGES, language

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

BUDGETS = Path(__file__).parents[2] / "configs" / "budgets"
CHROMIUM = shutil.which("chromium")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        CHROMIUM is None and os.environ.get("BOILOFF_BROWSER") != "required",
        reason="Debian's chromium is not installed",
    ),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=CHROMIUM or "chromium", args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
        )
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory, example_page: str) -> str:
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(example_page, encoding="utf-8")
    return path.as_uri()


@pytest.fixture(scope="module")
def crowded_report(tmp_path_factory: pytest.TempPathFactory, crowded_page: str) -> str:
    path = tmp_path_factory.mktemp("crowded") / "report.html"
    path.write_text(crowded_page, encoding="utf-8")
    return path.as_uri()


def long_ranking(plan: Plan) -> Plan:
    """Give a plan a ranking of every procedure, with long names and a price of six places."""
    items = {**plan.ranking[0].items, "vessel": "Cut-down demonstration cylinder, 1.4 L, cork and slotted cover"}
    return dataclasses.replace(
        plan,
        ranking=tuple(
            dataclasses.replace(
                plan.ranking[0], items=items, procedure=procedure, correction="calculated",
                price=1170.5, minutes=104.0, bias_percent=-12.4,
            )
            for procedure in dict.fromkeys(known.identifier for known in PROCEDURES)
        ),
    )  # fmt: skip


def opened(browser: Browser, report: str, width: int, scheme: str, said: list[str]) -> Page:
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme="dark" if scheme == "dark" else "light"
    )
    page = context.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: said.append(request.url) if request.url != report else None)
    page.goto(report)
    return page


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_the_page_fits_its_window_and_is_silent(browser: Browser, report: str, width: int, scheme: str) -> None:
    said: list[str] = []
    page = opened(browser, report, width, scheme, said)

    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert said == []


@pytest.mark.parametrize("width", [320, 1280])
def test_one_drawing_of_each_figure_is_shown_and_none_is_cut(browser: Browser, report: str, width: int) -> None:
    page = opened(browser, report, width, "light", [])
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
def test_no_two_labels_of_a_figure_overlap(browser: Browser, report: str, width: int) -> None:
    page = opened(browser, report, width, "light", [])
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
    browser: Browser, plan: Plan, bench: Bench, tmp_path: Path, code: str, width: int
) -> None:
    path = tmp_path / "report.html"
    path.write_text(
        plan_page(long_ranking(plan), bench, Origin("0.0.0", "2026-03-04"), say=language(code)), encoding="utf-8"
    )
    page = opened(browser, path.as_uri(), width, "light", [])
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
    browser: Browser, tmp_path: Path, name: str
) -> None:
    file = read_budget_file(BUDGETS / f"{name}.toml")
    path = tmp_path / "report.html"
    path.write_text(
        budget_page(analyse(file.model, trials=4096), file, 0, Origin("0.0.0", "2026-03-04")), encoding="utf-8"
    )
    page = opened(browser, path.as_uri(), 1000, "light", [])
    hidden, last = page.evaluate(
        """(s => [s.scrollWidth - s.clientWidth, [...s.querySelectorAll('thead th')].pop().textContent])(
             document.querySelector('#budget-section .scroll'))"""
    )

    assert last == "Share"
    assert hidden == 0


def test_the_dark_page_is_dark_and_its_figures_are_too(browser: Browser, report: str) -> None:
    page = opened(browser, report, 1280, "dark", [])
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    label = page.evaluate("getComputedStyle(document.querySelector('#walk text')).fill")

    assert max(int(part) for part in paper[4:-1].split(",")) < 60
    assert min(int(part) for part in label[4:-1].split(",")) > 150


def test_the_skip_link_comes_first_for_the_keyboard(browser: Browser, report: str) -> None:
    page = opened(browser, report, 1280, "light", [])
    page.keyboard.press("Tab")

    assert page.evaluate("document.activeElement.className") == "skip"


def test_the_decision_fits_on_the_first_sheet_of_paper(browser: Browser, crowded_report: str, tmp_path: Path) -> None:
    page = opened(browser, crowded_report, 794, "light", [])
    page.emulate_media(media="print")
    # A4 less the margins of the stylesheet: 297 - 15 - 16 mm high, 210 - 2 * 16 mm wide, at 96 px an inch.
    page.set_viewport_size({"width": round(178 / 25.4 * 96), "height": 1000})
    height = page.evaluate("document.querySelector('.first-page').getBoundingClientRect().height")
    page.pdf(path=tmp_path / "report.pdf", prefer_css_page_size=True)

    assert height <= 266 / 25.4 * 96
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")


def test_paper_shows_what_the_screen_folds_away(browser: Browser, report: str) -> None:
    page = opened(browser, report, 794, "light", [])
    page.emulate_media(media="print")

    assert page.evaluate("getComputedStyle(document.querySelector('nav')).display") == "none"
    assert page.evaluate("document.querySelector('#walk-section details table').getBoundingClientRect().height") > 50
