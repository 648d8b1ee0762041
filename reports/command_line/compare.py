"""The command that compares: the page, the JSON with every number, and one CSV file a table."""

from __future__ import annotations

from functools import partial
from math import isfinite
from typing import TYPE_CHECKING, Any

from design.comparison.population import drawn_from
from design.comparison.side_by_side import DEFAULT_TRIALS, METHODS, compare_bench, rows_of_readings
from design.physics.losses import celsius
from reports.command_line import console as parts
from reports.command_line.request import PAGE, attributes, json_bytes
from reports.pages.compare_page import compare_page
from reports.pages.plan_page import equations
from reports.tables.compare import compare_tables, procedures_table
from reports.tables.files import csv_bytes
from reports.words.compare import decision, kit_reason
from reports.words.languages import ENGLISH, Language, language
from reports.words.names import error_names, limit_name

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.comparison.changes import Alternative
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Method, Sweep
    from reports.command_line.console import Report
    from reports.command_line.request import Request
    from reports.rendering import Origin

CSV = (
    "procedures", "improvements", "crossings", "over_power", "over_loss", "over_scatter", "population", "drawn_from",
    "cancels", "hazards", "heater_off", "inputs", "evidence",
)  # fmt: skip
FILES = (PAGE, "compare.json", *(f"{name}.csv" for name in CSV))
"""Every file that a comparison report may consist of."""


def run_compare(request: Request, file: Path, code: str = "en") -> None:
    """Compare methods on the kit in hand, on a page in the language of a code."""
    say = language(code)
    bench, trials = request.read(file), request.trials or DEFAULT_TRIALS

    def find(progress: Report) -> Comparison:
        return compare_bench(bench, seed=request.seed, trials=trials, workers=request.workers, progress=progress)

    request.answer(FILES, find, partial(compare_files, say=say), show_comparison)


def show_comparison(comparison: Comparison, page: Path, console: Console) -> None:
    """Print what the comparison found."""
    parts.heading(console, comparison.bench.name)
    parts.sentences(console, decision(comparison))
    columns = ("method", "bias_percent", "standard_uncertainty_percent", "rms_error_percent", "minutes")
    parts.data_table(console, procedures_table(comparison), columns)
    parts.report_path(console, page)


def compare_files(comparison: Comparison, origin: Origin, say: Language = ENGLISH) -> dict[str, bytes]:
    """Write a comparison as the contents of its files; ValueError where a number is not finite."""
    return {
        PAGE: compare_page(comparison, origin, say).encode("utf-8"),
        "compare.json": json_bytes(compare_record(comparison, origin.version)),
        **{f"{table.name}.csv": csv_bytes(table) for table in compare_tables(comparison)},
    }


def compare_record(comparison: Comparison, version: str) -> dict[str, Any]:
    """Put a comparison into plain dictionaries and lists."""
    bench, water = comparison.bench, comparison.conditions.water
    population, mistake = comparison.population, comparison.heater_off
    return {
        "boiloff": version,
        "bench": bench.name,
        "scenario": bench.scenario,
        **attributes(comparison, "seed trials"),
        "coverage": bench.search.coverage,
        "currency": bench.purse.currency,
        "reference": {
            "pressure_Pa": water.pressure,
            "boiling_point_C": celsius(water.boiling_point),
            "latent_heat_J_per_kg": water.latent_heat,
        },
        "kit_reason": kit_reason(comparison),
        "loss_W": comparison.usual.design.loss,
        "usual": method_record(comparison.usual),
        "procedures": [method_record(method) for method in comparison.procedures],
        "improvements": [method_record(method) for method in comparison.improvements],
        "crossings": [_sweep_record(sweep) for sweep in comparison.crossings],
        "population": {
            "kits": population.kits,
            "drawn": population.drawn,
            "seed": comparison.seed,
            "drawn_from": dict(drawn_from(bench)),
            "procedures": [_standing_record(one) for one in population.procedures],
            "improvements": [_standing_record(one) for one in population.improvements],
        },
        "heater_off": {
            "boiling_rate_kg_per_s": mistake.boiling_rate,
            "rates_kg_per_s": list(mistake.rates),
            "mistakes_percent": list(mistake.mistakes_percent),
            "results_percent": list(mistake.results_percent),
        },
    }


def method_record(method: Method) -> dict[str, Any]:
    """Put a method into a dictionary, with the text of its measurement model."""
    design = method.design
    return {
        "key": method.key,
        "items": dict(method.items),
        "procedure": design.procedure.identifier,
        "correction": design.correction,
        "power_W": max(design.powers),
        "powers_W": list(design.powers),
        "mass_kg": design.settled.mass,
        "repeats": design.repeats,
        "minutes": design.minutes,
        "price": method.price,
        "rows_of_readings": rows_of_readings(design),
        **attributes(method, "bias_percent standard_uncertainty_percent rms_error_percent"),
        "rms_error_calculated_percent": method.rms_calculated_percent,
        "interval_percent": list(method.interval_percent),
        "obstacles": [limit_name(key) for key in design.obstacles],
        "cancels": error_names(design.procedure.cancels),
        "keeps": error_names(design.procedure.keeps),
        "model": equations(design.model),
    }


def _way_record(way: Alternative) -> dict[str, Any]:
    return {
        "procedure": way.procedure.identifier,
        "correction": way.correction,
        "number_of_powers": way.procedure.number_of_powers,
    }


def _sweep_record(sweep: Sweep) -> dict[str, Any]:
    ways = [_way_record(way) for way in METHODS]
    return {
        "quantity": sweep.quantity,
        "unit": "kg" if sweep.quantity == "scatter" else "W",
        "here": sweep.here,
        "values": sweep.values.tolist(),
        "curves": [
            {**way, "rms_percent": errors.tolist()} for way, errors in zip(ways, sweep.rms_percent, strict=True)
        ],
        "crossings": [
            {
                "better_below": ways[crossing.better_below],
                "better_above": ways[crossing.better_above],
                **attributes(crossing, "value rms_percent"),
            }
            for crossing in sweep.crossings
        ],
        "throughout": [{"better": ways[better], "worse": ways[worse]} for better, worse in sweep.throughout],
    }


def _standing_record(one: Standing) -> dict[str, Any]:
    return {
        "key": one.way.key,
        **_way_record(one.way),
        **attributes(one, "possible wins best interval"),
        "median_ratio": one.median_ratio if isfinite(one.median_ratio) else None,
    }
