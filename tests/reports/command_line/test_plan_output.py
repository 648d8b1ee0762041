from __future__ import annotations

import bisect
import dataclasses
import json
import math
from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from design.bench import Bench
from design.search.plan import Plan
from reports.command_line.plan import FILES, design_record, plan_files, plan_record
from reports.command_line.request import json_bytes
from reports.pages.made_of import evidence_table
from reports.rendering import Origin
from reports.tables.bench_listing import shelf_tables
from reports.tables.plan import plan_tables
from reports.tables.search import search_tables

ORIGIN = Origin("0.0.0", "2026-03-04")

PLAN_KEYS = [
    "boiloff", "bench", "seed", "trials", "reference", "considered", "feasible", "rejected", "recommended", "current",
    "ranking", "frontier", "cautions",
]  # fmt: skip
DESIGN_KEYS = [
    "items", "procedure", "correction", "power_W", "powers_W", "mass_kg", "fill_kg", "repeats", "price", "minutes",
    "expected_J_per_kg", "bias_percent", "standard_uncertainty_percent", "rms_error_percent", "interval_percent",
    "best_probability", "sources",
]  # fmt: skip
SOURCE_KEYS = ["quantity", "symbol", "bias_percent", "standard_uncertainty_percent", "share"]


def test_the_public_keys_come_first_and_in_their_order(plan: Plan) -> None:
    record = plan_record(plan, "0.0.0")

    assert list(record)[: len(PLAN_KEYS)] == PLAN_KEYS
    assert list(record["reference"]) == ["pressure_Pa", "boiling_point_C", "latent_heat_J_per_kg"]
    assert list(record["recommended"])[: len(DESIGN_KEYS)] == DESIGN_KEYS
    assert list(record["recommended"]["sources"][0])[: len(SOURCE_KEYS)] == SOURCE_KEYS


def test_numbers_come_back_as_they_were(plan: Plan) -> None:
    assert plan.recommended is not None
    read = json.loads(json_bytes(plan_record(plan, "0.0.0")))

    assert read["recommended"]["expected_J_per_kg"] == plan.recommended.expected_J_per_kg
    assert read["reference"]["latent_heat_J_per_kg"] == plan.latent_heat
    assert read["recommended"]["power_W"] == max(plan.recommended.design.powers)
    assert read["recommended"]["interval_percent"] == list(plan.recommended.interval_percent)
    assert read["error_map"]["powers_W"] == plan.error_map.powers_W.tolist()  # type: ignore[union-attr]


def test_a_kit_of_today_that_cannot_do_it_is_null(plan: Plan) -> None:
    assert json.loads(json_bytes(plan_record(dataclasses.replace(plan, current=None), "0.0.0")))["current"] is None
    assert design_record(None) is None


def test_text_is_written_as_it_is_and_the_file_ends_with_a_line(plan: Plan) -> None:
    written = json_bytes(plan_record(dataclasses.replace(plan, bench_name="Größe µ"), "0.0.0")).decode("utf-8")

    assert "Größe µ" in written
    assert written.endswith("}\n")


def test_a_number_that_is_not_finite_is_refused(plan: Plan) -> None:
    with pytest.raises(ValueError, match="Out of range"):
        json_bytes(plan_record(dataclasses.replace(plan, latent_heat=math.nan), "0.0.0"))


def test_a_report_is_a_page_a_json_file_and_one_csv_file_a_table(plan: Plan, bench: Bench) -> None:
    files = plan_files(plan, bench, ORIGIN)

    assert set(files) == set(FILES)
    assert files["report.html"].startswith(b"<!DOCTYPE html>")
    assert all(content.startswith(b"\xef\xbb\xbf") for name, content in files.items() if name.endswith(".csv"))


def test_every_number_of_every_table_of_the_page_is_in_the_file(plan: Plan, bench: Bench) -> None:
    files = plan_files(plan, bench, ORIGIN)
    known = sorted(set(_numbers(json.loads(files["plan.json"]))))
    shown = (*plan_tables(plan), *search_tables(plan).values(), *shelf_tables(bench), evidence_table())

    for each in shown:
        for row in each.rows:
            for column, cell in zip(each.columns, row, strict=True):
                if isinstance(cell, float) and cell != 0 and column.key not in RUNNING:
                    assert _holds(known, cell), (each.name, column.key, cell)


RUNNING = {"reached_percent", "reached_kJ_per_kg"}
"""Running totals, which are sums of the steps in the file."""


def _numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        for part in value.values():
            yield from _numbers(part)
    elif isinstance(value, list):
        for part in value:
            yield from _numbers(part)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield abs(float(value))


def _holds(known: Sequence[float], cell: float) -> bool:
    """Tell whether a number is in the file, as it is or in the SI unit that the page writes as kW, g, mm, L or %."""
    for factor in (1.0, 1e-3, 1e-2, 1e3):
        place = bisect.bisect_left(known, abs(cell) * factor * (1 - 1e-9))
        if place < len(known) and known[place] <= abs(cell) * factor * (1 + 1e-9):
            return True
    return False


def test_the_same_plan_gives_the_same_files(plan: Plan, bench: Bench) -> None:
    assert plan_files(plan, bench, ORIGIN) == plan_files(plan, bench, ORIGIN)


def test_the_walk_in_the_file_ends_at_the_bias(plan: Plan) -> None:
    assert plan.recommended is not None
    steps = plan_record(plan, "0.0.0")["walk"]

    assert sum(step["bias_percent"] for step in steps) == pytest.approx(plan.recommended.bias_percent, abs=1e-12)
