"""The model with dials, written into a page: tables that stand without scripts, and what scripts need."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NamedTuple

from budget.model.grammar import symbol_name
from budget.propagation import propagate
from design.dials.what_if import what_if
from design.limits import END
from reports.tables.tables import Column, Table, table
from reports.words.languages import ENGLISH, Language
from reports.words.names import limit_label, quantity_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from budget.model.measurement import MeasurementModel
    from design.dials.what_if import Allowance, Dial, WhatIf
    from design.search.plan import Plan, RankedDesign

FOLLOWS = ("mass_1", "counts_1", "time_1", "fill")
"""Steps of the model that are shown as what follows from the dials."""
TOLERANCE = 1e-9
"""Excess over a limit that counts as rounding. [1]"""
NOTHING = 1e-12
"""Error that counts as rounding, relative to the true value. [1]"""


class Shown(NamedTuple):
    """How a quantity is shown: factor from SI, unit, significant digits."""

    factor: float
    unit: str
    digits: int


SHOWN: Mapping[str, Shown] = {
    "power": Shown(1.0, "W", 4),
    "mass": Shown(1000.0, "g", 4),
    "loss": Shown(1.0, "W", 3),
    "carry_over": Shown(100.0, "%", 3),
    "step_energy": Shown(1.0, "J", 5),
    "repeats": Shown(1.0, "", 3),
    "mass_1": Shown(1000.0, "g", 4),
    "counts_1": Shown(1.0, "", 4),
    "time_1": Shown(1.0 / 60.0, "min", 3),
    "fill": Shown(1000.0, "g", 4),
    "limit_fill": Shown(100.0, "%", 3),
    "time": Shown(1.0 / 60.0, "min", 3),
    "circuit": Shown(1.0, "A", 3),
    "rim": Shown(1000.0, "mm", 3),
    "balance": Shown(1.0, "kg", 3),
    "mass_step": Shown(1000.0, "g", 4),
    "meter_current": Shown(1.0, "A", 3),
    "meter_power": Shown(1.0, "W", 4),
    "meter_start": Shown(1.0, "A", 3),
    "timing": Shown(1.0, "s", 3),
    "steady": Shown(1.0, "W", 3),
    "apart": Shown(1.0, "W", 4),
}
"""By the kind of dial, the step of the model or the key of the limit, after ``limit_`` where a step has the same."""


def shown_of(limit: str) -> Shown:
    """How what a limit allows is shown."""
    key = limit.removesuffix(END)
    return SHOWN.get(f"limit_{key}") or SHOWN[key]


@dataclass(frozen=True)
class WhatIfSection:
    """What the template takes: dials, whether a correction follows, tables for readers without scripts, the scripts."""

    dials: tuple[dict[str, Any], ...]
    follow: bool
    result: Table
    limits: Table
    data: str
    script: str
    words: Mapping[str, str]
    first_order: str


def what_if_section(plan: Plan, say: Language = ENGLISH) -> WhatIfSection | None:
    """Prepare the section for the recommended design, where there is one; the page reads well without scripts."""
    ranked = plan.recommended
    if ranked is None:
        return None
    found = what_if(ranked.design)
    dials = tuple(_dial(dial, found, say) for dial in found.dials)
    return WhatIfSection(
        dials=dials,
        follow=any(dial.follower for dial in found.dials),
        result=result_table(found, say),
        limits=limits_table(found, say),
        data=as_script_data(record(found, dials, say)),
        script=asset("equations.js") + asset("what_if_chart.js") + asset("what_if.js"),
        words=say.group("what_if"),
        first_order=_first_order(ranked, say),
    )


def ranking_data(ranking: Table, currency: str, say: Language = ENGLISH) -> str:
    """Raw cells of the ranking as JSON, so that scripts sort by numbers and not by what is printed."""
    words = {**say.group("ranking"), "price": say.text("ranking.price", currency=currency)}
    price = next(place for place, column in enumerate(ranking.columns) if column.key == "price")
    return as_script_data({"rows": ranking.rows, "price": price, "words": words})


def asset(name: str) -> str:
    """Text of a file that is written into pages."""
    return (files("reports") / "templates" / name).read_text(encoding="utf-8")


def as_script_data(value: Any) -> str:
    """
    Write JSON that may stand in a script element: nothing in it can end the element.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def record(found: WhatIf, dials: tuple[dict[str, Any], ...], say: Language = ENGLISH) -> dict[str, Any]:
    """Put the model with its dials, limits and words into plain dictionaries and lists."""
    return {
        "model": {**model_record(found.model, say), "partners": dict(found.partners)},
        "reference": "L_ref",
        "dials": dials,
        "follows": [
            {"symbol": symbol, **SHOWN[symbol]._asdict()} for symbol in FOLLOWS if symbol in _steps(found.model)
        ],
        "limits": [
            {
                "label": limit_label(allowance.key, say),
                **{name: getattr(allowance, name) for name in ("value", "bound", "at_least")},
                **shown_of(allowance.key)._asdict(),
            }
            for allowance in found.allowances
        ],
        "steam": [symbol for symbol in _steps(found.model) if symbol.startswith("steam_power_")],
        "tolerance": TOLERANCE,
        "decimal_mark": say.decimal_mark,
        "words": say.group("what_if"),
    }


def model_record(model: MeasurementModel, say: Language = ENGLISH) -> dict[str, Any]:
    """Put a measurement model into plain dictionaries and lists for scripts, equations as the text evaluated."""
    return {
        "symbol": model.symbol,
        "unit": model.unit,
        "inputs": [
            {
                "symbol": symbol,
                "name": quantity_name(quantity.name, say),
                "estimate": quantity.distribution.mean,
                "uncertainty": quantity.distribution.standard_uncertainty,
                "neutral": quantity.neutral,
                "scatter": quantity.scatter,
            }
            for symbol, quantity in zip(model.symbols, model.inputs, strict=True)
        ],
        "intermediates": [[symbol_name(symbol), text] for symbol, text in model.intermediates],
        "equation": model.equation,
        "correlations": [
            [*(symbol_name(symbol) for symbol in pair.between), pair.coefficient] for pair in model.correlations
        ],
    }


def result_table(found: WhatIf, say: Language = ENGLISH) -> Table:
    """First-order result at the recommended setting, and what the setting comes to."""
    propagation, values = propagate(found.model), at_plan(found.model)
    reference = values["L_ref"]
    error, spread = propagation.estimate / reference - 1.0, propagation.standard_uncertainty / reference
    bias = error if abs(error) > NOTHING else 0.0
    rows: list[tuple[str, str]] = [
        (
            say.text("what_if.expected"),
            say.with_standard_uncertainty(
                propagation.estimate / 1000, propagation.standard_uncertainty / 1000, "kJ/kg"
            ),
        ),
        (say.text("what_if.bias"), say.signed_percent(100 * bias)),
        (say.text("what_if.uncertainty"), say.percent(100 * spread)),
        (say.text("what_if.rms"), say.percent(100 * math.hypot(bias, spread))),
    ]
    rows += [
        (say.text(f"follows.{symbol}"), written(SHOWN[symbol], values[symbol], say))
        for symbol in FOLLOWS
        if symbol in values
    ]
    columns = (Column("quantity", say.text("what_if.quantity")), Column("recommended", say.text("what_if.recommended")))
    return table("what_if", say.text("what_if.result"), columns, rows)


def limits_table(found: WhatIf, say: Language = ENGLISH) -> Table:
    """Limits with what is allowed, and where the recommended setting stands."""
    values = at_plan(found.model)
    rows = [
        (
            limit_label(one.key, say),
            allowed(one, values, say),
            written(shown_of(one.key), values[one.value], say),
            state(one, values, say),
        )
        for one in found.allowances
    ]
    columns = (
        Column("limit", say.text("what_if.limit")),
        Column("allowed", say.text("what_if.allowed")),
        Column("recommended", say.text("what_if.recommended")),
        Column("state", say.text("what_if.state")),
    )
    return table("what_if_limits", say.text("what_if.limits"), columns, rows)


def at_plan(model: MeasurementModel) -> dict[str, float]:
    """Every input and step of a model at its estimates."""
    steps = {symbol: float(value) for symbol, value in model.evaluate_all(model.estimates).items()}
    return {**model.estimates, **steps}


def allowed(allowance: Allowance, values: Mapping[str, float], say: Language = ENGLISH) -> str:
    """Write what a limit allows."""
    key = "what_if.at_least" if allowance.at_least else "what_if.at_most"
    return say.text(key, bound=written(shown_of(allowance.key), values[allowance.bound], say))


def state(allowance: Allowance, values: Mapping[str, float], say: Language = ENGLISH) -> str:
    """Say whether a limit is kept."""
    value, bound = values[allowance.value], values[allowance.bound]
    excess = bound - value if allowance.at_least else value - bound
    return say.text("what_if.broken" if excess > TOLERANCE * abs(bound) else "what_if.kept")


def written(shown: Shown, value: float, say: Language = ENGLISH) -> str:
    """Write a quantity in the unit in which it is shown."""
    return say.in_unit(value * shown.factor, shown.unit, shown.digits)


def _steps(model: MeasurementModel) -> list[str]:
    return [symbol for symbol, _ in model.intermediates]


def _dial(dial: Dial, found: WhatIf, say: Language) -> dict[str, Any]:
    """One dial as template and script take it."""
    powers = sum(other.kind == "power" for other in found.dials)
    key: str = dial.kind
    if dial.kind == "power" and powers > 1:
        key = f"power_{1 if dial.symbol == 'P_set' else dial.symbol.removeprefix('P_set_')}"
    shown = SHOWN[dial.kind]
    further = dial.kind == "power" and dial.symbol != "P_set"
    idle = further or (dial.kind == "mass" and not found.whole_counts) or (dial.kind == "repeats" and powers == 1)
    note = "" if idle else say.text(f"dial_note.{dial.kind}")
    label = say.text(f"dial.{key}")
    return {
        "symbol": dial.symbol,
        "label": f"{label}, {shown.unit}" if shown.unit else label,
        "name": label,
        "note": note,
        **{name: getattr(dial, name) for name in ("value", "low", "high", "steps", "follower")},
        "slider": _slider(dial, shown),
        "low_shown": float(f"{dial.low * shown.factor:.9g}"),
        "high_shown": float(f"{dial.high * shown.factor:.9g}"),
        "value_shown": float(f"{dial.value * shown.factor:.{shown.digits}g}"),
        **SHOWN[dial.kind]._asdict(),
    }


def _slider(dial: Dial, shown: Shown) -> dict[str, float]:
    """Ends, step and place of a slider: per cent of the way on a scale of ratios, else the unit shown."""
    if dial.steps == "ratio":
        way = 100.0 * math.log(dial.value / dial.low) / math.log(dial.high / dial.low)
        return {"low": 0, "high": 100, "step": 1, "value": round(way)}
    low, high = (float(f"{end * shown.factor:.9g}") for end in (dial.low, dial.high))
    step = 1.0 if dial.steps == "whole" else _even_step((high - low) / 250.0)
    return {"low": low, "high": high, "step": step, "value": float(f"{dial.value * shown.factor:.9g}")}


def _even_step(least: float) -> float:
    """
    Round a step up to 1, 2 or 5 times a power of ten.

    Examples
    --------
    >>> _even_step(2.32), _even_step(9.8)
    (5.0, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return float(f"{next(factor for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= least) * power:.3g}")


def _first_order(design: RankedDesign, say: Language) -> str:
    return say.text(
        "what_if.first_order",
        bias=say.signed_percent(design.bias_percent),
        uncertainty=say.percent(design.standard_uncertainty_percent),
        rms=say.percent(design.rms_error_percent),
    )
