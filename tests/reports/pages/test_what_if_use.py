"""The changed setting and the ranking, used by keyboard, on a telephone, without scripts and on paper."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opened = Callable[..., "Page"]
SMALL = """least => [...document.querySelectorAll(
    '#what-if-section :is(input, button, summary), .table-tools :is(input, button), .sort')]
  .map(e => [e.id || e.textContent, e.getBoundingClientRect()])
  .filter(([, box]) => box.width < least || box.height < least).map(([name]) => name)"""


@pytest.fixture
def page(opened: Opened, example_report: Path) -> Page:
    return opened(example_report)


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
    assert said.startswith("Expected ")
    assert "Limits broken: " in said


def test_a_limit_is_marked_in_words_as_it_is_crossed(page: Page) -> None:
    row = page.locator("#what-if-limits tr", has_text="Current on the circuit").first
    assert "✓ kept" in row.inner_text()

    page.fill("#box-P_set", "2800")
    weak = page.locator("#what-if-limits tr", has_text="Height of the rim over the boiling surface").first
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
def test_using_it_is_silent_loads_nothing_and_fits(
    opened: Opened, example_report: Path, width: int, scheme: str
) -> None:
    said: list[str] = []
    page = opened(example_report, width, said, color_scheme=scheme)
    page.fill("#box-P_set", "2400")
    page.fill("#box-mass", "290")
    page.click("#what-if-numbers summary")
    page.fill("#ranking-words", "whole")
    page.set_viewport_size({"width": width - 20, "height": 700})
    page.wait_for_timeout(50)

    assert page.evaluate("document.documentElement.scrollWidth") <= width - 20
    assert said == []


@pytest.mark.parametrize("width", [320, 1280])
def test_every_target_is_at_least_24_pixels(opened: Opened, example_report: Path, width: int) -> None:
    page = opened(example_report, width)
    small = page.evaluate(SMALL, 24)  # WCAG 2.2, success criterion 2.5.8

    assert small == []


def test_on_a_telephone_the_readers_own_setting_is_in_view(opened: Opened, example_report: Path) -> None:
    page = opened(example_report, 320)
    page.fill("#box-P_set", "2400")
    ends = page.evaluate(
        "[...document.querySelectorAll('#what-if-section [data-live], #what-if-limits td:last-child')]"
        ".map(cell => cell.getBoundingClientRect().right)"
    )

    assert len(ends) > 20
    assert max(ends) <= 320


def test_colours_and_type_of_the_chart_are_the_stylesheets(opened: Opened, example_report: Path) -> None:
    fills = []
    for scheme in ("light", "dark"):
        page = opened(example_report, color_scheme=scheme)
        fills.append(
            page.evaluate(
                """['.chart-bar:not(.chart-scatter)', 'text'].map(part =>
                     getComputedStyle(document.querySelector('#what-if-chart ' + part)).fill)"""
            )
        )

    assert fills[0] == ["rgb(29, 92, 148)", "rgb(28, 36, 44)"]
    assert fills[1][0] != fills[0][0]
    assert fills[1][1] != fills[0][1]


def test_without_scripts_the_section_reads_well(opened: Opened, example_report: Path) -> None:
    page = opened(example_report, java_script_enabled=False)
    section = page.locator("#what-if-section")
    text = section.inner_text()

    assert "With scripts switched on, there would be sliders here" in text
    assert "Expected result" in text
    assert "kJ/kg" in text
    assert "Your setting" not in text
    assert section.locator("input:visible, button:visible, svg:visible").count() == 0
    assert page.locator("#ranking-section button, #ranking-section input").count() == 0


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
