"""Say in plain sentences what a plan found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from design.search.candidates import TIMED_KINDS
from reports.words.items import already_there, bought_names, by_role, put_on, put_on_briefly, shopping
from reports.words.languages import ENGLISH, Language
from reports.words.names import limit_name, quantity_name
from reports.words.procedures import PRESENTATIONS

if TYPE_CHECKING:
    from design.chosen import Design
    from design.search.plan import Plan, RankedDesign, Source

ONE_SOURCE = 0.8
"""Share from which a single source is said to make nearly all of the spread (our choice of words)."""
NAMED_SOURCE = 0.05
"""Share below which a source is not named among those that dominate (our choice of words)."""
NO_BIAS = 0.005
"""Bias that is written as none. [%]"""
ABOUT_EQUAL = 1.1
"""Ratio of two errors below which they are called about equal (our choice of words)."""


SPOKEN_SPARE = 0.005
"""Spare water that is worth a word. [kg]"""


@dataclass(frozen=True)
class KitWords:
    """
    How to speak of a design.

    Parameters
    ----------
    counter : str
        Kind of its meter, by which its counts are named; empty where it has none that are counted.
    power_can_be_set : bool
        Whether its heater has a control.
    reading : str
        How counts are read in passing; empty where they are not.
    """

    counter: str
    power_can_be_set: bool
    reading: str = ""


def kit_words(design: Design) -> KitWords:
    """Say how the meter of a design counts and is read, and whether its heater has a control."""
    kind = design.kit.meter.kind
    reading = design.reading if kind in TIMED_KINDS else ""
    return KitWords("" if kind == "volt-ampere" else kind, design.kit.heater.control != "none", reading)


def safety(say: Language = ENGLISH) -> tuple[str, ...]:
    """Say what can hurt, and who decides."""
    return say.text("caution.severe_injury"), say.text("caution.demonstration")


def joined(parts: Sequence[str], say: Language = ENGLISH) -> str:
    """Join words with commas and a closing “and”."""
    return say.listed(parts)


def mass(value: float, say: Language = ENGLISH) -> str:
    """Write a mass given in kg in grams below one kilogram, else in kilograms."""
    return say.in_unit(value * 1000, "g") if value < 1 else say.in_unit(value, "kg")


def power(value: float, say: Language = ENGLISH) -> str:
    """Write a power given in W in watts below one kilowatt, else in kilowatts."""
    return say.in_unit(value, "W") if value < 1000 else say.in_unit(value / 1000, "kW")


def powers(values: Sequence[float], say: Language = ENGLISH) -> str:
    """Write one power, or several in the order they are used."""
    return joined([power(value, say) for value in sorted(values)], say)


def times(repeats: int, say: Language = ENGLISH) -> str:
    """Say how often a run is done."""
    return say.text("decision.once") if repeats == 1 else say.text("decision.repeats", number=str(repeats))


def latent_heat(value: float, standard_uncertainty_percent: float, say: Language = ENGLISH) -> str:
    """Write a latent heat given in J/kg in kJ/kg, to the place that its uncertainty allows."""
    return say.latent_heat(value, standard_uncertainty_percent)


def expected(design: RankedDesign, say: Language = ENGLISH) -> str:
    """Write the expected result of a design."""
    return latent_heat(design.expected_J_per_kg, design.standard_uncertainty_percent, say)


def interval(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> tuple[str, str]:
    """Write the ends of the interval in which the result will lie, from those of its error."""
    low, high = (
        latent_heat(plan.latent_heat * (1 + end / 100), design.standard_uncertainty_percent, say)
        for end in design.interval_percent
    )
    return low, high


def procedure(identifier: str, say: Language = ENGLISH) -> str:
    """Name a procedure."""
    return say.text(f"procedure.{identifier}.name")


def correction(identifier: str, say: Language = ENGLISH) -> str:
    """Name a correction."""
    return say.name("correction", identifier)


def objective(word: str, say: Language = ENGLISH) -> str:
    """Name what a search made small."""
    return say.name("objective", word.replace(" ", "_"))


def method(design: Design, say: Language = ENGLISH) -> str:
    """Name procedure and correction of a design, and between them an unusual way of reading the meter."""
    return f"{procedure(design.procedure.identifier, say)}; {manner(design, say)}"


def manner(design: Design, say: Language = ENGLISH) -> str:
    """Name the correction of a design, and before it an unusual way of reading the meter."""
    reading = say.text("reading.timed") if design.reading == "timed" else ""
    return f"{reading}; {correction(design.correction, say)}" if reading else correction(design.correction, say)


def decision(plan: Plan, ranked: RankedDesign, words: KitWords, say: Language = ENGLISH) -> tuple[str, str, str]:
    """Say in three sentences what to buy, what to set, and what to expect."""
    return (
        _buy_sentence(plan, ranked.design, say),
        _set_sentence(ranked.design, words, say),
        _expect_sentence(plan, ranked, say),
    )


def notes(plan: Plan, design: Design, say: Language = ENGLISH) -> tuple[str, ...]:
    """Say what belongs on the first page beside the decision: a cheaper near-equal, what was accepted."""
    found = []
    other = plan.cheapest
    if other is not None and other.design.price < design.price:
        found.append(
            say.text(
                "decision.cheaper",
                price=say.money(other.design.price, plan.currency),
                things=bought_names(other.design) or already_there(other.design, say),
                objective=objective(plan.objective, say),
                objective_value=say.percent(other.objective_percent),
                margin=say.percent(plan.margin_percent),
            )
        )
    if len(design.powers) > 1:
        numbered = [
            say.text("decision.numbered_power", number=str(number), power=power(value, say))
            for number, value in enumerate(design.powers, start=1)
        ]
        found.append(say.text("decision.numbered_powers", powers=joined(numbered, say)))
    if design.accepted:
        flaws: dict[str, list[str]] = {}
        for item, limit in design.accepted:
            flaws.setdefault(item, []).append(limit_name(limit, say))
        what = joined([f"{item}: {'; '.join(each)}" for item, each in flaws.items()], say)
        found.append(say.text("decision.accepted", what=what))
    return tuple(found)


def summary(plan: Plan, ranked: RankedDesign, words: KitWords, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Sum the decision up in pairs of a label and what it says."""
    low, high = interval(plan, ranked, say)
    rows = [
        (
            say.text("summary.buy"),
            say.text(
                "word.name_figures",
                name=bought_names(ranked.design),
                figures=say.money(ranked.design.price, plan.currency),
            ),
        )
        if ranked.design.buy
        else (say.text("summary.buy"), say.text("summary.nothing")),
        (say.text("summary.set"), _settings(ranked.design, words, say)),
        (
            say.text("summary.expect"),
            say.text(
                "summary.expect_value",
                expected=expected(ranked, say),
                off_by=say.text("summary.unbiased")
                if abs(ranked.bias_percent) < NO_BIAS
                else say.text("summary.off_by", bias=say.signed_percent(ranked.bias_percent)),
                uncertainty=say.percent(ranked.standard_uncertainty_percent),
                coverage=say.percent_of_share(plan.coverage),
                low=low,
                high=high,
            ),
        ),
        (say.text("summary.dominated"), "; ".join(source_in_words(source, say) for source in ranked.sources[:3])),
        (say.text("summary.compared"), _comparison(plan, ranked, say)),
        (
            say.text("summary.time"),
            say.text(
                "summary.time_value",
                minutes=say.minutes(ranked.design.minutes),
                lesson=say.minutes(plan.lesson_minutes),
            ),
        ),
    ]
    return tuple((label, value) for label, value in rows if value)


def source_in_words(source: Source, say: Language = ENGLISH) -> str:
    """Name a source with its share and its bias."""
    return say.text(
        "summary.source_unbiased" if abs(source.bias_percent) < NO_BIAS else "summary.source_value",
        quantity=quantity_name(source.quantity, say),
        share=say.percent_of_share(source.share),
        bias=say.signed_percent(source.bias_percent),
    )


def improvement(plan: Plan, design: RankedDesign) -> float | None:
    """Ratio of today's error to the design's; nothing where today's kit cannot do it."""
    if plan.current is None or design.objective_percent <= 0:
        return None
    return plan.current.objective_percent / design.objective_percent


def _what_is_set(design: Design, words: KitWords) -> str:
    """Key of what is set of a run: a mass step, counts where the meter has any, or what boils away."""
    sets = PRESENTATIONS[design.procedure.identifier].sets
    if sets == "mass_step" or (sets == "counts" and words.counter):
        return sets
    return "boiled" if len(design.powers) == 1 else "boiled_several"


def spare(design: Design, say: Language = ENGLISH) -> str:
    """Write the water beyond what the runs need; empty where it is none to speak of."""
    return mass(design.spare, say) if design.spare >= SPOKEN_SPARE else ""


def _settings(design: Design, words: KitWords, say: Language = ENGLISH) -> str:
    setting = _setting(design, words, say)
    things, water = put_on_briefly(design, say), spare(design, say)
    parts = (
        say.text("summary.put_on", things=things) if things else "",
        setting,
        say.text("summary.spare", spare=water) if water else "",
        say.text(f"summary.read_{words.reading}") if words.reading else "",
    )
    return "; ".join(part for part in parts if part)


def _setting(design: Design, words: KitWords, say: Language = ENGLISH) -> str:
    key = _what_is_set(design, words)
    amount = _counts(design, words, say) if key == "counts" else say.text(f"summary.{key}", mass=mass(design.mass, say))
    return say.text(
        "summary.set_value",
        power=powers(design.powers, say),
        fill=mass(design.fill, say),
        mass_or_count=amount,
        repeats=times(design.repeats, say),
    )


def _buy_sentence(plan: Plan, design: Design, say: Language = ENGLISH) -> str:
    rest = already_there(design, say)
    if not design.buy:
        return say.text("decision.buy_nothing", rest=rest)
    key = "buy" if rest else "buy_everything"
    return say.text(
        f"decision.{key}", things=shopping(design, say), price=say.money(design.price, plan.currency), rest=rest
    )


def _set_sentence(design: Design, words: KitWords, say: Language = ENGLISH) -> str:
    """Say what to put on the vessel, what to set, and how to read the meter."""
    things, water = put_on(design, say), spare(design, say)
    sentences = (
        say.text("decision.put_on", things=things, **by_role(design, say)) if things else "",
        _run_sentence(design, words, say),
        say.text("decision.spare", spare=water) if water else "",
        say.text(f"decision.read_{words.reading}") if words.reading else "",
    )
    return " ".join(sentence for sentence in sentences if sentence)


def _run_sentence(design: Design, words: KitWords, say: Language = ENGLISH) -> str:
    clause = say.text("decision.set_power" if words.power_can_be_set else "decision.own_power")
    counted = say.text("decision.count", counts=_counts(design, words, say)) if words.counter and design.counts else ""
    return say.text(
        f"decision.set_{_what_is_set(design, words)}",
        power=clause.format(power=powers(design.powers, say)),
        fill=mass(design.fill, say),
        procedure=procedure(design.procedure.identifier, say),
        mass=mass(design.mass, say),
        count=counted,
        whole_count=_counts(design, words, say) if words.counter else "",
        repeats=times(design.repeats, say),
    )


def _counts(design: Design, words: KitWords, say: Language = ENGLISH) -> str:
    """Write the number of counts: whole ones where the run stops on a mark."""
    whole = PRESENTATIONS[design.procedure.identifier].sets == "counts"
    number = say.fixed(design.counts, 0 if whole or design.counts >= 20 else 1)
    return counted(design.counts if number != "1" else 1, number, words, say)


def counted(value: float, written: str, words: KitWords, say: Language) -> str:
    """Write a number of what the meter counts, in the language's plural."""
    return say.several(f"meter.{words.counter}.number", value, number=written)


def _expect_sentence(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> str:
    low, high = interval(plan, design, say)
    return say.text(
        "decision.expect",
        expected=expected(design, say),
        true=latent_heat(plan.latent_heat, design.standard_uncertainty_percent, say),
        coverage=say.percent_of_share(plan.coverage),
        low=low,
        high=high,
        dominated=_dominated(design, say),
        compared=_compared_clause(plan, design, say),
    )


def _dominated(design: RankedDesign, say: Language = ENGLISH) -> str:
    named = [source for source in design.sources if source.share >= NAMED_SOURCE][:2]
    if not named:
        return say.text("decision.dominated_none")
    first = named[0]
    if first.share >= ONE_SOURCE or len(named) == 1:
        return say.text(
            "decision.dominated_one",
            first=quantity_name(first.quantity, say),
            first_share=say.percent_of_share(first.share),
        )
    return say.text(
        "decision.dominated",
        first=quantity_name(first.quantity, say),
        first_share=say.percent_of_share(first.share),
        second=quantity_name(named[1].quantity, say),
        second_share=say.percent_of_share(named[1].share),
    )


def _compared_clause(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> str:
    factor = improvement(plan, design)
    if factor is None or plan.current is None:
        return say.text("decision.no_current")
    key = "better" if factor >= ABOUT_EQUAL else "worse" if factor <= 1 / ABOUT_EQUAL else "same"
    return say.text(
        f"decision.{key}",
        objective=objective(plan.objective, say),
        factor=say.significant(max(factor, 1 / factor), 2) if factor > 0 else "",
        now=say.percent(design.objective_percent),
        today=say.percent(plan.current.objective_percent),
    )


def _comparison(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> str:
    if plan.current is None:
        return say.text("summary.compared_none")
    return say.text(
        "summary.compared_value",
        objective=objective(plan.objective, say),
        now=say.percent(design.objective_percent),
        today=say.percent(plan.current.objective_percent),
    )
