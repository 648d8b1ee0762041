"""A rehearsal: what virtual observers write down, what becomes of it, and how the shares are judged."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from budget.quantities.binomial import binomial_interval
from design.bench import Bench
from design.chosen import Design
from design.errors import DesignError
from design.kit import Kit
from design.materials import Jacket
from design.procedures.face import Correction
from design.procedures.registry import PROCEDURES, procedure_named
from design.rehearsal.campaign import Rehearsal, coverage_of, planned_design, rehearse, todays_design
from design.rehearsal.script import Stage, WaitsFor, cooling
from design.rehearsal.tally import COLUMNS, line_weights, run_columns, sheet_columns, sheet_rows, typed
from design.rehearsal.worlds import WORLDS
from design.search.plan import Plan
from design.search.planning import plan_bench
from design.setting.hardware import conditions_of
from design.sheets.readings_file import read_readings


def rehearsed(
    bench: Bench, kit: Kit, identifier: str, powers: tuple[float, ...] = (1400.0,), repeats: int = 1, runs: int = 40,
    correction: Correction = "calculated", mass: float = 0.05,
) -> Rehearsal:  # fmt: skip
    procedure = procedure_named(identifier, len(powers))
    design = Design(conditions_of(bench), kit, procedure, correction, powers, mass, repeats)
    return rehearse(design, runs=runs, seed=4, trials=512)


def test_clopper_and_pearson_as_scipy_has_them() -> None:
    for successes, trials in ((0, 20), (20, 20), (13, 20), (1900, 2000)):
        exact = binomtest(successes, trials).proportion_ci(0.95, method="exact")
        assert binomial_interval(successes, trials) == pytest.approx((exact.low, exact.high), rel=1e-9)


@given(st.integers(1, 400).flatmap(lambda trials: st.tuples(st.integers(0, trials), st.just(trials))))
def test_the_binomial_interval_holds_the_share_found(pair: tuple[int, int]) -> None:
    successes, trials = pair
    low, high = binomial_interval(successes, trials)

    assert 0.0 <= low <= successes / trials <= high <= 1.0


def test_values_drawn_from_the_budget_itself_are_covered_as_often_as_stated() -> None:
    generator = np.random.default_rng(3)
    errors = np.exp(0.05 * generator.standard_normal(40_000)) - 1.02
    reported = 2.2565e6 * (1.0 + np.exp(0.05 * generator.standard_normal(40_000)) - 1.02)

    for coverage in (0.5, 0.68, 0.95):
        assert coverage_of(reported, 2.2565e6, errors, coverage).found == pytest.approx(coverage, abs=0.01)


def test_a_value_outside_the_stated_interval_is_not_covered() -> None:
    errors = np.linspace(-0.02, 0.02, 1001)
    share = coverage_of(np.array([1.0, 1.018, 1.03, 0.97]) * 2.26e6, 2.26e6, errors, 0.95)

    assert share.found == 0.5


@pytest.mark.parametrize("identifier", sorted({procedure.identifier for procedure in PROCEDURES}))
def test_every_procedure_is_played_and_its_sheet_is_one_that_can_be_read(
    bench: Bench, kit: Kit, identifier: str, tmp_path: Path
) -> None:
    display = next(balance for balance in bench.balances if balance.kind == "electronic")
    powers = (1400.0, 700.0) if identifier == "two-powers" else (1400.0,)
    used = kit if procedure_named(identifier).needs_mass_set else replace(kit, balance=display, mass_set=None)
    found = rehearsed(bench, used, identifier, powers, repeats=2, runs=10)

    rows = sheet_rows(found.sheet, 0, "1")
    columns = sheet_columns(rows)
    text = "\n".join([",".join(columns), *(",".join(row.get(column, "") for column in columns) for row in rows)])
    (tmp_path / "readings.csv").write_text(text, encoding="utf-8")
    sheet = read_readings(tmp_path / "readings.csv")

    assert len(sheet.readings) == len(rows) == len(found.sheet.stages)
    assert set(columns) <= set(COLUMNS)
    assert not sheet.findings
    assert np.all(np.isfinite(found.reported))


def test_the_observer_writes_whole_counts_digits_and_tenths_of_seconds(bench: Bench, kit: Kit) -> None:
    found = rehearsed(bench, kit, "fixed-mass-kept-on")
    counts, mass, time = found.sheet.counts, found.sheet.mass, found.sheet.time

    assert np.all(counts == np.round(counts))
    assert np.allclose(10.0 * time, np.round(10.0 * time), atol=1e-6)
    assert np.allclose(1e3 * np.diff(mass, axis=1), -50.0)


def test_a_display_shows_its_digits(bench: Bench, kit: Kit) -> None:
    display = replace(bench.balances[1], resolution=5e-4)
    found = rehearsed(bench, replace(kit, balance=display, mass_set=None), "whole-counts")

    assert np.allclose(found.sheet.mass / 5e-4, np.round(found.sheet.mass / 5e-4), atol=1e-6)


def test_whole_counts_have_no_counting_error(bench: Bench, kit: Kit) -> None:
    display = bench.balances[1]
    found = rehearsed(bench, replace(kit, balance=display, mass_set=None), "whole-counts")

    differences = np.diff(found.sheet.counts, axis=1)
    assert np.all(differences == found.ranked.design.situation.runs.counts[0])


def test_runs_that_share_a_tip_begin_where_the_one_before_ended(bench: Bench, kit: Kit) -> None:
    found = rehearsed(bench, kit, "fixed-mass-restart", repeats=3, runs=10)

    assert run_columns(found.sheet.stages) == {1: (0, 1), 2: (1, 2), 3: (2, 3)}


def test_the_script_says_which_readings_are_of_a_run_and_which_of_a_cooling_run() -> None:
    on = (Stage(WaitsFor.CLOCK, run=1, mark=0), Stage(WaitsFor.CLOCK, run=1, mark=1))
    off = (Stage(WaitsFor.CLOCK, heater=False, run=2, mark=0), Stage(WaitsFor.CLOCK, heater=False, run=2, mark=1))

    assert run_columns((*on, *off, *cooling(3))) == {1: (0, 1), 2: (2, 3)}


@given(st.integers(2, 40))
def test_the_weights_of_a_line_give_the_difference_of_its_ends(readings: int) -> None:
    weights = line_weights(readings)

    assert float(weights.sum()) == pytest.approx(0.0, abs=1e-12)
    assert float(weights @ (3.0 * np.arange(readings) + 7.0)) == pytest.approx(3.0 * (readings - 1), rel=1e-12)


def test_a_cooling_run_finds_the_loss_that_was_there(bench: Bench, kit: Kit) -> None:
    found = rehearsed(bench, kit, "fixed-mass-kept-on", correction="cooling-run", runs=200)
    rows = sheet_rows(found.sheet, 0, "1")

    assert [row["heater"] for row in rows if row["run"] == "cooling"] == ["off"] * 9
    assert all(row["temperature_C"] for row in rows if row["run"] == "cooling")
    assert abs(found.bias) < 0.01


@pytest.mark.parametrize(
    ("value", "digit", "text"), [(12.5, 0.01, "12.50"), (31.2, 1.0, "31"), (847.0, 0.5, "847.0"), (0.25, 0.01, "0.25")]
)
def test_numbers_are_typed_in_the_digits_of_the_instrument(value: float, digit: float, text: str) -> None:
    assert typed(value, digit) == text


def test_the_same_seed_rehearses_the_same_results(bench: Bench, kit: Kit) -> None:
    first, again = (rehearsed(bench, kit, "fixed-mass-kept-on", runs=10).reported for _ in range(2))

    assert np.array_equal(first, again)


@pytest.fixture
def plan(bench: Bench) -> Plan:
    """A plan of the invented bench, on a small sample."""
    return plan_bench(replace(bench, search=replace(bench.search, repeats=(1,), masses=(0.12,))), trials=256)


def test_a_place_in_the_ranking_is_found_again_with_its_items(plan: Plan) -> None:
    design = planned_design(plan, 1)

    assert {role: item.name for role, item in design.kit.items.items()} == dict(plan.ranking[0].design.items)
    assert design.procedure.identifier == plan.ranking[0].design.procedure.identifier
    assert design.mass == plan.ranking[0].design.mass


def test_a_place_that_the_ranking_has_not_is_refused_with_what_would_be_right(plan: Plan) -> None:
    with pytest.raises(DesignError, match=rf"from 1 to {len(plan.ranking)} \(got 99\)"):
        planned_design(plan, 99)


def test_todays_way_is_that_of_the_bench_file(bench: Bench) -> None:
    design = todays_design(bench)

    assert design.kit.heater.name == "weaker"
    assert design.procedure.identifier == "fixed-mass-restart"


@pytest.mark.slow
def test_the_command_writes_what_it_promises(tmp_path: Path) -> None:
    bench = Path(__file__).parents[3] / "configs" / "demo.toml"
    command = [
        sys.executable,
        "-m",
        "reports.command_line.cli",
        "rehearse",
        str(bench),
        "--current",
        "--runs",
        "60",
        "--quiet",
    ]
    done = subprocess.run([*command, "--out", str(tmp_path / "out")], check=False, capture_output=True, text=True)
    record = json.loads((tmp_path / "out" / "rehearse.json").read_text(encoding="utf-8"))

    assert done.returncode == 0, done.stderr
    assert list(record)[:8] == [
        "runs", "coverage_asked", "coverage_found", "coverage_interval", "bias_percent", "spread_percent",
        "budget_bias_percent", "budget_standard_uncertainty_percent",
    ]  # fmt: skip
    assert record["runs"] == 60
    assert (tmp_path / "out" / "readings.xlsx").read_bytes().startswith(b"PK")
    assert "<script src" not in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def lagged_design(bench: Bench, kit: Kit) -> Design:
    """A lagged vessel with a rim high enough."""
    lagged = replace(kit.vessel, height=0.24, jacket=Jacket("15 mm cork", 0.015, 0.05))
    fitted, way = replace(kit, vessel=lagged), procedure_named("fixed-mass-kept-on")
    return Design(conditions_of(bench), fitted, way, "calculated", (1400.0,), 0.2)


def test_other_physics_leaves_the_interval_right_and_wrong_knowledge_does_not(bench: Bench, kit: Kit) -> None:
    rehearsal = rehearse(lagged_design(bench, kit), runs=600, seed=8, trials=2048, worlds=WORLDS)
    found = {one.world.key: one.coverage.found for one in rehearsal.elsewhere}

    assert rehearsal.over_rim < 0.01
    assert min(found[key] for key in ("drift_still", "drift_circulating")) >= 0.90
    assert min(found[key] for key in ("void_depth", "storage", "drips")) >= 0.85
    assert found["wet_lagging"] < 0.85
    assert found["losses_double"] < rehearsal.coverage.found
    assert {one.world.key for one in rehearsal.elsewhere if not one.world.outside} == {
        "drift_still",
        "drift_circulating",
    }


def test_water_goes_over_the_rim_oftenest_where_the_surface_rises_most(bench: Bench, kit: Kit) -> None:
    design = lagged_design(bench, kit)
    low = replace(kit.vessel, height=design.level("boiling_level") + 0.02)
    full = rehearse(replace(design, kit=replace(kit, vessel=low)), runs=40, seed=8, worlds=WORLDS[:2], trials=512)
    still, circulating = full.elsewhere

    assert still.over_rim > 0.5
    assert still.over_rim > circulating.over_rim


def test_without_worlds_nothing_is_played_twice(bench: Bench, kit: Kit) -> None:
    assert rehearsed(bench, kit, "fixed-mass-kept-on").elsewhere == ()
