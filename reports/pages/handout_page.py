"""Working sheets to complete, one a group, and the page of the class: readings in, a pocket calculator, L and U out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from design.evaluation.working import columns_of, run_symbols, working_of
from reports.pages.evaluate_graphs import class_graph, class_said, group_graphs, robust_of
from reports.pieces.parts import TextTable
from reports.rendering import page
from reports.words import mathml, rounding
from reports.words.by_hand import ByHand, by_hand, circled, number
from reports.words.evaluate import per_kilogram, run_name, scatter_of_readings, verdict_text
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.runs import Run
    from design.evaluation.school import SchoolLine, SchoolResult
    from design.evaluation.working import Working, WorkingInput, WorkingLine, WorkingStep
    from design.sheets.readings import Quantity, Reading
    from reports.rendering import Origin

UNITS = {"E": "J", "m": "kg", "t": "s", "L": "J/kg", "W": "W"}
"""Unit of what a step gives, by the letter of its symbol."""
TYPED: tuple[tuple[str, tuple[Quantity, ...]], ...] = (
    ("meter", ("counts", "energy", "power", "voltage", "current")), ("balance", ("mass", "mass_step")),
    ("clock", ("time",)),
)  # fmt: skip
"""Columns of a table of readings: key, and what is typed in them."""
DIVISORS = {"exact": "", "limit": "√3", "triangular": "√6", "standard": "1"}
GIVEN = (
    "working.symbol", "working.quantity", "working.value", "working.unit", "working.plus_minus", "working.meaning",
)  # fmt: skip
BUDGET = (
    "working.symbol", "working.quantity", "working.plus_minus", "working.unit", "working.meaning", "working.divisor",
    "working.u", "working.sensitivity", "working.contribution",
)  # fmt: skip
"""Headings of what is put in, and of the budget."""
REPEATS = {
    "half range": "working.half_range",
    "largest deviation": "working.largest_deviation",
    "standard error": "working.standard_error",
}
GRADIENTS = {
    "half of steepest less shallowest": "working.school_gradient",
    "best less worst": "working.school_best",
    "regression": "working.school_regression",
}


def handouts_page(evaluation: Evaluation, origin: Origin, say: Language = ENGLISH) -> str:
    """Write the working sheets of all groups, each on paper of its own, as one document that loads nothing."""
    groups = [_group(evaluation, group, say) for group in evaluation.groups]
    heads = {"given_headings": [say.text(key) for key in GIVEN], "budget_headings": [say.text(key) for key in BUDGET]}
    return page("handouts.html", _common(evaluation, origin, say) | heads | {"groups": groups})


def class_page(evaluation: Evaluation, origin: Origin, say: Language = ENGLISH) -> str:
    """Write the page of the class; ValueError where there is one group alone."""
    view = evaluation.classroom
    if view is None:
        raise ValueError("a page of the class needs two groups at least (got one)")
    robust = robust_of(evaluation)
    own = {
        "figure": class_graph(evaluation, view, robust, say),
        "said": class_said(evaluation, view, robust, say),
        "table": _class_table(evaluation, say),
    }
    return page("class.html", _common(evaluation, origin, say) | own)


def _common(evaluation: Evaluation, origin: Origin, say: Language) -> dict[str, Any]:
    return {
        "_": say.text,
        "lang": say.code,
        "bench": evaluation.bench.name,
        "origin": origin,
        "day": say.day(origin.date),
    }


def _group(evaluation: Evaluation, group: GroupEvaluation, say: Language) -> dict[str, Any]:
    result, key = group.result, f"h{evaluation.groups.index(group) + 1}"
    working = working_of(result)
    tails = run_symbols(result)
    runs = [run for level in result.measured.levels for run in level]
    sheet = by_hand(working, {_tail(working, tails[run.name]): columns_of(run) for run in runs})
    shown = group in evaluation.shown
    return {
        "name": group.group,
        "key": key,
        "readings": _readings(group, runs, say),
        "energy": _energy(group, runs[0], say),
        "indices": _indices(runs, tails, say),
        "figures": group_graphs(group, key, say, shown=False),
        "given": [_given(one, sheet, say) for one in working.given],
        "steps": [_step(place, step, sheet, say) for place, step in enumerate(working.steps, start=1)],
        "correction": _correction(working, say) if working.corrected else "",
        "lines": [_line(line, sheet, say) for line in working.lines],
        "others": number(working.others, sheet.budget_digits, say),
        "expanded": _expanded(working, say),
        "school": _school(group.school, say),
        "check": _check(group, working, say) if shown else (),
        "scatter": [(label, say.number(value)) for label, value in scatter_of_readings(group, say)] if shown else (),
    }


def _tail(working: Working, tail: str) -> str:
    """Tail under which the readings of a run are taken: that of another time, where they are taken over the first's."""
    raw = f"{tail}_raw"
    made = {*working.readings, *(step.symbol for step in working.steps)}
    return raw if f"E{raw}" in made else tail


def _readings(group: GroupEvaluation, runs: Sequence[Run], say: Language) -> TextTable:
    """Every mark of every run: what was typed, and energy, mass and time since the first mark."""
    typed = [(key, names) for key, names in TYPED if any(run.numbers(name) for run in runs for name in names)]
    letters = [letter for letter in "Emt" if letter in columns_of(runs[0])]
    heads = {"E": "working.energy", "m": "working.mass", "t": "working.time"}
    headings = (
        *(say.text(f"working.{key}") for key in ("run", "mark")),
        *(say.text(f"working.{key}") for key, _ in typed),
        *(say.text(heads[letter]) for letter in letters),
    )
    rows = []
    for run in runs:
        columns = columns_of(run)
        for place in range(run.mass.size):
            marks = run.readings[place] if len(run.readings) > 1 else run.readings[0] if place else ()
            written = [_typed(marks, names) for _, names in typed]
            values = [number(float(columns[letter][place]), 10, say) for letter in letters]
            rows.append((run.name, marks[0].mark if marks else "0", *written, *values))
    caption = say.text("working.readings_table", group=group.group)
    return TextTable(caption, headings, tuple(rows), frozenset(range(2, len(headings))))


def _typed(marks: Sequence[Reading], names: Sequence[Quantity]) -> str:
    cells = [" · ".join(row.numbers[name].text for name in names if name in row.numbers) for row in marks]
    return "; ".join(cell for cell in cells if cell) or "–"


def _energy(group: GroupEvaluation, run: Run, say: Language) -> str:
    used = group.result.used
    match run.source:
        case "counts":
            return say.text("working.from_counts", energy=say.in_unit(used.kit.meter.energy_per_count, "J", 8))
        case "energy":
            return say.text("working.from_energy")
        case "power":
            return say.text("working.from_power")
    return say.text("working.from_nameplate", power=say.in_unit(float(run.power or 0.0), "W", 4))


def _indices(runs: Sequence[Run], tails: dict[str, str], say: Language) -> tuple[str, ...]:
    """Say which index the readings of which run have, where there are several."""
    if len(runs) < 2:
        return ()
    return tuple(
        say.text(
            "working.indices",
            run=say.text("graph.run", name=run.name),
            index=tails[run.name].strip("_").replace("_", ", "),
        )
        for run in runs
    )


def _symbol(symbol: str) -> str:
    return f"<math><mrow>{mathml.name_markup(symbol)}</mrow></math>"


def _given(one: WorkingInput, sheet: ByHand, say: Language) -> tuple[str, ...]:
    stated = number(one.stated, sheet.budget_digits, say) if one.kind != "exact" else "–"
    return (
        _symbol(one.symbol), quantity_name(one.name, say), number(one.value, sheet.digits, say),
        rounding.spelled(one.unit) if one.unit != "1" else "", stated, say.text(f"working.{one.kind}"),
    )  # fmt: skip


def _step(place: int, step: WorkingStep, sheet: ByHand, say: Language) -> dict[str, str]:
    note = say.text("working.uncorrected_step") if step.symbol == "L_0" else ""
    if step.summed is not None:
        return {"place": circled(place), "math": _sum(step), "line": "", "unit": _unit(step.symbol),
                "note": say.text("working.sum_step")}  # fmt: skip
    return {
        "place": circled(place),
        "math": mathml.equation(step.symbol, step.text, say, display=False),
        "line": sheet.line(step, say),
        "unit": _unit(step.symbol),
        "note": note,
    }


def _sum(step: WorkingStep) -> str:
    """Symbols of a sum over the marks."""
    first, second = step.summed or ("", "")
    mean = f"<mover><mi>{first}</mi><mo>¯</mo></mover>"
    centred = f"<mrow><mo>(</mo><mi>{first}</mi><mo>{rounding.MINUS}</mo>{mean}<mo>)</mo></mrow>"
    term = f"<msup>{centred}<mn>2</mn></msup>" if first == second else f"{centred}<mo>·</mo><mi>{second}</mi>"
    return f"<math><mrow>{mathml.name_markup(step.symbol)}<mo>=</mo><mo>∑</mo>{term}</mrow></math>"


def _unit(symbol: str) -> str:
    """Unit of a step, by the letters of its symbol."""
    head, _, tail = symbol.partition("_")
    if head in {"S", "sum"}:
        return "·".join(UNITS[letter] for letter in tail[:2])
    return UNITS.get(head, "")


def _correction(working: Working, say: Language) -> str:
    places = {step.symbol: circled(place) for place, step in enumerate(working.steps, start=1)}
    return say.text("working.correction_line", last=places["L"], first=places["L_0"])


def _line(line: WorkingLine, sheet: ByHand, say: Language) -> dict[str, str]:
    one = line.given
    unit = "" if one.unit == "1" else rounding.spelled(one.unit)
    return {
        "symbol": _symbol(one.symbol),
        "name": quantity_name(one.name, say),
        "stated": number(one.stated, sheet.budget_digits, say),
        "unit": unit,
        "kind": say.text(f"working.{one.kind}"),
        "divisor": DIVISORS[one.kind],
        "sensitivity": number(abs(line.sensitivity), sheet.budget_digits, say),
    }


def _expanded(working: Working, say: Language) -> dict[str, str]:
    propagation = working.outcome.propagation
    degrees = propagation.effective_dof
    factor = number(propagation.coverage_factor, 5, say)
    return {
        "line": say.text("working.expanded_line", k=factor),
        "why": say.text(
            "working.expanded_why",
            k=factor,
            coverage=say.percent_of_share(propagation.coverage),
            degrees=say.text("working.infinite") if math.isinf(degrees) else say.fixed(degrees, 1),
        ),
    }


def _school(school: SchoolResult, say: Language) -> dict[str, Any]:
    rules = school.rules
    keys = (
        "working.run",
        "working.energy",
        "working.delta_e",
        "working.mass",
        "working.delta_m",
        "working.school_l",
        "working.delta_l",
    )
    formulas = []
    if any(line.gradient for line in school.lines):
        formulas.append(say.text(GRADIENTS[rules.gradient.rule]))
    if any(not line.gradient for line in school.lines):
        add = rules.combine.rule == "add"
        formulas.append(say.text("working.school_add" if add else "working.school_squares"))
    return {
        "rules": say.text("working.school_rule", rules=rules.name),
        "formulas": formulas,
        "headings": [say.text(key) for key in keys],
        "rows": [_school_row(line, say) for line in school.lines],
        "repeats": say.text("working.school_repeats", rule=say.text(REPEATS[rules.repeats.rule]))
        if len(school.lines) > 1
        else "",
        "larger": say.text("working.school_larger", factor=number(rules.coverage_factor, 3, say)),
    }


def _school_row(line: SchoolLine, say: Language) -> tuple[str, ...]:
    sizes = (line.energy, line.energy_uncertainty, line.mass, line.mass_uncertainty)
    return (run_name(line, say), *(number(size, 8, say) for size in sizes))


def _check(group: GroupEvaluation, working: Working, say: Language) -> tuple[tuple[str, str], ...]:
    """What the program has: to the place of the standard uncertainty, U in two digits."""
    outcome, rules = working.outcome, group.school.rules
    u, expanded = outcome.standard_uncertainty, outcome.propagation.expanded_uncertainty
    rows = [("working.check_uncorrected", _to_place(working.uncorrected, u, say))] if working.corrected else []
    if working.corrected:
        rows.append(("working.check_correction", _to_place(working.correction, u, say)))
    rows += [
        ("working.check_l" if working.corrected else "working.check_l_plain", _to_place(outcome.value, u, say)),
        ("working.check_u", say.in_unit(u / 1e3, "kJ/kg", 2)),
        ("working.check_U", say.in_unit(expanded / 1e3, "kJ/kg", 2)),
        ("working.check_both", say.with_uncertainty(outcome.value / 1e3, expanded / 1e3, "kJ/kg")),
    ]
    limits = rules.coverage_factor == 1.0 and rules.reading.rule != "rectangular"
    meaning = say.text("working.as_limit") if limits else say.text(
        "working.as_expanded", k=number(rules.coverage_factor, 3, say)
    )  # fmt: skip
    school = say.number(per_kilogram(group.school.value, group.school.uncertainty, rules.figures.digits))
    return (*((say.text(key), text) for key, text in rows), (say.text("working.check_school"), f"{school}; {meaning}"))


def _to_place(value: float, uncertainty: float, say: Language) -> str:
    """Write a value to the place of the second digit of an uncertainty, in kJ/kg."""
    return f"{say.number(rounding.round_together(value / 1e3, uncertainty / 1e3)[0])}{rounding.THIN}kJ/kg"


def _class_table(evaluation: Evaluation, say: Language) -> TextTable:
    rows = []
    for group in evaluation.groups:
        best = group.result.best
        u = best.standard_uncertainty
        rows.append(
            (
                group.group,
                _to_place(group.result.uncorrected.value, u, say),
                _to_place(best.value - group.result.uncorrected.value, u, say),
                _to_place(best.value, u, say),
                say.in_unit(u / 1e3, "kJ/kg", 2),
                say.in_unit(best.propagation.expanded_uncertainty / 1e3, "kJ/kg", 2),
                say.number(rounding.significant(best.agreement.normalised_error, 2)),
                verdict_text(group.verdict, say),
            )
        )
    keys = ("graph.who", "working.check_uncorrected", "working.check_correction", "working.check_l", "working.check_u",
            "working.check_U", "graph.note", "working.verdict")  # fmt: skip
    headings = tuple(say.text(key) for key in keys)
    return TextTable(say.text("working.class_table"), headings, tuple(rows), frozenset(range(1, 7)))
