"""Sentences of the rehearsal report in English, in one place."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import rounding
from reports.words.sentences import CORRECTIONS, PROCEDURES

if TYPE_CHECKING:
    from design.rehearsal.campaign import Rehearsal, Share

REHEARSE: Mapping[str, str] = MappingProxyType(
    {
        "kicker": "Rehearsal of measuring the specific latent heat of vaporisation of water",
        "question": "Does the stated interval hold the true value as often as it claims?",
        "invented": "Example: the bench, its items and its prices are invented.",
        "played": "{runs} virtual runs of {design} were played. In {found} of them the stated {asked} interval holds "
        "the true value ({low} to {high} with a confidence of 95 %).",
        "agrees": "What was asked for lies within that range: the interval may be trusted on this bench, as far as its "
        "stated knowledge goes.",
        "too_wide": "That is more often than claimed: the interval is wider than it need be.",
        "too_narrow": "That is less often than claimed: the budget leaves something out for this design.",
        "numbers": "The reported values lie {bias} from the true value on average, with a standard deviation of "
        "{spread}; the budget says {budget_bias} and {budget_spread}.",
        "lattice": "Counts are read in whole steps, and one step is {step} of the result: reported values crowd in "
        "steps of that size, and the share found depends on where the steps fall.",
        "abandoned": "{number} more runs were given up because the water came down to the element’s mark before the "
        "last reading.",
        "spread": "How far off are the reported values?",
        "spread_intro": "Bars: what the virtual runs reported. Line: what the budget expects. A virtual run knows "
        "nothing of the measurement equation: it follows heat and water from second to second, and its observer writes "
        "down only what can be seen.",
        "coverage": "How often is the interval right?",
        "coverage_intro": "A reported value R goes with the interval from R/(1 + e₂) to R/(1 + e₁), where e₁ and e₂ "
        "bound the error that the plan states. That is the plan’s own promise read backwards; it holds for skew errors "
        "and for results that are not corrected.",
        "traces": "What happens in one run?",
        "traces_intro": "The first virtual run, from filling to the last reading. Its observer sees the indicated "
        "mass, the counts and the clock, not the true mass.",
        "sheet": "What would be written down?",
        "sheet_intro": "The readings of that run as they stand on the sheet; readings.csv and readings.xlsx hold them, "
        "for {groups}. The clock runs with the heater.",
        "truth": "What was true of that run, and nobody saw?",
        "truth_intro": "Drawn from what the bench file states and the program’s defaults: nothing else.",
        "books": "Do the books close?",
        "books_intro": "Energy and mass of that run at its end. What comes in must be found again to a billionth.",
        "behaviour": "What does the virtual bench assume beyond the budget?",
        "behaviour_intro": "None of these figures enters the budget; if they matter, the share above shows it.",
        "computed": "How was this computed?",
    }
)


def design_words(rehearsal: Rehearsal) -> str:
    """Say which design was rehearsed."""
    design = rehearsal.design
    powers = " and ".join(rounding.in_unit(power, "W") for power in design.powers_W)
    procedure, correction = PROCEDURES[design.procedure], CORRECTIONS[design.correction]
    mass = rounding.in_unit(1000.0 * design.mass_kg, "g")
    times = "once" if design.repeats == 1 else f"{design.repeats} times"
    reading = ", the marks of the meter timed" if design.reading == "timed" else ""
    return f"“{procedure}” at {powers} over {mass}, {times}{reading}, with {correction}"


def decision(rehearsal: Rehearsal) -> tuple[str, ...]:
    """Answer the page's question in sentences."""
    share = rehearsal.coverage
    sentences = [
        REHEARSE["played"].format(
            runs=rounding.grouped(str(rehearsal.reported.size)),
            design=design_words(rehearsal),
            found=rounding.percent(100.0 * share.found),
            asked=rounding.percent_of_share(share.asked),
            low=rounding.percent(100.0 * share.interval[0]),
            high=rounding.percent(100.0 * share.interval[1]),
        ),
        _judgement(rehearsal),
        REHEARSE["numbers"].format(
            bias=rounding.signed_percent(100.0 * rehearsal.bias),
            spread=rounding.percent(100.0 * rehearsal.spread),
            budget_bias=rounding.signed_percent(rehearsal.design.bias_percent),
            budget_spread=rounding.percent(rehearsal.design.standard_uncertainty_percent),
        ),
    ]
    if rehearsal.abandoned:
        sentences.append(REHEARSE["abandoned"].format(number=rounding.grouped(str(rehearsal.abandoned))))
    return tuple(sentences)


def _judgement(rehearsal: Rehearsal) -> str:
    """Judge the share found; where results crowd in steps of a count, say that instead of blaming the budget."""
    found, step = verdict(rehearsal.coverage), lattice_percent(rehearsal)
    if found != "agrees" and step > 50.0 * rehearsal.spread:
        return REHEARSE["lattice"].format(step=rounding.percent(step))
    return REHEARSE[found]


def verdict(share: Share) -> str:
    """Key of the sentence that judges a share found against that asked."""
    low, high = share.interval
    if low <= share.asked <= high:
        return "agrees"
    return "too_wide" if share.found > share.asked else "too_narrow"


def lattice_percent(rehearsal: Rehearsal) -> float:
    """Step of the result that one count makes, where counts are read in passing. [%]"""
    design, meter = rehearsal.design, rehearsal.appraisal.branch.kit.meter
    if (
        not rehearsal.appraisal.branch.procedure.reads_in_passing
        or design.counts == 0.0
        or meter.energy_per_count == 0.0
    ):
        return 0.0
    return 100.0 * meter.fineness / (design.counts * design.repeats)
