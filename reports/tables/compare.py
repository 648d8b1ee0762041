"""Tables of the comparison report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from design.comparison.changes import OF_WAY
from design.comparison.population import drawn_from
from design.comparison.side_by_side import rows_of_readings
from design.physics.evidence import ROWS
from design.procedures.registry import PROCEDURES
from reports.tables.tables import Column, Table, listed, table
from reports.words import compare as wording_compare
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import (
    distribution_words,
    error_names,
    limit_names,
    procedure_name,
    quantity_name,
    source_words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from budget.quantities.inputs import InputQuantity
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Method, Sweep


def procedures_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """Every procedure with every correction."""
    return _methods("procedures", comparison, comparison.procedures, say)


def improvements_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """Today's way, and each improvement of it."""
    methods = (comparison.usual, *comparison.improvements)
    return _methods("improvements", comparison, methods, say)


def _methods(name: str, comparison: Comparison, methods: Sequence[Method], say: Language) -> Table:
    _ = say.text
    changed = name == "improvements"
    columns = [
        Column("method", _("compare.column_change" if changed else "compare.column_procedure")),
        Column("setting", _("table.setting")),
        Column("bias_percent", _("word.bias"), "signed percent"),
        Column("standard_uncertainty_percent", _("table.standard_uncertainty"), "percent"),
        Column("rms_error_percent", _("table.rms_error"), "percent"),
        Column("rms_calculated_percent", _("table.rms_error_with_calculated_correction"), "percent"),
        Column("minutes", _("table.time"), "minutes"),
        Column("rows", _("table.readings_rows"), "whole"),
        Column(f"price_{comparison.bench.purse.currency}", _("word.to_buy"), "money", comparison.bench.purse.currency),
        Column("obstacles", _("table.stands_in_the_way")),
    ]
    rows = []
    for method in methods:
        label = wording_compare.improvement(method.key, say) if changed else wording_compare.way(method.design, say)
        rows.append(
            (
                label,
                setting(method, say),
                method.bias_percent,
                method.standard_uncertainty_percent,
                method.rms_error_percent,
                method.rms_calculated_percent,
                method.design.minutes,
                rows_of_readings(method.design),
                _("compare_cell.not_on_the_shelves") if method.price is None else method.price,
                limit_names(method.design.obstacles, say),
            )
        )
    caption = _("compare.table_improvements" if changed else "compare.table_procedures")
    whole = table(name, caption, columns, rows, say)
    return whole if changed else whole.only([column.key for column in columns if column.key != columns[5].key])


def setting(method: Method, say: Language = ENGLISH) -> str:
    """Write powers, mass step and runs of a method, and whether the marks of the meter are timed."""
    design = method.design
    runs = "" if design.repeats == 1 else f", {wording.times(design.repeats, say)}"
    reading = f", {say.text('reading.timed')}" if design.reading == "timed" else ""
    return f"{wording.powers(design.powers, say)}, {wording.mass(design.settled.mass, say)}{runs}{reading}"


def hazards_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """What each procedure and improvement adds to the hazards."""
    _ = say.text
    rows: dict[str, str] = {}
    for method in comparison.procedures:
        rows.setdefault(procedure_name(method.design.procedure, say), wording_compare.hazard(method.key, say))
    for method in comparison.improvements:
        if method.design.procedure == comparison.usual.design.procedure:
            rows.setdefault(wording_compare.improvement(method.key, say), wording_compare.hazard(method.key, say))
    return table(
        "hazards",
        _("compare_caption.hazards"),
        (Column("way", _("table.way")), Column("hazard", _("table.adds"))),
        list(rows.items()),
        say,
    )


def kept_by_all() -> tuple[str, ...]:
    """Keys of the errors that no procedure cancels."""
    return tuple(error for error in PROCEDURES[0].keeps if all(error in each.keeps for each in PROCEDURES))


def cancels_table(say: Language = ENGLISH) -> Table:
    """What each procedure cancels, and what it keeps beside what all of them keep."""
    _ = say.text
    common = kept_by_all()
    return table(
        "cancels",
        _("compare_caption.cancels"),
        (
            Column("procedure", _("table.procedure")),
            Column("cancels", _("table.cancels")),
            Column("keeps", _("table.keeps_as_well")),
        ),
        [
            (
                procedure_name(each, say),
                "; ".join(error_names(each.cancels, say)),
                "; ".join(error_names((error for error in each.keeps if error not in common), say)),
            )
            for each in PROCEDURES
        ],
        say,
    )


def sweep_table(sweep: Sweep, say: Language = ENGLISH) -> Table:
    """Rms errors of all methods over a quantity."""
    _ = say.text
    name, (unit, factor) = wording_compare.swept(sweep, say), wording_compare.QUANTITIES[sweep.quantity]
    columns = [Column(f"{sweep.quantity}_{unit}", name[0].upper() + name[1:], "significant", unit, 3)]
    columns += [
        Column(f"{letter}_rms_percent", f"{letter}: {wording_compare.curve(place, say)}", "percent")
        for place, letter in enumerate(wording_compare.LETTERS)
    ]
    rows = [
        (float(value * factor), *(float(error) for error in errors))
        for value, errors in zip(sweep.values, sweep.rms_percent.T, strict=True)
    ]
    return table(f"over_{sweep.quantity}", _("compare_caption.over", quantity=name), columns, rows, say)


def crossings_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """Every crossing point, and the pairs that never cross."""
    _ = say.text
    rows: list[tuple[str | float | None, ...]] = []
    for sweep in comparison.crossings:
        name = wording_compare.swept(sweep, say)
        low, high = (wording_compare.quantity_value(sweep, float(sweep.values[end]), say) for end in (0, -1))
        ends = _("compare.range", low=low, high=high)
        here = wording_compare.quantity_value(sweep, sweep.here, say)
        for crossing in sweep.crossings:
            below, above = (
                wording_compare.curve(crossing.better_below, say),
                wording_compare.curve(crossing.better_above, say),
            )
            where = wording_compare.quantity_value(sweep, crossing.value, say)
            rows.append((name, below, where, above, crossing.rms_percent, here, ends))
        for better, worse in sweep.throughout:
            first, second = wording_compare.curve(better, say), wording_compare.curve(worse, say)
            rows.append((name, first, _("compare_cell.better_throughout"), second, None, here, ends))
    return table(
        "crossings",
        _("compare_caption.crossings"),
        (
            Column("quantity", _("table.quantity")),
            Column("better_below", _("table.better_below")),
            Column("crossing", _("table.crossing_at")),
            Column("better_above", _("table.better_above")),
            Column("rms_percent", _("table.rms_error_there"), "percent"),
            Column("here", _("table.this_kit")),
            Column("range", _("table.looked_for_from")),
        ),
        rows,
        say,
    )


def population_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """How often each method wins."""
    _ = say.text
    population = comparison.population
    return table(
        "population",
        _("compare_caption.population", kits=population.kits),
        (
            Column("method", _("table.method")),
            Column("possible", _("table.possible_on"), "whole"),
            Column("wins", _("table.wins_on"), "whole"),
            Column("wins_percent", _("table.share"), "percent"),
            Column("low_percent", _("table.from"), "percent"),
            Column("high_percent", _("table.to"), "percent"),
            Column("median_ratio", _("table.median_ratio_of_rms_errors"), "significant", "", 2),
            Column("best", _("table.best_of_all_procedures_on"), "whole"),
        ),
        [(wording_compare.way(one.way, say), *_standing(one), one.best) for one in population.procedures]
        + [
            (wording_compare.improvement(one.way.key, say), *_standing(one), None)
            for one in population.improvements
            if one.way not in OF_WAY
        ],
        say,
    )


def _standing(one: Standing) -> tuple[float | int | None, ...]:
    share = 100.0 * one.wins / one.possible if one.possible else None
    low, high = (100.0 * end for end in one.interval)
    return (one.possible, one.wins, share, low, high, one.median_ratio if one.possible else None)


def drawn_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """What the plausible kits were drawn from."""
    _ = say.text
    return table(
        "drawn_from",
        _("compare_caption.drawn_from"),
        (Column("quantity", _("table.quantity")), Column("distribution", _("table.drawn_from"))),
        list(drawn_from(comparison.bench)),
        say,
    )


def inputs_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """Input quantities of all models on this kit, each once, with source; constants of a single setting left out."""
    _ = say.text
    found: dict[tuple[str, str], InputQuantity] = {}
    for method in (comparison.usual, *comparison.procedures):
        for quantity in method.design.model.inputs:
            described = f"{quantity.distribution.describe()} {quantity.distribution.mean:.6g}"
            if quantity.source or quantity.distribution.standard_uncertainty > 0.0:
                found.setdefault((quantity.symbol, described), quantity)
    return listed(
        "inputs",
        _("compare_caption.inputs"),
        found.values(),
        (
            Column("symbol", _("table.symbol"), "symbol"),
            Column("quantity", _("table.quantity"), cell=lambda one: quantity_name(one.name, say)),
            Column(
                "estimate", _("table.estimate"), "significant", "", 4, cell=lambda one: float(one.distribution.mean)
            ),
            Column(
                "standard_uncertainty",
                _("table.standard_uncertainty"),
                "significant",
                "",
                2,
                cell=lambda one: float(one.distribution.standard_uncertainty),
            ),
            Column("unit", _("table.unit")),
            Column(
                "distribution",
                _("table.distribution"),
                cell=lambda one: distribution_words(one.distribution.describe(), say),
            ),
            Column("evidence", _("word.source"), cell=lambda one: source_words(one.source, say)),
        ),
        say,
    )


def evidence_table(say: Language = ENGLISH) -> Table:
    """Every default of losses and practice, with its evidence and how it compares with published classroom data."""
    _ = say.text
    return listed(
        "evidence",
        _("compare_caption.evidence"),
        ROWS,
        (
            Column("quantity", _("table.quantity"), cell=lambda one: say.text(f"evidence.{one.key}")),
            Column("value", _("table.value"), "significant", "", 3),
            Column("spread", _("table.spread"), "significant", "", 2),
            Column("unit", _("table.unit")),
            Column("family", _("table.distribution"), cell=lambda one: say.text(f"family.{one.family}")),
            Column("basis", _("table.rests_on"), cell=lambda one: say.text(f"basis.{one.basis}")),
            Column("source", _("word.source"), cell=lambda one: say.text(f"evidence_source.{one.key}")),
            Column(
                "compared",
                _("table.against_published_classroom_data"),
                cell=lambda one: say.text(f"evidence_compared.{one.key}"),
            ),
        ),
        say,
    )


def heater_off_table(comparison: Comparison, say: Language = ENGLISH) -> Table:
    """Cost of the mistake, at the low end, the estimate and the high end of the heater-off rate."""
    _ = say.text
    found = comparison.heater_off
    names = (_("compare_cell.low_end"), _("compare_cell.estimate"), _("compare_cell.high_end"))
    cells = zip(names, found.rates, found.mistakes_percent, found.results_percent, strict=True)
    return table(
        "heater_off",
        _("compare_caption.heater_off", rate=say.in_unit(found.boiling_rate * 60_000, "g/min")),
        (
            Column("case", _("table.heater_off_rate")),
            Column("rate_g_per_min", _("table.rate"), "significant", "g/min", 2),
            Column("mistake_percent", _("table.mistake_alone"), "signed percent"),
            Column("result_percent", _("table.error_of_todays_value_with_it"), "signed percent"),
        ),
        [(name, rate * 60_000, mistake, result) for name, rate, mistake, result in cells],
        say,
    )


def compare_tables(comparison: Comparison, say: Language = ENGLISH) -> tuple[Table, ...]:
    """Every table that is written as CSV."""
    return (
        procedures_table(comparison, say),
        improvements_table(comparison, say),
        crossings_table(comparison, say),
        *(sweep_table(sweep, say) for sweep in comparison.crossings),
        population_table(comparison, say),
        drawn_table(comparison, say),
        cancels_table(say),
        hazards_table(comparison, say),
        heater_off_table(comparison, say),
        inputs_table(comparison, say),
        evidence_table(say),
    )
