"""Jackets, lids and guards: bought for a vessel that is in the cupboard, and as good as a vessel that has them."""

from dataclasses import replace

import pytest

from budget.quantities.distributions import Normal
from design.bench import Bench, Current, Lesson
from design.chosen import Design, price_of
from design.evaluation.learned import of_the_bare_vessel
from design.kit import Balance, Fitting, Kit, Vessel, fitted, kit_from
from design.materials import Jacket
from design.procedures.registry import procedure_named
from design.search.candidates import owned_only, vessels_of
from design.search.plan import Plan
from design.search.planning import plan_bench
from design.search.today import current_design
from design.setting.hardware import conditions_of, hardware_of
from tests.design.conftest import BEAM, DISK, HEATER, VESSEL

CORK = Jacket("20 mm cork", 0.02, 0.05)
SLEEVE = Fitting(name="cork sleeve", role="jacket", makes=CORK, mass=0.09, price=9.5)
LID = Fitting(name="lid with a hole", role="lid", makes="loose", mass=0.06, price=4.0)
RING = Fitting(name="splash ring", role="guard", makes="deflector", mass=0.05, price=14.0)


def quick(bench: Bench) -> Plan:
    """Plan on a small sample."""
    return plan_bench(bench, seed=7, trials=512)


def test_a_beaker_in_a_jacket_is_worth_as_much_as_one_that_came_with_it(bench: Bench) -> None:
    jacketed = replace(VESSEL, jacket=CORK)
    offered = replace(bench.with_shelves(jacket=(replace(SLEEVE, price=0.0, mass=0.0),)), knowledge={})

    assert quick(offered).recommended is not None
    best, owned = quick(offered).ranking[0], quick(bench.with_shelves(vessel=(jacketed,))).ranking[0]
    assert best.design.items["jacket"] == "cork sleeve"
    assert best.objective_percent == pytest.approx(owned.objective_percent, rel=1e-12)


def test_a_jacket_for_the_beaker_in_the_cupboard_is_a_purchase_of_the_ladder(bench: Bench) -> None:
    plan = quick(bench.with_shelves(jacket=(SLEEVE,), guard=(RING,)))

    assert plan.answers is not None
    rungs = plan.answers.ladder.rungs
    assert ("jacket", "cork sleeve", 1, 9.5) in [thing for rung in rungs for thing in rung.bought]
    first = next(rung for rung in rungs if rung.bought[0][0] == "jacket")
    assert first.choice.design.items["vessel"] == "beaker"
    assert first.lowered_percent > 0.1


def test_everything_bought_is_paid_for_once_for_each_group(bench: Bench) -> None:
    kit = kit_from(
        {
            "balance": BEAM,
            "meter": DISK,
            "heater": HEATER,
            "vessel": VESSEL,
            "jacket": SLEEVE,
            "lid": LID,
            "guard": RING,
        }
    )

    assert price_of(kit, 1) == 9.5 + 4.0 + 14.0
    assert price_of(replace(kit, fittings=(replace(SLEEVE, owned=2),)), 3) == 9.5


def test_what_is_put_on_a_vessel_goes_on_one_that_has_none_and_that_it_fits(bench: Bench) -> None:
    other = replace(VESSEL, name="jug")
    shelf = (VESSEL, other, replace(VESSEL, name="jacketed", jacket=CORK), replace(VESSEL, name="covered", lid="loose"))
    offered = bench.with_shelves(vessel=shelf, jacket=(replace(SLEEVE, fits=("beaker", "jacketed")),), lid=(LID,))

    uses = [(use.vessel.name, *(fitting.role for fitting in use.fittings)) for use in vessels_of(offered)]

    assert uses == [
        ("beaker",), ("beaker", "lid"), ("beaker", "jacket"), ("beaker", "jacket", "lid"), ("jug",), ("jug", "lid"),
        ("jacketed",), ("jacketed", "lid"), ("covered",),
    ]  # fmt: skip


def test_a_stated_loss_is_that_of_the_bare_vessel_and_falls_as_the_calculated_one(bench: Bench) -> None:
    stated = {"wall_loss": Normal(40.0, 4.0), "base_loss": Normal(6.0, 1.0), "carry_over": Normal(0.01, 0.002)}
    known, unknown = conditions_of(replace(bench, knowledge=stated)), conditions_of(bench)
    sleeved = fitted(VESSEL, (SLEEVE, RING))

    bare, after = (hardware_of(unknown, vessel, HEATER) for vessel in (VESSEL, sleeved))
    scale = {key: after.knowledge[key].mean / bare.knowledge[key].mean for key in stated}
    found = hardware_of(known, sleeved, HEATER)

    assert scale["wall_loss"] < 0.5
    assert scale["base_loss"] == pytest.approx(1.0)
    assert scale["carry_over"] < 1.0
    for key, distribution in stated.items():
        assert found.knowledge[key].mean == pytest.approx(scale[key] * distribution.mean)
        assert found.knowledge[key].standard_uncertainty == pytest.approx(
            scale[key] * distribution.standard_uncertainty
        )


def test_a_vessel_of_its_own_keeps_its_own_stated_loss(bench: Bench) -> None:
    own: Vessel = replace(VESSEL, jacket=CORK, knowledge={"wall_loss": Normal(11.0, 1.0)})

    assert hardware_of(conditions_of(bench), own, HEATER).knowledge["wall_loss"].mean == 11.0


def test_the_balance_carries_what_is_put_on_the_vessel(bench: Bench) -> None:
    procedure, conditions = procedure_named("whole-counts"), conditions_of(bench)
    loads = []
    for fittings in ((), (SLEEVE, LID)):
        weak: Balance = replace(BEAM, capacity=1.0)
        kit = Kit(weak, DISK, HEATER, fitted(VESSEL, fittings), None, fittings)
        design = Design(conditions, kit, procedure, "none", (1400.0,), 0.12)
        limits = {limit.key: limit for limit in design.limits}
        loads.append(float(limits["balance"].excess[0]))
    assert loads[1] > loads[0] + 0.1
    assert loads[1] < loads[0] + 0.2


def test_what_the_cupboard_holds_is_worn_for_nothing_and_valued(bench: Bench) -> None:
    offered = bench.with_shelves(jacket=(replace(SLEEVE, owned=1), replace(SLEEVE, name="dear sleeve")))

    plan = quick(owned_only(offered))

    assert plan.recommended is not None
    assert plan.recommended.design.items["jacket"] == "cork sleeve"
    assert plan.recommended.design.price == 0.0
    assert plan.answers is not None
    sleeve = next(item for item in plan.answers.owned if item.role == "jacket")
    assert sleeve.used
    assert sleeve.with_percent is not None
    assert sleeve.without_percent is not None
    assert sleeve.with_percent < sleeve.without_percent


def test_nothing_put_on_can_make_the_best_worse(bench: Bench) -> None:
    plain, offered = quick(bench), quick(bench.with_shelves(jacket=(SLEEVE,), lid=(LID,), guard=(RING,)))

    assert offered.considered > plain.considered
    assert plain.recommended is not None
    assert offered.recommended is not None
    assert offered.recommended.objective_percent <= plain.recommended.objective_percent * (1.0 + 1e-3)


def test_todays_jacket_is_worn_where_it_is_named(bench: Bench) -> None:
    items = {**bench.current.items, "balance": "beam", "meter": "disk", "heater": "weaker"}
    offered = replace(bench.with_shelves(jacket=(SLEEVE,)), lesson=Lesson(5400.0, 900.0))

    bare, _ = current_design(conditions_of(replace(offered, current=Current(items=items, mass=0.12))))
    worn, _ = current_design(
        conditions_of(replace(offered, current=Current(items={**items, "jacket": "cork sleeve"}, mass=0.12)))
    )

    assert bare is not None
    assert worn is not None
    assert bare.kit.vessel.jacket == Jacket()
    assert worn.kit.vessel.jacket == CORK
    assert worn.kit.items["jacket"].name == "cork sleeve"


def test_what_a_jacketed_beaker_teaches_is_stated_of_the_bare_one_and_found_again_with_the_jacket_on(
    bench: Bench,
) -> None:
    kit = Kit(BEAM, DISK, HEATER, fitted(VESSEL, (SLEEVE,)), None, (SLEEVE,))
    situation = Design(conditions_of(bench), kit, procedure_named("whole-counts"), "none", (1400.0,), 0.12).situation
    seen = {"wall_loss": Normal(14.0, 1.5), "carry_over": Normal(0.004, 0.001), "meter_error": Normal(0.003, 0.002)}

    stated = of_the_bare_vessel(seen, situation)
    found = hardware_of(conditions_of(replace(bench, knowledge=stated)), kit.vessel, HEATER)

    assert stated["wall_loss"].mean > 30.0
    assert stated["meter_error"] == seen["meter_error"]
    assert found.knowledge["wall_loss"].mean == pytest.approx(14.0)
    assert found.knowledge["wall_loss"].standard_uncertainty == pytest.approx(1.5)
    assert found.knowledge["carry_over"].mean == pytest.approx(0.004)
