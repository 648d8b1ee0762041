"""Readings that contradict each other: each is found at its row, and what is not certain is said so."""

from collections.abc import Callable
from typing import Any

import pytest

from design.evaluation.evaluate import EvaluationRequest, evaluate
from design.evaluation.findings import findings_of
from design.evaluation.result import group_result
from design.message import Message
from design.search.today import in_use
from design.sheets.readings import Finding, Sheet

Rows = list[dict[str, str]]


@pytest.fixture
def display(hand_in: Callable[..., Any]) -> Any:
    """Two runs on a display balance, with the bench in use."""
    return hand_in("whole counts", 2, 3)


def codes(rows: Rows, used: Any, make_sheet: Callable[..., Sheet]) -> set[tuple[int, str]]:
    return {(finding.row, finding.code) for finding in findings_of(make_sheet(rows), used)}


def copied(rows: Rows) -> Rows:
    return [dict(row) for row in rows]


def tared(rows: Rows, sign: float) -> Rows:
    """The same with a display set to zero at the start of each run."""
    starts = {row["run"]: float(row["mass_g"]) for row in reversed(rows)}
    return [{**row, "mass_g": f"{sign * (starts[row['run']] - float(row['mass_g'])):.1f}"} for row in rows]


def test_a_heater_that_is_off_while_energy_is_counted(two_runs: Rows, make_sheet: Any, demo_bench: Any) -> None:
    rows = [{**row, "heater": "off"} for row in two_runs]

    assert {(2, "heater_off_throughout"), (4, "heater_off_throughout")} <= codes(rows, in_use(demo_bench), make_sheet)


def test_a_cooling_run_may_have_the_heater_off(hand_in: Any, make_sheet: Any) -> None:
    handed = hand_in("cooling run", 2, 3)

    assert codes(copied(handed.sheets[0]), handed.used, make_sheet) == set()


def test_a_run_without_a_start_where_others_have_one(display: Any, make_sheet: Any) -> None:
    rows = copied(display.sheets[0])
    del rows[2]

    assert (4, "start_missing") in codes(rows, display.used, make_sheet)


def test_the_time_of_another_mark(display: Any, make_sheet: Any) -> None:
    rows = copied(display.sheets[0])
    rows[1]["time_s"] = rows[0]["time_s"]

    assert (3, "times_equal") in codes(rows, display.used, make_sheet)


def test_runs_whose_directions_differ(two_runs: Rows, make_sheet: Any, demo_bench: Any) -> None:
    rows = copied(two_runs)
    rows[2]["mass_g"], rows[3]["mass_g"] = "120", "240"

    assert (5, "directions_differ") in codes(rows, in_use(demo_bench), make_sheet)


def test_masses_that_rise_in_every_run(two_runs: Rows, make_sheet: Any, demo_bench: Any) -> None:
    rows = [{**row, "mass_g": "120" if row["mass_g"] == "240" else "240"} for row in two_runs]

    assert (3, "mass_rises") in codes(rows, in_use(demo_bench), make_sheet)


def test_a_tared_display_without_its_minus_sign_is_taken_as_a_fall_and_said_so(display: Any, make_sheet: Any) -> None:
    rows = tared(display.sheets[0], 1.0)
    with_signs = make_sheet(tared(display.sheets[0], -1.0))
    found = codes(rows, display.used, make_sheet)
    value = group_result(make_sheet(rows).readings, display.used).best.value

    assert found == {(3, "sign_not_typed"), (5, "sign_not_typed")}
    assert not findings_of(with_signs, display.used)
    assert value == group_result(with_signs.readings, display.used).best.value


def test_energy_that_no_reading_gives_is_named_with_a_wider_uncertainty(
    two_runs: Rows, make_sheet: Any, demo_bench: Any
) -> None:
    rows = [{key: text for key, text in row.items() if key != "counts"} for row in two_runs]
    found = evaluate(demo_bench, make_sheet(rows), EvaluationRequest(trials=2**12))
    counted = evaluate(demo_bench, make_sheet(two_runs), EvaluationRequest(trials=2**12))
    computed, read = (one.groups[0].result for one in (found, counted))

    assert (2, "energy_computed") in {(finding.row, finding.code) for finding in found.findings}
    assert {run.source for level in computed.measured.levels for run in level} == {"nameplate"}
    assert computed.best.standard_uncertainty > 1.5 * read.best.standard_uncertainty
    assert {"e_heater", "e_supply"} <= set(computed.best.model.uncertain)


def test_where_two_entries_could_account_for_it_both_are_named_and_none_is_a_slip(
    display: Any, make_sheet: Any
) -> None:
    """698.4 less 583.8 is as good as 968.4 less 853.8: either may have its first two digits exchanged."""
    rows = copied(display.sheets[0])
    rows[0]["mass_g"], rows[1]["mass_g"] = "698.4", "853.8"
    found = findings_of(make_sheet(rows), display.used)
    both = [finding for finding in found if seen_in(finding).key == "may_be"]

    assert {finding.row for finding in both} == {2, 3}
    assert not [finding for finding in found if seen_in(finding).key == "likely_slip"]


def seen_in(finding: Finding) -> Message:
    seen = finding.message.values["seen"]
    assert isinstance(seen, Message)
    return seen


def test_every_mass_in_kilograms_is_one_finding_for_the_column(display: Any, make_sheet: Any) -> None:
    rows = [{**row, "mass_g": f"{float(row['mass_g']) / 1e3:.4f}"} for row in display.sheets[0]]
    found = [finding for finding in findings_of(make_sheet(rows), display.used) if finding.code == "unit_slip"]

    assert [(finding.row, finding.column) for finding in found] == [(2, "mass_g")]
    assert seen_in(found[0]).key == "likely_slip_in_column"


def test_minutes_and_seconds_typed_as_seconds(display: Any, make_sheet: Any) -> None:
    rows = copied(display.sheets[0])
    for row in rows:
        minutes, seconds = divmod(round(float(row["time_s"])), 60)
        row["time_s"] = f"{minutes}.{seconds:02d}"
    found = {finding.code for finding in findings_of(make_sheet(rows), display.used)}

    assert found & {"clock_as_minutes", "unit_slip"}


def test_the_one_mark_that_fits_neither_its_neighbours_before_nor_after_is_pointed_at(
    display: Any, make_sheet: Any
) -> None:
    """An 8 read as a 3 at the start of the second run: no slip of the pen, and the marks about it are on one line."""
    rows = copied(display.sheets[0])
    rows[2]["mass_g"] = rows[2]["mass_g"].replace("8", "3", 1)
    found = {finding.row: finding for finding in findings_of(make_sheet(rows), display.used)}

    assert found[4].code == "mark_out_of_line"
    assert seen_in(found[4]).key == "fits_neither"


def test_one_mark_astray_in_a_series_is_not_taken_for_boiling_that_had_not_settled(
    hand_in: Any, make_sheet: Any
) -> None:
    handed = hand_in("series", 2, 3)
    rows = copied(handed.sheets[0])
    rows[14]["mass_g"] = f"{float(rows[14]['mass_g']) - 25.0:.1f}"
    found = {(finding.row, finding.code) for finding in findings_of(make_sheet(rows), handed.used)}

    assert (16, "mark_out_of_line") in found
    assert "boiling_not_steady" not in {code for _, code in found}
