"""What the comparison report says, and the words for methods and quantities."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import caution, procedure_name

if TYPE_CHECKING:
    from design.chosen import Design
    from design.comparison.changes import Alternative
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Method, Sweep

LIMITS = ("knowledge", "one_meter", "independent", "low_power", "population", "slips")
"""What the comparison leaves out, by the keys of its sentences."""

QUANTITIES: Mapping[str, tuple[str, float]] = MappingProxyType(
    {
        "power": ("W", 1.0),
        "loss": ("W", 1.0),
        "scatter": ("g", 1000.0),
    }
)
"""Unit and factor from SI by the key of a sweep."""

LETTERS = "ABCDE"
"""Names of the curves in the figures."""


def improvement(key: str, say: Language = ENGLISH) -> str:
    """Name an improvement."""
    return say.name("improvement", key)


def hazard(key: str, say: Language = ENGLISH) -> str:
    """Say what a procedure or an improvement adds to the hazards that all of them share; it replaces no assessment."""
    found = say.name("hazard", key)
    return found if found != key else say.text(f"procedure.{key}.hazard")


def swept(sweep: Sweep, say: Language = ENGLISH) -> str:
    """Name the quantity of a sweep."""
    return say.text(f"sweep.{sweep.quantity}")


def way(one: Alternative | Design, say: Language = ENGLISH) -> str:
    """Name procedure and correction of a way of working, or of a design."""
    return f"{procedure_name(one.procedure, say)}; {wording.correction(one.correction, say)}"


def curve(place: int, say: Language = ENGLISH) -> str:
    """Name the method of a curve, by its place."""
    from design.comparison.side_by_side import METHODS

    return way(METHODS[place], say)


def quantity_value(sweep: Sweep, value: float, say: Language = ENGLISH) -> str:
    """Write a value of a sweep's quantity."""
    unit, factor = QUANTITIES[sweep.quantity]
    return say.in_unit(value * factor, unit, 3 if value * factor >= 100 else 2)


def decision(comparison: Comparison, say: Language = ENGLISH) -> tuple[str, ...]:
    """Say in a few sentences what the comparison found."""
    from design.comparison.changes import TOGETHER

    today = say.percent(comparison.usual.rms_error_percent)
    best = min(possible(comparison.procedures), key=lambda method: method.rms_error_percent, default=comparison.usual)
    sentences = [
        say.text("compare.kit", reason=kit_reason(comparison, say)),
        say.text("compare.best", best=way(best.design, say), error=say.percent(best.rms_error_percent), today=today),
    ]
    single = [method for method in possible(comparison.improvements) if method.key != TOGETHER.key]
    if single:
        most = min(single, key=lambda method: method.rms_error_percent)
        sentences.append(
            say.text(
                "compare.gain",
                change=improvement(most.key, say),
                today=today,
                error=say.percent(most.rms_error_percent),
            )
        )
    return (*sentences, *_traps(comparison, single, say), *_wins(comparison, say))


def kit_reason(comparison: Comparison, say: Language = ENGLISH) -> str:
    """Say which kit was compared on, and why."""
    why = comparison.kit_reason
    return (
        say.text("compare.reason_today")
        if why is None
        else say.text("compare.reason_recommended", why=caution(why, say))
    )


def possible(methods: tuple[Method, ...]) -> list[Method]:
    """Methods in whose way nothing stands."""
    return [method for method in methods if not method.design.obstacles]


def _traps(comparison: Comparison, single: list[Method], say: Language) -> list[str]:
    """Improvements that make the uncorrected value worse."""
    usual = comparison.usual
    worse = [method for method in single if method.rms_error_percent > 1.005 * usual.rms_error_percent]
    biased = [method for method in worse if abs(method.bias_percent) > abs(usual.bias_percent)]
    hidden = [improvement(method.key, say) for method in biased] if not usual.design.corrected else []
    scattered = [improvement(method.key, say) for method in worse if method not in biased]
    sentences = [say.text("compare.traps", changes=wording.joined(hidden, say))] if hidden else []
    if scattered:
        changes = wording.joined(scattered, say)
        sentences.append(say.text("compare.scatter", changes=changes[0].upper() + changes[1:]))
    return sentences


def _wins(comparison: Comparison, say: Language) -> list[str]:
    from design.procedures.two_powers import TwoPowers

    two = next((one for one in comparison.population.procedures if one.way.procedure == TwoPowers()), None)
    return [wins(comparison, two, say)] if two is not None and two.possible else []


def wins(comparison: Comparison, one: Standing, say: Language = ENGLISH) -> str:
    """Say how often a method wins in the population."""
    low, high = one.interval
    return say.text(
        "compare.population",
        kits=comparison.population.kits,
        name=way(one.way, say),
        wins=one.wins,
        possible=one.possible,
        low=say.percent_of_share(low),
        high=say.percent_of_share(high),
    )


def overtakings(sweep: Sweep, say: Language = ENGLISH) -> list[str]:
    """Say of every crossing where it lies."""
    name = swept(sweep, say)
    return [
        say.text(
            "compare.overtakes",
            quantity=name,
            below=curve(crossing.better_below, say),
            value=quantity_value(sweep, crossing.value, say),
            above=curve(crossing.better_above, say),
        )
        for crossing in sweep.crossings
        if isfinite(crossing.value)
    ]


def heater_off(comparison: Comparison, say: Language = ENGLISH) -> str:
    """Say what the mistake of subtracting the heater-off rate costs."""
    found = comparison.heater_off
    low, off, high = (rate(value, say) for value in found.rates)
    mistake_low, mistake, mistake_high = (say.percent(value) for value in found.mistakes_percent)
    result_low, result, result_high = (say.percent(value) for value in found.results_percent)
    return say.text("compare.heater_off_text",
        boiling=rate(found.boiling_rate, say), low=low, off=off, high=high,
        mistake=mistake, mistake_low=mistake_low, mistake_high=mistake_high,
        result=result, result_low=result_low, result_high=result_high,
    )  # fmt: skip


def rate(value: float, say: Language = ENGLISH) -> str:
    """Write a rate given in kg/s in grams a minute."""
    return say.in_unit(value * 60_000, "g/min", 2)
