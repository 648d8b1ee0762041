"""Comparison of methods: crossing points against closed forms, like-for-like changes, and the population."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.quantities.binomial import binomial_interval
from budget.quantities.distributions import Constant, Normal
from design.bench import Bench, Current
from design.chosen import Design
from design.comparison.changes import IMPROVEMENTS, extra_price, used_with, with_vessel
from design.comparison.population import population_of
from design.comparison.side_by_side import (
    METHODS,
    compare_bench,
    crossing_between,
    crossings_of,
    kit_in_hand,
    rms_error,
    rows_of_readings,
)
from design.errors import DesignError
from design.kit import Fitting, Kit, Vessel
from design.materials import Jacket
from design.procedures.face import Procedure
from design.procedures.registry import PROCEDURES, procedure_named
from design.search.planning import quiet
from design.search.sample import Sample, errors_of
from design.setting.hardware import conditions_of

SAMPLE = Sample(1024, 3)
CHANGES = {change.key: change for change in IMPROVEMENTS}


def usual_on(bench: Bench, kit: Kit, power: float = 700.0, mass: float = 0.12) -> Design:
    """Fixed mass, stop and restart, uncorrected."""
    return Design(conditions_of(bench), kit, procedure_named("fixed-mass-restart"), "none", (power,), mass)


@pytest.fixture
def in_hand(bench: Bench) -> Design:
    """The weaker heater with the beam balance, as it is used today."""
    kit = Kit(bench.balances[0], bench.meters[0], bench.heaters[1], bench.vessels[0], bench.mass_sets[0])
    return usual_on(bench, kit)


@pytest.mark.parametrize(
    "procedure", PROCEDURES, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
def test_every_procedure_is_compared_on_the_same_vessel_power_and_step(
    bench: Bench, in_hand: Design, procedure: Procedure
) -> None:
    setup = used_with(in_hand, procedure, "none")

    assert setup.kit.vessel == in_hand.kit.vessel
    assert setup.powers[0] == 700.0
    assert len(setup.powers) == procedure.number_of_powers
    assert setup.powers[-1] == (350.0 if procedure.number_of_powers > 1 else 700.0)
    assert (setup.kit.balance.kind == "electronic") == procedure.needs_display
    assert setup.kit.balance.resolution == in_hand.kit.balance.resolution
    assert (setup.kit.mass_set is not None) == procedure.needs_mass_set
    assert setup.obstacles == ()


def test_each_improvement_changes_one_thing(in_hand: Design) -> None:
    setups = {key: change.make(in_hand) for key, change in CHANGES.items()}
    made = {key: setup for key, setup in setups.items() if setup is not None}

    assert made.keys() == CHANGES.keys()
    for key in ("jacket", "deflector", "lid"):
        assert replace(made[key].kit, vessel=in_hand.kit.vessel) == in_hand.kit
    assert replace(made["hung-heater"].kit.heater, held_by="stand") == in_hand.kit.heater
    assert replace(made["finer-reading"].kit.meter, reads="whole") == in_hand.kit.meter
    assert made["larger-step"].mass == 0.25
    assert made["more-power"].powers == (1050.0,)
    assert made["three-runs"].repeats == 3
    assert made["calculated"] == replace(in_hand, correction="calculated")


def test_an_improvement_that_is_there_already_is_not_offered(in_hand: Design) -> None:
    lagged = with_vessel(in_hand, jacket=Jacket("cork 20 mm", 0.02, 0.05))
    hung = replace(in_hand, kit=replace(in_hand.kit, heater=replace(in_hand.kit.heater, held_by="vessel")))

    assert CHANGES["jacket"].make(lagged) is None
    assert CHANGES["hung-heater"].make(hung) is None
    assert CHANGES["cooling-run"].make(replace(in_hand, correction="cooling-run")) is None


def test_a_jacket_lowers_a_stated_loss_in_proportion_to_the_calculated_one(bench: Bench, in_hand: Design) -> None:
    stated = replace(bench, knowledge={"wall_loss": Normal(50.0, 5.0)})
    jacketed = CHANGES["jacket"].make(replace(in_hand, conditions=conditions_of(stated)))
    free = CHANGES["jacket"].make(in_hand)
    assert jacketed is not None
    assert free is not None

    loss = jacketed.hardware.knowledge["wall_loss"]
    bare, lagged = (setup.hardware.losses.wall for setup in (in_hand, free))

    assert loss.mean == pytest.approx(50.0 * lagged / bare)
    assert loss.standard_uncertainty == pytest.approx(5.0 * lagged / bare)


def test_a_change_costs_the_cheapest_item_that_brings_it(bench: Bench, in_hand: Design) -> None:
    display = used_with(in_hand, procedure_named("whole-counts"), "none")
    two = used_with(in_hand, procedure_named("two-powers"), "none")
    stepped = replace(bench.heaters[0], name="stepped", control=(350.0, 700.0, 1400.0), price=61.0, owned=0)
    finer = CHANGES["finer-reading"].make(in_hand)
    assert finer is not None

    assert extra_price(bench, in_hand.kit, in_hand.kit) == 0.0
    assert extra_price(bench, in_hand.kit, finer.kit) == 0.0
    assert extra_price(bench, in_hand.kit, display.kit) == 95.0
    assert extra_price(bench, in_hand.kit, two.kit) is None
    assert extra_price(bench.with_shelves(heater=(*bench.heaters, stepped)), in_hand.kit, two.kit) == 95.0 + 61.0


def test_a_jacket_costs_the_sleeve_that_fits_or_another_vessel_that_has_one(bench: Bench, in_hand: Design) -> None:
    jacketed = CHANGES["jacket"].make(in_hand)
    assert jacketed is not None
    lagged = replace(bench.vessels[0], name="lagged", jacket=Jacket("12 mm", 0.012), price=33.0, owned=0)
    sleeve = Fitting(name="sleeve", role="jacket", makes=Jacket("12 mm", 0.012), mass=0.07, price=12.5)
    other = replace(sleeve, name="narrow", fits=("another",), price=4.0)

    def price(**shelves: tuple[Vessel | Fitting, ...]) -> float | None:
        return extra_price(bench.with_shelves(**shelves), in_hand.kit, jacketed.kit)

    bare = (in_hand.kit.vessel,)
    assert price(vessel=bare, jacket=()) is None
    assert price(vessel=bare, jacket=(other,)) is None
    assert price(vessel=bare, jacket=(other, sleeve)) == 12.5
    assert price(vessel=(*bare, lagged), jacket=()) == 33.0
    assert price(vessel=(*bare, lagged), jacket=(sleeve,)) == 12.5


def test_removing_an_error_of_opposite_sign_makes_the_uncorrected_value_worse(in_hand: Design) -> None:
    # Heat loss pushes up, the stem pushes down: hanging the heater takes the stem away and leaves the loss.
    hung = CHANGES["hung-heater"].make(in_hand)
    assert hung is not None

    assert rms_error(hung, SAMPLE) > rms_error(in_hand, SAMPLE)
    corrected = [replace(setup, correction="calculated") for setup in (in_hand, hung)]
    before, after = (rms_error(setup, SAMPLE) for setup in corrected)
    assert after < before


def test_two_powers_overtake_one_run_where_its_bias_outgrows_their_scatter(quiet_bench: Bench) -> None:
    # By hand, for boiling noise u = 0.3 g a reading and loss W alone (no pause): one run has bias W/(P - W) and
    # scatter sqrt(2) u/m; two powers have no bias and scatter 2 u/(m1 - m2), with m1 - m2 = m (P1 - P2)/(P1 - W).
    # Equal rms at (W/(P - W))^2 + 2 (u/m)^2 = 4 (u/(m1 - m2))^2 + a^2, solved here for W by bisection; to u is added
    # 0.1 K of drift, and a is the loss missing at half power, (5 +- 5) % of W, over the 450 W between the powers; both
    # have the bias of air buoyancy, 0.11 %.
    bench = replace(quiet_bench, knowledge={**quiet_bench.knowledge, "wall_loss": Constant(10.0)})
    heater = replace(bench.heaters[0], power=900.0)
    kit = Kit(bench.balances[1], bench.meters[0], heater, bench.vessels[0], bench.mass_sets[0])
    setup = usual_on(bench, kit, 900.0, 0.12)
    setup = replace(setup, kit=replace(setup.kit, meter=replace(bench.meters[0], energy_per_count=0.0)))
    single = replace(setup, procedure=procedure_named("fixed-mass-kept-on"))
    double = used_with(setup, procedure_named("two-powers"), "none")

    def error(place: int, loss: float) -> float:
        return rms_error((single, double)[place], Sample(4096, 3), loss_factor=loss / 10.0)

    found = crossing_between(0, 1, (0.5, 30.0), error)

    drifts = [
        0.1 * float(way.situation.levels.mean[0]) * way.conditions.water.specific_heat / 2.2588e6
        for way in (single, double)
    ]

    def difference(loss: float) -> float:
        gap, air = 0.12 * 450.0 / (900.0 - loss), loss / 450.0
        scatter = [2.0 * 0.3e-3**2 + drift**2 for drift in drifts]
        one = (loss / (900.0 - loss) + 0.0011) ** 2 + scatter[0] / 0.12**2
        return one - 2.0 * scatter[1] / gap**2 - (0.05 * air + 0.0011) ** 2 - (0.05 * air) ** 2 / 3.0

    low, high = 0.5, 30.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if difference(middle) < 0.0 else (low, middle)

    assert found == pytest.approx(low, rel=0.02)


def test_a_crossing_point_is_where_both_methods_have_the_same_rms_error(in_hand: Design) -> None:
    sweeps = {sweep.quantity: sweep for sweep in crossings_of(in_hand, Sample(512, 3))}

    assert sweeps.keys() == {"power", "loss", "scatter"}
    assert sweeps["loss"].crossings
    for crossing in sweeps["loss"].crossings:
        ways = [METHODS[place] for place in (crossing.better_below, crossing.better_above)]
        setups = [used_with(in_hand, way.procedure, way.correction) for way in ways]
        factor = crossing.value / in_hand.loss
        below, above = (100.0 * rms_error(setup, Sample(512, 3), loss_factor=factor) for setup in setups)
        assert below == pytest.approx(above, rel=1e-6)
        assert below == pytest.approx(crossing.rms_percent, rel=1e-6)


def test_the_uncorrected_single_run_is_overtaken_as_the_loss_grows_and_the_scatter_hurts_two_powers_most(
    bench: Bench, in_hand: Design
) -> None:
    loss, scatter = (crossings_of(in_hand, Sample(512, 3))[place] for place in (1, 2))
    single, double = 0, 3

    assert any((one.better_below, one.better_above) == (single, double) for one in loss.crossings)
    growth = [errors[-1] - errors[0] for errors in scatter.rms_percent]
    assert int(np.argmax(growth)) == double


def test_the_population_is_the_same_for_the_same_seed_and_counts_only_what_is_possible(bench: Bench) -> None:
    first, again, other = (
        population_of(bench, seed, Sample(128, seed), quiet, kits=12) for seed in (5, 5, 6)
    )  # fmt: skip

    assert first == again
    assert first.procedures != other.procedures
    assert first.kits == 12
    assert first.drawn >= 12
    for one in (*first.procedures, *first.improvements):
        assert 0 <= one.wins <= one.possible <= 12
        assert one.interval[0] <= (one.wins / one.possible if one.possible else 0.5) <= one.interval[1]
    assert first.procedures[0].wins == 0
    assert first.procedures[0].median_ratio == 1.0
    assert sum(one.best for one in first.procedures) >= 12


def test_correcting_for_the_loss_wins_on_nearly_every_plausible_kit(bench: Bench) -> None:
    population = population_of(bench, 1, Sample(128, 1), quiet, kits=40)
    calculated = next(
        one
        for one in population.procedures
        if (one.way.key, one.way.correction) == ("fixed-mass-restart", "calculated")
    )

    assert calculated.possible == 40
    assert calculated.interval[0] > 0.5


@given(successes=st.integers(0, 40), more=st.integers(0, 40))
def test_the_binomial_interval_is_that_of_scipy(successes: int, more: int) -> None:
    # scipy.stats.binomtest, method "exact" (Clopper and Pearson 1934).
    from scipy.stats import binomtest

    trials = successes + more
    if trials == 0:
        assert binomial_interval(0, 0) == (0.0, 1.0)
        return
    exact = binomtest(successes, trials).proportion_ci(0.95, "exact")

    assert binomial_interval(successes, trials) == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_the_kit_in_hand_is_what_is_used_today(bench: Bench) -> None:
    setup, reason = kit_in_hand(conditions_of(bench), 0, 256, 1, quiet)

    assert reason is None
    assert setup.kit.heater.name == "weaker"
    assert setup.procedure.identifier == "fixed-mass-restart"


def test_without_a_kit_in_use_the_recommended_one_is_compared_and_the_reason_said(bench: Bench) -> None:
    unstated = replace(bench, current=Current())
    setup, reason = kit_in_hand(conditions_of(unstated), 0, 256, 1, quiet)

    assert reason is not None
    assert reason.key.startswith("today_")
    assert (setup.procedure.identifier, setup.correction) == ("fixed-mass-restart", "none")


def test_a_bench_on_which_nothing_works_is_told_so(bench: Bench) -> None:
    short = replace(bench, current=Current(), lesson=replace(bench.lesson, length=600.0))

    with pytest.raises(DesignError, match="no kit to compare methods on"):
        compare_bench(short, trials=128)


def test_a_comparison_holds_together(bench: Bench) -> None:
    found = compare_bench(bench, seed=2, trials=512, kits=15)

    for method in (found.usual, *found.procedures, *found.improvements):
        rms = np.hypot(method.bias_percent, method.standard_uncertainty_percent)
        assert method.rms_error_percent == pytest.approx(rms, rel=1e-9)
        assert method.interval_percent[0] < method.bias_percent < method.interval_percent[1]
        assert method.design.model.at_estimates() == pytest.approx(method.design.reference, rel=0.2)
        assert method.design.procedure.cancels
        assert method.design.procedure.keeps
    corrections = {(method.design.procedure, method.design.correction) for method in found.procedures}
    assert len(corrections) == len(found.procedures) == 18
    low, estimate, high = found.heater_off.mistakes_percent
    assert 0.0 < low < estimate < high
    assert found.heater_off.results_percent[1] > estimate


def test_readings_to_take_are_every_mark_of_every_run(in_hand: Design) -> None:
    # Two rows a run at each power; a series one row a mark; a cooling run five rows more.

    def rows(identifier: str, number: int, repeats: int = 1) -> int:
        setup = replace(used_with(in_hand, procedure_named(identifier, number), "none"), repeats=repeats)
        return rows_of_readings(setup)

    assert rows("fixed-mass-restart", 1) == 2
    assert rows("fixed-mass-restart", 1, repeats=3) == 6
    assert rows("two-powers", 2) == 4
    assert rows("series", 1) > 6
    cooled = replace(in_hand, correction="cooling-run")
    assert rows_of_readings(cooled) == 7


def test_errors_are_drawn_from_one_sample_for_all_methods(in_hand: Design) -> None:
    kept = replace(in_hand, procedure=procedure_named("fixed-mass-kept-on"))
    restart, without = (errors_of(setup, SAMPLE) for setup in (in_hand, kept))

    assert np.corrcoef(restart, without)[0, 1] > 0.98
