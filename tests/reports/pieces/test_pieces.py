"""Printed pieces: what each must hold, what none may hold, and that their numbers come from the plan's own model."""

from __future__ import annotations

import dataclasses
import re
from itertools import pairwise

import html5lib
import numpy as np
import pytest
from bs4 import BeautifulSoup

from design.bench import Bench
from design.evaluation.school_rules import read_rules
from design.search.plan import Plan, RankedDesign
from reports.errors import OutputError
from reports.pieces.marking import sample_groups, school_percent, slips_table
from reports.pieces.parts import PieceBasis, given_for
from reports.pieces.registry import NAMES, PIECES, chosen, fingerprint, piece_files, piece_page
from reports.pieces.risk import hazards_table
from reports.pieces.specification import figures_of
from reports.pieces.student import results_table
from reports.rendering import Origin
from reports.words.languages import LANGUAGES, Language
from tests.reports.conftest import altered

ORIGIN = Origin("0.0.0", "2026-03-04")
EN = Language("en")
PROCEDURES = {
    "fixed-mass-restart": (1400.0,),
    "fixed-mass-kept-on": (1400.0,),
    "whole-counts": (1400.0,),
    "two-powers": (1400.0, 700.0),
    "series": (1400.0,),
}


def design_by(plan: Plan, procedure: str, **changes: object) -> RankedDesign:
    assert plan.recommended is not None
    items = dict(plan.recommended.design.items)
    if not procedure.startswith("fixed-mass"):
        items.pop("mass_set")
    powers = PROCEDURES[procedure]
    fields = {"procedure": procedure, "items": items, "powers_W": powers, "mass_kg": 0.05, **changes}
    return altered(plan.recommended, **fields)


def given_by(plan: Plan, bench: Bench, procedure: str, say: Language = EN, **changes: object) -> PieceBasis:
    return given_for(
        dataclasses.replace(plan, recommended=design_by(plan, procedure, bench=bench, **changes)),
        bench,
        say,
        ORIGIN,
        "abc",
    )


def spoken(page: str) -> str:
    """Text of the main part of a page."""
    main = BeautifulSoup(page, "html5lib").find("main")
    return main.get_text(" ") if main else ""


@pytest.fixture
def pages(plan: Plan, bench: Bench) -> dict[str, BeautifulSoup]:
    files = piece_files(PIECES, plan, bench, EN, ORIGIN)
    return {name.removesuffix(".html"): BeautifulSoup(text, "html5lib") for name, text in files.items()}


@pytest.mark.parametrize("code", LANGUAGES)
def test_every_piece_is_valid_html_that_loads_nothing(code: str, plan: Plan, bench: Bench) -> None:
    for content in piece_files(PIECES, plan, bench, Language(code), ORIGIN).values():
        text = content.decode()
        html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)

        assert f'<html lang="{code}">' in text
        assert not re.search(r"""(src|href)=["'](?!#)|@import|url\((?!#)""", text)
        assert len(content) < 60_000


@pytest.mark.parametrize("name", NAMES)
def test_headings_captions_and_scopes_are_in_order(name: str, pages: dict[str, BeautifulSoup]) -> None:
    page = pages[name]
    levels = [int(heading.name[1]) for heading in page.find_all(re.compile(r"^h[1-6]$"))]

    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(table.caption and table.caption.get_text(strip=True) for table in page.find_all("table"))
    assert all(cell.get("scope") in {"col", "row"} for cell in page.find_all("th"))
    assert all(drawing.get("aria-label") or drawing.get("aria-hidden") for drawing in page.find_all("svg"))
    assert len({element["id"] for element in page.find_all(id=True)}) == len(page.find_all(id=True))


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_piece_calls_anything_safe_or_gives_minutes_of_first_aid(code: str, plan: Plan, bench: Bench) -> None:
    for content in piece_files(PIECES, plan, bench, Language(code), ORIGIN).values():
        text = spoken(content.decode())

        assert not re.search(r"\b(safe|safely|sicher zu|ungefährlich|sans danger|sans risque|sin peligro)\b", text)
        assert not re.search(r"(cool|kühl|refroid|enfri)\w*[^.]{0,40}\d+\s*min", text)


def test_the_risk_assessment_leaves_everything_blank_that_must_be_judged(plan: Plan, bench: Bench) -> None:
    table = hazards_table(given_by(plan, bench, "fixed-mass-kept-on"))

    assert len([row for row in table.rows if row[0]]) >= 10
    assert all(cell == "" for row in table.rows for cell in row[1:])


def test_the_risk_assessment_defers_to_the_employer(pages: dict[str, BeautifulSoup]) -> None:
    assert "Follow your employer’s and local rules" in pages["risk"].get_text()


def test_the_student_sheet_tells_no_result(plan: Plan, bench: Bench) -> None:
    """Neither the accepted value nor what to expect stands on the sheet; counts stand where they are set."""
    ranked = design_by(plan, "fixed-mass-kept-on")
    page = piece_page(PIECES[1], given_for(dataclasses.replace(plan, recommended=ranked), bench, EN, ORIGIN, "abc"))
    text = spoken(page)

    for number in (plan.latent_heat / 1000, ranked.expected_J_per_kg / 1000, ranked.design.counts):
        assert f"{number:.0f}" not in text
        assert f"{number:.1f}" not in text
    assert not re.search(r"2[.,]2\d", text)


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_the_table_of_readings_is_empty_with_units_after_a_solidus(procedure: str, plan: Plan, bench: Bench) -> None:
    given = given_by(plan, bench, procedure)
    table = results_table(given)
    written = {cell for row in table.rows for cell in row[1:] if cell}

    assert written == ({"50"} if procedure.startswith("fixed-mass") else set())
    assert any(heading.endswith("/ s") for heading in table.headings)
    assert any(heading.endswith("/ g") for heading in table.headings)


def test_a_cooling_run_has_a_table_of_its_own(plan: Plan, bench: Bench) -> None:
    with_run = piece_page(PIECES[1], given_by(plan, bench, "fixed-mass-kept-on", correction="cooling-run"))
    without = piece_page(PIECES[1], given_by(plan, bench, "fixed-mass-kept-on", correction="calculated"))

    assert "Water temperature / °C" in with_run
    assert "Water temperature / °C" not in without


def test_two_powers_go_from_the_lower_to_the_higher(plan: Plan, bench: Bench) -> None:
    labels = [row[0] for row in results_table(given_by(plan, bench, "two-powers")).rows]

    assert [label.partition("· ")[2] for label in labels[:2]] == ["700\u202fW", "1.4\u202fkW"]


@pytest.mark.parametrize("procedure", PROCEDURES)
@pytest.mark.parametrize("correction", ["none", "calculated"])
def test_sample_groups_are_drawn_from_the_model(procedure: str, correction: str, plan: Plan, bench: Bench) -> None:
    """Many groups scatter about what the model expects, no further off than four standard errors of their mean."""
    given = given_by(plan, bench, procedure, correction=correction, repeats=2)
    groups = sample_groups(given, 150)
    draws, model = np.random.default_rng(5), given.design.model
    drawn = {symbol: model.distributions[symbol].ppf(draws.uniform(size=4000)) for symbol in model.uncertain}
    expected = np.asarray(model.evaluate_draws(drawn))
    found = np.array([group.corrected for group in groups])
    error = np.hypot(found.std() / np.sqrt(found.size), expected.std() / np.sqrt(expected.size))

    assert found.mean() == pytest.approx(expected.mean(), abs=4 * error)


def test_sample_groups_are_the_same_for_the_same_seed_and_others_for_another(plan: Plan, bench: Bench) -> None:
    given = given_by(plan, bench, "whole-counts")
    other = given_for(dataclasses.replace(given.plan, seed=8), bench, EN, ORIGIN, "abc")

    assert sample_groups(given) == sample_groups(given)
    assert sample_groups(given) != sample_groups(other)


def test_readings_are_no_finer_than_the_instruments(plan: Plan, bench: Bench) -> None:
    given = given_by(plan, bench, "whole-counts")
    for group in sample_groups(given, 20):
        for (reading,) in group.runs:
            steps = reading.mass / given.design.kit.balance.resolution

            assert reading.counts == round(reading.counts)
            assert reading.energy == pytest.approx(reading.counts * 4500.0)  # 3.6 MJ/kWh over 800 pulse/kWh
            assert steps == pytest.approx(round(steps))
            assert reading.time == round(reading.time)


def test_the_value_of_a_sample_group_is_energy_over_mass(plan: Plan, bench: Bench) -> None:
    for group in sample_groups(given_by(plan, bench, "fixed-mass-kept-on")):
        for (reading,), value in zip(group.runs, group.values, strict=True):
            assert value == pytest.approx(reading.energy / reading.mass)


def test_the_school_percentage_is_worked_as_a_pupil_would(plan: Plan, bench: Bench) -> None:
    """Limits add: twice half a count of n, twice half a division over m; no reading shows the masses' tolerance."""
    given = given_by(plan, bench, "fixed-mass-kept-on", repeats=1)
    group = sample_groups(given)[0]
    reading = group.runs[0][0]
    by_hand = 100 * (1 / reading.counts + 0.0005 / reading.mass)

    assert school_percent(given, group, read_rules("add-limits")) == pytest.approx(by_hand)


def test_slips_are_those_of_units(plan: Plan, bench: Bench) -> None:
    """A result in J/g is a thousandth of that in J/kg; one kilowatt-hour is 3.6 MJ (SI brochure, table 8)."""
    given = given_by(plan, bench, "fixed-mass-kept-on")
    group = sample_groups(given)[0]
    rows = {row[0]: row[1] for row in slips_table(given, group).rows}

    assert rows["mass left in grams"] == EN.in_unit(group.values[0] / 1000, "J/g", 4)
    assert rows["energy left in kilowatt-hours"] == EN.in_unit(group.values[0] / 3.6e6, "kWh/kg", 4)


def test_a_specification_is_figures_not_names(plan: Plan, bench: Bench, pages: dict[str, BeautifulSoup]) -> None:
    given = given_by(plan, bench, "fixed-mass-kept-on")
    text = pages["purchase"].get_text(" ")

    assert all(re.search(r"\d", " ".join(figures_of(given, item))) for item in given.design.kit.items.values())
    assert not any(item.name in text for item in given.design.kit.items.values())


def test_the_purchase_says_the_error_before_and_after(pages: dict[str, BeautifulSoup], plan: Plan) -> None:
    assert plan.recommended is not None
    assert plan.current is not None
    text = pages["purchase"].get_text(" ")

    assert EN.percent(plan.recommended.rms_error_percent) in text
    assert EN.percent(plan.current.rms_error_percent) in text


def test_a_plan_that_buys_nothing_says_so(plan: Plan, bench: Bench) -> None:
    free = given_by(plan, bench, "fixed-mass-kept-on", buy=(), price=0.0)
    text = spoken(piece_page(PIECES[6], free))

    assert "Nothing has to be bought" in text


def test_the_technician_list_counts_for_all_groups(plan: Plan, bench: Bench) -> None:
    eight = dataclasses.replace(bench, lesson=dataclasses.replace(bench.lesson, groups=8))
    page = BeautifulSoup(piece_page(PIECES[2], given_by(plan, eight, "fixed-mass-kept-on")), "html5lib")
    table = next(table for table in page.find_all("table") if table.find("caption", string="Kit"))

    assert {row.find_all("td")[3].get_text() for row in table.find_all("tr")[1:]} == {"8"}
    assert "24" in page.get_text()  # three pairs of goggles for each of eight groups


def test_a_circuit_carries_whole_sets_only(plan: Plan, bench: Bench, pages: dict[str, BeautifulSoup]) -> None:
    """13 A at 230 V is 2990 W: two sets of 1.4 kW."""
    assert "carries 2 sets" in pages["teacher"].get_text(" ")


def test_pieces_are_chosen_by_name_in_their_own_order() -> None:
    assert [piece.name for piece in chosen("student, teacher")] == ["teacher", "student"]
    assert chosen(None) == chosen("all") == PIECES
    assert chosen("none") == ()


def test_an_unknown_piece_is_refused_with_the_known_ones() -> None:
    with pytest.raises(OutputError, match=r"'poster' is no page; write some of teacher, student, .* or all, or none"):
        chosen("teacher,poster")


def test_the_mark_tells_plans_apart_but_not_folders(plan: Plan, bench: Bench) -> None:
    moved = dataclasses.replace(bench, path="/elsewhere/college.toml")
    other = dataclasses.replace(bench, lesson=dataclasses.replace(bench.lesson, groups=3))

    assert fingerprint(plan, bench) == fingerprint(plan, moved)
    assert fingerprint(plan, bench) != fingerprint(plan, other)


def test_the_same_plan_gives_the_same_bytes(plan: Plan, bench: Bench) -> None:
    assert piece_files(PIECES, plan, bench, EN, ORIGIN) == piece_files(PIECES, plan, bench, EN, ORIGIN)


def test_names_from_a_bench_file_are_escaped(plan: Plan, bench: Bench) -> None:
    named = dataclasses.replace(plan, bench_name="<script>alert(1)</script> & co")
    for content in piece_files(PIECES, named, bench, EN, ORIGIN).values():
        assert b"<script>" not in content


def test_a_plan_without_a_recommendation_has_no_pieces(infeasible_plan: Plan, bench: Bench) -> None:
    with pytest.raises(ValueError, match="recommended design"):
        piece_files(PIECES, infeasible_plan, bench, EN, ORIGIN)
