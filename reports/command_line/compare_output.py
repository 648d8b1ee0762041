"""A comparison as files: the page, the JSON with every number, and one CSV file a table."""

from __future__ import annotations

import json
from math import isfinite
from typing import TYPE_CHECKING, Any

from reports.pages.compare_page import compare_page
from reports.pages.plan_page import equations
from reports.tables.compare import compare_tables
from reports.tables.files import csv_bytes
from reports.words.names import limit_name

if TYPE_CHECKING:
    from design.comparison.crossings import Sweep
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Method
    from reports.rendering import Origin

FILES = (
    "report.html",
    "compare.json",
    "procedures.csv",
    "improvements.csv",
    "crossings.csv",
    "over_power.csv",
    "over_loss.csv",
    "over_scatter.csv",
    "population.csv",
    "drawn_from.csv",
    "cancels.csv",
    "hazards.csv",
    "heater_off.csv",
    "inputs.csv",
    "evidence.csv",
)
"""Every file that a comparison report may consist of."""


def compare_files(comparison: Comparison, origin: Origin) -> dict[str, bytes]:
    """
    Write a comparison as the contents of its files.

    Raises
    ------
    ValueError
        If a number of the comparison is not finite.
    """
    record = json.dumps(compare_record(comparison, origin.version), ensure_ascii=False, indent=1, allow_nan=False)
    return {
        "report.html": compare_page(comparison, origin).encode("utf-8"),
        "compare.json": (record + "\n").encode("utf-8"),
        **{f"{table.name}.csv": csv_bytes(table) for table in compare_tables(comparison)},
    }


def compare_record(comparison: Comparison, version: str) -> dict[str, Any]:
    """Put a comparison into plain dictionaries and lists."""
    population, mistake = comparison.population, comparison.heater_off
    return {
        "boiloff": version,
        "bench": comparison.bench_name,
        "scenario": comparison.scenario,
        "seed": comparison.seed,
        "trials": comparison.trials,
        "coverage": comparison.coverage,
        "currency": comparison.currency,
        "reference": {
            "pressure_Pa": comparison.pressure,
            "boiling_point_C": comparison.boiling_point,
            "latent_heat_J_per_kg": comparison.latent_heat,
        },
        "kit_reason": comparison.kit_reason,
        "loss_W": comparison.loss_W,
        "usual": method_record(comparison.usual),
        "procedures": [method_record(method) for method in comparison.procedures],
        "improvements": [method_record(method) for method in comparison.improvements],
        "crossings": [_sweep_record(sweep) for sweep in comparison.crossings],
        "population": {
            "kits": population.kits,
            "drawn": population.drawn,
            "seed": population.seed,
            "drawn_from": dict(population.distributions),
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
    return {
        "key": method.key,
        "items": dict(method.items),
        "procedure": method.procedure,
        "correction": method.correction,
        "power_W": max(method.powers_W),
        "powers_W": list(method.powers_W),
        "mass_kg": method.mass_kg,
        "repeats": method.repeats,
        "minutes": method.minutes,
        "price": method.price,
        "rows_of_readings": method.rows,
        "bias_percent": method.bias_percent,
        "standard_uncertainty_percent": method.standard_uncertainty_percent,
        "rms_error_percent": method.rms_error_percent,
        "rms_error_calculated_percent": method.rms_calculated_percent,
        "interval_percent": list(method.interval_percent),
        "obstacles": [limit_name(key) for key in method.obstacles],
        "cancels": list(method.cancels),
        "keeps": list(method.keeps),
        "model": equations(method.model),
    }


def _sweep_record(sweep: Sweep) -> dict[str, Any]:
    def named(place: int) -> dict[str, Any]:
        curve = sweep.curves[place]
        return {
            "procedure": curve.procedure,
            "correction": curve.correction,
            "number_of_powers": curve.number_of_powers,
        }

    return {
        "quantity": sweep.quantity,
        "unit": "kg" if sweep.quantity == "scatter" else "W",
        "here": sweep.here,
        "values": [float(value) for value in sweep.values],
        "curves": [
            {**named(place), "rms_percent": [float(error) for error in curve.rms_percent]}
            for place, curve in enumerate(sweep.curves)
        ],
        "crossings": [
            {
                "better_below": named(crossing.better_below),
                "better_above": named(crossing.better_above),
                "value": crossing.value,
                "rms_percent": crossing.rms_percent,
            }
            for crossing in sweep.crossings
        ],
        "throughout": [{"better": named(better), "worse": named(worse)} for better, worse in sweep.throughout],
    }


def _standing_record(one: Standing) -> dict[str, Any]:
    return {
        "key": one.key,
        "procedure": one.procedure,
        "correction": one.correction,
        "number_of_powers": one.number_of_powers,
        "possible": one.possible,
        "wins": one.wins,
        "best": one.best,
        "interval": list(one.interval),
        "median_ratio": one.median_ratio if isfinite(one.median_ratio) else None,
    }
