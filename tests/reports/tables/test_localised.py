"""Tables, facts and figures in the language of a page, and the workbook beside it."""

from __future__ import annotations

import dataclasses
import io
import re

import pytest
from bs4 import BeautifulSoup
from openpyxl import load_workbook

from design.bench import Bench
from design.search.plan import Plan
from reports.figures.waterfall import waterfall
from reports.pages.plan_page import plan_page
from reports.pieces.registry import PIECES
from reports.rendering import Origin
from reports.tables.bench_listing import bench_facts, shelf_tables
from reports.tables.plan import plan_workbook, ranking_table, share_table, time_table, with_units
from reports.tables.walk import walk
from reports.words import plan as wording
from reports.words.languages import Language
from tests.reports.conftest import altered

DE = Language("de")
ORIGIN = Origin("0.0.0", "2026-03-04")


def test_numbers_of_a_table_get_a_decimal_comma_and_its_words_are_translated(plan: Plan) -> None:
    assert plan.recommended is not None
    table = share_table(plan.recommended.sources, say=DE)
    texts = table.texts()

    assert [column.heading for column in table.columns][:2] == ["Quelle", "Anteil"]
    assert texts[0][1] == "46,2\u202f%"
    assert {row[-1] for row in texts} <= {"zu groß", "zu klein", "in keine Richtung"}
    assert all(column.is_number for column in table.columns[1:-1])


def test_words_of_a_table_are_translated_and_names_stay(plan: Plan) -> None:
    assert plan.recommended is not None
    ranked = altered(plan.recommended, procedure="series", repeats=3, correction="calculated")
    row = ranking_table(dataclasses.replace(plan, ranking=(ranked,)), say=DE).texts()[0]

    assert row[1] == "; ".join(ranked.design.items.values())
    assert row[2] == "Messreihe; Verluste aus der Geometrie berechnet"
    assert wording.times(3, DE) == "3-mal"
    assert walk(ranked, plan.model, DE)[-1].name == "Korrektur: Verluste aus der Geometrie berechnet"


def test_a_drawing_is_made_in_its_language(plan: Plan) -> None:
    assert plan.recommended is not None
    comma = waterfall("walk", walk(plan.recommended, plan.model, DE), plan.latent_heat, DE)

    assert not re.search(r">[^<>]*\d\.\d[^<>]*</text>", comma.svg)
    assert "wahrer Wert" in comma.svg


@pytest.mark.parametrize(("code", "heading"), [("de", "Woher kommt"), ("fr", "D’où vient"), ("es", "¿De dónde viene")])
def test_the_plan_page_speaks_the_language(code: str, heading: str, plan: Plan, bench: Bench) -> None:
    text = plan_page(plan, bench, ORIGIN, say=Language(code), pieces=PIECES)
    page = BeautifulSoup(text, "html5lib")
    decision = page.select_one(".lead")

    assert f'<html lang="{code}">' in text
    assert any(found.get_text().startswith(heading) for found in page.find_all("h2"))
    assert decision is not None
    assert not re.search(r"\b(Buy|Expect|fill in|run the)\b", decision.get_text())
    assert re.search(r"\d,\d", decision.get_text())


def test_the_page_leads_to_every_piece(plan: Plan, bench: Bench) -> None:
    page = BeautifulSoup(plan_page(plan, bench, ORIGIN, pieces=PIECES), "html5lib")
    links = {str(link["href"]) for link in page.find_all("a")}

    assert {piece.file for piece in PIECES} <= links


def test_the_page_writes_its_model_as_mathml_beside_the_text(plan: Plan, bench: Bench) -> None:
    assert plan.model is not None
    page = BeautifulSoup(plan_page(plan, bench, ORIGIN), "html5lib")

    assert len(page.find_all("math")) == len(plan.model.intermediates) + 1


def test_the_workbook_holds_every_table_with_units_in_the_headings(plan: Plan) -> None:
    book = load_workbook(io.BytesIO(plan_workbook(plan, "2026-03-04", DE)))
    ranking = book["ranking"]
    headings = [cell.value for cell in ranking[1]]

    assert {"walk", "sources", "budget", "ranking", "frontier", "shopping", "signs"} <= set(book.sheetnames)
    assert "Leistung / W" in headings
    assert "Preis / EUR" in headings
    assert isinstance(ranking.cell(2, headings.index("Preis / EUR") + 1).value, int | float)


def test_the_workbook_is_the_same_bytes_for_the_same_plan(plan: Plan) -> None:
    assert plan_workbook(plan, "2026-03-04") == plan_workbook(plan, "2026-03-04")


def test_a_heading_without_unit_has_no_solidus(plan: Plan) -> None:
    assert plan.recommended is not None

    assert [column.heading for column in with_units(time_table(plan.recommended.design)).columns] == [
        "Stage",
        "Time / min",
    ]


def test_a_long_heading_may_break_on_the_page_and_stands_whole_in_the_workbook(plan: Plan) -> None:
    table = ranking_table(plan, say=DE)

    assert "Standard\u00adunsicherheit" in [column.heading for column in table.columns]
    assert "Standardunsicherheit / %" in [column.heading for column in with_units(table).columns]


def test_what_a_bench_file_says_is_listed_in_the_language_of_the_page(bench: Bench) -> None:
    facts, english = dict(bench_facts(bench, DE)), dict(bench_facts(bench))

    assert facts["Stunde"].endswith(f"Gruppen zugleich: {bench.lesson.groups}")
    assert facts["Suche"].startswith("klein gemacht: ")
    assert set(facts.values()) & set(english.values()) <= {bench.path, english["Room"], english["Purse"]}
    cells = {cell for shelf in shelf_tables(bench, DE) for row in shelf.rows for cell in row}
    assert "nein" in cells
    assert cells & {"yes", "no", "enough"} == set()
