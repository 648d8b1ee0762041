"""The whole evaluation of a readings sheet: group by group, and the class."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from budget.errors import BudgetError
from design.bench import Bench
from design.chosen import Design
from design.errors import DesignError
from design.evaluation.account import TRIALS, Explanation, TooFewEffectiveError, explain
from design.evaluation.attempts import Attempt, AttemptCheck, attempt_of, check_attempt
from design.evaluation.causes import data_of
from design.evaluation.checks.candidates import Slip
from design.evaluation.classroom import ClassView, class_view
from design.evaluation.findings import findings_of, slips_of
from design.evaluation.improvements import Improvement, improvements_of
from design.evaluation.learned import Learned, learn
from design.evaluation.left_out import without_gaps
from design.evaluation.result import GroupResult, group_result
from design.evaluation.school import SchoolResult, school_result
from design.evaluation.school_rules import DEFAULT_RULES, SchoolRules, preset_names, read_rules
from design.evaluation.suspects import FurtherRun, Mended, SeenLoss, Suspects, further_run, seen_loss, suspects_of
from design.evaluation.verdict import STRONG, Verdict, verdict_of
from design.message import Message
from design.search.planned import Planned, as_planned
from design.search.today import in_use
from design.sheets.readings import Finding, Reading, Sheet

MOST_SAID = 12
"""Findings repeated in the message where nothing can be evaluated."""


@dataclass(frozen=True)
class EvaluationRequest:
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
    teacher : bool
        Whether the report is the teacher's copy.
    coverage : float
        Coverage probability. [1]
    seed : int
        Of every sample.
    trials : int
        Size of the sample on which the account and what is learned rest.
    planned : Planned or None
        Design of a plan with which the readings were taken, where it is not what the bench says of today.
    """

    rules: str = DEFAULT_RULES
    correction: str | None = None
    attempt: Attempt | None = None
    learn: bool = False
    teacher: bool = False
    coverage: float = 0.95
    seed: int = 0
    trials: int = TRIALS
    planned: Planned | None = None


@dataclass(frozen=True)
class GroupEvaluation:
    """
    What one group's readings say.

    Parameters
    ----------
    group, result
        Which, and its value, budget and comparison.
    school, presets : SchoolResult, tuple of SchoolResult
        By the rules asked for, and by every preset.
    attempt : AttemptCheck or None
        The student's own numbers.
    explanation : Explanation or None
        Why it is off; None where the readings lie outside the knowledge, or the sample is too small.
    refusal, refused : str
        Why there is no explanation, and the name of that reason in the catalogues.
    suspects, further : Suspects, FurtherRun or None
        Single causes told apart by all the data, and the run that would tell the likeliest two apart.
    seen_loss : SeenLoss or None
        Heat loss that the readings themselves give.
    codes : frozenset of str
        Of the findings on its readings, and on the sheet as a whole.
    """

    group: str
    result: GroupResult
    school: SchoolResult
    presets: tuple[SchoolResult, ...]
    attempt: AttemptCheck | None
    explanation: Explanation | None
    refusal: str
    refused: str
    suspects: Suspects
    further: FurtherRun | None
    seen_loss: SeenLoss | None
    codes: frozenset[str] = frozenset()

    @property
    def verdict(self) -> Verdict:
        """Whether the value, with what is taken off, agrees with the reference."""
        best = self.result.best
        return self._verdict(best.agreement.agrees, best.propagation.expanded_uncertainty)

    @property
    def uncorrected_verdict(self) -> Verdict:
        """The same with nothing taken off."""
        plain = self.result.uncorrected
        return self._verdict(plain.agreement.agrees, plain.propagation.expanded_uncertainty)

    def school_verdict(self, school: SchoolResult) -> Verdict:
        """Whether a value by a school's rules agrees by its own rule."""
        return self._verdict(school.agrees, school.uncertainty)

    def _verdict(self, agrees: bool, expanded: float) -> Verdict:
        return verdict_of(agrees=agrees, width=expanded / self.result.used.reference, codes=self.codes)


@dataclass(frozen=True)
class Evaluation:
    """
    Everything about a readings sheet.

    Parameters
    ----------
    bench, sheet, request
        What it was made of.
    used : Design
        As the readings of the first group allow it.
    findings : tuple of Finding
        Slips seen, and groups that could not be evaluated or explained.
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
    request: EvaluationRequest
    used: Design
    findings: tuple[Finding, ...]
    groups: tuple[GroupEvaluation, ...]
    classroom: ClassView | None
    improvements: tuple[Improvement, ...]
    learned: Learned | None

    @property
    def verdict(self) -> Verdict:
        """Of the group, or of the pooled value of several, for which a strong slip of any group stands."""
        view = self.classroom
        if view is None:
            return self.groups[0].verdict
        low, high = view.interval
        return verdict_of(
            agrees=view.agreement.agrees,
            width=0.5 * (high - low) / view.agreement.reference,
            codes=frozenset().union(*(group.codes for group in self.groups)),
        )

    @property
    def shown(self) -> tuple[GroupEvaluation, ...]:
        """Groups whose computed value may be shown: to the teacher all, else those whose own value is there."""
        return tuple(group for group in self.groups if self.request.teacher or group.attempt is not None)


class NothingEvaluatedError(DesignError):
    """
    No group of a sheet can be evaluated.

    Parameters
    ----------
    file : str
        The sheet.
    findings : tuple of Finding
        The last that was seen, which says why.
    """

    def __init__(self, file: str, findings: tuple[Finding, ...]) -> None:
        super().__init__(f"{file}: no group of readings can be evaluated")
        self.findings = findings


def evaluate(bench: Bench, sheet: Sheet, request: EvaluationRequest) -> Evaluation:
    """
    Evaluate a readings sheet on a bench.

    Raises
    ------
    NothingEvaluatedError
        If no group can be evaluated.
    DesignError
        If the bench does not say what was used.
    """
    used = _used(bench, request)
    rules = [read_rules(name) for name in (request.rules, *preset_names())]
    complete, left_out = without_gaps(sheet, used)
    seen = tuple(sorted((*findings_of(complete, used), *left_out), key=lambda finding: finding.row))
    findings = list(seen)
    groups: list[GroupEvaluation] = []
    for name, readings in sheet.groups.items():
        try:
            codes = frozenset(finding.code for finding in seen if finding.group in (name, ""))
            kept = complete.groups.get(name, ())
            attempt = attempt_of(readings) or request.attempt
            group = _group(name, kept, used, request, rules, attempt, codes)
        except (DesignError, BudgetError) as fault:
            message = Message("cannot_be_evaluated", {"group": name, "fault": str(fault)})
            findings.append(Finding(readings[0].row, "", "cannot_be_evaluated", message, name))
            continue
        groups.append(group)
        findings += group.result.notes
        if group.refusal:
            code = "outside_the_knowledge" if group.refused == "lies_outside" else group.refused
            message = Message("outside_the_knowledge", {"group": name, "refusal": Message(group.refused)})
            findings.append(Finding(readings[0].row, "", code, message, name))
    if not groups:
        raise NothingEvaluatedError(sheet.file, tuple(findings[-MOST_SAID:]))
    results = {group.group: group.result for group in groups}
    first = groups[0].result
    learned, refused = _learned(list(results.values()), request)
    findings += refused
    return Evaluation(
        bench=used.conditions.bench,
        sheet=sheet,
        request=request,
        used=first.used,
        findings=tuple(findings),
        groups=tuple(groups),
        classroom=class_view(results, request.coverage),
        improvements=improvements_of(first, seed=request.seed),
        learned=learned,
    )


def _used(bench: Bench, request: EvaluationRequest) -> Design:
    """What the readings were taken with: the plan's design, else what the bench says of today."""
    if request.planned is None:
        return in_use(bench, request.correction)
    return as_planned(bench, request.planned, request.correction)


def _learned(results: list[GroupResult], request: EvaluationRequest) -> tuple[Learned | None, tuple[Finding, ...]]:
    """What the readings teach, where asked for; a finding where they lie outside the knowledge."""
    if not request.learn:
        return None, ()
    try:
        return learn(results, trials=request.trials, seed=request.seed), ()
    except TooFewEffectiveError as outside:
        message = Message("nothing_learned", {"refusal": Message(outside.says)})
        return None, (Finding(0, "", "nothing_learned", message),)


def _group(
    name: str,
    readings: tuple[Reading, ...],
    used: Design,
    request: EvaluationRequest,
    rules: Sequence[SchoolRules],
    attempt: Attempt | None,
    codes: frozenset[str],
) -> GroupEvaluation:
    if not readings:
        raise DesignError("every run has an empty cell that its result needs; type what was read there")
    result = group_result(readings, used, coverage=request.coverage, seed=request.seed)
    result.measured.uncorrected.at_estimates()  # refused here, as a fault of this group
    school, *presets = (school_result(result.used, result.measured.levels, profile) for profile in rules)
    explanation, refusal, refused = None, "", ""
    try:
        explanation = explain(result.best, request.coverage, trials=request.trials, seed=request.seed)
    except TooFewEffectiveError as outside:
        refusal, refused = str(outside), outside.says
    data = data_of(result)
    suspects = suspects_of(data, tuple(_mended(readings, used, slips_of(readings, used)) if STRONG & codes else ()))
    return GroupEvaluation(
        group=name,
        result=result,
        school=school,
        presets=tuple(presets),
        attempt=None if attempt is None else check_attempt(attempt, result, school.value),
        explanation=explanation,
        refusal=refusal,
        refused=refused,
        suspects=suspects,
        further=further_run(data, suspects),
        seen_loss=seen_loss(result.measured),
        codes=codes,
    )


def _mended(readings: tuple[Reading, ...], used: Design, slips: Iterable[Slip]) -> Iterator[Mended]:
    """Data of a group without each slip; those that make no result are left out."""
    for slip in slips:
        without = {reading.row: reading for reading in slip.mended}
        try:
            result = group_result(tuple(without.get(reading.row, reading) for reading in readings), used)
        except (DesignError, BudgetError):
            continue
        yield Mended(data_of(result), slip.reading.row, slip.chance)
