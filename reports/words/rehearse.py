"""What the rehearsal report says; in English."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH

if TYPE_CHECKING:
    from design.rehearsal.campaign import FoundShare, Rehearsal


def design_words(rehearsal: Rehearsal) -> str:
    """Say which design was rehearsed."""
    design = rehearsal.ranked.design
    powers = " and ".join(rounding.in_unit(power, "W") for power in design.powers)
    procedure, correction = wording.procedure(design.procedure.identifier), wording.correction(design.correction)
    mass = rounding.in_unit(1000.0 * design.mass, "g")
    times = "once" if design.repeats == 1 else f"{design.repeats} times"
    reading = ", the marks of the meter timed" if design.reading == "timed" else ""
    return f"“{procedure}” at {powers} over {mass}, {times}{reading}, with {correction}"


def decision(rehearsal: Rehearsal) -> tuple[str, ...]:
    """Answer the page's question in sentences."""
    share = rehearsal.coverage
    sentences = [
        ENGLISH.text(
            "rehearse.played",
            runs=rounding.grouped(str(rehearsal.reported.size)),
            design=design_words(rehearsal),
            found=rounding.percent(100.0 * share.found),
            asked=rounding.percent_of_share(share.asked),
            low=rounding.percent(100.0 * share.interval[0]),
            high=rounding.percent(100.0 * share.interval[1]),
        ),
        _judgement(rehearsal),
        _elsewhere(rehearsal),
        ENGLISH.text("rehearse.over_rim", share=rounding.percent(100.0 * rehearsal.over_rim)),
        ENGLISH.text(
            "rehearse.numbers",
            bias=rounding.signed_percent(100.0 * rehearsal.bias),
            spread=rounding.percent(100.0 * rehearsal.spread),
            budget_bias=rounding.signed_percent(rehearsal.ranked.bias_percent),
            budget_spread=rounding.percent(rehearsal.ranked.standard_uncertainty_percent),
        ),
    ]
    if rehearsal.abandoned:
        sentences.append(ENGLISH.text("rehearse.abandoned", number=rounding.grouped(str(rehearsal.abandoned))))
    return tuple(sentences)


def _elsewhere(rehearsal: Rehearsal) -> str:
    """Say between what the share lies where the world differs, and where it is least."""
    found = [one.coverage.found for one in rehearsal.elsewhere]
    worst = min(rehearsal.elsewhere, key=lambda one: one.coverage.found)
    return ENGLISH.text(
        "rehearse.elsewhere",
        least=rounding.percent(100.0 * min(found)),
        most=rounding.percent(100.0 * max(found)),
        worst=ENGLISH.text(f"rehearse_world.{worst.world.key}"),
    )


def _judgement(rehearsal: Rehearsal) -> str:
    """Judge the share found; where results crowd in steps of a count, say that instead of blaming the budget."""
    found, step = verdict(rehearsal.coverage), lattice_percent(rehearsal)
    if found != "agrees" and step > 50.0 * rehearsal.spread:
        return ENGLISH.text("rehearse.lattice", step=rounding.percent(step))
    return ENGLISH.text(f"rehearse.{found}")


def verdict(share: FoundShare) -> str:
    """Key of the sentence that judges a share found against that asked."""
    low, high = share.interval
    if low <= share.asked <= high:
        return "agrees"
    return "too_wide" if share.found > share.asked else "too_narrow"


def lattice_percent(rehearsal: Rehearsal) -> float:
    """Step of the result that one count makes, where counts are read in passing. [%]"""
    design, meter = rehearsal.ranked.design, rehearsal.ranked.design.kit.meter
    if not design.procedure.reads_in_passing or design.counts == 0.0 or meter.energy_per_count == 0.0:
        return 0.0
    return 100.0 * meter.fineness / (design.counts * design.repeats)
