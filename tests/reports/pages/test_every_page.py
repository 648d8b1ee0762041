"""Every kind of report in Debian's chromium: screens and paper of every size, scripts or none, for every reader."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import html5lib
import pytest
from bs4 import BeautifulSoup

from design.comparison.side_by_side import compare_bench
from reports.command_line.cli import main

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opened = Callable[..., "Page"]
CONFIGS = Path(__file__).parents[3] / "configs"
KINDS = ("plan", "compare", "rehearse", "evaluate", "teacher", "budget", "summary")
EVERY_KIND = pytest.mark.parametrize("kind", KINDS)
SHEET = """group,run,mark,time_s,counts,mass_g,heater,remark
1,1,0,0,12,240,on,
1,1,1,432,43,120,on,
1,2,0,0,50,240,on,
1,2,1,438,82,120,on,
2,1,0,0,3,240,on,
2,1,1,429,34.5,120,on,
"""
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
CHANGING = ["color-contrast", "target-size", "scrollable-region-focusable", "link-in-text-block"]
"""Rules whose outcome depends on colours and on the width of the window."""
AXE = """only => axe.run({exclude: ['figure svg > g']}, {runOnly: only, rules: {'target-size': {enabled: true}}})"""
TOO_SMALL = """[...document.querySelectorAll('a, button, input, summary, select')].filter(e => {
  const box = e.getBoundingClientRect();
  return box.width > 0 && !e.classList.contains('skip') && (box.height < 23.5 || box.width < 23.5)
    && !(e.tagName === 'INPUT' && e.labels && [...e.labels].some(l => l.getBoundingClientRect().height >= 23.5));
}).map(e => e.outerHTML.slice(0, 90))"""
SCROLLS = """[...document.querySelectorAll('main *')].filter(e => {
  const overflow = getComputedStyle(e).overflowX;
  return (overflow === 'auto' || overflow === 'scroll') && e.scrollWidth > e.clientWidth + 1
    && !e.classList.contains('scroll') && e.tagName !== 'PRE';
}).map(e => e.outerHTML.slice(0, 90))"""


def write_report(folder: Path, kind: str) -> None:
    """Make a report of one kind by its command, with small samples."""
    sheet = folder / "readings.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    demo, low = str(CONFIGS / "demo.toml"), str(CONFIGS / "low-voltage.toml")
    budget = folder / ("a_folder_whose_name_" + 4 * "has_no_place_to_break_" + ".toml")
    budget.write_bytes((CONFIGS / "budgets" / "specific-heat-capacity.toml").read_bytes())
    small = ["--trials", "256", "--workers", "1"]
    own = ["--attempt", "2520000", "--attempt-uncertainty", "60000"]
    arguments = {
        "compare": ["compare", low, *small],
        "rehearse": ["rehearse", str(CONFIGS / "altitude.toml"), "--current", "--runs", "10", *small],
        "evaluate": ["evaluate", demo, str(sheet), *own],
        "teacher": ["evaluate", demo, str(sheet), *own, "--teacher", "--learn"],
        "budget": ["budget", str(budget), "--trials", "4096"],
        "summary": ["plan", low, str(CONFIGS / "mains120.toml"), "--pages", "none", *small],
    }[kind]
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(compare_bench.__kwdefaults__ or {}, "kits", 12)
        assert main([*arguments, "--out", str(folder / "out"), "--quiet"]) == 0


@pytest.fixture
def report(kind: str, once: Callable[..., Path], request: pytest.FixtureRequest) -> Path:
    """The page of a kind."""
    if kind == "plan":
        return Path(request.getfixturevalue("example_report"))
    folder = once(kind, lambda folder: write_report(folder, kind))
    return folder / "out" / ("summary.html" if kind == "summary" else "report.html")


class TestInTheBrowser:
    @EVERY_KIND
    @pytest.mark.parametrize("scheme", ["light", "dark"])
    @pytest.mark.parametrize("scripts", [True, False])
    def test_it_is_silent_loads_nothing_and_fits_every_width(
        self, opened: Opened, report: Path, scheme: Any, scripts: bool
    ) -> None:
        said: list[str] = []
        page = opened(report, said=said, color_scheme=scheme, java_script_enabled=scripts)
        for width in (1280, 768, 320):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert page.evaluate(SCROLLS) == []

        assert said == []

    @pytest.mark.slow
    @EVERY_KIND
    def test_axe_finds_no_violation_of_wcag_22_a_and_aa(self, opened: Opened, report: Path) -> None:
        """Every rule on a wide light page; what dark colours and a narrow window change, once more."""
        page = opened(report)
        page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))
        page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        found = page.evaluate(AXE, {"type": "tag", "values": WCAG})
        page.emulate_media(color_scheme="dark")
        page.set_viewport_size({"width": 320, "height": 900})
        narrow = page.evaluate(AXE, {"type": "rule", "values": CHANGING})

        broken = [(each["id"], node["html"][:120]) for each in found["violations"] for node in each["nodes"]]
        broken += [(each["id"], node["html"][:120]) for each in narrow["violations"] for node in each["nodes"]]
        assert broken == []
        assert len(found["passes"]) > 10
        assert "color-contrast" in {each["id"] for each in narrow["passes"]}

    @EVERY_KIND
    def test_what_is_clicked_is_24_pixels_high_and_wide(self, opened: Opened, report: Path) -> None:
        # WCAG 2.2, 2.5.8 Target Size (Minimum).
        page = opened(report, 320)
        small = page.evaluate(TOO_SMALL)

        assert small == []

    @EVERY_KIND
    @pytest.mark.parametrize("paper", ["A4", "Letter"])
    def test_it_prints_on_paper_and_nothing_is_cut_at_the_side(
        self, opened: Opened, report: Path, paper: str, tmp_path: Path
    ) -> None:
        page = opened(report, color_scheme="dark")
        page.pdf(path=tmp_path / "page.pdf", format=paper, prefer_css_page_size=True)
        page.emulate_media(media="print", color_scheme="dark")
        # Paper less the margins of the stylesheet: 210 mm (A4) or 215.9 mm (Letter) less twice 15 mm, at 96 px an inch.
        inside = round(((210 if paper == "A4" else 215.9) - 30) / 25.4 * 96)
        page.set_viewport_size({"width": inside, "height": 1000})
        wide = page.evaluate(
            """[...document.querySelectorAll('section:not(.sideways) > *, section:not(.sideways) > figure > *')]
                 .filter(e => e.closest('.sideways') === null && e.scrollWidth > e.clientWidth + 2 && e.clientWidth > 0)
                 .map(e => e.outerHTML.slice(0, 90))"""
        )
        ink = page.evaluate("getComputedStyle(document.body).color")
        printed = (tmp_path / "page.pdf").read_bytes()
        sizes = {
            tuple(sorted(round(float(side)) for side in box))
            for box in re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
        }

        # In points of 1/72 inch; the browser rounds up.
        expected = (595, 842) if paper == "A4" else (612, 792)
        assert sizes
        assert all(abs(size[0] - expected[0]) <= 1 and abs(size[1] - expected[1]) <= 1 for size in sizes)
        assert 1 <= len(re.findall(rb"/Type /Page\b", printed)) <= 40
        assert ink == "rgb(0, 0, 0)"
        assert wide == []

    @EVERY_KIND
    def test_keys_lead_through_the_page_and_what_has_the_focus_is_seen(self, opened: Opened, report: Path) -> None:
        page = opened(report)
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        for _ in range(12):
            page.keyboard.press("Tab")
            width = page.evaluate(
                "document.activeElement === document.body ? '' : getComputedStyle(document.activeElement).outlineWidth"
            )
            assert width == "" or float(width[:-2]) >= 2

    @EVERY_KIND
    def test_without_colour_its_figures_still_tell_their_series_apart(self, opened: Opened, report: Path) -> None:
        """Blue and orange are nearly the same grey: what is told apart by them differs in hatch, dash or shape too."""
        page = opened(report)
        plain = page.evaluate(
            """[...document.querySelectorAll('figure svg.wide-figure')].filter(s => {
                 const has = colour => s.outerHTML.includes(`fill: var(--${colour})`);
                 return has('blue') && has('orange') && !s.querySelector('pattern') && !s.querySelector('defs path');
               }).map(s => s.id)"""
        )

        assert plain == []


@cache
def parsed(report: Path) -> BeautifulSoup:
    return BeautifulSoup(report.read_text(encoding="utf-8"), "html5lib")


@pytest.fixture
def soup(report: Path) -> BeautifulSoup:
    return parsed(report)


def luminance(colour: str) -> float:
    # WCAG 2.2, definition of relative luminance.
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    # WCAG 2.2, definition of contrast ratio.
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", [0, 1, 2], ids=["light", "dark", "paper"])
def test_what_figures_are_drawn_with_stands_out_in_every_scheme(scheme: int) -> None:
    # WCAG 2.2, 1.4.11 (graphical objects, at least 3:1) and 1.4.3 (text, at least 4.5:1).
    sheet = (files("reports") / "templates" / "style.css").read_text(encoding="utf-8")
    block = re.findall(r":root \{(.*?)\}", sheet, flags=re.DOTALL)[scheme]
    tint = dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6})", block))

    for name in ("blue", "orange", "rule", "ink", "muted"):
        assert contrast(tint[name], tint["paper"]) >= 3, name
    for name in ("ink", "muted", "blue"):
        assert contrast(tint[name], tint["paper"]) >= 4.5, name
    for level in range(1, 7):
        assert contrast(tint["ink"], tint[f"level-{level}"]) >= 4.5, level


@EVERY_KIND
def test_it_is_one_valid_file_under_two_megabytes(report: Path) -> None:
    # html5lib in its strict mode raises at the first parse error of the HTML standard.
    text = report.read_text(encoding="utf-8")

    html5lib.HTMLParser(strict=True).parse(text)
    assert len(text.encode()) < 2e6
    assert not re.search(r"""(?:src|href|url\()\s*=?\s*["']?(?:https?:)?//""", text)


@EVERY_KIND
def test_headings_go_down_one_level_at_a_time(soup: BeautifulSoup) -> None:
    levels = [int(tag.name[1]) for tag in soup.find_all(re.compile("^h[1-6]$"))]

    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


@EVERY_KIND
def test_identifiers_are_unique_and_links_in_the_page_lead_somewhere(soup: BeautifulSoup) -> None:
    names = [tag["id"] for tag in soup.find_all(id=True)]
    inside = [str(link["href"])[1:] for link in soup.find_all("a") if str(link["href"]).startswith("#")]

    assert len(names) == len(set(names))
    assert set(inside) <= set(names)


@EVERY_KIND
def test_tables_have_captions_and_scopes_and_figures_say_their_message(soup: BeautifulSoup) -> None:
    for table in soup.find_all("table"):
        assert table.caption is not None
        assert table.caption.get_text(strip=True)
        assert all(heading.get("scope") in {"col", "row"} for heading in table.find_all("th"))
    for drawing in soup.select("figure svg:not(#what-if-chart)"):
        assert drawing["role"] == "img"
        assert re.search(r"\d", str(drawing["aria-label"]))
        assert len(str(drawing["aria-label"])) > 60


@EVERY_KIND
def test_it_is_made_of_the_one_stylesheet_and_the_same_parts(kind: str, report: Path, soup: BeautifulSoup) -> None:
    sheet = (files("reports") / "templates" / "style.css").read_text(encoding="utf-8")
    page = soup

    assert sheet in report.read_text(encoding="utf-8")
    assert page.main is not None
    assert page.select_one("main > section#start h1") is not None
    assert page.select_one("a.skip[href='#start']") is not None
    assert page.select_one("footer") is not None
    assert not page.select("[style*='color']:not(svg *)")
    if kind != "summary":
        listed = [str(link["href"])[1:] for link in page.select("nav ol a")]
        sections = [str(section["id"]) for section in page.select("main > section") if section["id"] != "start"]
        assert listed == sections or listed[1:] == sections
