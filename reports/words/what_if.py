"""The words of the section in which a reader changes the setting, in English, in one place for translation."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

WHAT_IF: Mapping[str, str] = MappingProxyType(
    {
        "heading": "What if we set it otherwise?",
        "intro": "Move a slider or type a number: the result to expect is worked out anew in this page, from the "
        "measurement model printed below and from what the setting asks of the kit.",
        "first_order": "These are first-order values: the equation at the best estimates, and the law of propagation "
        "of uncertainty (JCGM 100, 5.1.2). The plan itself rests on a simulation, which also sees curvature and "
        "skewness, so its figures differ a little: bias {bias}, standard uncertainty {uncertainty}, rms error {rms}.",
        "off": "With scripts switched on, there would be sliders here for power, mass, heat loss, carry-over, the "
        "meter’s step and the number of runs, and the figures would follow them. Without scripts this section shows "
        "the recommended setting.",
        "dials": "Setting",
        "in_number": "{label}, as a number",
        "follow": "The correction knows the changed loss and carry-over",
        "follow_note": "Untick it to see what a wrong guess costs: the correction then takes off what was planned.",
        "back": "Back to recommended",
        "result": "What to expect",
        "limits": "Limits",
        "quantity": "Quantity",
        "limit": "Limit",
        "allowed": "Allowed",
        "recommended": "Recommended",
        "yours": "Your setting",
        "state": "Kept?",
        "kept": "✓ kept",
        "broken": "✗ broken",
        "at_most": "at most {bound}",
        "at_least": "at least {bound}",
        "expected": "Expected result",
        "bias": "Bias",
        "uncertainty": "Standard uncertainty",
        "rms": "rms error",
        "sources": "Sources of uncertainty at your setting, ranked by their share of the variance",
        "sources_caption": "Bar: share of the variance in first order, of the setting above. Solid: the same in every "
        "run, so repeats do not help. Hatched: changes from run to run, averaged by repeats. ▲ the bias of the source "
        "makes the result too high, ▼ too low, ● neither.",
        "sources_table": "Sources at your setting, ranked by their share",
        "numbers": "Numbers behind this figure",
        "source": "Source",
        "share": "Share",
        "contribution": "Contribution to u",
        "axis": "share of the variance in %",
        "no_bias": "● no bias",
        "too_high": "▲ bias {bias}",
        "too_low": "▼ bias {bias}",
        "alt": "Bar chart of the sources ranked by their share of the variance: {parts}.",
        "alt_part": "{source} {share}",
        "said": "Expected {expected}, bias {bias}, standard uncertainty {uncertainty}, rms error {rms}.",
        "said_broken": "Limits broken: {limits}.",
        "said_kept": "All limits are kept.",
        "said_back": "Back to the recommended setting.",
        "no_boiling": "At this setting the water does not boil steadily: nothing can be expected.",
        "line": "{expected} · bias\u00a0{bias} · u\u00a0{uncertainty} · rms\u00a0{rms}",
        "out_of_range": "{label} must be a number from {low} to {high}.",
        "whole": "{label} must be a whole number from {low} to {high}.",
    }
)
"""Headings, sentences and labels."""

DIALS: Mapping[str, str] = MappingProxyType(
    {
        "power": "Power",
        "power_1": "Highest power",
        "power_2": "Second power",
        "power_3": "Third power",
        "mass": "Mass boiled away in one run",
        "loss": "Heat loss at the boil",
        "carry_over": "Carry-over at 1 kW and 50 mm",
        "step_energy": "Energy per count of the meter",
        "repeats": "Number of runs",
    }
)
"""Labels of the dials."""

DIAL_NOTES: Mapping[str, str] = MappingProxyType(
    {
        "power": "Beyond what the heater can be set to, this stands for another heater.",
        "mass": "On whole counts the mass is rounded to them.",
        "loss": "Of wall, base and returning steam together; its relative doubt stays.",
        "carry_over": "Share of the lost mass thrown out as droplets; its relative doubt stays.",
        "step_energy": "{per_kwh} counts per kWh",
        "repeats": "At each power.",
    }
)
"""What is said below a dial."""

FOLLOWS: Mapping[str, str] = MappingProxyType(
    {
        "mass_1": "Mass boiled away in one run",
        "counts_1": "Counts in one run",
        "time_1": "Time of one run",
        "fill": "Water at the start",
    }
)
"""Labels of what follows from the dials, by the step of the model."""

LIMITS: Mapping[str, str] = MappingProxyType(
    {
        "time": "Time of the lesson",
        "circuit": "Current on the circuit",
        "volume": "Water in the vessel",
        "freeboard": "Height from water to rim at the first reading",
        "boil_over": "Share thrown out as droplets",
        "balance": "Load on the balance",
        "mass_step": "Mass boiled away in one run",
        "meter_current": "Current through the meter",
        "meter_power": "Power through the meter",
        "meter_start": "Current at which the meter starts",
        "timing": "Time from one mark of the meter to the next",
        "steady": "Power for steady boiling",
        "apart": "Lowest power, to be apart from the highest",
    }
)
"""Labels of the limits."""

RANKING: Mapping[str, str] = MappingProxyType(
    {
        "filter": "Show rows with the words",
        "price": "Price at most, in {currency}",
        "all": "Show all rows",
        "shown": "{shown} of {all} rows shown",
        "sorted": "Sorted by {column}, {order}.",
        "ascending": "smallest first",
        "descending": "largest first",
    }
)
"""Words of the ranking that can be sorted and filtered."""
