"""Say in plain sentences what a plan found; the sentences themselves stand in `reports.sentences`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports import rounding
from reports.sentences import CORRECTIONS, DECISION, OBJECTIVES, PROCEDURES, ROLES, SUMMARY

if TYPE_CHECKING:
    from design.bench import Bench
    from design.plan import Plan, RankedDesign, Source

COUNTED = {
    "disk": ("turn of the disk", "turns of the disk"),
    "pulse": ("pulse", "pulses"),
    "display": ("step of the display", "steps of the display"),
    "joule": ("step of the display", "steps of the display"),
}
"""What a meter of each kind counts: one, and many."""

ONE_SOURCE = 0.8
"""Share from which a single source is said to make nearly all of the spread (our choice of words)."""
NAMED_SOURCE = 0.05
"""Share below which a source is not named among those that dominate (our choice of words)."""
NO_BIAS = 0.005
"""Bias that is written as none. [%]"""
ABOUT_EQUAL = 1.1
"""Ratio of two errors below which they are called about equal (our choice of words)."""


@dataclass(frozen=True)
class KitWords:
    """How to speak of the kit of a design: what its meter counts, and whether its power can be set."""

    one_count: str
    counts: str
    power_can_be_set: bool


def kit_words(bench: Bench, design: RankedDesign) -> KitWords:
    """Look up how the meter of a design counts and whether its heater has a control."""
    kinds = {meter.name: meter.kind for meter in bench.meters}
    controls = {heater.name: heater.control for heater in bench.heaters}
    one, many = COUNTED.get(kinds.get(design.items.get("meter", ""), ""), ("", ""))
    return KitWords(one, many, controls.get(design.items.get("heater", ""), "stepless") != "none")


def joined(parts: Sequence[str]) -> str:
    """Join words with commas and a closing “and”."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"


def mass(value: float) -> str:
    """Write a mass given in kg in grams below one kilogram, else in kilograms."""
    return rounding.in_unit(value * 1000, "g") if value < 1 else rounding.in_unit(value, "kg")


def power(value: float) -> str:
    """Write a power given in W in watts below one kilowatt, else in kilowatts."""
    return rounding.in_unit(value, "W") if value < 1000 else rounding.in_unit(value / 1000, "kW")


def powers(values: Sequence[float]) -> str:
    """Write one power, or several in the order they are used."""
    return joined([power(value) for value in values])


def times(repeats: int) -> str:
    """Say how often a run is done."""
    return DECISION["once"] if repeats == 1 else DECISION["repeats"].format(number=repeats)


def latent_heat(value: float, standard_uncertainty_percent: float) -> str:
    """Write a latent heat given in J/kg in kJ/kg, to the place that its uncertainty allows."""
    kilo = value / 1000
    uncertainty = abs(kilo) * standard_uncertainty_percent / 100
    return f"{rounding.round_together(kilo, uncertainty)[0]}{rounding.THIN}kJ/kg"


def expected(design: RankedDesign) -> str:
    """Write the expected result of a design."""
    return latent_heat(design.expected_J_per_kg, design.standard_uncertainty_percent)


def interval(plan: Plan, design: RankedDesign) -> tuple[str, str]:
    """Write the ends of the interval in which the result will lie, from those of its error."""
    low, high = (
        latent_heat(plan.latent_heat * (1 + end / 100), design.standard_uncertainty_percent)
        for end in design.interval_percent
    )
    return low, high


def procedure(identifier: str) -> str:
    """Name a procedure."""
    return PROCEDURES.get(identifier, identifier)


def correction(identifier: str) -> str:
    """Name a correction."""
    return CORRECTIONS.get(identifier, identifier)


def method(design: RankedDesign) -> str:
    """Name procedure and correction of a design."""
    return f"{procedure(design.procedure)}; {correction(design.correction)}"


def role(identifier: str) -> str:
    """Name a role."""
    return ROLES.get(identifier, identifier)


def shopping(design: RankedDesign) -> str:
    """List what has to be bought: the item where there is one, the number where there are several."""
    parts = []
    for part, name, number, _price in design.buy:
        word = role(part)
        parts.append(f"the {word} “{name}”" if number == 1 else f"{number}{rounding.THIN}× the {word} “{name}”")
    return joined(parts)


def bought_names(design: RankedDesign) -> str:
    """List the names of what has to be bought, with numbers above one."""
    return "; ".join(name if number == 1 else f"{number}{rounding.THIN}× {name}" for _, name, number, _ in design.buy)


def already_there(design: RankedDesign) -> str:
    """List the items of a design that need not be bought."""
    bought = {part for part, *_ in design.buy}
    return joined([f"the {role(part)} “{name}”" for part, name in design.items.items() if part not in bought])


def decision(plan: Plan, design: RankedDesign, words: KitWords) -> tuple[str, str, str]:
    """Say in three sentences what to buy, what to set, and what to expect."""
    return _buy_sentence(plan, design), _set_sentence(design, words), _expect_sentence(plan, design)


def notes(plan: Plan, design: RankedDesign) -> tuple[str, ...]:
    """Say what belongs on the first page beside the decision: a cheaper near-equal, what was accepted."""
    found = []
    other = plan.cheapest
    if other is not None and other.price < design.price:
        found.append(
            DECISION["cheaper"].format(
                price=rounding.money(other.price, plan.currency),
                things=shopping(other) or already_there(other),
                objective=OBJECTIVES.get(plan.objective, plan.objective),
                objective_value=rounding.percent(other.objective_percent),
                margin=rounding.percent(plan.margin_percent),
            )
        )
    if design.accepted:
        found.append(DECISION["accepted"].format(what=joined(design.accepted)))
    return tuple(found)


def summary(plan: Plan, design: RankedDesign, words: KitWords) -> tuple[tuple[str, str], ...]:
    """Sum the decision up in pairs of a label and what it says."""
    low, high = interval(plan, design)
    rows = [
        (SUMMARY["buy"], f"{shopping(design)}: {rounding.money(design.price, plan.currency)}")
        if design.buy
        else (SUMMARY["buy"], SUMMARY["nothing"]),
        (SUMMARY["set"], _settings(design, words)),
        (
            SUMMARY["expect"],
            SUMMARY["expect_value"].format(
                expected=expected(design),
                off_by=SUMMARY["unbiased"]
                if abs(design.bias_percent) < NO_BIAS
                else SUMMARY["off_by"].format(bias=rounding.signed_percent(design.bias_percent)),
                uncertainty=rounding.percent(design.standard_uncertainty_percent),
                coverage=rounding.percent_of_share(plan.coverage),
                low=low,
                high=high,
            ),
        ),
        (SUMMARY["dominated"], "; ".join(source_in_words(source) for source in design.sources[:3])),
        (SUMMARY["compared"], _comparison(plan, design)),
        (
            SUMMARY["time"],
            SUMMARY["time_value"].format(
                minutes=rounding.minutes(design.minutes), lesson=rounding.minutes(plan.lesson_minutes)
            ),
        ),
    ]
    return tuple((label, value) for label, value in rows if value)


def source_in_words(source: Source) -> str:
    """Name a source with its share and its bias."""
    return SUMMARY["source_unbiased" if abs(source.bias_percent) < NO_BIAS else "source_value"].format(
        quantity=source.quantity,
        share=rounding.percent_of_share(source.share),
        bias=rounding.signed_percent(source.bias_percent),
    )


def improvement(plan: Plan, design: RankedDesign) -> float | None:
    """Ratio of today's error to the design's; nothing where today's kit cannot do it."""
    if plan.current is None or design.objective_percent <= 0:
        return None
    return plan.current.objective_percent / design.objective_percent


def _settings(design: RankedDesign, words: KitWords) -> str:
    if design.procedure == "whole-counts" and words.counts:
        amount = _counts(design, words)
    else:
        amount = SUMMARY["mass_step"].format(mass=mass(design.mass_kg))
    return SUMMARY["set_value"].format(
        power=powers(design.powers_W),
        fill=mass(design.fill_kg),
        mass_or_count=amount,
        repeats=times(design.repeats),
    )


def _buy_sentence(plan: Plan, design: RankedDesign) -> str:
    rest = already_there(design)
    if not design.buy:
        return DECISION["buy_nothing"].format(rest=rest)
    key = "buy" if rest else "buy_everything"
    return DECISION[key].format(things=shopping(design), price=rounding.money(design.price, plan.currency), rest=rest)


def _set_sentence(design: RankedDesign, words: KitWords) -> str:
    clause = DECISION["set_power" if words.power_can_be_set else "own_power"]
    whole = design.procedure == "whole-counts" and bool(words.counts)
    fixed_mass = design.procedure.startswith("fixed-mass")
    key = "set_whole_counts" if whole else "set_fixed_mass" if fixed_mass else "set_other"
    counted = DECISION["count"].format(counts=_counts(design, words)) if words.counts and design.counts else ""
    return DECISION[key].format(
        power=clause.format(power=powers(design.powers_W)),
        fill=mass(design.fill_kg),
        procedure=procedure(design.procedure),
        mass=mass(design.mass_kg),
        count=counted,
        whole_count=_counts(design, words),
        repeats=times(design.repeats),
    )


def _counts(design: RankedDesign, words: KitWords) -> str:
    """Write the number of counts: whole ones where the run stops on a mark."""
    if design.procedure == "whole-counts":
        number = rounding.fixed(design.counts, 0)
    else:
        number = rounding.fixed(design.counts, 0 if design.counts >= 20 else 1)
    return f"{number} {words.one_count if number == '1' else words.counts}"


def _expect_sentence(plan: Plan, design: RankedDesign) -> str:
    low, high = interval(plan, design)
    return DECISION["expect"].format(
        expected=expected(design),
        true=latent_heat(plan.latent_heat, design.standard_uncertainty_percent),
        coverage=rounding.percent_of_share(plan.coverage),
        low=low,
        high=high,
        dominated=_dominated(design),
        compared=_compared_clause(plan, design),
    )


def _dominated(design: RankedDesign) -> str:
    named = [source for source in design.sources if source.share >= NAMED_SOURCE][:2]
    if not named:
        return DECISION["dominated_none"]
    first = named[0]
    if first.share >= ONE_SOURCE or len(named) == 1:
        return DECISION["dominated_one"].format(
            first=first.quantity, first_share=rounding.percent_of_share(first.share)
        )
    return DECISION["dominated"].format(
        first=first.quantity,
        first_share=rounding.percent_of_share(first.share),
        second=named[1].quantity,
        second_share=rounding.percent_of_share(named[1].share),
    )


def _compared_clause(plan: Plan, design: RankedDesign) -> str:
    factor = improvement(plan, design)
    if factor is None or plan.current is None:
        return DECISION["no_current"]
    key = "better" if factor >= ABOUT_EQUAL else "worse" if factor <= 1 / ABOUT_EQUAL else "same"
    return DECISION[key].format(
        objective=OBJECTIVES.get(plan.objective, plan.objective),
        factor=rounding.significant(max(factor, 1 / factor), 2) if factor > 0 else "",
        now=rounding.percent(design.objective_percent),
        today=rounding.percent(plan.current.objective_percent),
    )


def _comparison(plan: Plan, design: RankedDesign) -> str:
    if plan.current is None:
        return SUMMARY["compared_none"]
    return SUMMARY["compared_value"].format(
        objective=OBJECTIVES.get(plan.objective, plan.objective),
        now=rounding.percent(design.objective_percent),
        today=rounding.percent(plan.current.objective_percent),
    )
