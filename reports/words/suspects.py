"""Words of what could be wrong: single causes, what cannot be told apart, and the run that would tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.evaluation.evaluate import GroupEvaluation
    from design.evaluation.suspects import FurtherRun, SeenLoss, Suspect

UNSIZED = ("unsteady", "slip")
"""Causes whose size is no number to give."""


def cause_name(key: str, say: Language = ENGLISH) -> str:
    """Name of a cause."""
    return say.text(f"suspect.cause.{key}")


def suspect_name(suspect: Suspect, say: Language = ENGLISH) -> str:
    """Name of a cause, with the row of a slip."""
    return say.text(f"suspect.cause.{suspect.key}", row=suspect.row)


def cause_size(suspect: Suspect, say: Language = ENGLISH) -> str:
    """Write how large a cause would have to be."""
    return "" if suspect.key in UNSIZED else in_its_unit(suspect.size, suspect.unit, say)


def in_its_unit(value: float, unit: str, say: Language = ENGLISH) -> str:
    """Write a size: per cent with its sign, the rest in two digits."""
    return say.signed_percent(value) if unit == "%" else say.in_unit(value, unit, 4 if "/" in unit else 2)


def what_could_be_wrong(group: GroupEvaluation, say: Language = ENGLISH) -> tuple[str, ...]:
    """Sentences of the teacher's copy: whether anything need be wrong, what, and which run would tell."""
    suspects = group.suspects
    known = say.text("suspect.as_known", probability=say.percent(100.0 * suspects.as_known))
    found = [suspect_name(one, say) for one in suspects.inseparable]
    if len(found) > 1:
        told = say.text("suspect.inseparable", causes="; ".join(found))
    else:
        told = say.text("suspect.alone", cause=found[0], size=cause_size(suspects.ranked[0], say))
    seen = () if group.seen_loss is None else (_seen(group, group.seen_loss, say),)
    return (*seen, known, told, *_further(group.further, len(found), say))


def _further(run: FurtherRun | None, inseparable: int, say: Language) -> tuple[str, ...]:
    if run is None:
        return (say.text("suspect.no_run"),) if inseparable > 1 else ()
    return (
        say.text(
            "suspect.further",
            run=say.text(f"suspect.run.{run.kind}"),
            first=cause_name(run.first, say),
            second=cause_name(run.second, say),
            first_reading=in_its_unit(run.readings[0], run.unit, say),
            second_reading=in_its_unit(run.readings[1], run.unit, say),
            uncertainty=say.in_unit(run.standard_uncertainty, run.unit, 2),
        ),
    )


def _seen(group: GroupEvaluation, seen: SeenLoss, say: Language) -> str:
    hardware = group.result.used.hardware
    return say.text(
        "suspect.seen_loss",
        way=say.text(f"suspect.way.{seen.way}"),
        seen=say.with_standard_uncertainty(seen.value, seen.standard_uncertainty, "W"),
        calculated=say.with_standard_uncertainty(hardware.loss, hardware.loss_uncertainty, "W"),
    )
