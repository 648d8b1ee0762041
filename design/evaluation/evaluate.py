"""The whole evaluation of a readings sheet: group by group, and the class."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from budget.errors import BudgetError
from design.bench import Bench
from design.errors import DesignError
from design.evaluation.account import TRIALS, Explanation, TooFewEffectiveError, explain
from design.evaluation.classroom import Attempt, AttemptCheck, ClassView, attempt_of, check_attempt, class_view
from design.evaluation.improvements import Improvement, improvements_of
from design.evaluation.in_use import InUse, in_use
from design.evaluation.learned import Learned, learn
from design.evaluation.measured import Measured, matching, measured, rated_power
from design.evaluation.plausibility import findings_of
from design.evaluation.result import REFERENCE_UNCERTAINTY, Result, loss_from, parted, result_of
from design.evaluation.runs import Run, runs_of
from design.evaluation.school import SchoolResult, school_result
from design.evaluation.school_rules import DEFAULT_RULES, SchoolRules, preset_names, read_rules
from design.sheets.readings import Finding, Reading, Sheet

MOST_SAID = 12
"""Findings repeated in the message where nothing can be evaluated."""


@dataclass(frozen=True)
class Request:
    """
    What is asked for beside bench and readings.

    Parameters
    ----------
    rules : str
        Preset or file of the school's rules.
    correction : str or None
        Correction, where not that of the bench.
    attempt : Attempt or None
        The student's own result, where it is not in the sheet.
    learn : bool
        Whether knowledge is updated.
    coverage : float
        Coverage probability. [1]
    seed : int
        Of every sample.
    trials : int
        Size of the sample on which the account and what is learned rest.
    """

    rules: str = DEFAULT_RULES
    correction: str | None = None
    attempt: Attempt | None = None
    learn: bool = False
    coverage: float = 0.95
    seed: int = 0
    trials: int = TRIALS


@dataclass(frozen=True)
class GroupEvaluation:
    """
    What one group's readings say.

    Parameters
    ----------
    group : str
        Which.
    used : InUse
        Procedure and correction as its readings allow them.
    result : Result
        Value, budget, comparison.
    loss : float
        Heat loss at the boil that the correction takes off, or that the data give. [W]
    school : SchoolResult
        By the rules asked for.
    presets : tuple of SchoolResult
        By every preset.
    attempt : AttemptCheck or None
        The student's own numbers.
    explanation : Explanation or None
        Why it is off; None where the readings lie outside the knowledge.
    refusal : str
        Why there is no explanation.
    """

    group: str
    used: InUse
    result: Result
    loss: float
    school: SchoolResult
    presets: tuple[SchoolResult, ...]
    attempt: AttemptCheck | None
    explanation: Explanation | None
    refusal: str


@dataclass(frozen=True)
class Evaluation:
    """
    Everything about a readings sheet.

    Parameters
    ----------
    bench, sheet, request
        What it was made of.
    used : InUse
        As the bench says.
    findings : tuple of Finding
        Slips seen, and groups that could not be evaluated.
    groups : tuple of GroupEvaluation
        In the order of the sheet.
    classroom : ClassView or None
        For several groups.
    improvements : tuple of Improvement
        What each change would be worth.
    learned : Learned or None
        Where asked for.
    """

    bench: Bench
    sheet: Sheet
    request: Request
    used: InUse
    findings: tuple[Finding, ...]
    groups: tuple[GroupEvaluation, ...]
    classroom: ClassView | None
    improvements: tuple[Improvement, ...]
    learned: Learned | None


def evaluate(bench: Bench, sheet: Sheet, request: Request) -> Evaluation:
    """
    Evaluate a readings sheet.

    Parameters
    ----------
    bench : Bench
        Kit, procedure, correction and knowledge.
    sheet : Sheet
        Readings.
    request : Request
        What else is asked for.

    Returns
    -------
    Evaluation

    Raises
    ------
    DesignError
        If no group can be evaluated, or the bench does not say what was used.
    """
    used = in_use(bench, request.correction)
    rules = read_rules(request.rules)
    presets = tuple(read_rules(name) for name in preset_names())
    findings = list(findings_of(sheet, used))
    groups: list[GroupEvaluation] = []
    for name, readings in sheet.groups.items():
        try:
            group, notes = _group(name, readings, used, request, (rules, presets))
        except (DesignError, BudgetError) as fault:
            message = f"Group {name} could not be evaluated: {fault}"
            findings.append(Finding(readings[0].row, "", "cannot_be_evaluated", message, name))
        else:
            groups.append(group)
            findings += notes
    if not groups:
        lines = [finding.message for finding in findings[-MOST_SAID:]]
        raise DesignError("\n".join([f"{sheet.file}: no group of readings can be evaluated:", *lines]))
    results = {group.group: group.result for group in groups}
    return Evaluation(
        bench=bench,
        sheet=sheet,
        request=request,
        used=groups[0].used,
        findings=tuple(findings),
        groups=tuple(groups),
        classroom=class_view(results),
        improvements=improvements_of(groups[0].used, groups[0].result.measured, seed=request.seed),
        learned=learn(list(results.values()), used.reference, trials=request.trials, seed=request.seed)
        if request.learn
        else None,
    )


def group_result(
    readings: tuple[Reading, ...], used: InUse, *, coverage: float = 0.95, seed: int = 0
) -> tuple[InUse, Result, list[Finding]]:
    """
    Result of one group's readings.

    Parameters
    ----------
    readings : tuple of Reading
        Of one group.
    used : InUse
        As the bench says.
    coverage : float
        Coverage probability. [1]
    seed : int
        Of the simulation.

    Returns
    -------
    tuple of (InUse, Result, list of Finding)
        What was used in the end: a series takes as many powers as the readings have, and without a cooling run on
        the sheet the losses are calculated.
    """
    runs_part, cooling = parted(readings)
    runs = _runs(runs_part, used)
    used = matching(used, runs)
    notes: list[Finding] = []
    cooled: float | None = None
    if used.correction == "cooling-run":
        if cooling:
            situation = measured(replace(used, correction="calculated"), runs).situation
            cooled = loss_from(cooling, used, situation)
        else:
            used = replace(used, correction="calculated")
            text = "no run with the heater off, temperature, mass and time; the losses are calculated instead."
            notes.append(Finding(readings[0].row, "", "no_cooling_run", f"Group {readings[0].group}: {text}",
                                 readings[0].group))  # fmt: skip
    what = measured(used, runs, cooled)
    result = result_of(what, used.reference, corrected=used.correction != "none", coverage=coverage, seed=seed)
    return used, result, notes


def _runs(readings: tuple[Reading, ...], used: InUse) -> tuple[Run, ...]:
    return runs_of(readings, used.kit, steps_of_mass=used.procedure.needs_mass_set, rated_power=rated_power(used))


def _group(
    name: str,
    readings: tuple[Reading, ...],
    used: InUse,
    request: Request,
    rules: tuple[SchoolRules, tuple[SchoolRules, ...]],
) -> tuple[GroupEvaluation, list[Finding]]:
    used, result, notes = group_result(readings, used, coverage=request.coverage, seed=request.seed)
    what = result.measured
    school = school_result(used, what.levels, rules[0])
    attempt = attempt_of(readings) or request.attempt
    explanation, refusal = _explained(result, used, request)
    group = GroupEvaluation(
        group=name,
        used=used,
        result=result,
        loss=loss_of(what),
        school=school,
        presets=tuple(school_result(used, what.levels, preset) for preset in rules[1]),
        attempt=None if attempt is None else check_attempt(attempt, used, what, school, result.best.value),
        explanation=explanation,
        refusal=refusal,
    )
    return group, notes


def _explained(result: Result, used: InUse, request: Request) -> tuple[Explanation | None, str]:
    reference = used.reference
    try:
        found = explain(
            result.best.model,
            reference,
            REFERENCE_UNCERTAINTY * reference,
            request.coverage,
            trials=request.trials,
            seed=request.seed,
        )
    except TooFewEffectiveError as refusal:
        return None, str(refusal)
    return found, ""


def loss_of(what: Measured) -> float:
    """
    Heat loss at the boil: what the correction takes off; at several powers, what energy, mass and time leave. [W].

    Returns
    -------
    float
        0 where nothing is taken off.
    """
    steps: Mapping[str, float] = {
        symbol: float(value) for symbol, value in what.model.evaluate_all(what.model.estimates).items()
    }
    if "W_est" in steps:
        return steps["W_est"]
    number = len(what.levels)
    suffix = "est" if "E_1_est" in steps else "read"
    if number < 2 or f"E_1_{suffix}" not in steps:
        return 0.0
    energy = sum(steps[f"E_{index}_{suffix}"] for index in range(1, number + 1))
    mass = sum(steps[f"m_{index}_{suffix}"] for index in range(1, number + 1))
    time = sum(steps[f"t_{index}"] for index in range(1, number + 1))
    return (energy - steps["L"] * mass) / time
