"""Graphs of an evaluation: the readings of each run, the runs of a group, the groups of the class."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from budget.propagation import coverage_factor
from design.evaluation.expected import interval_uncertainty
from design.evaluation.gradients import run_lines
from design.evaluation.robust import RobustView, robust_view
from reports.figures.dots import Dot, DotWords, dots
from reports.figures.gradient import gradient
from reports.words import rounding
from reports.words.evaluate import run_name, to_place_of
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.evaluation.classroom import ClassView
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from reports.figures.canvas import Figure

MOST_RUNS = 6
"""Runs of a group that are drawn as lines."""
MOST_GROUPS = 24
"""Groups drawn one below the other; tables have them all."""


def group_graphs(
    group: GroupEvaluation, key: str, say: Language = ENGLISH, *, shown: bool = True
) -> tuple[Figure, ...]:
    """Draw the runs of a group as lines, and their values as dots; values only where they may be shown."""
    result = group.result
    lines = run_lines(result.measured, group.school.rules)[:MOST_RUNS]
    figures = [gradient(f"{key}-line-{place}", line, say, fitted=shown) for place, line in enumerate(lines, start=1)]
    if shown and len(group.school.lines) > 1:
        figures.append(_runs(group, key, say))
    return tuple(figures)


def _runs(group: GroupEvaluation, key: str, say: Language) -> Figure:
    used, wider = group.result.used, group.result.measured.scatter.factor
    rows = [
        Dot(
            say.text("graph.run", name=run_name(line, say)),
            line.value,
            wider * line.value / line.mass * math.hypot(*(interval_uncertainty(used, run) for run in line.runs)),
        )
        for line in group.school.lines
    ]
    headings = (say.text("graph.run_heading"), say.text("graph.value_u"), "")
    return dots(f"{key}-runs", rows, DotWords(say.text("graph.runs_caption"), headings), say)


def robust_of(evaluation: Evaluation) -> RobustView | None:
    """Pool the class robustly, where there is one of three groups at least."""
    view = evaluation.classroom
    results = {group.group: group.result for group in evaluation.groups}
    return None if view is None else robust_view(results, view)


def class_graph(evaluation: Evaluation, view: ClassView, robust: RobustView | None, say: Language = ENGLISH) -> Figure:
    """Draw the corrected values of the groups on which no strong slip stands, the pooled one and the robust one."""
    rows = []
    sound = [group for group in evaluation.groups if group.verdict != "withheld"] or list(evaluation.groups)
    for group in sound[:MOST_GROUPS]:
        best = group.result.best
        mark = "far" if group.group in view.outliers else "one"
        label = say.text("graph.group", name=group.group)
        note = _note(best.agreement.normalised_error, say)
        rows.append(Dot(label, best.value, best.propagation.expanded_uncertainty, mark, note))  # type: ignore[arg-type]
    half = 0.5 * (view.interval[1] - view.interval[0])
    rows.append(Dot(say.text("graph.pooled"), view.value, half, "pooled", _note(view.agreement.normalised_error, say)))
    if robust is not None:
        wide = coverage_factor(evaluation.request.coverage, math.inf) * robust.standard_uncertainty
        rows.append(Dot(say.text("graph.robust"), robust.value, wide, "robust"))
    coverage = say.percent_of_share(evaluation.request.coverage)
    caption = say.text("graph.class_caption", coverage=coverage)
    headings = (say.text("graph.who"), say.text("graph.value_U"), say.text("graph.note"))
    return dots("classroom", rows, DotWords(caption, headings, view.agreement.reference), say)


def _note(normalised_error: float, say: Language) -> str:
    return say.text("graph.e_n", value=say.number(rounding.significant(normalised_error, 2)))


def class_said(evaluation: Evaluation, view: ClassView, robust: RobustView | None, say: Language = ENGLISH) -> str:
    """Say on which groups a strong slip stands, and whether groups far from the rest drag the pooled value."""
    slips = [group.group for group in evaluation.groups if group.verdict == "withheld"]
    first = say.text("graph.slip_stands", groups=", ".join(slips)) if slips else ""
    return " ".join(part for part in (first, _dragged(view, robust, say)) if part)


def _dragged(view: ClassView, robust: RobustView | None, say: Language) -> str:
    """What groups far from the rest do to the pooled value; nothing where no group can be told from the rest."""
    if robust is None:
        return ""
    values = {
        "pooled": say.number(to_place_of(view.value, view.standard_uncertainty)),
        "robust": say.number(to_place_of(robust.value, view.standard_uncertainty)),
    }
    if view.outliers and robust.without is not None:
        without = say.number(to_place_of(robust.without, view.standard_uncertainty))
        return say.text("graph.far", groups=", ".join(view.outliers), without=without, **values)
    if view.outliers:
        return say.text("graph.far_only", groups=", ".join(view.outliers), **values)
    return say.text("graph.dragged" if robust.dragged else "graph.steady", **values)
