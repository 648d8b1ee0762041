"""What people see of jackets, lids, guards, timed marks and spare water: from the decision to the printed pieces."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
from pathlib import Path
from typing import get_args

import pytest
from openpyxl import load_workbook
from rich.console import Console

from design.bench import Bench
from design.bench_files.reader import read_bench
from design.comparison.side_by_side import compare_bench
from design.dials.what_if import what_if
from design.kit import ROLES, PassingReading, Reading
from design.rehearsal.campaign import rehearse, todays_design
from design.rehearsal.tally import sheet_rows
from design.search.plan import Plan, RankedDesign
from reports.command_line.cli import main
from reports.command_line.plan import plan_files, show_plan
from reports.pages.what_if import limits_table
from reports.rendering import Origin
from reports.tables.bench_listing import bench_facts, shelf_tables
from reports.tables.compare import setting
from reports.words import plan as wording
from reports.words import run_sheet
from reports.words.languages import ENGLISH, LANGUAGES, Language
from reports.words.rehearse import design_words
from reports.words.search import ladder_sentences
from tests.reports.conftest import FITTED_BENCH, altered, make_design

ORIGIN = Origin("0.0.0", "2026-03-04")


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


@pytest.fixture
def chosen(fitted_plan: Plan) -> RankedDesign:
    assert fitted_plan.recommended is not None
    return fitted_plan.recommended


def test_every_role_and_every_way_of_reading_has_words() -> None:
    assert set(ENGLISH.group("role")) == set(ROLES)
    for reading in get_args(Reading):
        assert ENGLISH.text(f"decision.read_{reading}")
        assert ENGLISH.text(f"summary.read_{reading}")
    assert set(ENGLISH.group("reading")) <= set(get_args(Reading))


def test_the_search_takes_the_jacket_and_the_stopwatch(chosen: RankedDesign) -> None:
    assert chosen.design.items["jacket"] == "Cork jacket"
    assert chosen.design.reading == "timed"


def test_the_decision_buys_the_jacket_puts_it_on_and_times_the_marks(
    fitted_plan: Plan, fitted_bench: Bench, chosen: RankedDesign
) -> None:
    words = wording.kit_words(chosen.design)
    buy, settings, _ = (plain(sentence) for sentence in wording.decision(fitted_plan, chosen, words))
    summary = {label: plain(text) for label, text in wording.summary(fitted_plan, chosen, words)}

    assert buy.startswith("Buy 2 × the jacket “Cork jacket” for 19 EUR")
    assert settings.startswith("Put the jacket “Cork jacket” on the vessel “Tall beaker”. ")
    assert settings.endswith("Time the marks of the meter before and after each reading (lap times): the clock then "
                             "tells the part of a count.")  # fmt: skip
    assert summary["Buy"] == "2 × Cork jacket: 19 EUR"
    assert summary["Set"].startswith("jacket on the vessel; 1.4 kW; ")
    assert summary["Set"].endswith("; marks of the meter timed")


def test_a_jacket_from_the_cupboard_is_named_where_it_is_put_on(
    fitted_plan: Plan, fitted_bench: Bench, chosen: RankedDesign
) -> None:
    words = wording.kit_words(chosen.design)
    summary = dict(wording.summary(fitted_plan, altered(chosen, buy=()), words))

    assert summary["Set"].startswith("the jacket “Cork jacket” on the vessel; ")


@pytest.mark.parametrize(
    ("kind", "reading", "said"),
    [
        ("disk", "whole", "Read the meter to whole counts."),
        ("disk", "tenth", "Read the meter to a tenth of a count."),
        ("disk", "", None),
        ("display", "whole", None),
    ],
)
def test_how_to_read_is_said_where_there_is_a_choice(
    fitted_plan: Plan, chosen: RankedDesign, kind: str, reading: PassingReading, said: str | None
) -> None:
    ranked = altered(
        chosen, reading=reading, procedure=chosen.design.procedure.identifier if reading else "whole-counts"
    )
    meter = dataclasses.replace(ranked.design.kit.meter, kind=kind)  # type: ignore[arg-type]
    kit = dataclasses.replace(ranked.design.kit, meter=meter)
    words = wording.kit_words(dataclasses.replace(ranked.design, kit=kit))
    settings = wording.decision(fitted_plan, ranked, words)[1]

    assert ("Read the meter" in settings) is (said is not None)
    assert said is None or settings.endswith(said)


def test_spare_water_is_named_and_a_few_grams_are_not(
    fitted_plan: Plan, fitted_bench: Bench, chosen: RankedDesign
) -> None:
    words = wording.kit_words(chosen.design)
    for spare, said in ((0.15, True), (0.004, False)):
        ranked = altered(chosen, spare_kg=spare)
        assert ("Of this water 150 g is spare." in plain(wording.decision(fitted_plan, ranked, words)[1])) is said
        settings = dict(wording.summary(fitted_plan, ranked, words))["Set"]
        assert ("150 g of the water spare" in plain(settings)) is said


def test_the_tables_name_the_jacket_and_the_way_of_reading(fitted_plan: Plan, fitted_bench: Bench) -> None:
    files = plan_files(fitted_plan, fitted_bench, ORIGIN, pieces=())
    rows = {
        name: list(csv.DictReader(io.StringIO(files[f"{name}.csv"].decode("utf-8-sig"))))
        for name in ("ranking", "ladder", "shopping", "frontier")
    }
    book = load_workbook(io.BytesIO(files["plan.xlsx"]))

    assert rows["ranking"][0]["procedure"].startswith("fixed mass, heater kept on; marks timed; ")
    assert "Cork jacket" in rows["ranking"][0]["kit"]
    assert [row["buy"] for row in rows["ladder"]] == ["what is in the cupboard", "2 × Cork jacket"]
    assert all("; marks timed; " in row["procedure"] for row in rows["ladder"])
    assert rows["shopping"] == [{"role": "jacket", "item": "Cork jacket", "number": "2", "price": "19.0"}]
    assert any("Cork jacket" in row["buy"] for row in rows["frontier"])
    assert any("marks timed" in str(cell.value) for cell in book["ranking"][2])


def test_what_costs_nothing_is_said_to_be_how_the_meter_is_read(fitted_plan: Plan) -> None:
    assert fitted_plan.answers is not None
    ladder = dataclasses.replace(fitted_plan.answers.ladder, today_percent=9.0)
    sentence = ladder_sentences(dataclasses.replace(fitted_plan.answers, ladder=ladder))[0]

    assert sentence.startswith("Without buying anything, fixed mass, heater kept on (marks timed; losses ")


def test_the_parts_of_a_method_are_translated() -> None:
    timed = make_design(procedure="series", reading="timed", correction="none")

    assert wording.method(timed.design, Language("de")) == "Messreihe; Marken gestoppt; keine Korrektur"
    for code in LANGUAGES[1:]:
        assert wording.method(make_design(reading="timed").design, Language(code)).count("; ") == 2


def test_a_plan_with_a_jacket_is_printed_on_the_terminal(
    fitted_plan: Plan, fitted_bench: Bench, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    show_plan(fitted_plan, tmp_path / "report.html", Console(width=160, highlight=False))

    assert "jacket on the vessel; " in capsys.readouterr().out


def test_the_run_sheet_puts_the_jacket_on_and_takes_three_times_at_each_tip(
    fitted_bench: Bench, chosen: RankedDesign
) -> None:
    words = wording.kit_words(chosen.design)
    steps = run_sheet.steps(chosen.design, words)
    plainly = run_sheet.steps(altered(chosen, reading="whole").design, words)

    assert any(step.startswith("Put the jacket “Cork jacket” on the vessel.") for step in steps)
    assert sum("t₁" in step and "t₂" in step for step in steps) == 2
    assert not any("t₁" in step for step in plainly)
    assert not any("Steam comes out" in step for step in steps)


@pytest.mark.parametrize("code", LANGUAGES[1:])
@pytest.mark.parametrize("procedure", ["fixed-mass-kept-on", "fixed-mass-restart", "two-powers"])
def test_every_step_is_told_in_every_language(
    fitted_bench: Bench, chosen: RankedDesign, code: str, procedure: str
) -> None:
    powers = (1400.0, 700.0) if procedure == "two-powers" else (1400.0,)
    ranked = altered(
        chosen,
        procedure=procedure,
        powers_W=powers,
        items={**chosen.design.items, "lid": "Slotted lid"},
        spare_kg=0.1,
    )
    words = wording.kit_words(ranked.design)
    english = {*run_sheet.steps(ranked.design, words), *run_sheet.reckoning(ranked.design, None, words)}
    say = Language(code)

    assert (
        english & {*run_sheet.steps(ranked.design, words, say), *run_sheet.reckoning(ranked.design, None, words, say)}
        == set()
    )


def test_with_a_lid_or_a_guard_the_run_sheet_says_where_steam_comes_out(
    fitted_bench: Bench, chosen: RankedDesign
) -> None:
    words = wording.kit_words(chosen.design)
    for role in ("lid", "guard"):
        steps = run_sheet.steps(altered(chosen, items={**chosen.design.items, role: "Ring"}).design, words)
        assert any(step.startswith("Steam comes out at the side of a lid or guard") for step in steps)


def test_the_heater_stays_on_until_the_mark_after_the_tip(fitted_bench: Bench, chosen: RankedDesign) -> None:
    restart = altered(chosen, procedure="fixed-mass-restart")
    steps = run_sheet.steps(restart.design, wording.kit_words(restart.design))
    stay = next(place for place, step in enumerate(steps) if step.startswith("Leave the heater on until t₂"))

    assert steps[stay + 1].startswith("Switch off. ")


def test_two_powers_start_on_a_mark_and_are_timed_at_the_end(fitted_bench: Bench, chosen: RankedDesign) -> None:
    two = altered(chosen, procedure="two-powers", powers_W=(1400.0, 700.0))
    steps = run_sheet.steps(two.design, wording.kit_words(two.design))

    assert sum("t₁" in step for step in steps) == 1
    assert any(step.startswith("At the end of each run take lap times") for step in steps)


def test_the_reckoning_says_how_times_become_counts(
    fitted_plan: Plan, fitted_bench: Bench, chosen: RankedDesign
) -> None:
    words = wording.kit_words(chosen.design)
    lines = run_sheet.reckoning(chosen.design, fitted_plan.model, words)
    german = run_sheet.reckoning(chosen.design, fitted_plan.model, words, Language("de"))

    assert "f = (t − t₁)/(t₂ − t₁), written to 0.01" in lines[0]
    assert "n = N + f₂ − f₁" in lines[1]
    assert "E = 9600 J" in plain(lines[2])  # 3.6 MJ/kWh over 375 rev/kWh
    assert "auf 0,01" in german[0]


def test_the_changed_setting_watches_how_fast_marks_follow(fitted_bench: Bench, chosen: RankedDesign) -> None:
    rows = {row[0]: [plain(cell) for cell in row] for row in limits_table(what_if(chosen.design)).texts()}

    # 3.6 MJ/kWh over 375 rev/kWh and 1400 W: 6.857 s.
    assert rows["Time from one mark of the meter to the next"][1:] == ["at least 2 s", "6.86 s", "✓ kept"]


def test_the_bench_lists_its_jackets_its_way_of_reading_and_what_is_done_today(fitted_bench: Bench) -> None:
    shelves = {shelf.name: shelf for shelf in shelf_tables(fitted_bench)}
    facts = dict(bench_facts(fitted_bench))
    row = [plain(cell) for cell in shelves["jackets"].texts()[0]]

    assert row[:4] == ["Cork jacket", "15 mm cork", "140 g", "Tall beaker"]
    assert set(shelves) & {"lids", "guards"} == set()
    assert "readings of the meter: plain, timed" in facts["Search"]
    assert "Cork jacket; " in facts["Today"]
    assert plain(facts["Today"]).endswith("mass: 120 g; runs: 1; fill: 1200 g; reading of the meter: timed")


def test_a_bench_without_them_says_nothing_of_jackets(bench: Bench) -> None:
    assert {shelf.name for shelf in shelf_tables(bench)} & {"jackets", "lids", "guards"} == set()
    assert dict(bench_facts(bench))["Today"] == "not stated"


def test_check_counts_the_jackets(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(FITTED_BENCH)]) == 0
    assert "mass sets: 1, jackets: 1)" in capsys.readouterr().out


def test_lines_to_be_taken_up_in_the_starting_bench_can_be_taken_up(tmp_path: Path) -> None:
    main(["start", str(tmp_path / "mine")])
    path = tmp_path / "mine" / "bench.toml"
    text = path.read_text(encoding="utf-8")
    taken_up = re.sub(r"^# (?=\[|[a-z_]+ = )", "", text, flags=re.MULTILINE)
    path.write_text(taken_up, encoding="utf-8")
    bench = read_bench(path)

    assert taken_up != text
    assert bench.current.reading == "timed"
    assert bench.current.fill == pytest.approx(1.2)
    assert bench.search.readings == ("plain", "timed")
    assert bench.search.spare_water == (0.0, 0.15)
    assert [lid.name for lid in bench.shelves["lid"]] == ["Slotted lid"]
    assert bench.shelves["jacket"]
    assert bench.shelves["guard"]


def test_the_comparison_says_that_marks_are_timed(fitted_bench: Bench) -> None:
    found = compare_bench(fitted_bench, seed=3, trials=256, kits=5)
    plainly = dataclasses.replace(fitted_bench, current=dataclasses.replace(fitted_bench.current, reading=None))

    assert plain(setting(found.usual)) == "1.4 kW, 120 g, marks timed"
    assert found.usual.items["jacket"] == "Cork jacket"
    ways = {method.key: setting(method) for method in found.procedures}
    assert ways["two-powers"].endswith(", marks timed")
    assert not ways["whole-counts"].endswith(", marks timed")
    assert plain(setting(compare_bench(plainly, seed=3, trials=256, kits=5).usual)) == "1.4 kW, 120 g"


def test_a_rehearsal_says_so_too_and_writes_hundredths_of_counts(fitted_bench: Bench) -> None:
    rehearsal = rehearse(todays_design(fitted_bench), runs=20, trials=256, seed=3)
    rows = sheet_rows(rehearsal.sheet, 0, "1")

    assert ", once, the marks of the meter timed, with no correction" in design_words(rehearsal)
    assert all(re.fullmatch(r"\d+\.\d\d", row["counts"]) for row in rows)
