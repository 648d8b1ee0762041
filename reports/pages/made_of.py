"""What a plan was made of: the models, the bench as it was read, and what was taken where nobody said anything."""

from __future__ import annotations

import math
from dataclasses import asdict, fields, is_dataclass
from typing import TYPE_CHECKING, Any

from budget.propagation import propagate
from design.bench_files.tables import DEFAULTS
from design.dials.what_if import what_if
from design.physics.evidence import ROWS, Evidence
from reports.pages.what_if import at_plan
from reports.tables.tables import Column, Table, listed
from reports.tables.walk import effect_steps
from reports.words import rounding
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name, source_words

if TYPE_CHECKING:
    from budget.model.measurement import MeasurementModel
    from design.bench import Bench
    from design.search.plan import Plan


def defaults_table(name: str = "defaults", say: Language = ENGLISH) -> Table:
    """List every value that is taken where a bench file is silent."""
    _ = say.text
    return listed(
        name,
        _("table.taken_where_bench"),
        DEFAULTS,
        (
            Column("key", _("table.key_file"), cell=lambda one: one.name),
            Column("value", _("table.value"), cell=lambda one: _plain(one.value)),
            Column("unit", _("table.unit")),
            Column("range", _("table.met_schools")),
            Column("source", _("word.source")),
        ),
        say,
    )


def evidence_table(name: str = "evidence", say: Language = ENGLISH) -> Table:
    """List what is taken for losses and habits that nobody measures, with its source and how it compares."""
    _ = say.text
    return listed(
        name,
        _("table.taken_losses_habits"),
        ROWS,
        (
            Column("quantity", _("table.quantity"), cell=lambda one: say.text(f"evidence.{one.key}")),
            Column("value", _("table.estimate"), "significant"),
            Column("spread", _("table.spread"), "significant", cell=lambda one: one.spread or None),
            Column("unit", _("table.unit")),
            Column("family", _("table.distribution")),
            Column(
                "range",
                _("table.can_set"),
                cell=lambda one: f"{rounding.significant(one.low, 3)} – {rounding.significant(one.high, 3)}",
            ),
            Column("basis", _("table.rests_on"), cell=lambda one: say.text(f"basis.{one.basis}")),
            Column("source", _("word.source"), cell=lambda one: say.text(f"evidence_source.{one.key}")),
            Column(
                "compared",
                _("table.beside_published_classroom"),
                cell=lambda one: say.text(f"evidence_compared.{one.key}"),
            ),
        ),
        say,
    )


def made_of(plan: Plan, bench: Bench) -> dict[str, Any]:
    """Put everything that the page lists as its input into plain dictionaries and lists, infinite numbers as texts."""
    return {
        "model": model_record(plan.model),
        "current_model": model_record(plan.current_model),
        "first_order": first_order_record(plan),
        "effects": [
            {"quantity": step.name, "symbol": step.symbol, "readings_bias_percent": step.percent}
            for step in (effect_steps(plan.recommended, plan.model) if plan.recommended else ())
        ],
        "bench_file": bench_record(bench),
        "defaults": [_record(each) for each in DEFAULTS],
        "evidence": [_evidence_record(row) for row in ROWS],
    }


def _evidence_record(row: Evidence) -> dict[str, Any]:
    """Put a row of the evidence into a dictionary, with its words."""
    record = asdict(row)
    return {
        "key": record.pop("key"),
        "quantity": ENGLISH.text(f"evidence.{row.key}"),
        **{name: value for name, value in record.items() if name != "basis"},
        "source": ENGLISH.text(f"evidence_source.{row.key}"),
        "compared": ENGLISH.text(f"evidence_compared.{row.key}"),
        "basis": row.basis,
    }


def model_record(model: MeasurementModel | None) -> dict[str, Any] | None:
    """Put a measurement model into a dictionary: the text that is evaluated, and its inputs."""
    if model is None:
        return None
    return {
        "symbol": model.symbol,
        "unit": model.unit,
        "intermediates": [{"symbol": symbol, "equation": text} for symbol, text in model.intermediates],
        "equation": model.equation,
        "inputs": [
            {
                "symbol": quantity.symbol,
                "quantity": quantity_name(quantity.name),
                "estimate": quantity.distribution.mean,
                "standard_uncertainty": quantity.distribution.standard_uncertainty,
                "unit": quantity.unit,
                "distribution": quantity.distribution.describe(),
                "evidence": source_words(quantity.source),
            }
            for quantity in model.inputs
        ],
    }


def first_order_record(plan: Plan) -> dict[str, Any] | None:
    """Put what the page works out anew by propagation into a dictionary: the recommended setting and its limits."""
    ranked = plan.recommended
    if ranked is None:
        return None
    found = what_if(ranked.design)
    result, values = propagate(found.model), at_plan(found.model)
    reference = values["L_ref"]
    return {
        "expected_J_per_kg": result.estimate,
        "bias_percent": 100 * (result.estimate / reference - 1),
        "standard_uncertainty_percent": 100 * result.standard_uncertainty / reference,
        "values": values,
        "limits": [
            {"limit": one.key, "value": values[one.value], "bound": values[one.bound], "at_least": one.at_least}
            for one in found.allowances
        ],
    }


def bench_record(bench: Bench) -> dict[str, Any]:
    """Put a bench into what JSON knows, a list for every shelf."""
    record: dict[str, Any] = _record(bench)
    shelves = record.pop("shelves")
    return record | {f"{role}s": items for role, items in shelves.items()}


def _record(value: Any) -> Any:
    """Put dataclasses, mappings and tuples into what JSON knows; a distribution into its estimate and its words."""
    if hasattr(value, "describe"):
        return {
            "estimate": float(value.mean),
            "standard_uncertainty": float(value.standard_uncertainty),
            "distribution": value.describe(),
        }
    if is_dataclass(value):
        return {field.name: _record(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(key): _record(part) for key, part in value.items()}
    if isinstance(value, tuple | list):
        return [_record(part) for part in value]
    return _plain(value) if isinstance(value, float) and not math.isfinite(value) else value


def _plain(value: float | str | bool) -> float | str | bool:
    """Write yes and no, and a number that is infinite, as words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and not math.isfinite(value):
        return "no limit"
    return value if isinstance(value, str) else rounding.significant(value, 4)
