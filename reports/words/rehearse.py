"""What the rehearsal report says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.rehearsal.campaign import FoundShare, Rehearsal


def design_words(rehearsal: Rehearsal, say: Language = ENGLISH) -> str:
    """Say which design was rehearsed."""
    design = rehearsal.ranked.design
    return say.text(
        "rehearse.design",
        procedure=wording.procedure(design.procedure.identifier, say),
        powers=say.listed([say.in_unit(power, "W") for power in design.powers]),
        mass=say.in_unit(1000.0 * design.mass, "g"),
        times=wording.times(design.repeats, say),
        reading=say.text("rehearse.timed") if design.reading == "timed" else "",
        correction=wording.correction(design.correction, say),
    )


def decision(rehearsal: Rehearsal, say: Language = ENGLISH) -> tuple[str, ...]:
    """Answer the page's question in sentences."""
    share = rehearsal.coverage
    sentences = [
        say.text(
            "rehearse.played",
            runs=rounding.grouped(str(rehearsal.reported.size)),
            design=design_words(rehearsal, say),
            found=say.percent(100.0 * share.found),
            asked=say.percent_of_share(share.asked),
            low=say.percent(100.0 * share.interval[0]),
            high=say.percent(100.0 * share.interval[1]),
        ),
        _judgement(rehearsal, say),
        _elsewhere(rehearsal, say),
        say.text("rehearse.over_rim", share=say.percent(100.0 * rehearsal.over_rim)),
        say.text(
            "rehearse.numbers",
            bias=say.signed_percent(100.0 * rehearsal.bias),
            spread=say.percent(100.0 * rehearsal.spread),
            budget_bias=say.signed_percent(rehearsal.ranked.bias_percent),
            budget_spread=say.percent(rehearsal.ranked.standard_uncertainty_percent),
        ),
    ]
    if rehearsal.abandoned:
        sentences.append(say.text("rehearse.abandoned", number=rounding.grouped(str(rehearsal.abandoned))))
    return tuple(sentences)


def _elsewhere(rehearsal: Rehearsal, say: Language) -> str:
    """Say between what the share lies where the world differs, and where it is least."""
    found = [one.coverage.found for one in rehearsal.elsewhere]
    worst = min(rehearsal.elsewhere, key=lambda one: one.coverage.found)
    return say.text(
        "rehearse.elsewhere",
        least=say.percent(100.0 * min(found)),
        most=say.percent(100.0 * max(found)),
        worst=say.text(f"rehearse_world.{worst.world.key}"),
    )


def _judgement(rehearsal: Rehearsal, say: Language) -> str:
    """Judge the share found; where results crowd in steps of a count, say that instead of blaming the budget."""
    found, step = verdict(rehearsal.coverage), lattice_percent(rehearsal)
    if found != "agrees" and step > 50.0 * rehearsal.spread:
        return say.text("rehearse.lattice", step=say.percent(step))
    return say.text(f"rehearse.{found}")


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
