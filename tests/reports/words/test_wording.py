from __future__ import annotations

import dataclasses
from types import SimpleNamespace
from typing import Any, cast

import pytest

from design.bench import Bench
from design.kit import LAGGING
from design.message import Message
from design.search.plan import Plan, RankedDesign
from design.search.today import cautions_of
from reports.pages.plan_page import cautions
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words import run_sheet
from reports.words.evaluate import run_name
from reports.words.languages import ENGLISH, Language
from reports.words.names import caution, source_words
from reports.words.plan import KitWords
from tests.reports.conftest import altered

PULSES = KitWords("pulse", power_can_be_set=True)


@pytest.fixture
def ranked(plan: Plan) -> RankedDesign:
    assert plan.recommended is not None
    return plan.recommended


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


def test_the_decision_says_what_to_buy_what_to_set_and_what_to_expect(plan: Plan, ranked: RankedDesign) -> None:
    buy, settings, expect = (plain(sentence) for sentence in wording.decision(plan, ranked, PULSES))

    assert buy.startswith("Buy the energy meter “Pulse meter, 800 pulse/kWh” and the vessel")
    assert "for 105.50 EUR" in buy
    assert settings.startswith("Set the power to 1.4 kW, fill in 1.05 kg of water")
    assert "mass step of 120 g, counting about 61 pulses, 3 times" in settings
    assert expect.startswith("Expect 2273 kJ/kg where the true value is 2258 kJ/kg: in 95 % of lessons")
    assert "between 2242 kJ/kg and 2305 kJ/kg" in expect
    assert (
        "dominated by two sources, heat lost through wall and water surface (46 %) and energy meter error (32 %)"
        in expect
    )
    assert "10 times smaller than with today’s kit (0.97 % instead of 9.8 %)" in expect


def test_the_interval_in_joules_is_the_interval_of_the_error_about_the_true_value(
    plan: Plan, ranked: RankedDesign
) -> None:
    low, high = wording.interval(plan, ranked)

    # By hand: 2257.9 kJ/kg times 0.9928 and 1.0208, to the place of u = 0.71 %, 16 kJ/kg.
    assert (plain(low), plain(high)) == ("2242 kJ/kg", "2305 kJ/kg")


def test_a_kit_without_a_purchase_says_buy_nothing(plan: Plan, ranked: RankedDesign) -> None:
    owned = altered(ranked, buy=(), price=0.0)

    assert wording.decision(plan, owned, PULSES)[0].startswith("Buy nothing: use the balance")


def test_a_heater_without_a_control_is_not_told_to_be_set(plan: Plan, ranked: RankedDesign) -> None:
    fixed = KitWords("pulse", power_can_be_set=False)

    assert wording.decision(plan, ranked, fixed)[1].startswith("Run the heater at its own power")


def test_whole_counts_are_set_as_a_number_of_counts(plan: Plan, ranked: RankedDesign) -> None:
    whole = altered(ranked, procedure="whole-counts", counts=62.0)

    assert "over 62 pulses, which boils away about 120" in plain(wording.decision(plan, whole, PULSES)[1])


def test_no_kit_of_today_to_compare_with_is_said(plan: Plan, ranked: RankedDesign) -> None:
    alone = dataclasses.replace(plan, current=None)

    assert "nothing to compare with" in wording.decision(alone, ranked, PULSES)[2]
    assert wording.improvement(alone, ranked) is None


def test_a_design_about_as_good_as_today_is_not_called_better(plan: Plan, ranked: RankedDesign) -> None:
    same = dataclasses.replace(plan, current=dataclasses.replace(ranked, objective_percent=1.0))

    assert "about that of today’s kit" in wording.decision(same, ranked, PULSES)[2]


def test_a_design_worse_than_today_is_called_worse(plan: Plan, ranked: RankedDesign) -> None:
    better_today = dataclasses.replace(plan, current=dataclasses.replace(ranked, objective_percent=0.485))

    assert "2.0 times larger than with today’s kit" in wording.decision(better_today, ranked, PULSES)[2]


def test_one_source_alone_is_said_to_dominate(plan: Plan, ranked: RankedDesign) -> None:
    first = dataclasses.replace(ranked.sources[0], share=0.93)
    sentence = wording.decision(plan, dataclasses.replace(ranked, sources=(first,)), PULSES)[2]

    assert "dominated by one source, heat lost through wall and water surface (93\u202f%)" in sentence


def test_a_cheaper_design_within_the_margin_is_mentioned(plan: Plan, ranked: RankedDesign) -> None:
    cheaper = altered(ranked, price=64.0, objective_percent=1.05, buy=ranked.design.buy[:1])
    notes = wording.notes(dataclasses.replace(plan, cheapest=cheaper), ranked.design)

    assert plain(notes[0]).startswith("Nearly as good for 64 EUR: Pulse meter, 800 pulse/kWh (rms")
    assert wording.notes(plan, ranked.design) == ()


def test_what_the_bench_file_accepts_knowingly_stands_beside_the_decision(plan: Plan, ranked: RankedDesign) -> None:
    accepted = altered(ranked, accepted=(("Beam", "splash_proof"),))

    assert wording.notes(plan, accepted.design) == (
        "Accepted knowingly by the bench file: Beam: balance is not splash-proof.",
    )


def test_the_words_of_the_kit_come_from_its_meter_and_heater(bench: Bench, ranked: RankedDesign) -> None:
    disk = altered(ranked, items={**ranked.design.items, "meter": "Disk meter, 375 rev/kWh"})

    assert wording.kit_words(altered(ranked, procedure="whole-counts").design) == PULSES
    assert wording.counted(2, "2", wording.kit_words(disk.design), ENGLISH) == "2 turns of the disk"


def test_several_sets_are_bought_with_their_number(ranked: RankedDesign) -> None:
    sets = altered(ranked, buy=(("balance", "Beam", 6, 300.0),))

    assert plain(wording_items.shopping(sets.design)) == "6 × the balance “Beam”"
    assert plain(wording_items.bought_names(sets.design)) == "6 × Beam"


@pytest.mark.parametrize("procedure", ["fixed-mass-restart", "fixed-mass-kept-on", "whole-counts"])
def test_every_run_sheet_starts_from_steady_boiling_and_ends_unplugged(ranked: RankedDesign, procedure: str) -> None:
    steps = run_sheet.steps(altered(ranked, procedure=procedure).design, PULSES)

    assert any("boil steadily" in step for step in steps[:3])
    assert "unplug" in steps[-1]


def test_only_the_restart_procedure_switches_off_between_the_readings(ranked: RankedDesign) -> None:
    restart = run_sheet.steps(altered(ranked, procedure="fixed-mass-restart").design, PULSES)
    kept_on = run_sheet.steps(ranked.design, PULSES)

    assert any(step.startswith("Switch off. ") for step in restart)
    assert any(step.startswith("Leave the heater on.") for step in kept_on)


def test_two_powers_go_from_the_lower_to_the_higher_without_topping_up(ranked: RankedDesign) -> None:
    two = altered(ranked, procedure="two-powers", powers_W=(1400.0, 700.0))
    steps = " ".join(run_sheet.steps(two.design, PULSES))

    assert "the lowest power first" in steps
    assert "Do not top up" in steps
    assert "(E₁ − E₂)/(m₁ − m₂)" in run_sheet.reckoning(two.design, None, PULSES)[-1]


def test_one_run_is_not_repeated(ranked: RankedDesign) -> None:
    once = run_sheet.steps(altered(ranked, repeats=1).design, PULSES)

    assert len(once) == len(run_sheet.steps(ranked.design, PULSES)) - 1


def test_cautions_begin_with_injury_and_defer_to_local_rules(plan: Plan) -> None:
    listed = cautions(plan)

    assert listed[0] == wording.safety()[0]
    assert "your employer’s and your local rules decide" in listed[0]
    assert caution(plan.cautions[0]) in listed


def test_no_sentence_calls_the_set_up_safe(plan: Plan, ranked: RankedDesign) -> None:
    spoken = " ".join(
        (*cautions(plan), *wording.decision(plan, ranked, PULSES), *run_sheet.steps(ranked.design, PULSES))
    )

    assert " safe" not in spoken.lower()


def test_the_warning_says_which_way_the_mistake_goes_and_leaves_its_size_to_the_page_that_works_it_out() -> None:
    warning = ENGLISH.text("caution.heater_off_warning")

    assert "too high" in warning
    assert "%" not in warning
    assert "Do not subtract" in warning


def test_several_powers_are_named_in_the_order_of_use_and_numbered_as_in_the_sources(
    plan: Plan, ranked: RankedDesign
) -> None:
    several = altered(ranked, procedure="two-powers", powers_W=(1400.0, 700.0))
    _, settings, _ = (plain(sentence) for sentence in wording.decision(plan, several, PULSES))

    assert "Set the power to 700 W and 1.4 kW, one after the other" in settings
    assert "120 g boiled away at the highest power" in settings
    assert "power 1 is 1.4 kW and power 2 is 700 W" in plain(" ".join(wording.notes(plan, several.design)))


def test_each_of_two_powers_gets_its_time(ranked: RankedDesign) -> None:
    several = altered(ranked, procedure="two-powers", powers_W=(1400.0, 700.0), repeats=1, time_table=(("runs", 27.0),))
    told = plain(" ".join(run_sheet.steps(several.design, PULSES)))

    assert "Set 700 W, switch on" in told
    assert "for the same time, about 14 min, the lowest power first" in told


def test_a_series_at_one_power_does_not_speak_of_others(ranked: RankedDesign) -> None:
    one = altered(ranked, procedure="series")
    two = altered(ranked, procedure="series", powers_W=(1400.0, 700.0))

    assert "each power" not in " ".join(run_sheet.steps(one.design, PULSES))
    assert "the same at each power" in " ".join(run_sheet.steps(two.design, PULSES))


def test_lagging_that_soaks_up_water_is_to_be_kept_dry(ranked: RankedDesign) -> None:
    def said(lagging: str) -> str:
        kit = ranked.design.kit
        vessel = dataclasses.replace(kit.vessel, jacket=LAGGING(lagging))
        lagged = dataclasses.replace(ranked.design, kit=dataclasses.replace(kit, vessel=vessel))
        recommended = dataclasses.replace(ranked, design=lagged)
        found = cautions_of(lagged.conditions, recommended, (None, None), only_owned=False)
        return " ".join(caution(each) for each in found)

    assert "wet cork, felt or wool loses two to five times as much heat" in said("20 mm cork")
    assert f"Keep the lagging of {ranked.design.kit.vessel.name} dry" in said("10 mm felt + foil")
    assert "Keep the lagging" not in said("20 mm foam")


def test_the_run_sheet_says_how_long_to_settle_and_has_the_thermometer_taken_out(ranked: RankedDesign) -> None:
    longer = dataclasses.replace(ranked, design=dataclasses.replace(ranked.design, steady=420.0))
    usual, waited = (" ".join(run_sheet.steps(each.design, PULSES)) for each in (ranked, longer))

    assert "let the water boil steadily for 3 min" in plain(usual)
    assert "let the water boil steadily for 7 min" in plain(waited)
    assert "Take thermometer and stirrer out of the water before the first reading" in usual
    assert "boil steadily for 7 min" in plain(" ".join(run_sheet.student_steps(longer.design, PULSES)))


@pytest.mark.parametrize(("code", "written"), [("en", "1.92 kg"), ("de", "1,92 kg"), ("fr", "1,92 kg")])
def test_a_caution_writes_its_numbers_as_its_language_does(code: str, written: str) -> None:
    assert written in caution(Message("today_fill", {"least": 1.9213}), Language(code))


def test_a_caution_names_the_vessel_that_would_do_with_its_price() -> None:
    needed = {"volume": 2.34e-3, "height": 0.2046, "width": 0.112}
    found = {"vessel": "Tall one", "price": 62.5, "currency": "EUR"}

    assert caution(Message("vessel_on_shelf", {**needed, **found}), Language("de")) == (
        "Ein 112 mm weites Gefäß müsste dafür 2,3 L fassen und 205 mm hoch sein; von denen auf den Regalen passt "
        "Tall one (62,5 EUR)."
    )


def test_what_is_known_of_a_quantity_is_said_to_come_from_somewhere(ranked: RankedDesign) -> None:
    design = dataclasses.replace(ranked.design, correction="calculated")
    sources = {term.source for term in design.terms} - {""}
    written = {key: source_words(key, Language("de")) for key in sources}

    assert "meter_limits" in sources
    assert {key for key, words in written.items() if words == key} == set()
    assert source_words("calculated/wall_factor", Language("de")).startswith("berechnet; Streuung: ")
    assert source_words("certificate 12, 2025") == "certificate 12, 2025"


def test_one_run_less_another_is_named_in_the_language_of_the_page() -> None:
    first, second = (SimpleNamespace(name=name) for name in ("1", "2"))

    assert run_name(cast("Any", SimpleNamespace(runs=(first,))), Language("de")) == "1"
    assert run_name(cast("Any", SimpleNamespace(runs=(first, second))), Language("de")) == "1 minus 2"
