"""Sentences of the comparison report in English, in one place, and the words for methods and quantities."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words import rounding

if TYPE_CHECKING:
    from design.comparison.crossings import Curve, Sweep
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Method

IMPROVEMENTS: Mapping[str, str] = MappingProxyType(
    {
        "usual": "as it is done today",
        "jacket": "a jacket of 20 mm cork",
        "deflector": "a deflector inside the rim",
        "lid": "a loose lid",
        "more-power": "half as much power again",
        "larger-step": "a larger mass step",
        "hung-heater": "a heater that hangs on the vessel",
        "finer-reading": "counts read ten times finer",
        "three-runs": "the mean of three runs",
        "whole-counts": "whole counts",
        "two-powers": "two powers",
        "series": "a series at one power",
        "series-two-powers": "a series at two powers",
        "calculated": "the calculated correction",
        "cooling-run": "the correction by a cooling run",
        "together": "jacket, hung heater, larger step, finer reading and calculated correction together",
    }
)
"""Improvements by their keys."""

HAZARDS: Mapping[str, str] = MappingProxyType(
    {
        "usual": "the hand goes near the boiling vessel to change the masses, with the heater off",
        "jacket": "wet lagging near mains parts; the hot wall cannot be seen",
        "deflector": "hot metal at the rim; steam leaves where it is not expected",
        "lid": "steam leaves the gap in a jet; the lid is hot and can fall",
        "more-power": "more spray and steam, faster boiling dry, more current on the circuit",
        "larger-step": "longer boiling: the level comes nearer to the element's mark",
        "hung-heater": "the vessel is top-heavy; the flex can pull it over",
        "finer-reading": "nothing new",
        "three-runs": "longer boiling: more boiling water in the vessel at the start",
        "fixed-mass-restart": "the hand goes near the boiling vessel to change the masses, with the heater off",
        "fixed-mass-kept-on": "the hand goes near the boiling vessel to change the masses, with the heater on",
        "whole-counts": "no hand near the vessel; the heater is on throughout",
        "two-powers": "longer boiling; the control is set with the water boiling",
        "series": "no hand near the vessel; eyes near it for longer",
        "series-two-powers": "longer boiling; the control is set with the water boiling",
        "series-2-powers": "longer boiling; the control is set with the water boiling",
        "series-3-powers": "longest boiling; the control is set twice with the water boiling",
        "calculated": "nothing new",
        "cooling-run": "boiling-hot water stands for minutes with a thermometer in it",
        "together": "wet lagging; longer boiling; a top-heavy vessel",
    }
)
"""What each way adds to the hazards that all of them share. Judgement: it replaces no risk assessment."""

COMPARE: Mapping[str, str] = MappingProxyType(
    {
        "kicker": "Procedures and improvements compared",
        "question": "Is an improved method better on this kit?",
        "invented": "Example: the bench, its items and its prices are invented.",
        "kit": "The kit in hand: {reason}.",
        "best": "Of the procedures on this kit, “{best}” has the smallest rms error, {error}; as it is done today "
        "the rms error is {today}.",
        "gain": "Of single changes to today’s way, {change} gains most: the rms error falls from {today} to {error}.",
        "scatter": "{changes} would add more scatter than the bias that it takes away.",
        "traps": "Changed alone, {changes} would make the uncorrected value worse: each takes away an error that now "
        "hides part of another. What such a change is worth shows only once losses are corrected for.",
        "overtakes": "Over {quantity}, “{below}” is better below {value} and “{above}” above.",
        "population": "On {kits} plausible kits, “{name}” beats the usual way, fixed mass with stop and restart and no "
        "correction, on {wins} of the {possible} where it is possible ({low} to {high}).",
        "procedures": "How do the procedures compare on this kit?",
        "procedures_intro": "Each procedure with each correction that makes sense for it: the same vessel, the same "
        "highest power, the same mass step. Where the kit lacks something, it is compared like for like: a display as "
        "fine as the beam, a control on the heater; the price is that of the cheapest such item on the shelves. "
        "Reported minus true, as a share of the true value.",
        "improvements": "What is each improvement worth, one at a time?",
        "improvements_intro": "Today’s way with one thing changed. The column “with calculated correction” shows the "
        "same change once losses are corrected for: where effects of opposite sign hide each other, only that shows "
        "what a change is worth.",
        "crossings": "Where does one method overtake another?",
        "crossings_intro": "Rms error of the methods A to E on this kit as one quantity changes and all else stays. "
        "Rings mark crossing points, found by root finding on the model; the dashed line marks this kit.",
        "population_heading": "How often does the improved method win on other kits?",
        "population_intro": "{kits} kits drawn with seed {seed} ({drawn} draws; kits that cannot boil steadily, do not "
        "hold the water or overload the circuit were drawn again), each used in the usual way and with each method. A "
        "method that a kit cannot do is neither a win nor a loss. Intervals are exact binomial ones at 95 %.",
        "heater_off": "What does subtracting the heater-off rate cost?",
        "heater_off_text": "A class that subtracts the loss of mass measured with the heater off makes a mistake: with "
        "the heater off the water pays for its vapour by cooling, with the heater on the heater paid for it. On this "
        "kit {boiling} leave with the heater on and about {off} with it off ({low} to {high}), so the mistake alone "
        "puts the value {mistake} too high ({mistake_low} to {mistake_high}), and today’s uncorrected value ends "
        "{result} too high ({result_low} to {result_high}). The correction “losses from a cooling run” puts the same "
        "readings to their right use.",
        "cancels": "What does each procedure cancel, and what not?",
        "cancels_intro": "All of them keep: {common}.",
        "cautions": "What can hurt?",
        "checked": "How can a sceptic check this?",
        "models": "Measurement models, as text that is evaluated",
        "models_intro": "Today’s way first; the others fold out on a screen, and all stand in compare.json. Symbols "
        "stand in the table of inputs below.",
        "inputs": "Input quantities on this kit, with their sources",
        "evidence": "Where the defaults come from, and how they compare with published classroom data",
        "evidence_intro": "Published examinations and exercises, rating-plate powers and powers inferred from the "
        "latent heat itself show only that a default is plausible; few published runs measure the power and state "
        "the vessel.",
        "limits_heading": "Where this comparison fails",
    }
)
"""Sentences of the report."""

LIMITS: tuple[str, ...] = (
    "Every number rests on the measurement models below, and on losses that nobody has measured on this kit.",
    "Errors of all powers share one meter error: a meter that reads differently at different currents is not in it.",
    "Readings of a series count as independent; unsteadiness that lasts from one reading to the next weakens it.",
    "At a low power air enters the freeboard and the wall loss falls; how much is judgement, wide on purpose.",
    "The population is judgement about schools’ cupboards, not a survey of them.",
    "Slips of people, such as a misread count, are in none of the methods.",
)
"""What the comparison leaves out."""

QUANTITIES: Mapping[str, tuple[str, str, float]] = MappingProxyType(
    {
        "power": ("highest power", "W", 1.0),
        "loss": ("heat loss at the boil", "W", 1.0),
        "scatter": ("unsteadiness of one reading at the boil", "g", 1000.0),
    }
)
"""Quantity, unit and factor from SI by the key of a sweep."""

LETTERS = "ABCDE"
"""Names of the curves in the figures."""


def way(method: Method) -> str:
    """Name procedure and correction of a method."""
    return f"{method.procedure_name}; {wording.correction(method.correction)}"


def curve(one: Curve) -> str:
    """Name the method of a curve."""
    several = f" at {one.number_of_powers} powers" if one.procedure == "series" else ""
    return f"{wording.procedure(one.procedure)}{several}; {wording.correction(one.correction)}"


def standing(one: Standing) -> str:
    """Name a method of the population."""
    if one.key in IMPROVEMENTS and one.key not in {"whole-counts", "two-powers", "series"}:
        return IMPROVEMENTS[one.key]
    several = f" at {one.number_of_powers} powers" if one.procedure == "series" and one.number_of_powers > 1 else ""
    return f"{wording.procedure(one.procedure)}{several}; {wording.correction(one.correction)}"


def quantity_value(sweep: Sweep, value: float) -> str:
    """Write a value of a sweep's quantity."""
    _, unit, factor = QUANTITIES[sweep.quantity]
    return rounding.in_unit(value * factor, unit, 3 if value * factor >= 100 else 2)


def decision(comparison: Comparison) -> tuple[str, ...]:
    """Say in a few sentences what the comparison found."""
    today = rounding.percent(comparison.usual.rms_error_percent)
    best = min(possible(comparison.procedures), key=lambda method: method.rms_error_percent, default=comparison.usual)
    sentences = [
        COMPARE["kit"].format(reason=comparison.kit_reason),
        COMPARE["best"].format(best=way(best), error=rounding.percent(best.rms_error_percent), today=today),
    ]
    single = [method for method in possible(comparison.improvements) if method.key != "together"]
    if single:
        most = min(single, key=lambda method: method.rms_error_percent)
        sentences.append(
            COMPARE["gain"].format(
                change=IMPROVEMENTS[most.key], today=today, error=rounding.percent(most.rms_error_percent)
            )
        )
    return (*sentences, *_traps(comparison, single), *_wins(comparison))


def possible(methods: tuple[Method, ...]) -> list[Method]:
    """Methods in whose way nothing stands."""
    return [method for method in methods if not method.obstacles]


def _traps(comparison: Comparison, single: list[Method]) -> list[str]:
    """Improvements that make the uncorrected value worse."""
    usual = comparison.usual
    worse = [method for method in single if method.rms_error_percent > 1.005 * usual.rms_error_percent]
    biased = [method for method in worse if abs(method.bias_percent) > abs(usual.bias_percent)]
    hidden = [IMPROVEMENTS[method.key] for method in biased] if usual.correction == "none" else []
    scattered = [IMPROVEMENTS[method.key] for method in worse if method not in biased]
    sentences = [COMPARE["traps"].format(changes=wording.joined(hidden))] if hidden else []
    if scattered:
        changes = wording.joined(scattered)
        sentences.append(COMPARE["scatter"].format(changes=changes[0].upper() + changes[1:]))
    return sentences


def _wins(comparison: Comparison) -> list[str]:
    two = next((one for one in comparison.population.procedures if one.procedure == "two-powers"), None)
    return [wins(comparison, two)] if two is not None and two.possible else []


def wins(comparison: Comparison, one: Standing) -> str:
    """Say how often a method wins in the population."""
    low, high = one.interval
    return COMPARE["population"].format(
        kits=comparison.population.kits,
        name=standing(one),
        wins=one.wins,
        possible=one.possible,
        low=rounding.percent_of_share(low),
        high=rounding.percent_of_share(high),
    )


def overtakings(sweep: Sweep) -> list[str]:
    """Say of every crossing where it lies."""
    name = QUANTITIES[sweep.quantity][0]
    return [
        COMPARE["overtakes"].format(
            quantity=name,
            below=curve(sweep.curves[crossing.better_below]),
            value=quantity_value(sweep, crossing.value),
            above=curve(sweep.curves[crossing.better_above]),
        )
        for crossing in sweep.crossings
        if isfinite(crossing.value)
    ]


def heater_off(comparison: Comparison) -> str:
    """Say what the mistake of subtracting the heater-off rate costs."""
    found = comparison.heater_off
    low, off, high = (rate(value) for value in found.rates)
    mistake_low, mistake, mistake_high = (rounding.percent(value) for value in found.mistakes_percent)
    result_low, result, result_high = (rounding.percent(value) for value in found.results_percent)
    return COMPARE["heater_off_text"].format(
        boiling=rate(found.boiling_rate), low=low, off=off, high=high,
        mistake=mistake, mistake_low=mistake_low, mistake_high=mistake_high,
        result=result, result_low=result_low, result_high=result_high,
    )  # fmt: skip


def rate(value: float) -> str:
    """Write a rate given in kg/s in grams a minute."""
    return rounding.in_unit(value * 60_000, "g/min", 2)
