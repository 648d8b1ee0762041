"""The changed setting and the ranking, used by keyboard, on a telephone, without scripts and on paper."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        CHROMIUM is None and os.environ.get("BOILOFF_BROWSER") != "required",
        reason="Debian's chromium is not installed",
    ),
]
SMALL = """least => [...document.querySelectorAll(
    '#what-if-section :is(input, button, summary), .table-tools :is(input, button), .sort')]
  .map(e => [e.id || e.textContent, e.getBoundingClientRect()])
  .filter(([, box]) => box.width < least || box.height < least).map(([name]) => name)"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=CHROMIUM or "chromium", args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def report(tmp_path: Path, example_page: str) -> str:
    path = tmp_path / "report.html"
    path.write_text(example_page, encoding="utf-8")
    return path.as_uri()


@pytest.fixture
def page(browser: Browser, report: str) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    opened.goto(report)
    yield opened
    context.close()


def result(page: Page, row: int) -> float:
    return float(page.locator("#what-if-result td[data-live] data").nth(row).get_attribute("value") or "nan")


def test_a_slider_is_moved_by_the_keyboard_and_the_result_follows(page: Page) -> None:
    before = result(page, 1)
    page.focus("#dial-P_set")
    for _ in range(20):
        page.keyboard.press("ArrowLeft")

    assert float(page.input_value("#box-P_set")) < 1400
    assert page.get_attribute("#dial-P_set", "aria-valuetext") == page.input_value("#box-P_set") + "\u202fW"
    assert result(page, 1) > before  # the same loss costs a larger share of a smaller power


def test_every_dial_is_reached_by_tab_in_the_order_of_the_page(page: Page) -> None:
    page.focus("#dial-P_set")
    reached = ["dial-P_set"]
    for _ in range(11):
        page.keyboard.press("Tab")
        reached.append(str(page.evaluate("document.activeElement.id")))

    assert reached == [
        f"{part}-{symbol}"
        for symbol in ("P_set", "mass", "loss", "carry_over", "step_energy", "N")
        for part in ("dial", "box")
    ]


def test_the_result_is_announced_once_the_reader_has_paused(page: Page) -> None:
    assert page.get_attribute("#what-if-said", "role") == "status"  # polite by its role (WAI-ARIA 1.2)
    page.fill("#box-P_set", "2500")
    assert page.text_content("#what-if-said") == ""
    page.fill("#box-P_set", "2600")
    page.wait_for_function("document.getElementById('what-if-said').textContent !== ''", timeout=5000)

    said = page.text_content("#what-if-said") or ""
    assert said.startswith("Expected (")
    assert "Limits broken: " in said


def test_a_limit_is_marked_in_words_as_it_is_crossed(page: Page) -> None:
    row = page.locator("#what-if-limits tr", has_text="Current on the circuit")
    assert "✓ kept" in row.inner_text()

    page.fill("#box-P_set", "2800")
    weak = page.locator("#what-if-limits tr", has_text="Height from water to rim")
    page.fill("#box-mass", "300")

    assert "✗ broken" in weak.inner_text()
    assert "broken" in (weak.get_attribute("class") or "")


def test_back_to_recommended_restores_every_number(page: Page) -> None:
    before = [result(page, row) for row in range(8)]
    page.fill("#box-P_set", "900")
    page.fill("#box-N", "7")
    page.fill("#box-loss", "44")
    assert [result(page, row) for row in range(8)] != before
    page.focus("#what-if-back")
    page.keyboard.press("Enter")

    assert [result(page, row) for row in range(8)] == before
    assert page.input_value("#box-P_set") == "1400"


def test_a_number_that_does_not_fit_is_refused_in_words(page: Page) -> None:
    before = result(page, 0)
    page.fill("#box-N", "2.5")

    assert page.get_attribute("#box-N", "aria-invalid") == "true"
    assert page.inner_text("#fault-N") == "Number of runs must be a whole number from 1 to 10."
    assert result(page, 0) == before
    page.fill("#box-N", "")
    assert page.is_visible("#fault-N")
    page.fill("#box-N", "3")
    assert not page.is_visible("#fault-N")


def test_the_chart_follows_the_dials(page: Page) -> None:
    def longest() -> str:
        return str(page.get_attribute("#what-if-chart", "aria-label"))

    before, bars = longest(), page.locator("#what-if-chart rect").count()
    page.fill("#box-step_energy", "90000")

    assert bars >= 3
    assert longest() != before
    assert "counts read at start and stop" in longest().split(";")[0]
    drawn = page.evaluate("[...document.querySelectorAll('#what-if-chart rect')].map(bar => bar.width.baseVal.value)")
    assert drawn == sorted(drawn, reverse=True)


@pytest.mark.parametrize("width", [320, 768, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_using_it_is_silent_loads_nothing_and_fits(browser: Browser, report: str, width: int, scheme: str) -> None:
    said: list[str] = []
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme="dark" if scheme == "dark" else "light"
    )
    page = context.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: said.append(request.url) if request.url != report else None)
    page.goto(report)
    page.fill("#box-P_set", "2400")
    page.fill("#box-mass", "290")
    page.click("#what-if-numbers summary")
    page.fill("#ranking-words", "whole")
    page.set_viewport_size({"width": width - 20, "height": 700})
    page.wait_for_timeout(50)

    assert page.evaluate("document.documentElement.scrollWidth") <= width - 20
    assert said == []
    context.close()


@pytest.mark.parametrize("width", [320, 1280])
def test_every_target_is_at_least_24_pixels(browser: Browser, report: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 800})
    page.goto(report)
    small = page.evaluate(SMALL, 24)  # WCAG 2.2, success criterion 2.5.8
    page.close()

    assert small == []


def test_on_a_telephone_the_readers_own_setting_is_in_view(browser: Browser, report: str) -> None:
    page = browser.new_page(viewport={"width": 320, "height": 700})
    page.goto(report)
    page.fill("#box-P_set", "2400")
    ends = page.evaluate(
        "[...document.querySelectorAll('#what-if-section [data-live], #what-if-limits td:last-child')]"
        ".map(cell => cell.getBoundingClientRect().right)"
    )
    page.close()

    assert len(ends) > 20
    assert max(ends) <= 320


def test_colours_and_type_of_the_chart_are_the_stylesheets(browser: Browser, report: str) -> None:
    fills = []
    for scheme in ("light", "dark"):
        context = browser.new_context(color_scheme="dark" if scheme == "dark" else "light")
        page = context.new_page()
        page.goto(report)
        fills.append(
            page.evaluate(
                """['.chart-bar:not(.chart-scatter)', 'text'].map(part =>
                     getComputedStyle(document.querySelector('#what-if-chart ' + part)).fill)"""
            )
        )
        context.close()

    assert fills[0] == ["rgb(29, 92, 148)", "rgb(28, 36, 44)"]
    assert fills[1][0] != fills[0][0]
    assert fills[1][1] != fills[0][1]


def test_without_scripts_the_section_reads_well(browser: Browser, report: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.goto(report)
    section = page.locator("#what-if-section")
    text = section.inner_text()

    assert "With scripts switched on, there would be sliders here" in text
    assert "Expected result" in text
    assert "kJ/kg" in text
    assert "Your setting" not in text
    assert section.locator("input:visible, button:visible, svg:visible").count() == 0
    assert page.locator("#ranking-section button, #ranking-section input").count() == 0
    context.close()


def test_paper_has_neither_dials_nor_tools(page: Page) -> None:
    page.emulate_media(media="print")

    assert not page.is_visible("#what-if-section")
    assert not page.is_visible(".table-tools")


def test_the_ranking_is_sorted_by_a_button_in_its_heading(page: Page) -> None:
    def column(number: int) -> list[str]:
        return list(page.locator(f"#ranking-section tbody tr td:nth-child({number + 1})").all_inner_texts())

    headings = page.locator("#ranking-section thead th")
    names = headings.all_inner_texts()
    rms = next(i for i, name in enumerate(names) if name.startswith("rms error"))
    before = column(rms)
    page.locator("#ranking-section thead button").nth(rms).focus()
    page.keyboard.press("Enter")
    assert headings.nth(rms).get_attribute("aria-sort") == "ascending"
    page.keyboard.press("Enter")

    assert headings.nth(rms).get_attribute("aria-sort") == "descending"
    assert page.locator("#ranking-section th[aria-sort]").count() == 1
    assert column(rms) == before[::-1]  # the best comes first in the plan
    assert "largest first" in (page.text_content("#ranking-said") or "")


def test_the_ranking_is_filtered_by_words_and_price(page: Page) -> None:
    rows = page.locator("#ranking-section tbody tr:visible")
    whole = rows.count()
    page.fill("#ranking-words", "whole counts")
    assert 0 < rows.count() < whole
    assert all("whole counts" in text for text in rows.all_inner_texts())
    assert page.text_content("#ranking-said") == f"{rows.count()} of {whole} rows shown"
    page.click("#ranking-all")
    assert rows.count() == whole
    page.fill("#ranking-price", "0")

    assert rows.count() == 1
    assert "Disk meter" in rows.first.inner_text()
