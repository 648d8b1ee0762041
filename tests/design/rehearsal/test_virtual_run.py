"""The virtual bench: its books close, and it goes where closed forms say it must."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.quantities.distributions import Constant, Rectangular
from design.bench import Bench, Current, Lesson, Observer, Purse, Room, SearchRange, Supply
from design.kit import Balance, Heater, Kit, MassSet, Meter, Vessel
from design.materials import Jacket
from design.procedures.registry import procedure_named
from design.rehearsal.behaviour import draw_truth
from design.rehearsal.playing import Played, play, play_on
from design.rehearsal.script import Stage, WaitsFor, cooling, script_of
from design.rehearsal.state import apparatus_of, energy_gap, load, mass_gap, sensible_heat, temperature_of
from design.rehearsal.tally import tally, written
from design.rehearsal.worlds import WORLDS, in_each
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, Situation, situation_of

Situate = Callable[..., Situation]
BEAM = Balance(
    name="beam", kind="beam", resolution=1e-4, repeatability=5e-5, linearity=0.0, capacity=2.6, splash_proof=True,
    stability_filter=False,
)  # fmt: skip
DISPLAY = replace(BEAM, name="display", kind="electronic", repeatability=1e-4, linearity=2e-4)
DISK = Meter(
    name="disk", kind="disk", energy_per_count=9600.0, reads="whole", error=Rectangular(-0.02, 0.02),
    max_voltage=250.0, max_current=40.0, max_power=np.inf,
)  # fmt: skip
HEATER = Heater(
    name="heater", power=1400.0, rated_voltage=230.0, tolerance=0.05, stem_diameter=0.008, stems=2, minimum_depth=0.06,
    held_by="stand", flex=1.2,
)  # fmt: skip
VESSEL = Vessel(name="beaker", capacity=1.4e-3, diameter=0.112, height=0.165, mass=0.42, material="glass")
MASSES = MassSet(name="masses", steps=(0.05, 0.12, 0.25), accuracy=0.003)
NOT_WATCHED = replace(HEATER, control="stepless")


@pytest.fixture
def situate(bench: Bench) -> Situate:
    """Make a situation of one setting."""

    def make(
        kit: Kit, procedure: str = "fixed-mass-restart", powers: tuple[float, ...] = (1400.0,), mass: float = 0.05,
        repeats: int = 1, on: Bench = bench,
    ) -> Situation:  # fmt: skip
        conditions = conditions_of(on)
        setting = Settings(np.array([powers]), np.array([mass]), np.array([float(repeats)]))
        pace = procedure_named(procedure, len(powers)).pace
        return situation_of(conditions, kit, hardware_of(conditions, kit.vessel, kit.heater), setting, pace)

    return make


@pytest.fixture
def plain(bench: Bench) -> Bench:
    """The bench with losses as calculated, and without droplets or errors of meter and supply."""
    known = {"carry_over": Constant(0.0), "meter_error": Constant(0.0)}
    known |= {"wall_loss": Constant(61.0), "base_loss": Constant(4.0), "return_loss": Constant(5.0)}
    return replace(bench, knowledge=known, supply=replace(bench.supply, tolerance=0.0))


def gaps(played: Played) -> tuple[float, float]:
    """Largest gap in the books of energy and of mass, at the end and on the way."""
    energy = np.abs(energy_gap(played.apparatus, played.state)).max()
    mass = np.abs(mass_gap(played.apparatus, played.state)).max()
    return (
        float(max(energy, np.abs(played.traces.energy_gap).max())),
        float(max(mass, np.abs(played.traces.mass_gap).max())),
    )


@pytest.mark.parametrize("held_by", ["stand", "vessel"])
@pytest.mark.parametrize("step", [0.25, 1.0])
def test_energy_and_mass_are_conserved_to_a_billionth_at_every_moment(
    situate: Situate, held_by: Literal["stand", "vessel"], step: float
) -> None:
    kit = Kit(BEAM, DISK, replace(HEATER, held_by=held_by), VESSEL, MASSES)
    situation = situate(kit)
    script = (*script_of(procedure_named("fixed-mass-restart"), situation), *cooling(run=2))

    energy, mass = gaps(play(situation, script, runs=20, seed=3, traced=20, step=step))

    assert energy < 1e-9
    assert mass < 1e-9


def test_the_books_close_in_every_world(situate: Situate) -> None:
    lagged = replace(VESSEL, height=0.125, jacket=Jacket("15 mm felt", 0.015, 0.04))
    situation = situate(Kit(BEAM, DISK, HEATER, lagged, MASSES))
    script, generator = script_of(procedure_named("fixed-mass-restart"), situation), np.random.default_rng(3)
    truth = in_each(WORLDS, situation, draw_truth(situation, 3, generator), generator)
    played = play_on(apparatus_of(situation, truth), script, generator, traced=truth["drift"].size, step=1.0)

    energy, mass = gaps(played)

    assert energy < 1e-9
    assert mass < 1e-9
    assert played.state.dripped.sum() > 0.0
    assert played.state.over_rim.sum() > 1e-3
    assert np.all(played.state.lagging > situation.conditions.room_temperature)


@settings(max_examples=8, deadline=None)
@given(
    power=st.floats(400.0, 2800.0), mass=st.floats(0.02, 0.12), diameter=st.floats(0.09, 0.16),
    seed=st.integers(0, 2**31 - 1), lid=st.sampled_from(["none", "loose"]),
)  # fmt: skip
def test_the_books_close_whatever_the_kit(
    power: float, mass: float, diameter: float, seed: int, lid: Literal["none", "loose"]
) -> None:
    bench = _bench()
    heater = replace(HEATER, power=power)
    vessel = replace(VESSEL, diameter=diameter, lid=lid)
    conditions = conditions_of(bench)
    setting = Settings(np.array([[power]]), np.array([mass]), np.array([1.0]))
    hardware = hardware_of(conditions, vessel, heater)
    pace = procedure_named("whole-counts").pace
    situation = situation_of(conditions, Kit(DISPLAY, DISK, heater, vessel), hardware, setting, pace)

    energy, filled = gaps(
        play(situation, script_of(procedure_named("whole-counts"), situation), runs=8, seed=seed, traced=8, step=1.0)
    )

    assert energy < 1e-9
    assert filled < 1e-9


def _bench() -> Bench:
    return Bench(
        name="invented", scenario="invented", path="", room=Room(98200.0, 294.15), supply=Supply(230.0, 0.06, 13.0),
        lesson=Lesson(4200.0, 900.0), purse=Purse("EUR", 0.0), observer=Observer(0.3, 2e-4), search=SearchRange(),
        current=Current(), knowledge={}, shelves={},
    )  # fmt: skip


def test_every_ledger_column_takes_its_part(situate: Situate) -> None:
    situation = situate(Kit(BEAM, DISK, HEATER, VESSEL, MASSES))
    played = play(situation, script_of(procedure_named("fixed-mass-restart"), situation), runs=20, seed=1, step=1.0)
    state = played.state

    for column in (state.electrical, state.lead, state.latent, state.lost, state.returned, state.vapour):
        assert np.all(column > 0.0)
    assert np.all(sensible_heat(played.apparatus, state) > 0.0)
    assert state.droplets.sum() > 0.0


def test_at_a_steady_boil_the_energy_balance_holds_by_hand(plain: Bench, situate: Situate) -> None:
    # By hand, in kWh, grams and minutes: what the meter counts, less the loss, over L, is the vapour.
    heater = replace(HEATER, held_by="vessel", flex=0.0, tolerance=0.0)
    situation = situate(Kit(DISPLAY, DISK, heater, VESSEL), "whole-counts", mass=0.2, on=plain)
    played = play(situation, script_of(procedure_named("whole-counts"), situation), runs=200, seed=5)
    found = tally(written(played))
    per_gram = situation.conditions.water.latent_heat / 3.6e9
    spent = found.energy / 3.6e6 - 70.0 / 1000.0 * (found.time / 60.0) / 60.0

    grams = 1000.0 * found.mass * situation.conditions.buoyancy
    assert float((spent / grams).mean()) == pytest.approx(per_gram, rel=5e-4)


def test_a_shorter_step_changes_nothing(plain: Bench, situate: Situate) -> None:
    heater = replace(HEATER, held_by="vessel", flex=0.0, tolerance=0.0)
    situation = situate(Kit(DISPLAY, DISK, heater, VESSEL), "whole-counts", mass=0.05, on=plain)
    script = script_of(procedure_named("whole-counts"), situation)

    coarse, fine = (play(situation, script, runs=300, seed=5, step=step) for step in (0.5, 0.125))

    masses = [tally(written(played)).mass.mean() for played in (coarse, fine)]
    assert masses[0] == pytest.approx(masses[1], rel=2e-3)


def test_without_loss_droplets_or_error_the_observer_finds_the_latent_heat(
    quiet_bench: Bench, situate: Situate
) -> None:
    heater, balance = quiet_bench.heaters[0], quiet_bench.balances[1]
    meter = replace(DISK, energy_per_count=900.0)
    tall = replace(VESSEL, height=0.24)
    situation = situate(Kit(balance, meter, heater, tall), "whole-counts", mass=0.25, on=quiet_bench)
    played = play(situation, script_of(procedure_named("whole-counts"), situation), runs=1600, seed=2)
    found = tally(written(played))
    water = situation.conditions.water

    latent = (found.energy / (found.mass * situation.conditions.buoyancy)).mean()

    assert float(latent) == pytest.approx(water.latent_heat, rel=3e-4)


def test_the_balance_sees_the_level_where_the_heater_is_held_from_outside(situate: Situate) -> None:
    # Archimedes' principle: the indicated fall is A/(A - a) times the mass that left, over the buoyancy of air.
    situation = situate(Kit(BEAM, DISK, HEATER, VESSEL, MASSES))
    stages = (Stage(WaitsFor.BOIL), Stage(WaitsFor.WAIT, heater=False, seconds=900.0))
    played = play(situation, stages, runs=1, seed=0, step=1.0)
    less = replace(played.state, water=played.state.water - 0.1)

    fall = load(played.apparatus, played.state) - load(played.apparatus, less)

    share = 2.0 * (8.0 / 112.0) ** 2 * played.apparatus.truth["stem_factor"]
    assert fall == pytest.approx(0.1 / (1.0 - share) / situation.conditions.buoyancy, rel=1e-9)


def test_a_heater_that_hangs_on_the_vessel_hides_nothing(situate: Situate) -> None:
    situation = situate(Kit(BEAM, DISK, replace(HEATER, held_by="vessel"), VESSEL, MASSES))
    played = play(
        situation, (Stage(WaitsFor.BOIL), Stage(WaitsFor.WAIT, heater=False, seconds=60.0)), runs=1, seed=0, step=1.0
    )
    less = replace(played.state, water=played.state.water - 0.1)

    fall = load(played.apparatus, played.state) - load(played.apparatus, less)

    assert fall == pytest.approx(0.1 / situation.conditions.buoyancy, rel=1e-9)


def test_power_follows_the_square_of_the_voltage(plain: Bench, situate: Situate) -> None:
    lower = replace(plain, supply=replace(plain.supply, voltage=115.0))
    kit = Kit(BEAM, DISK, replace(HEATER, tolerance=0.0), VESSEL, MASSES)
    powers = []
    for bench, dialled in ((plain, 1400.0), (lower, 350.0)):
        situation = situate(kit, powers=(dialled,), on=bench)
        played = play(situation, (Stage(WaitsFor.WAIT, seconds=60.0),), runs=1, seed=0, traced=1)
        powers.append(float(played.traces.power.mean()))

    assert powers[0] / powers[1] == pytest.approx(4.0, rel=1e-9)


def test_after_switching_off_the_water_boils_on_and_then_pays_for_its_vapour_by_cooling(situate: Situate) -> None:
    situation = situate(Kit(BEAM, DISK, HEATER, VESSEL, MASSES))
    script = (Stage(WaitsFor.BOIL, seconds=60.0), Stage(WaitsFor.WAIT, heater=False, seconds=240.0))
    played = play(situation, script, runs=1, seed=4, traced=1)
    traces = played.traces
    off = int(np.flatnonzero(traces.power[:, 0] > 0.0)[-1]) + 1
    water, temperature = traces.true[:, 0], traces.temperature[:, 0]

    assert water[off] - water[off + 4] > 0.05e-3
    rates = [water[off + start] - water[off + start + 60] for start in (10, 120)]
    assert rates[0] > rates[1] > 0.0
    assert temperature[off + 200] < temperature[off] - 2.0


def test_at_a_weak_power_the_water_steams_below_the_boil(situate: Situate) -> None:
    # physics of evaporation: below about the loss plus what evaporation takes near the boil there is no rolling boil.
    situation = situate(Kit(DISPLAY, DISK, NOT_WATCHED, VESSEL), "whole-counts", powers=(130.0,), mass=0.01)
    script = (Stage(WaitsFor.BOIL, seconds=10.0),)
    played = play(situation, script, runs=30, seed=1, step=1.0)

    below = played.apparatus.water.boiling_point - temperature_of(played.apparatus, played.state)
    assert np.median(below) > 1.0


def test_the_same_seed_plays_the_same_runs(situate: Situate) -> None:
    situation = situate(Kit(BEAM, DISK, HEATER, VESSEL, MASSES))
    script = script_of(procedure_named("fixed-mass-restart"), situation)
    first, again, other = (play(situation, script, runs=5, seed=seed, step=1.0).noted.time for seed in (7, 7, 8))

    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


@pytest.mark.slow
def test_two_thousand_runs_of_a_quarter_of_an_hour_take_less_than_half_a_minute(situate: Situate) -> None:
    import time

    tall = replace(VESSEL, height=0.24)
    situation = situate(Kit(BEAM, DISK, HEATER, tall, MASSES), "fixed-mass-kept-on", mass=0.25)
    script = script_of(procedure_named("fixed-mass-kept-on"), situation)
    start = time.process_time()
    played = play(situation, script, runs=2000, seed=1)

    assert float(np.median(played.noted.time[:, 1])) > 900.0
    assert time.process_time() - start < 30.0
