"""The element pushes the water up: less is filled in, and the surface stands where the rim and the droplets feel it."""

from dataclasses import replace

import numpy as np
import pytest

from budget.quantities.distributions import Rectangular
from design.bench import Bench
from design.chosen import Design
from design.kit import Kit
from design.physics.evidence import default
from design.procedures.registry import procedure_named
from design.rehearsal.campaign import rehearse, reported_latent_heat
from design.rehearsal.playing import play_on
from design.rehearsal.tally import written
from design.setting.hardware import conditions_of
from tests.design.conftest import BEAM, DISK, HEATER, MASSES, VESSEL

STRONG = replace(HEATER, name="strong", power=2800.0)
FINE = replace(DISK, name="fine", energy_per_count=2250.0, error=Rectangular(-0.005, 0.005))
LOW = replace(VESSEL, height=0.205)
KIT = Kit(BEAM, FINE, STRONG, LOW, MASSES)


def design_with(bench: Bench, kit: Kit = KIT) -> Design:
    """0.25 kg, the heater kept on at 2.8 kW, calculated losses."""
    return Design(conditions_of(bench), kit, procedure_named("fixed-mass-kept-on"), "calculated", (2800.0,), 0.25)


def test_water_and_element_together_stand_at_the_mark_and_its_margin_at_the_last_reading(bench: Bench) -> None:
    # By hand: 30 cm3 for each kilowatt, so 84 cm3 of a 2.8 kW heater; pi/4 (112 mm)² = 98.5 cm², 8.5 mm of height.
    situation = design_with(bench).situation
    levels, density = situation.levels, situation.conditions.water.liquid_density
    volume = 84e-6
    height = STRONG.minimum_depth + default("depth_margin")
    last = height * np.pi / 4 * LOW.diameter**2 - volume

    assert situation.hardware.displaced == pytest.approx(density * volume)
    values = situation.values
    assert float(np.ravel(values["last_1"])[0]) == pytest.approx(height)
    boiled = float(np.ravel(values["start_1"] - values["last_1"])[0]) * np.pi / 4 * LOW.diameter**2 * density
    assert float(levels.mean[0]) - 0.5 * boiled == pytest.approx(density * last)
    slim = design_with(bench, replace(KIT, heater=replace(STRONG, power=1.0)))
    assert float(np.ravel(slim.situation.values["last_1"])[0]) == pytest.approx(height)


@pytest.mark.slow
def test_the_virtual_bench_throws_out_as_much_as_the_model_says(bench: Bench) -> None:
    # Played apart from the model, droplet by droplet, at three laws of carry-over; without droplets for comparison.
    design = design_with(bench)
    honest = rehearse(design, runs=400, seed=5)
    apparatus, model = honest.played.apparatus, design.model
    scale = float(apparatus.situation.carry_over_scale[0])
    middle = apparatus.situation.hardware.knowledge["carry_over"].mean / np.exp(0.5 * np.log(3.0) ** 2)

    def reported(share: float) -> np.ndarray:
        middle_drift = np.full(apparatus.runs, apparatus.situation.hardware.swell.drift)
        still = {"drift": middle_drift, "heave_factor": np.zeros(apparatus.runs)}
        truth = {**apparatus.truth, "carry_over": np.full(apparatus.runs, share), **still}
        again = play_on(replace(apparatus, truth=truth), honest.played.observers.script, np.random.default_rng(1))
        return reported_latent_heat(design, written(again))

    def expected(share: float) -> float:
        return float(model.evaluate({**model.estimates, "s_splash": np.asarray(share * scale)}))

    without = reported(0.0)
    for factor in (1.0, 3.0, 9.0):
        found = reported(factor * middle)
        lowered = 1.0 - float(np.mean(found) / np.mean(without))
        known_to = float(np.hypot(np.std(found), np.std(without)) / np.mean(without)) / np.sqrt(found.size)
        wanted = 1.0 - expected(factor * middle) / expected(0.0)
        assert lowered == pytest.approx(wanted, abs=3.0 * known_to + 0.1 * wanted)


def test_a_run_that_is_given_up_while_a_reading_is_due_does_not_stop_the_others(bench: Bench) -> None:
    # A hasty vessel: so little water above the mark that some runs are given up.
    honest = rehearse(design_with(bench, replace(KIT, heater=replace(STRONG, minimum_depth=0.02))), runs=60, seed=3)
    apparatus = honest.played.apparatus
    hasty = replace(apparatus, fill=apparatus.fill - 0.12, lowest_level=0.055)

    played = play_on(hasty, honest.played.observers.script, np.random.default_rng(2))

    assert np.isnan(played.noted.mass).any()
