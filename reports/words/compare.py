"""What the comparison report says, and the words for methods and quantities; in English."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH, Language
from reports.words.names import procedure_name

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


def hazard(key: str) -> str:
    """Say what a procedure or an improvement adds to the hazards that all of them share; it replaces no assessment."""
    found = ENGLISH.name("hazard", key)
    return found if found != key else ENGLISH.text(f"procedure.{key}.hazard")


def swept(sweep: Sweep) -> str:
    """Name the quantity of a sweep."""
    return ENGLISH.text(f"sweep.{sweep.quantity}")


def way(one: Alternative | Design) -> str:
    """Name procedure and correction of a way of working, or of a design."""
    return f"{procedure_name(one.procedure)}; {wording.correction(one.correction)}"


def curve(place: int) -> str:
    """Name the method of a curve, by its place."""
    from design.comparison.side_by_side import METHODS

    return way(METHODS[place])


def quantity_value(sweep: Sweep, value: float) -> str:
    """Write a value of a sweep's quantity."""
    unit, factor = QUANTITIES[sweep.quantity]
    return rounding.in_unit(value * factor, unit, 3 if value * factor >= 100 else 2)


def decision(comparison: Comparison) -> tuple[str, ...]:
    """Say in a few sentences what the comparison found."""
    from design.comparison.changes import TOGETHER

    today = rounding.percent(comparison.usual.rms_error_percent)
    best = min(possible(comparison.procedures), key=lambda method: method.rms_error_percent, default=comparison.usual)
    sentences = [
        ENGLISH.text("compare.kit", reason=comparison.kit_reason),
        ENGLISH.text(
            "compare.best", best=way(best.design), error=rounding.percent(best.rms_error_percent), today=today
        ),
    ]
    single = [method for method in possible(comparison.improvements) if method.key != TOGETHER.key]
    if single:
        most = min(single, key=lambda method: method.rms_error_percent)
        sentences.append(
            ENGLISH.text(
                "compare.gain",
                change=improvement(most.key),
                today=today,
                error=rounding.percent(most.rms_error_percent),
            )
        )
    return (*sentences, *_traps(comparison, single), *_wins(comparison))


def possible(methods: tuple[Method, ...]) -> list[Method]:
    """Methods in whose way nothing stands."""
    return [method for method in methods if not method.design.obstacles]


def _traps(comparison: Comparison, single: list[Method]) -> list[str]:
    """Improvements that make the uncorrected value worse."""
    usual = comparison.usual
    worse = [method for method in single if method.rms_error_percent > 1.005 * usual.rms_error_percent]
    biased = [method for method in worse if abs(method.bias_percent) > abs(usual.bias_percent)]
    hidden = [improvement(method.key) for method in biased] if not usual.design.corrected else []
    scattered = [improvement(method.key) for method in worse if method not in biased]
    sentences = [ENGLISH.text("compare.traps", changes=wording.joined(hidden))] if hidden else []
    if scattered:
        changes = wording.joined(scattered)
        sentences.append(ENGLISH.text("compare.scatter", changes=changes[0].upper() + changes[1:]))
    return sentences


def _wins(comparison: Comparison) -> list[str]:
    from design.procedures.two_powers import TwoPowers

    two = next((one for one in comparison.population.procedures if one.way.procedure == TwoPowers()), None)
    return [wins(comparison, two)] if two is not None and two.possible else []


def wins(comparison: Comparison, one: Standing) -> str:
    """Say how often a method wins in the population."""
    low, high = one.interval
    return ENGLISH.text(
        "compare.population",
        kits=comparison.population.kits,
        name=way(one.way),
        wins=one.wins,
        possible=one.possible,
        low=rounding.percent_of_share(low),
        high=rounding.percent_of_share(high),
    )


def overtakings(sweep: Sweep) -> list[str]:
    """Say of every crossing where it lies."""
    name = swept(sweep)
    return [
        ENGLISH.text(
            "compare.overtakes",
            quantity=name,
            below=curve(crossing.better_below),
            value=quantity_value(sweep, crossing.value),
            above=curve(crossing.better_above),
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
    return ENGLISH.text("compare.heater_off_text",
        boiling=rate(found.boiling_rate), low=low, off=off, high=high,
        mistake=mistake, mistake_low=mistake_low, mistake_high=mistake_high,
        result=result, result_low=result_low, result_high=result_high,
    )  # fmt: skip


def rate(value: float) -> str:
    """Write a rate given in kg/s in grams a minute."""
    return rounding.in_unit(value * 60_000, "g/min", 2)
