"""Empty cells: a mark or a run is left out and said by row and heading, or nothing is evaluated and the cell named."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from design.bench import Bench
from design.evaluation.evaluate import Evaluation, EvaluationRequest, NothingEvaluatedError, evaluate
from design.sheets.readings import Finding, Sheet

HEADINGS = "run,mark,time_s,counts,mass_g"
RESTARTS = ["1,0,0,12,240", "1,1,432,43.5,120", "2,0,0,50,240", "2,1,438,82,120", "3,0,0,90,240", "3,1,431,121.4,120"]


def made(make_sheet: Callable[..., Sheet], rows: list[str], headings: str = HEADINGS) -> Sheet:
    names = headings.split(",")
    return make_sheet([dict(zip(names, row.split(","), strict=True)) for row in rows])


def evaluated(bench: Bench, sheet: Sheet) -> Evaluation:
    return evaluate(bench, sheet, EvaluationRequest(teacher=True, trials=2**10))


def said(findings: tuple[Finding, ...]) -> list[tuple[int, str, str]]:
    return [(one.row, one.column, one.code) for one in findings if one.code.endswith("_left_out")]


def without(rows: list[str], place: int, column: int) -> list[str]:
    cells = rows[place].split(",")
    cells[column] = ""
    return [*rows[:place], ",".join(cells), *rows[place + 1 :]]


@pytest.mark.parametrize(("column", "heading"), [(2, "time_s"), (3, "counts"), (4, "mass_g")])
@pytest.mark.parametrize("place", [2, 3])
def test_a_run_with_an_empty_cell_counts_for_nothing_and_is_named(
    demo_bench: Bench, make_sheet: Callable[..., Sheet], place: int, column: int, heading: str
) -> None:
    found = evaluated(demo_bench, made(make_sheet, without(RESTARTS, place, column)))
    without_the_run = evaluated(demo_bench, made(make_sheet, [*RESTARTS[:2], *RESTARTS[4:]]))

    assert said(found.findings) == [(place + 2, heading, "run_left_out")]
    assert {run.source for level in found.groups[0].result.measured.levels for run in level} == {"counts"}
    assert found.groups[0].result.best.value == pytest.approx(without_the_run.groups[0].result.best.value, rel=1e-12)


def test_a_mark_of_several_is_left_out_alone(demo_bench: Bench, make_sheet: Callable[..., Sheet]) -> None:
    rows = ["1,0,0,12,480", "1,1,430,43,360", "1,2,862,74,240", "1,3,1293,105,120"]
    found = evaluated(demo_bench, made(make_sheet, without(rows, 0, 3)))
    shorter = evaluated(demo_bench, made(make_sheet, rows[1:]))

    assert said(found.findings) == [(2, "counts", "mark_left_out")]
    assert found.groups[0].result.best.value == pytest.approx(shorter.groups[0].result.best.value, rel=1e-12)


def test_where_nothing_remains_the_cell_is_named(demo_bench: Bench, make_sheet: Callable[..., Sheet]) -> None:
    with pytest.raises(NothingEvaluatedError) as refused:
        evaluated(demo_bench, made(make_sheet, without(RESTARTS[:2], 1, 3)))

    assert (3, "counts", "run_left_out") in said(refused.value.findings)


def test_a_run_of_which_only_the_start_was_noted_does_not_spoil_the_others(
    demo_bench: Bench, make_sheet: Callable[..., Sheet]
) -> None:
    found = evaluated(demo_bench, made(make_sheet, RESTARTS[:5]))

    assert said(found.findings) == [(6, "", "run_left_out")]
    assert len(found.groups[0].result.measured.levels[0]) == 2


def test_a_sheet_that_never_had_counts_may_rest_on_the_nameplate(
    demo_bench: Bench, make_sheet: Callable[..., Sheet]
) -> None:
    rows = [",".join(row.split(",")[:3] + row.split(",")[4:]) for row in RESTARTS]
    found = evaluated(demo_bench, made(make_sheet, rows, "run,mark,time_s,mass_g"))

    assert said(found.findings) == []
    assert {run.source for level in found.groups[0].result.measured.levels for run in level} == {"nameplate"}


def test_a_gap_in_a_cooling_run_leaves_that_reading_out_and_no_more(
    demo_bench: Bench, make_sheet: Callable[..., Sheet]
) -> None:
    cooling = [f"cooling,{n},{30 * n},,{700 - 0.2 * n:.1f},{98 - 0.9 * n:.1f},off" for n in range(9)]
    rows = [f"{row},," for row in RESTARTS[:4]] + cooling
    rows[8] = "cooling,4,120,,699.2,,off"
    sheet = made(make_sheet, rows, f"{HEADINGS},temperature_C,heater")
    found = evaluate(demo_bench, sheet, EvaluationRequest(correction="cooling-run", teacher=True, trials=2**10))

    assert said(found.findings) == [(10, "temperature_C", "mark_left_out")]
    assert found.groups[0].result.used.correction == "cooling-run"
