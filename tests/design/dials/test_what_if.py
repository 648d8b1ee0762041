"""The model with dials is the design's own: at any setting it says what the search would say of that setting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import Constant, scaled
from design.bench import Bench
from design.chosen import Design, all_terms
from design.dials.what_if import WhatIf, what_if
from design.kit import Kit
from design.limits import END, limits_of
from design.procedures.face import Correction, Procedure, measurement_model, pace_of
from design.procedures.registry import PROCEDURES
from design.setting.equations import numbered
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, Situation, situation_of

POWERS = {1: (1400.0,), 2: (1400.0, 700.0), 3: (1400.0, 900.0, 500.0)}
WAYS = [(procedure, correction) for procedure in PROCEDURES for correction in procedure.corrections]
WATCHED = {
    "time",
    "circuit",
    "fill",
    "rim",
    "balance",
    "mass_step",
    "meter_current",
    "meter_power",
    "meter_start",
    "timing",
    "steady",
}


@pytest.fixture(params=["whole", "timed"])
def kit(bench: Bench, request: pytest.FixtureRequest) -> Kit:
    meter = replace(bench.meters[1], max_power=2200.0, start_current=2.0, reads=request.param)
    return Kit(bench.balances[0], meter, bench.heaters[0], bench.vessels[0], bench.mass_sets[0])


def setting_of(bench: Bench, kit: Kit, procedure: Procedure, correction: Correction, settings: Settings) -> Situation:
    conditions = conditions_of(bench)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    return situation_of(conditions, kit, hardware, settings, pace_of(procedure, correction))


def planned(bench: Bench, kit: Kit, procedure: Procedure, correction: Correction) -> Design:
    return Design(conditions_of(bench), kit, procedure, correction, POWERS[procedure.number_of_powers], 0.25, 3)


def turned(found: WhatIf, values: dict[str, float], *, follow: bool = True) -> MeasurementModel:
    """The model with its dials at other values."""
    constants = dict(values)
    for dial in found.dials:
        if dial.follower:
            constants[dial.follower] = values[dial.symbol] if follow else dial.value
    inputs = tuple(
        replace(quantity, distribution=Constant(constants[quantity.symbol]))
        if quantity.symbol in constants
        else quantity
        for quantity in found.model.inputs
    )
    return replace(found.model, inputs=inputs)


def anywhere(found: WhatIf, random: np.random.Generator) -> dict[str, float]:
    """Dials anywhere in their ranges."""
    values = {}
    for dial in found.dials:
        if dial.steps == "whole":
            values[dial.symbol] = float(random.integers(int(dial.low), int(dial.high) + 1))
        elif dial.steps == "ratio":
            values[dial.symbol] = float(np.exp(random.uniform(np.log(dial.low), np.log(dial.high))))
        else:
            values[dial.symbol] = float(random.uniform(dial.low, dial.high))
    return values


def searched(
    bench: Bench, kit: Kit, procedure: Procedure, correction: Correction, values: dict[str, float]
) -> tuple[Situation, MeasurementModel]:
    """The same setting by the way of the search: another bench, another meter, another row of settings."""
    hardware = hardware_of(conditions_of(bench), kit.vessel, kit.heater)
    factor = values["loss"] / hardware.loss
    known = {key: scaled(hardware.knowledge[key], factor) for key in ("wall_loss", "base_loss", "return_loss")}
    splash = hardware.knowledge["carry_over"]
    known["carry_over"] = scaled(splash, values["carry_over"] / splash.mean)
    meter = replace(kit.meter, energy_per_count=values["step_energy"])
    powers = [values[numbered("P_set", number + 1)] for number in range(procedure.number_of_powers)]
    settings = Settings(np.array([powers]), np.array([values["mass"]]), np.array([values["N"]]))
    other = replace(bench, knowledge={**bench.knowledge, **known})
    situation = setting_of(other, replace(kit, meter=meter), procedure, correction, settings)
    return situation, measurement_model(procedure, correction, all_terms(procedure, correction, situation), 0)


@pytest.mark.parametrize(("procedure", "correction"), WAYS, ids=lambda way: getattr(way, "name", way))
def test_the_dials_give_what_the_search_gives_at_the_same_setting(
    bench: Bench, kit: Kit, procedure: Procedure, correction: Correction
) -> None:
    found = what_if(planned(bench, kit, procedure, correction))
    random = np.random.default_rng(20)

    for _ in range(8):
        values = anywhere(found, random)
        by_dials = propagate(turned(found, values))
        _, model = searched(bench, kit, procedure, correction, values)
        by_search = propagate(model)
        # Not physics but one computation written twice, so rounding is all that may differ.
        assert by_dials.estimate == pytest.approx(by_search.estimate, rel=1e-9)
        assert by_dials.standard_uncertainty == pytest.approx(by_search.standard_uncertainty, rel=1e-9)
        for symbol, contribution in by_search.contributions.items():
            own = by_dials.contributions.get(f"x_{symbol}", by_dials.contributions.get(symbol, 0.0))
            assert own == pytest.approx(contribution, rel=1e-8, abs=1e-6)


@pytest.mark.parametrize(("procedure", "correction"), WAYS, ids=lambda way: getattr(way, "name", way))
def test_water_time_counts_and_limits_follow_the_dials_as_in_the_search(
    bench: Bench, kit: Kit, procedure: Procedure, correction: Correction
) -> None:
    found = what_if(planned(bench, kit, procedure, correction))
    random = np.random.default_rng(21)

    for _ in range(8):
        values = anywhere(found, random)
        model = turned(found, values)
        steps = {symbol: float(value) for symbol, value in model.evaluate_all(model.estimates).items()}
        reached = {**model.estimates, **steps}
        situation, _ = searched(bench, kit, procedure, correction, values)
        assert reached["fill"] == pytest.approx(float(situation.levels.fill[0]), rel=1e-9)
        assert reached["lesson_time"] == pytest.approx(float(situation.total_time[0]), rel=1e-9)
        assert reached["mass_1"] == pytest.approx(float(situation.runs.mass[0]), rel=1e-9)
        assert reached["counts_1"] == pytest.approx(float(situation.runs.counts[0]), rel=1e-9)
        assert reached["freeboard"] == pytest.approx(float(situation.levels.first_freeboard[0]), abs=1e-12)
        assert reached["thrown_1"] == pytest.approx(float(situation.carry_over[0]), rel=1e-9)
        limits = {limit.key: float(np.ravel(limit.excess)[0]) for limit in limits_of(situation, procedure, 0.0)}
        for allowance in found.allowances:
            if allowance.key.removesuffix(END) in WATCHED:
                value, bound = reached[allowance.value], reached[allowance.bound]
                broken = value < bound if allowance.at_least else value > bound
                assert broken == (limits[allowance.key] > 0.0), allowance.key


def test_every_limit_that_a_dial_can_cross_is_watched(bench: Bench, kit: Kit) -> None:
    design = planned(bench, kit, PROCEDURES[0], "none")
    watched = {one.key for one in what_if(design).allowances if one.key.removesuffix(END) in WATCHED}
    ways = {limit.key for limit in design.limits}

    # Money and the width of the vessel do not depend on the setting; marks that are not timed may follow at any pace.
    unmoved = {"price", "stems", "meter_voltage_end"}
    untimed = set() if kit.meter.reads == "timed" else {"timing", "timing_end"}
    assert ways - unmoved - untimed == watched


def test_a_correction_that_does_not_know_a_changed_loss_leaves_a_bias(bench: Bench, kit: Kit) -> None:
    procedure = PROCEDURES[1]
    found = what_if(planned(bench, kit, procedure, "calculated"))
    values = {dial.symbol: dial.value for dial in found.dials}
    values["loss"] *= 1.5
    reference = found.model.estimates["L_ref"]
    power = values["P_set"]

    known = propagate(turned(found, values)).estimate / reference - 1.0
    unknown = propagate(turned(found, values, follow=False)).estimate / reference - 1.0

    # Energy balance of the boil: an unknown loss of dW at the power P makes L too high by about dW/(P - W).
    assert known == pytest.approx(0.0, abs=1e-9)
    assert unknown == pytest.approx((values["loss"] / 3.0) / (power - values["loss"]), rel=0.02)


def test_an_uncorrected_loss_costs_its_share_of_the_power(bench: Bench, kit: Kit) -> None:
    procedure = PROCEDURES[1]
    found = what_if(planned(bench, kit, procedure, "none"))
    values = {dial.symbol: dial.value for dial in found.dials}
    reference = found.model.estimates["L_ref"]
    without = propagate(turned(found, {**values, "loss": 0.0})).estimate / reference

    with_loss = propagate(turned(found, values)).estimate / reference

    # P = L dm/dt + W: the readings give L P/(P - W), but for the flex and the restless reading.
    assert with_loss / without == pytest.approx(values["P_set"] / (values["P_set"] - values["loss"]), rel=1e-3)
    assert not any(dial.follower for dial in found.dials)


def test_a_bench_without_losses_has_no_dials_for_them(quiet_bench: Bench) -> None:
    kit = Kit(
        quiet_bench.balances[0], quiet_bench.meters[1], quiet_bench.heaters[0], quiet_bench.vessels[0],
        quiet_bench.mass_sets[0],
    )  # fmt: skip
    for procedure, correction in WAYS:
        found = what_if(planned(quiet_bench, kit, procedure, correction))

        assert {dial.kind for dial in found.dials} == {"power", "mass", "step_energy", "repeats"}
        assert propagate(found.model).estimate == pytest.approx(found.model.estimates["L_ref"], rel=2e-3)


def test_every_dial_starts_within_its_range(bench: Bench, kit: Kit) -> None:
    for procedure, correction in WAYS:
        found = what_if(planned(bench, kit, procedure, correction))

        assert all(dial.low <= dial.value <= dial.high for dial in found.dials)
        assert all(found.model.estimates[dial.symbol] == dial.value for dial in found.dials)
