"""The sentences of the plan report in English, in one place, so that a catalogue can translate them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

ROLES: Mapping[str, str] = MappingProxyType(
    {
        "balance": "balance",
        "meter": "energy meter",
        "heater": "immersion heater",
        "vessel": "vessel",
        "mass_set": "mass set",
        "jacket": "jacket",
        "lid": "lid",
        "guard": "splash guard",
    }
)

PROCEDURES: Mapping[str, str] = MappingProxyType(
    {
        "fixed-mass-restart": "fixed mass, stop and restart",
        "fixed-mass-kept-on": "fixed mass, heater kept on",
        "whole-counts": "whole counts",
        "two-powers": "two powers",
        "series": "series",
    }
)

CORRECTIONS: Mapping[str, str] = MappingProxyType(
    {
        "none": "no correction",
        "calculated": "losses calculated from the geometry",
        "cooling-run": "losses from a cooling run",
    }
)

READINGS: Mapping[str, str] = MappingProxyType({"timed": "marks timed"})
"""What is said of the way of reading the meter beside the procedure's name; of the usual ways nothing."""

OBJECTIVES: Mapping[str, str] = MappingProxyType(
    {
        "rms error": "rms error",
        "standard uncertainty": "standard uncertainty",
        "expanded uncertainty": "expanded uncertainty",
        "worst error": "worst error",
    }
)

DECISION: Mapping[str, str] = MappingProxyType(
    {
        "buy": "Buy {things} for {price}, and use {rest}.",
        "buy_everything": "Buy {things} for {price}.",
        "buy_nothing": "Buy nothing: use {rest} from the cupboard.",
        "set_power": "Set the power to {power}",
        "own_power": "Run the heater at its own power, {power}",
        "set_fixed_mass": "{power}, fill in {fill} of water, and run the procedure “{procedure}” with a mass "
        "step of {mass}{count}, {repeats}.",
        "set_whole_counts": "{power}, fill in {fill} of water, and run the procedure “{procedure}” over "
        "{whole_count}, which boils away about {mass}, {repeats}.",
        "set_other": "{power}, fill in {fill} of water, and run the procedure “{procedure}” over {mass} boiled "
        "away, {repeats}.",
        "set_several": "{power}, one after the other, fill in {fill} of water, and run the procedure “{procedure}” "
        "over {mass} boiled away at the highest power, {repeats}.",
        "put_on": "Put {things} on {vessel}.",
        "spare": "Of this water {spare} is spare.",
        "read_whole": "Read the meter to whole counts.",
        "read_tenth": "Read the meter to a tenth of a count.",
        "read_timed": "Time the marks of the meter before and after each reading (lap times): the clock then tells the "
        "part of a count.",
        "count": ", counting about {counts}",
        "once": "once",
        "repeats": "{number} times",
        "expect": "Expect {expected} where the true value is {true}: in {coverage} of lessons like this the result "
        "lies between {low} and {high}; {dominated}{compared}.",
        "dominated_one": "the spread is dominated by one source, {first} ({first_share})",
        "dominated": "the spread is dominated by two sources, {first} ({first_share}) and {second} ({second_share})",
        "dominated_none": "no single source stands out",
        "better": ", and the {objective} is {factor} times smaller than with today’s kit ({now} instead of {today})",
        "same": ", and the {objective} is about that of today’s kit ({now} against {today})",
        "worse": ", and the {objective} is {factor} times larger than with today’s kit ({now} against {today})",
        "no_current": ", and today’s kit gives nothing to compare with (see the cautions)",
        "cheaper": "Nearly as good for {price}: {things} ({objective} {objective_value}, within the margin of {margin} "
        "that counts as equally good).",
        "accepted": "Accepted knowingly by the bench file: {what}.",
        "numbered_powers": "Powers are numbered from the highest: {powers}.",
        "numbered_power": "power {number} is {power}",
        "invented": "Example: the bench, its items and its prices are invented.",
    }
)

SUMMARY: Mapping[str, str] = MappingProxyType(
    {
        "buy": "Buy",
        "set": "Set",
        "expect": "Expect",
        "dominated": "Dominated by",
        "compared": "Compared with today",
        "time": "Time",
        "nothing": "nothing",
        "set_value": "{power}; {fill} of water; {mass_or_count}; {repeats}",
        "put_on": "{things} on the vessel",
        "spare": "{spare} of the water spare",
        "read_whole": "meter read to whole counts",
        "read_tenth": "meter read to a tenth of a count",
        "read_timed": "marks of the meter timed",
        "mass_step": "mass step {mass}",
        "boiled": "{mass} boiled away",
        "boiled_several": "{mass} boiled away at the highest power",
        "off_by": "{bias} from the true value",
        "unbiased": "the true value to within 0.01 %",
        "expect_value": "{expected}, that is {off_by}; standard uncertainty {uncertainty}; "
        "{coverage} interval {low} to {high}",
        "time_value": "{minutes} of a lesson of {lesson}",
        "compared_value": "{objective} {now} now, {today} with today’s kit",
        "compared_none": "today’s kit cannot do it: see the cautions",
        "source_value": "{quantity} ({share} of the variance, bias {bias})",
        "source_unbiased": "{quantity} ({share} of the variance)",
    }
)

SIGNS: tuple[tuple[str, str, str], ...] = (
    ("Heat lost from wall, base and surface", "too high", "energy was counted that made no steam"),
    (
        "Steam condensing on cold hardware and running back",
        "too high",
        "that water was boiled and paid for twice",
    ),
    ("Restart after a pause", "too high", "the water cooled and had to be heated up again"),
    ("Water warming between the two readings", "too high", "part of the energy warmed the water"),
    ("Flex between meter and element", "too high", "the flex gets warm with metered energy"),
    ("Air buoyancy", "too high", "air carries 0.1 % of the weight of the water lost"),
    ("Carry-over: droplets thrown out", "too low", "they leave without having taken their latent heat"),
    (
        "Stem of a heater held from outside",
        "too low",
        "the balance sees the level, which falls by more than the mass",
    ),
    ("Evaporation counted before the energy is", "too low", "mass left before the meter was read"),
    ("Energy meter", "either way", "it reads all energies too high or too low by the same share"),
    ("Balance", "either way", "resolution, boiling noise and linearity at both readings"),
    ("Counting", "either way", "a part of a count is lost or gained at either end"),
    (
        "Nameplate power used instead of measured energy",
        "either way",
        "the mains voltage and the element differ from the plate",
    ),
)
"""Cause, direction of the uncorrected value, and why."""

HEATER_OFF_WARNING = (
    "Do not subtract a mass-loss rate measured with the heater off. With the heater off the water pays for its "
    "vapour by cooling; with the heater on the heater paid for it. Subtracting makes L too high by 9 to 19 % at "
    "1 kW. Use such a run for a cooling balance instead: W(T) = −(m·c + C)·dT/dt − r·L(T), with the rate r at "
    "which mass is lost, scaled to the boiling point."
)

SAFETY: tuple[str, ...] = (
    "Boiling water, steam and mains electricity can cause severe injury. This page is a calculation, not a risk "
    "assessment: your employer’s and your local rules decide whether and how the experiment may be done, and a "
    "qualified person decides about the electrical equipment.",
    "A demonstration by the teacher may be all that local rules allow with a mains heater.",
)

WALK: Mapping[str, str] = MappingProxyType(
    {
        "curvature": "effects acting together (curvature)",
        "correction": "correction: {correction}",
        "readings_alone": "The readings alone, E/m, would give {value}, an error of {error}; the correction turns that "
        "into the expected result. It takes out what is expected of each effect, not the doubt about it.",
        "readings_together": "The readings alone, put together for the procedure without any correction, would give "
        "{value}, an error of {error}; the correction turns that into the expected result. It takes out what is "
        "expected of each effect, not the doubt about it.",
        "readings_are_together": "Nothing is corrected beyond what the procedure itself cancels.",
        "readings_are": "Nothing is corrected: the result is E/m as it is read.",
    }
)

BUDGET: Mapping[str, str] = MappingProxyType(
    {
        "statement": "{symbol} = {value}, where the number after ± is the expanded uncertainty for a coverage "
        "probability of {coverage}, with the coverage factor {factor}.",
        "statement_simulated": "{symbol} = {value}, with a standard uncertainty of {uncertainty}; with a coverage "
        "probability of {coverage} the value lies from {ends} (by simulation; the law of propagation "
        "is not accurate to two digits here).",
        "invented": "Example: the data are invented.",
    }
)

HEADINGS: Mapping[str, str] = MappingProxyType(
    {
        "skip": "Skip to the decision",
        "kicker": "Plan for measuring the specific latent heat of vaporisation of water",
        "contents": "Contents",
        "decision": "What should we buy, and how should we set it?",
        "walk": "Where does the error come from?",
        "shares": "Which sources make the result uncertain?",
        "map": "How do mass and power change the error?",
        "frontier": "What does money buy?",
        "sure": "How sure is this?",
        "budget": "How is the uncertainty made up?",
        "ranking": "How do other kits and procedures compare?",
        "run": "What is done in the lesson?",
        "cautions": "What can hurt, and what must be watched?",
        "signs": "Which way does each effect push the result?",
        "computed": "How was this computed?",
        "walk_intro": "The walk starts at the true value and ends at the result to expect. Each step is what one "
        "effect does to the readings; effects of opposite sign can cancel, so a good value alone does not prove a good "
        "method.",
        "walk_today": "With today’s kit, used as it is today:",
        "shares_intro": "The share is the part of the output variance that would be missing if the source were known "
        "exactly (total-order Sobol’ index). A source can be a large bias and a small share: its size is known well.",
        "bias_intro": "The same effects in the order of what they do to the readings:",
        "map_intro": "The recommended kit at other settings. Hatched settings break the limit that is named there.",
        "frontier_intro": "Each step is the smallest error to be had for the money, with what is already owned at "
        "price 0.",
        "budget_intro": "One row an input quantity of the measurement model, ranked by share.",
        "ranking_intro": "The best setting of each kit, procedure and correction.",
        "evidence": "Where the knowledge of each quantity comes from",
        "run_intro": "Read the cautions first. Quantities are those of the recommended design.",
        "heater_off": "Never subtract the heater-off rate",
        "signs_intro": "For the uncorrected value L = E/m.",
        "budget_kicker": "Uncertainty budget",
        "budget_distribution": "Which values can be attributed to the measurand?",
        "budget_contributions": "Which inputs make it uncertain?",
        "budget_further": "What would be gained by knowing an input exactly?",
        "budget_equation": "What was computed?",
        "numbers": "Numbers behind this figure",
        "model": "Measurement model",
        "rejected": "Combinations rejected, by the first limit each breaks",
        "bench": "The bench as it was read",
        "taken": "Taken where nobody said anything",
        "taken_intro": "What the bench file leaves out is taken from these two tables. State what you know in the "
        "file: it goes before every line of them.",
        "reckoning": "From the readings to L",
    }
)

BUDGET_TOTAL = (
    "Expected value and combined standard uncertainty: {value}, that is {uncertainty}; bias {bias}; rms error, "
    "the root of the sum of their squares, {rms}. For several runs the contributions that repeats average are those "
    "of the mean."
)
