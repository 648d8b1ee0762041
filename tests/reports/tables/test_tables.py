from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design.search.plan import Plan
from reports.tables import plan as plan_tables
from reports.tables.files import csv_bytes, guarded
from reports.tables.tables import Cell, Column, Table, table
from reports.tables.walk import effect_steps


def read(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_a_csv_file_says_that_it_is_utf_8_and_ends_lines_as_the_standard_does() -> None:
    content = csv_bytes(table("t", "T", [Column("a", "A")], [["é"]]))

    assert content.startswith(b"\xef\xbb\xbf")
    assert content.endswith(b"\r\n")  # RFC 4180, section 2, item 1


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=5))
def test_numbers_in_a_csv_file_are_the_very_numbers(numbers: list[float]) -> None:
    rows = read(csv_bytes(table("t", "T", [Column("x", "X", "significant")], [[x] for x in numbers])))

    assert [float(row[0]) for row in rows[1:]] == numbers


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_a_text_that_looks_like_a_formula_is_guarded(start: str) -> None:
    rows = read(csv_bytes(table("t", "T", [Column("a", "A")], [[f"{start}1+1"]])))

    assert rows[1] == [f"'{start}1+1"]


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"]), min_size=1))
def test_no_text_in_a_csv_file_begins_a_formula(text: str) -> None:
    assert guarded(text)[0] not in "=+-@"


def test_a_negative_number_is_not_guarded() -> None:
    assert read(csv_bytes(table("t", "T", [Column("a", "A", "significant")], [[-1.5]])))[1] == ["-1.5"]


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="2 cells in a row of 1 columns"):
        Table("t", "T", (Column("a", "A"),), (("x", "y"),))


def test_the_walk_ends_at_the_bias_of_the_design(plan: Plan) -> None:
    assert plan.recommended is not None
    steps = plan_tables.plan_tables(plan)[0]
    reached = [row[3] for row in steps.rows]

    assert reached[0] == 0.0
    assert reached[-1] == pytest.approx(plan.recommended.bias_percent, abs=1e-12)


def test_the_order_by_bias_puts_the_stem_before_the_meter_although_its_share_is_tiny(plan: Plan) -> None:
    # Common practice, no source: callipers give the stem, so it is a bias of 1 to 2 % with hardly any share.
    assert plan.recommended is not None
    rows = plan_tables.bias_table(effect_steps(plan.recommended, plan.model), plan.recommended.sources).rows
    names = [row[0] for row in rows]

    assert names.index("stem of the heater") == 1
    assert rows[1][2] == "too low"


def test_the_sign_table_says_which_way_each_effect_pushes() -> None:
    signs = {str(row[0]): row[1] for row in plan_tables.sign_table().rows}

    assert signs["Heat lost from wall, base and surface"] == "too high"
    assert signs["Steam condensing on cold hardware and running back"] == "too high"
    assert signs["Restart after a pause"] == "too high"
    assert signs["Air buoyancy"] == "too high"
    assert signs["Carry-over: droplets thrown out"] == "too low"
    assert signs["Stem of a heater held from outside"] == "too low"
    assert signs["Evaporation counted before the energy is"] == "too low"
    assert signs["Energy meter"] == "either way"


def test_the_map_leaves_the_error_of_a_setting_beyond_a_limit_empty(plan: Plan) -> None:
    assert plan.error_map is not None
    rows = plan_tables.map_table(plan.error_map, plan.objective).rows

    assert len(rows) == plan.error_map.limit.size
    assert all((row[2] is None) == (row[3] != "none") for row in rows)


def test_the_budget_has_the_columns_of_an_uncertainty_budget(plan: Plan) -> None:
    # EA-4/02 M:2022, 7: quantity, estimate, standard uncertainty, distribution, sensitivity coefficient, contribution.
    assert plan.recommended is not None
    keys = [column.key for column in plan_tables.budget_table(plan.recommended).columns]

    wanted = ["quantity", "estimate", "standard_uncertainty", "distribution", "sensitivity_coefficient_J_per_kg"]
    assert [key for key in keys if key in wanted] == wanted
    assert {"contribution_percent", "bias_percent", "share_percent", "evidence"} <= set(keys)


def test_the_ranking_says_how_often_a_row_is_nearly_the_best_and_what_it_costs_otherwise(plan: Plan) -> None:
    found = plan_tables.ranking_table(plan)

    assert [column.key for column in found.columns[-2:]] == ["within_margin_percent", "regret_percent"]
    assert [row[-2:] for row in found.rows] == [
        (100 * design.within_margin_probability, design.regret_percent) for design in plan.ranking
    ]
    assert read(csv_bytes(found))[0][-2:] == ["within_margin_percent", "regret_percent"]


def test_a_bare_table_has_its_units_in_the_headings_and_the_same_numbers_in_its_cells() -> None:
    columns = [
        Column("name", "Name"),
        Column("power_W", "Power", "significant", "W", 4),
        Column("price", "Price", "money", "EUR"),
        Column("minutes", "Time", "minutes"),
        Column("bias_percent", "Bias", "signed percent"),
        Column("runs", "Runs", "whole"),
    ]
    dressed = table("t", "T", columns, [["a 3 W b", 1400.0, 170.5, 33.8, 0.4, 2], ["", None, 0.0, 1.0, -12.4, 1]])
    bare = dressed.bare()

    assert [column.headline for column in dressed.columns] == ["Name", "Power", "Price", "Time", "Bias", "Runs"]
    assert [column.headline for column in bare.columns] == [
        "Name", "Power (W)", "Price (EUR)", "Time (min)", "Bias (%)", "Runs",
    ]  # fmt: skip
    assert bare.texts() == (("a 3 W b", "1400", "170.50", "34", "+0.40", "2"), ("–", "–", "0", "1", "−12.4", "1"))
    assert csv_bytes(bare) == csv_bytes(dressed)


def test_estimates_are_rounded_together_with_their_uncertainties_where_they_have_any() -> None:
    columns = [Column("x", "X", "significant", digits=5), Column("u", "u", "significant", digits=2), Column("n", "N")]
    rows: list[list[Cell]] = [
        [1.23456, 0.0123, "a"],
        [0.0, 0.0003, "b"],
        [300481.2, 0.0, "c"],
        [4.0e-8, 1.23e-8, "d"],
        ["?", 0.1, "e"],
    ]

    assert table("t", "T", columns, rows).rounded_by("x", "u").texts() == (
        ("1.235", "0.012", "a"),  # JCGM 100:2008, 7.2.6
        ("0.00000", "0.00030", "b"),
        ("300\u202f480", "0", "c"),
        ("4\u202f×\u202f10⁻⁸", "1.2\u202f×\u202f10⁻⁸", "d"),
        ("?", "0.1", "e"),
    )
