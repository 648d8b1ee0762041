from __future__ import annotations

import dataclasses
import re
from itertools import pairwise

import html5lib
import pytest
from bs4 import BeautifulSoup, Tag

from design.bench import Bench
from design.search.plan import Plan
from reports.pages.plan_page import plan_page
from reports.rendering import Origin, origin

ORIGIN = Origin("0.0.0", "2026-03-04")


@pytest.fixture(scope="module")
def text(example_page: str) -> str:
    return example_page


@pytest.fixture(scope="module")
def soup(text: str) -> BeautifulSoup:
    return BeautifulSoup(text, "html5lib")


def part(soup: BeautifulSoup, selector: str) -> Tag:
    found = soup.select_one(selector)
    assert found is not None
    return found


def told(soup: BeautifulSoup, selector: str) -> str:
    return part(soup, selector).get_text(" ", strip=True).replace("\u202f", " ")


def test_the_page_is_valid_html(text: str) -> None:
    # html5lib in its strict mode raises at the first parse error of the HTML standard.
    html5lib.HTMLParser(strict=True).parse(text)


def test_the_page_has_a_language_and_a_title(soup: BeautifulSoup) -> None:
    assert part(soup, "html")["lang"] == "en"
    assert told(soup, "title").startswith("Invented college")


def test_the_page_loads_nothing(soup: BeautifulSoup, text: str) -> None:
    assert not soup.find_all(["link", "iframe", "img", "object", "embed"])
    assert not [script for script in soup.find_all("script") if script.has_attr("src")]
    assert not re.findall(r"https?://|@import|url\((?!#)", text)
    assert all(str(a["href"]).startswith("#") for a in soup.find_all("a"))


def test_the_page_is_small_enough_to_e_mail(text: str) -> None:
    assert len(text.encode()) < 2_000_000


def test_every_link_leads_somewhere(soup: BeautifulSoup) -> None:
    names = [tag["id"] for tag in soup.find_all(id=True)]

    assert len(names) == len(set(names))
    assert {str(a["href"])[1:] for a in soup.find_all("a")} <= set(names)


def test_headings_go_down_one_level_at_a_time(soup: BeautifulSoup) -> None:
    levels = [int(tag.name[1]) for tag in soup.find_all(re.compile("^h[1-6]$"))]

    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_every_section_answers_a_question(soup: BeautifulSoup) -> None:
    assert all(heading.get_text().endswith("?") for heading in soup.find_all("h2"))


def test_every_table_has_a_caption_and_headings_with_a_scope(soup: BeautifulSoup) -> None:
    tables = soup.find_all("table")

    assert len(tables) >= 12
    for one in tables:
        assert [caption for caption in one.find_all("caption") if caption.get_text(strip=True)]
        assert all(th["scope"] in {"col", "row"} for th in one.find_all("th"))
        assert all(row.find("th", scope=True) for row in one.find_all("tr"))


def test_every_drawing_has_a_text_alternative_and_a_caption(soup: BeautifulSoup) -> None:
    figures = soup.find_all("figure")

    assert len(figures) == 7
    for one in figures:
        assert [caption for caption in one.find_all("figcaption") if caption.get_text(strip=True)]
        assert all(svg["role"] == "img" and len(svg["aria-label"]) > 40 for svg in one.find_all("svg"))


def test_the_first_page_holds_the_decision(soup: BeautifulSoup) -> None:
    first = told(soup, ".first-page")

    for fact in ("Buy the energy meter", "1.4 kW", "120 g", "2273 kJ/kg", "2242 kJ/kg", "9.8 %", "41 min"):
        assert fact in first
    assert "your local rules decide" in first


def test_the_first_page_says_once_that_nothing_published_tests_the_losses(soup: BeautifulSoup) -> None:
    said = "No published kilowatt run of a vessel of known size tests the losses predicted here"

    assert told(soup, ".first-page").count(said) == 1
    assert told(soup, "main").count(said) == 1


def test_the_sections_come_in_the_order_of_the_job(soup: BeautifulSoup) -> None:
    order = [section["id"] for section in soup.find_all("section")]

    named = ("walk", "map", "what-if", "money", "ranking", "sure", "run", "cautions", "computed")
    assert order == ["start", *(f"{name}-section" for name in named)]


def test_how_sure_it_is_says_ties_probabilities_trials_and_numerical_error(soup: BeautifulSoup) -> None:
    section = told(soup, "#sure-section")

    for fact in ("2 designs of the ranking cannot be told apart", "in 83 % of the cases", "within 0.20 %"):
        assert fact in section
    assert "a cooling run: expected to lower the error by 0.02 % through a better choice, by 0.11 %" in section
    assert "expected value of sample information" in section
    assert "because the sample of 4096 trials is finite" in section


def test_the_ranking_explains_how_sure_its_rows_are(soup: BeautifulSoup) -> None:
    section = part(soup, "#ranking-section")
    rows = [[cell.get_text() for cell in row.find_all(["th", "td"])] for row in section.find_all("tr")]

    assert [heading.split(" (")[0] for heading in rows[0][-2:]] == ["Nearly best", "Costs on average"]
    assert [cell.split("\u202f")[0] for cell in rows[1][-2:]] == ["83.0", "0.04"]
    said = told(soup, "#ranking-section > p")
    assert "“Nearly best”: in how many cases the error of the row is within 0.20 % of the least" in said
    assert "“Costs” is how much more than the least its error then is, on average" in said


def test_everything_taken_where_the_bench_file_is_silent_is_listed(soup: BeautifulSoup) -> None:
    from design.bench_files.tables import DEFAULTS
    from design.physics.evidence import ROWS
    from reports.words.languages import ENGLISH

    groups = ("evidence", "evidence_source", "evidence_compared")
    section = told(soup, "#taken-part")

    assert all(each.name in section and each.source in section for each in DEFAULTS)
    assert all(ENGLISH.text(f"{group}.{row.key}") in section for row in ROWS for group in groups)
    column = [heading.get_text() for heading in soup.select("#taken-part th[scope=col]")].count("Rests on")
    assert column == 1
    assert all(words in section for words in ("measured on this kind of rig", "published for another", "judgement"))


def test_how_it_was_computed_can_be_repeated(soup: BeautifulSoup) -> None:
    section = told(soup, "#computed-section")

    for fact in ("boiloff 0.0.0, 2026-03-04", "seed 7", "4096 trials", "48 210 considered", "3122 feasible"):
        assert fact in section
    assert "m_vapour = m * (1 - s)" in section
    assert "takes longer than the lesson" in section


def test_the_page_warns_against_subtracting_the_heater_off_rate(soup: BeautifulSoup) -> None:
    assert "Do not subtract a mass-loss rate measured with the heater off" in told(soup, "#signs-part")


def test_invented_examples_are_marked(soup: BeautifulSoup, plan: Plan, bench: Bench) -> None:
    assert "invented" in told(soup, "#start")
    assert "prices are invented" not in plan_page(dataclasses.replace(plan, scenario=""), bench, ORIGIN)


def test_text_from_files_is_escaped(plan: Plan, bench: Bench) -> None:
    page = plan_page(dataclasses.replace(plan, bench_name="<script>alert(1)</script> & co"), bench, ORIGIN)

    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; co" in page
    assert "rescued &lt;from&gt; a skip" in page


def test_the_same_plan_gives_the_same_bytes(plan: Plan, bench: Bench) -> None:
    assert plan_page(plan, bench, ORIGIN) == plan_page(plan, bench, ORIGIN)


def test_a_plan_without_a_map_or_today_is_a_page_without_them(plan: Plan, bench: Bench) -> None:
    page = plan_page(dataclasses.replace(plan, error_map=None, current=None, current_model=None), bench, ORIGIN)
    parsed = BeautifulSoup(page, "html5lib")

    assert parsed.find(id="map-section") is None
    assert "map-section" not in page
    assert "today’s kit cannot do it" in told(parsed, "#start")


def test_a_plan_that_recommends_nothing_has_no_page(infeasible_plan: Plan, bench: Bench) -> None:
    with pytest.raises(ValueError, match="needs a recommended design"):
        plan_page(infeasible_plan, bench, ORIGIN)


def test_the_date_comes_from_the_convention_of_reproducible_builds(monkeypatch: pytest.MonkeyPatch) -> None:
    # reproducible-builds.org, SOURCE_DATE_EPOCH: seconds since 1970-01-01 in UTC.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(86400 * 365))

    assert origin().date == "1971-01-01"
