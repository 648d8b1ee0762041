"""Damaged sheets, one slip each, and good ones: each slip is found at its row by its own code, good sheets are not."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from design.evaluation.findings import findings_of
from design.search.today import in_use

Rows = list[dict[str, str]]
Damage = Callable[[Rows], Rows | None]


def cell(row: int, column: str, text: str) -> Damage:
    """Type another text into a cell; rows counted as a spreadsheet does, the heading being row 1."""

    def damage(rows: Rows) -> None:
        rows[row - 2][column] = text

    return damage


def cells(*changes: tuple[int, str, str]) -> Damage:
    def damage(rows: Rows) -> None:
        for row, column, text in changes:
            rows[row - 2][column] = text

    return damage


def added(**row: str) -> Damage:
    def damage(rows: Rows) -> Rows:
        return [*rows, {"group": "1", "heater": "on", **row}]

    return damage


def copied(row: int) -> Damage:
    def damage(rows: Rows) -> Rows:
        return [*rows[: row - 1], dict(rows[row - 2]), *rows[row - 1 :]]

    return damage


def shifted(column: str, by: float) -> Damage:
    def damage(rows: Rows) -> None:
        for row in rows:
            row[column] = f"{float(row[column]) + by:.1f}"

    return damage


def lagging_start(rows: Rows) -> None:
    """The first marks of a series lose less steam than their energy makes: boiling had not settled."""
    for index, row in enumerate(rows[:5]):
        row["mass_g"] = f"{float(row['mass_g']) - 3.0 * (5 - index) ** 2 / 5:.1f}"


FIXED_MASS: tuple[tuple[str, Damage, int, str], ...] = (
    ("time that runs backwards", cell(2, "time_s", "500"), 3, "time_runs_backwards"),
    ("counts that run backwards", cell(3, "counts", "11"), 3, "counts_run_backwards"),
    ("transposed counts", cell(3, "counts", "34"), 3, "digits_transposed"),
    ("transposed mass at the end", cell(3, "mass_g", "210"), 3, "digits_transposed"),
    ("transposed mass at the start", cell(2, "mass_g", "420"), 2, "digits_transposed"),
    ("transposed mass in the second run", cell(4, "mass_g", "204"), 4, "digits_transposed"),
    ("minutes for seconds", cell(3, "time_s", "7.2"), 3, "unit_slip"),
    ("minutes for seconds in the second run", cell(5, "time_s", "7.3"), 5, "unit_slip"),
    ("kilograms for grams in one cell", cell(5, "mass_g", "0.12"), 5, "unit_slip"),
    ("kilograms for grams in a run", cells((4, "mass_g", "0.24"), (5, "mass_g", "0.12")), 4, "unit_slip"),
    ("a row copied", copied(5), 6, "duplicate_row"),
    ("a mark not changed", cells((3, "time_s", "0"), (3, "counts", "12"), (3, "mass_g", "240")), 3, "duplicate_row"),
    ("more decimals than the counter has", cell(5, "counts", "82.4"), 5, "too_many_decimals"),
    ("a mean outside its readings", added(run="mean", counts="45"), 6, "mean_outside_readings"),
    (
        "a step of few divisions",
        cells((3, "mass_g", "232"), (3, "counts", "14"), (3, "time_s", "29")),
        3,
        "step_too_small",
    ),
    ("few counts", cells((3, "mass_g", "195"), (3, "counts", "24"), (3, "time_s", "166")), 3, "counts_too_few"),
    ("heater off at one mark", cell(5, "heater", "off"), 5, "heater_state_differs"),
    ("water below the boil", cell(2, "temperature_C", "94.0"), 2, "boiling_not_steady"),
    ("power beyond the nameplate", cell(3, "time_s", "232"), 3, "power_beyond_nameplate"),
    ("power far below the nameplate", cell(3, "time_s", "955"), 3, "power_below_nameplate"),
    ("less energy than the mass needs", cell(3, "counts", "27"), 3, "energy_too_small"),
    ("more energy than any loss explains", cell(5, "mass_g", "174"), 5, "energy_too_large"),
    ("a word for a number", cell(5, "counts", "many"), 5, "not_a_number"),
    ("a formula for a number", cell(5, "counts", "=E4+32"), 5, "formula_in_cell"),
    ("comma and point in one number", cell(5, "time_s", "1.234,5"), 5, "ambiguous_number"),
    ("an empty cell", cell(5, "counts", ""), 5, "value_missing"),
    ("marks the wrong way round", cells((4, "mark", "1"), (5, "mark", "0")), 5, "marks_out_of_order"),
    ("own value in another unit", cell(3, "attempt_J_per_kg", "2.26"), 3, "attempt_unit_slip"),
    ("own value far off", cell(3, "attempt_J_per_kg", "90000000"), 3, "attempt_far_off"),
    ("a decimal mark lost in the time", cell(3, "time_s", "4320"), 3, "decimal_slip"),
    ("a digit too many in the counts", cell(3, "counts", "430"), 3, "decimal_slip"),
    ("neither on nor off", cell(3, "heater", "warm"), 3, "heater_not_said"),
    ("a column nobody knows", cell(2, "lenght", "3"), 1, "unknown_column"),
)

DISPLAY: tuple[tuple[str, Damage, int, str], ...] = (
    ("mass that rises", cell(3, "mass_g", "1056.3"), 3, "mass_runs_backwards"),
    ("more decimals than the display has", cell(3, "mass_g", "856.375"), 3, "too_many_decimals"),
    ("an element above the water", shifted("mass_g", -600.0), 3, "element_uncovered"),
    ("a decimal mark in another place", cell(4, "mass_g", "82.83"), 4, "decimal_slip"),
)

SERIES: tuple[tuple[str, Damage, int, str], ...] = (
    ("boiling not steady at first", lagging_start, 2, "boiling_not_steady"),
    ("a mark out of line", cell(8, "mass_g", "861.0"), 0, "mark_out_of_line"),
)

ENERGY: tuple[tuple[str, Damage, int, str], ...] = (
    ("watt hours for kilowatt hours", cells((2, "energy_kWh", "3500"), (3, "energy_kWh", "3583")), 2, "unit_slip"),
    ("joules for kilowatt hours", cells((2, "energy_kWh", "0"), (3, "energy_kWh", "298800")), 3, "unit_slip"),
    ("kilowatts for watts", cells((2, "power_W", "0.7"), (3, "power_W", "0.7")), 2, "unit_slip"),
)


def columns_of(rows: Rows) -> list[str]:
    return list(dict.fromkeys(column for row in rows for column in row))


def check(rows: Rows, damage: Damage, used: Any, make_sheet: Callable[..., Any]) -> set[tuple[int, str]]:
    changed = [dict(row) for row in rows]
    damaged = damage(changed) or changed
    return {(f.row, f.code) for f in findings_of(make_sheet(damaged, columns_of(damaged)), used)}


@pytest.mark.parametrize(("name", "damage", "row", "code"), FIXED_MASS, ids=[case[0] for case in FIXED_MASS])
def test_a_slip_in_a_fixed_mass_sheet_is_found_at_its_row(
    name: str, damage: Damage, row: int, code: str,
    two_runs: Rows, demo_bench: Any, make_sheet: Callable[..., Any],
) -> None:  # fmt: skip
    assert (row, code) in check(two_runs, damage, in_use(demo_bench), make_sheet), name


@pytest.mark.parametrize(("name", "damage", "row", "code"), DISPLAY, ids=[case[0] for case in DISPLAY])
def test_a_slip_in_a_whole_counts_sheet_is_found_at_its_row(
    name: str, damage: Damage, row: int, code: str,
    hand_in: Callable[..., Any], make_sheet: Callable[..., Any],
) -> None:  # fmt: skip
    handed = hand_in("whole counts", 2, 3)

    assert (row, code) in check(handed.sheets[0], damage, handed.used, make_sheet), name


@pytest.mark.parametrize(("name", "damage", "row", "code"), SERIES, ids=[case[0] for case in SERIES])
def test_a_slip_in_a_series_is_found(
    name: str, damage: Damage, row: int, code: str,
    hand_in: Callable[..., Any], make_sheet: Callable[..., Any],
) -> None:  # fmt: skip
    handed = hand_in("series", 2, 3)
    found = check(handed.sheets[0], damage, handed.used, make_sheet)

    assert code in {one for place, one in found if row in (0, place)}, name


@pytest.mark.parametrize(("name", "damage", "row", "code"), ENERGY, ids=[case[0] for case in ENERGY])
def test_a_slip_of_the_energy_s_unit_is_found_at_its_row(
    name: str, damage: Damage, row: int, code: str,
    two_runs: Rows, demo_bench: Any, make_sheet: Callable[..., Any],
) -> None:  # fmt: skip
    items = {**demo_bench.current.items, "meter": "Plug-in display, fine"}
    used = in_use(replace(demo_bench, current=replace(demo_bench.current, items=items)))
    rows = [{key: text for key, text in row.items() if key != "counts"} for row in two_runs[:2]]
    if "power" not in name and "kilowatts" not in name:
        rows[0]["energy_kWh"], rows[1]["energy_kWh"] = "3.500", "3.583"

    assert (row, code) in check(rows, damage, used, make_sheet), name


WAYS = ("restart", "kept on", "whole counts", "two powers", "series")


@pytest.mark.slow
def test_of_200_good_sheets_fewer_than_2_in_100_are_suspected(
    hand_in: Callable[..., Any], make_sheet: Callable[..., Any]
) -> None:
    """40 sheets of each of five procedures from the virtual bench, each procedure with a truth of its own."""
    suspected, good = 0, 0
    for start, way in enumerate(WAYS):
        handed = hand_in(way)
        sheets = handed.sheets[40 * start : 40 * (start + 1)]
        good += len(sheets)
        suspected += sum(bool(findings_of(make_sheet(rows), handed.used)) for rows in sheets)

    assert good == 200
    assert suspected < 0.02 * good


def test_a_good_sheet_is_not_suspected(two_runs: Rows, demo_bench: Any, make_sheet: Callable[..., Any]) -> None:
    assert findings_of(make_sheet(two_runs), in_use(demo_bench)) == ()
