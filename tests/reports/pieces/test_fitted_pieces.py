"""Printed pieces where a jacket is put on, a lid or a guard covers the vessel, and the marks of the meter are timed."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from bs4 import BeautifulSoup

from design.bench import Bench
from design.evaluation.school_rules import read_rules
from design.kit import Fitting
from design.search.plan import Plan
from reports.pieces import student
from reports.pieces.drawings import apparatus, apparatus_parts
from reports.pieces.faults import faults_table
from reports.pieces.marking import readings_table, sample_groups, school_percent, slips_table, working
from reports.pieces.parts import PieceBasis, given_for
from reports.pieces.registry import PIECES, piece_files
from reports.pieces.risk import hazards
from reports.pieces.specification import figures_of, ranges_of
from reports.pieces.student import marks_table, results_table
from reports.pieces.supply import comparison
from reports.pieces.technician import amounts, checks, small_parts
from reports.rendering import Origin
from reports.words.languages import LANGUAGES, Language
from tests.reports.conftest import altered

ORIGIN = Origin("0.0.0", "2026-03-04")
EN = Language("en")
LID = Fitting(name="Slotted lid", role="lid", makes="loose", mass=0.05, owned=1)
GUARD = Fitting(name="Splash ring", role="guard", makes="deflector", mass=0.06, price=16.0)
TURN = 3.6e6 / 375
"""Energy of one turn. [J]"""


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


def given_of(bench: Bench, plan: Plan, **changes: object) -> PieceBasis:
    assert plan.recommended is not None
    design = altered(plan.recommended, bench=bench, **changes)
    return given_for(dataclasses.replace(plan, recommended=design), bench, EN, ORIGIN, "abc")


@pytest.fixture
def given(fitted_bench: Bench, fitted_plan: Plan) -> PieceBasis:
    return given_of(fitted_bench, fitted_plan)


@pytest.fixture
def covered(fitted_bench: Bench, fitted_plan: Plan) -> PieceBasis:
    """The same with a lid and a guard put on as well."""
    assert fitted_plan.recommended is not None
    bench = fitted_bench.with_shelves(lid=(LID,), guard=(GUARD,))
    items = {**fitted_plan.recommended.design.items, "lid": LID.name, "guard": GUARD.name}
    return given_of(bench, fitted_plan, items=items)


@pytest.fixture
def usual(fitted_bench: Bench, fitted_plan: Plan) -> PieceBasis:
    """The same bare, and read to whole turns."""
    assert fitted_plan.recommended is not None
    items = {role: name for role, name in fitted_plan.recommended.design.items.items() if role != "jacket"}
    return given_of(fitted_bench, fitted_plan, items=items, reading="whole")


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_piece_calls_a_lid_or_a_guard_safe(code: str, covered: PieceBasis) -> None:
    for content in piece_files(PIECES, covered.plan, covered.bench, Language(code), ORIGIN).values():
        text = BeautifulSoup(content.decode(), "html5lib").get_text(" ")
        assert not re.search(
            r"\b(safe|safely|ungefährlich|gefahrlos|sans danger|sans risque|sin peligro|sin riesgo)\b", text
        )


def test_a_supplier_is_asked_for_figures_of_a_jacket_a_lid_and_a_guard(covered: PieceBasis) -> None:
    jacket, lid, guard = (plain("; ".join(figures_of(covered, item))) for item in covered.design.kit.fittings)

    assert jacket == (
        "lagging 15 mm thick; thermal conductivity 0.05 W/(m K) or less; fits a vessel 112 mm wide and 205 mm high "
        "inside; mass 140 g or less"
    )
    assert lid.startswith("loose lid with a hole for the heater; fits a vessel 112 mm wide")
    assert guard == "deflector against droplets; fits a vessel 112 mm wide and 205 mm high inside; mass 60 g or less"


def test_the_vessel_is_described_as_it_stands_on_its_shelf(given: PieceBasis) -> None:
    assert given.design.kit.vessel.jacket.thickness > 0.0
    assert "not lagged" in ranges_of(given, given.design.kit.vessel)
    assert "not lagged" in figures_of(given, given.design.kit.vessel)


def test_the_need_and_the_kit_name_the_jacket(given: PieceBasis) -> None:
    files = piece_files(PIECES, given.plan, given.bench, EN, ORIGIN)

    assert "Needed: jacket, so that" in files["purchase.html"].decode()
    for name in ("teacher", "technician"):
        assert "Cork jacket" in files[f"{name}.html"].decode()


def test_the_balance_carries_what_is_put_on(given: PieceBasis, usual: PieceBasis) -> None:
    loads = [re.search(r"[\d.]+", dict(amounts(one))["On the balance"]) for one in (given, usual)]
    found = [float(load[0]) for load in loads if load]
    # Empty beaker of 0.42 kg, jacket of 0.14 kg, and the water; written to three digits.
    water = [float(one.design.situation.levels.fill[0]) for one in (given, usual)]

    assert found == pytest.approx([0.42 + 0.14 + water[0], 0.42 + water[1]], abs=0.006)


def test_mistaking_the_last_reading_for_the_loss_leaves_nothing_out(given: PieceBasis) -> None:
    reading = sample_groups(given)[0].runs[0][0]
    rows = {row[0]: plain(row[1]) for row in slips_table(given, sample_groups(given)[0]).rows}
    last = 0.42 + 0.14 + given.design.fill - reading.mass
    written = rows["final reading of the balance used instead of the loss of mass"].removesuffix(" J/kg")

    assert float(written.replace(" ", "")) == pytest.approx(reading.energy / last, rel=1e-3)


def test_pupils_put_the_jacket_on_before_the_set_up_is_checked(given: PieceBasis, usual: PieceBasis) -> None:
    steps = student.values(given)["steps"]
    put_on = next(place for place, step in enumerate(steps) if step.endswith("until everything is cool: jacket."))

    assert steps[put_on + 1].startswith("Have the set-up checked.")
    assert not any("Put on the vessel" in step for step in student.values(usual)["steps"])


@pytest.mark.parametrize("say", [EN, Language("de")])
def test_steam_at_the_side_is_told_where_a_lid_or_a_guard_covers_the_vessel(
    covered: PieceBasis, given: PieceBasis, say: Language
) -> None:
    told = "Steam comes out at the side" if say == EN else "tritt Dampf aus"
    for one, said in ((covered, True), (given, False)):
        spoken = dataclasses.replace(one, say=say)
        assert any(told in step for step in student.values(spoken)["steps"]) is said


def test_a_covered_vessel_has_hazards_checks_and_faults_of_its_own(
    covered: PieceBasis, given: PieceBasis, usual: PieceBasis
) -> None:
    def told(one: PieceBasis) -> tuple[bool, bool, bool, bool]:
        faults = " ".join(row[0] for row in faults_table(one).rows)
        return (
            any("side of a lid or guard" in hazard for hazard in hazards(one)),
            any("lid or guard" in check for check in checks(one)),
            "lid or guard" in faults,
            "lagging gets wet" in faults,
        )

    assert told(covered) == (True, True, True, True)
    assert told(given) == (False, False, False, True)
    assert told(usual) == (False, False, False, False)


def test_timed_marks_take_a_stopwatch_with_lap_times_and_eyes_on_the_vessel(
    given: PieceBasis, usual: PieceBasis
) -> None:
    assert "stopwatch with lap times" in [row[0] for row in small_parts(given).rows]
    assert "stopwatch" in [row[0] for row in small_parts(usual).rows]
    assert any("eyes on meter and stopwatch" in hazard for hazard in hazards(given))
    assert not any("eyes on" in hazard for hazard in hazards(usual))
    # 9600 J at 1400 W: 6.857 s.
    assert any("one comes about every 6.9 s" in plain(check) for check in checks(given))


def test_the_drawing_shows_and_names_what_is_put_on(covered: PieceBasis, given: PieceBasis, usual: PieceBasis) -> None:
    assert apparatus_parts(usual)[-1] == "stand that holds the heater"
    assert apparatus_parts(given)[8:] == ("jacket",)
    assert apparatus_parts(covered)[8:] == (
        "jacket", "loose lid, steam at its side", "splash guard, steam at its side",
    )  # fmt: skip
    for one in (covered, given, usual):
        numbers = re.findall(r">(\d+)</text>", apparatus(one))
        assert numbers == [str(number) for number in range(1, len(apparatus_parts(one)) + 1)]


@pytest.mark.parametrize(
    ("procedure", "powers", "repeats", "labels"),
    [
        ("fixed-mass-kept-on", (1400.0,), 2, ["1, start", "1, end", "2, start", "2, end"]),
        ("fixed-mass-restart", (1400.0,), 2, ["tip 1", "tip 2", "tip 3"]),
        ("two-powers", (1400.0, 700.0), 1, ["1 · 700 W, end", "1 · 1.4 kW, end"]),
    ],
)
def test_the_pupils_table_has_a_row_for_each_reading_between_marks(
    given: PieceBasis, procedure: str, powers: tuple[float, ...], repeats: int, labels: list[str]
) -> None:
    ranked = altered(given.ranked, procedure=procedure, powers_W=powers, repeats=repeats)
    table = marks_table(dataclasses.replace(given, ranked=ranked))

    assert [plain(row[0]) for row in table.rows] == labels
    assert all(cell == "" for row in table.rows for cell in row[1:])
    assert table.headings[-1] == "f = (t − t₁)/(t₂ − t₁)"


def test_no_more_runs_than_fit_are_on_the_sheet(given: PieceBasis) -> None:
    many = dataclasses.replace(given, ranked=altered(given.ranked, repeats=9))

    assert len(marks_table(many).rows) == 2 * len(results_table(many).rows) == 6


def test_the_table_of_readings_asks_for_marks_and_parts(given: PieceBasis, usual: PieceBasis) -> None:
    assert results_table(given).headings[1:4] == ("Whole marks N", "Parts f₂ − f₁", "Turns n = N + f₂ − f₁")
    assert results_table(usual).headings[1:4] == ("Meter, start", "Meter, end", "Turns n")
    assert results_table(given).rows[0][5] == EN.in_unit(given.design.mass * 1000, "", 4)


def test_counts_of_sample_groups_are_hundredths_of_a_turn(given: PieceBasis) -> None:
    for group in sample_groups(given, 10):
        for (reading,) in group.runs:
            assert 100 * reading.counts == pytest.approx(round(100 * reading.counts))
            assert reading.energy == pytest.approx(reading.counts * TURN)
    counts = [row[2] for row in readings_table(given, sample_groups(given)).rows]

    assert all(re.fullmatch(r"\d+\.\d\d", count) for count in counts)


def test_counts_scatter_by_what_the_clock_misses(given: PieceBasis) -> None:
    """With a slow observer the clock is the largest error; sample groups scatter as the model says, also there."""
    slow = dataclasses.replace(given.bench, observer=dataclasses.replace(given.bench.observer, reaction_time=4.0))
    one = given_of(slow, given.plan, mass_kg=0.05, repeats=1, correction="none")
    found = np.array([group.values[0] for group in sample_groups(one, 600)])
    draws, model = np.random.default_rng(5), one.design.model
    expected = np.asarray(
        model.evaluate_draws(
            {symbol: model.distributions[symbol].ppf(draws.uniform(size=6000)) for symbol in model.uncertain}
        )
    )
    without = {symbol: model.distributions[symbol].ppf(draws.uniform(size=6000)) for symbol in model.uncertain}
    without["d_count"] = np.zeros(6000)
    clockless = np.asarray(model.evaluate_draws(without))

    # The standard deviation of 600 values is uncertain by 1/sqrt(2·600), 3 %.
    assert found.std() == pytest.approx(expected.std(), rel=0.1)
    assert clockless.std() < 0.85 * expected.std()


def test_the_school_rule_takes_the_hundredth_that_is_written_down_for_the_energy(given: PieceBasis) -> None:
    """Half a hundredth of a turn twice, and half a division of 0.5 g twice, added: what the rule's words say."""
    one = given_of(given.bench, given.plan, repeats=1)
    group = sample_groups(one)[0]
    reading = group.runs[0][0]
    by_hand = 100 * (0.01 / reading.counts + 0.0005 / reading.mass)

    assert school_percent(one, group, read_rules("add-limits")) == pytest.approx(by_hand)


def test_the_marking_sheet_works_the_parts_out_and_knows_the_slip(given: PieceBasis, usual: PieceBasis) -> None:
    group = sample_groups(given)[0]
    reading, value = group.runs[0][0], group.values[0]
    slips = {row[0]: plain(row[1]) for row in slips_table(given, group).rows}
    left_out = float(slips["parts of a count left out: whole marks alone"].removesuffix(" J/kg").replace(" ", ""))

    assert working(given, group)[0] == "n = N + f₂ − f₁, each part f = (t − t₁)/(t₂ − t₁) to 0.01"
    assert left_out == pytest.approx(value * np.floor(reading.counts) / reading.counts, rel=1e-3)
    assert not any("f₂" in line for line in working(usual, sample_groups(usual)[0]))
    assert not any("whole marks" in row[0] for row in slips_table(usual, sample_groups(usual)[0]).rows)


def test_the_low_voltage_way_is_worked_out_without_what_is_put_on(given: PieceBasis) -> None:
    heater = dataclasses.replace(given.design.kit.heater, name="Low", power=55.0, rated_voltage=12.0)
    bench = given.bench.with_shelves(heater=(*given.bench.heaters, heater))

    assert len(comparison(given_of(bench, given.plan)).headings) == 4
