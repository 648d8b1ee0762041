"""Measurement models of the procedures: limiting cases, closed forms, and what each of them cancels."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import Constant, Normal, Triangular
from budget.sampling.montecarlo import simulate
from budget.sampling.sensitivity import sobol_indices
from design.bench import Bench
from design.chosen import all_terms, program_of
from design.kit import Kit
from design.procedures.face import Correction, Procedure, estimate, measurement_model, pace_of
from design.procedures.registry import PROCEDURES, procedure_named
from design.procedures.shared import reading_uncertainty
from design.search.ranking import walk
from design.search.sample import Sample, relative_errors
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, situation_of

AT_ONE_POWER = [procedure for procedure in PROCEDURES if procedure.number_of_powers == 1]


def known_exactly(model: MeasurementModel, symbol: str, value: float) -> MeasurementModel:
    inputs = (replace(q, distribution=Constant(value)) if q.symbol == symbol else q for q in model.inputs)
    return replace(model, inputs=tuple(inputs))


def model_for(
    bench: Bench, kit: Kit, procedure: Procedure, correction: Correction, settings: Settings
) -> MeasurementModel:
    """Measurement model of one setting."""
    conditions = conditions_of(bench)
    situation = situation_of(
        conditions, kit, hardware_of(conditions, kit.vessel, kit.heater), settings, pace_of(procedure, correction)
    )
    return measurement_model(procedure, correction, all_terms(procedure, correction, situation), 0)


def kit_of(bench: Bench, procedure: Procedure) -> Kit:
    """First item of every shelf, and a display where the procedure needs one."""
    balance = bench.balances[1] if procedure.needs_display else bench.balances[0]
    masses = bench.mass_sets[0] if procedure.needs_mass_set else None
    return Kit(balance, bench.meters[0], bench.heaters[0], bench.vessels[0], masses)


@pytest.mark.parametrize(
    "procedure", AT_ONE_POWER, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
@pytest.mark.parametrize("correction", ["none", "calculated"])
def test_without_losses_the_reference_comes_out_but_for_the_air(
    quiet_bench: Bench, procedure: Procedure, correction: Correction, one_setting: Callable[..., Settings]
) -> None:
    model = model_for(quiet_bench, kit_of(quiet_bench, procedure), procedure, correction, one_setting())
    reference = conditions_of(quiet_bench)
    expected = reference.water.latent_heat * (reference.buoyancy if correction == "none" else 1.0)

    assert model.at_estimates() == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "procedure", AT_ONE_POWER, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
@given(
    loss=st.floats(0.0, 150.0), share=st.floats(0.0, 1e-3), stem=st.floats(0.0, 0.05), power=st.floats(400.0, 3000.0)
)
def test_the_uncorrected_value_is_off_by_loss_carry_over_and_stem_alone(
    procedure: Procedure, loss: float, share: float, stem: float, power: float
) -> None:
    # Energy balance by hand: P t = L m_vapour + W t, m_vapour = m (1 - s)(1 - a/A), so
    # (L_app - L)/L = (1 + W/(P - W)) (1 - s)(1 - a/A) - 1.
    program = program_of(procedure, "none")
    off = dict.fromkeys(program.symbols, 0.0) | {"steep": 1.0, "settled": 1.0}
    values = off | {
        "L_ref": 2.2565e6, "P_set": power, "P_ref": power, "N": 1.0, "b": 1.0, "k": 9600.0, "W_wall": loss,
        "s_splash": share, "a_A": stem,
    }  # fmt: skip
    values |= {"n": 31.0} if "n" in program.symbols else {"m_step": 0.12}

    bias = float(program.evaluate(values)) / 2.2565e6 - 1.0

    assert bias == pytest.approx((1 + loss / (power - loss)) * (1 - share) * (1 - stem) - 1, abs=1e-12)


@pytest.mark.parametrize(
    "procedure", AT_ONE_POWER, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
def test_the_share_of_the_loss_goes_to_nothing_as_power_grows(procedure: Procedure) -> None:
    program = program_of(procedure, "none")
    values = dict.fromkeys(program.symbols, 0.0) | {"steep": 1.0, "settled": 1.0}
    values |= {"L_ref": 2.2565e6, "P_ref": 1.0, "N": 1.0, "b": 1.0, "k": 9600.0, "W_wall": 65.0, "P_set": 1e12}
    values |= {"n": 31.0} if "n" in program.symbols else {"m_step": 0.12}

    assert float(program.evaluate(values)) == pytest.approx(2.2565e6, rel=1e-9)


@pytest.mark.parametrize(
    "procedure", AT_ONE_POWER, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
@pytest.mark.parametrize(
    ("symbol", "value", "error"),
    [
        ("W_wall", 0.0, 0.0),
        ("s_splash", 0.0, 0.0),
        ("a_A", 0.0, 0.0),
        ("W_wall", 65.0, 65.0 / (1000.0 - 65.0)),
        ("s_splash", 0.001, -0.001),
        ("s_splash", 0.004, -0.008),
        ("s_splash", 0.02, -0.02 * 10.0**0.5),
        ("a_A", 0.016, -0.016),
    ],
)
def test_without_loss_or_carry_over_or_stem_nothing_is_left_of_it_and_alone_each_has_its_own_sign(
    procedure: Procedure, symbol: str, value: float, error: float
) -> None:
    # Signs and sizes at 1 kW: loss W/(P - W) = +7.0 %, carry-over -s, stem -a/A (energy balance; Archimedes). Above
    # 0.1 % the share s rises as the power 1.5 of the cube law, by at most the root of ten (Kataoka and Ishii 1984).
    program = program_of(procedure, "none")
    values = dict.fromkeys(program.symbols, 0.0) | {"steep": 1.0, "settled": 1.0}
    values |= {"L_ref": 2.2565e6, "P_set": 1000.0, "P_ref": 1000.0, "N": 1.0, "b": 1.0, "k": 9600.0, symbol: value}
    values |= {"n": 31.0} if "n" in program.symbols else {"m_step": 0.12}

    assert float(program.evaluate(values)) / 2.2565e6 - 1.0 == pytest.approx(error, abs=1e-12)


def test_tip_to_tip_the_restart_costs_the_heat_lost_in_the_pause() -> None:
    # m c dT - L m_pause = W t_pause: 65 W for 30 s is 1950 J, on 0.12 kg of vapour 0.72 % of L.
    program = program_of(procedure_named("fixed-mass-restart"), "none")
    values = dict.fromkeys(program.symbols, 0.0) | {"steep": 1.0, "settled": 1.0}
    values |= {"L_ref": 2.2565e6, "P_set": 1400.0, "P_ref": 1400.0, "N": 1.0, "b": 1.0, "k": 9600.0, "m_step": 0.12}
    alone = float(program.evaluate(values | {"W_wall": 65.0, "t_pause": 0.0}))
    paused = float(program.evaluate(values | {"W_wall": 65.0, "t_pause": 30.0}))

    assert paused - alone == pytest.approx(65.0 * 30.0 / 0.12 * 1400.0 / (1400.0 - 65.0), rel=1e-9)


def test_whole_turns_read_to_the_nearest_turn_err_like_the_difference_of_two_roundings(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    # Difference of two independent rectangular errors of half a count each: triangular, half-width one count,
    # u = 1/sqrt(6) (JCGM 100:2008, F.2.2.1 and 4.4.6).
    model = model_for(bench, kit, procedure_named("fixed-mass-kept-on"), "none", one_setting(mass=0.12))
    counting = model.distributions["d_count"]

    assert counting == Triangular(-1.0, 1.0)
    assert counting.standard_uncertainty == pytest.approx(1 / math.sqrt(6))
    assert abs(propagate(model).contributions["d_count"]) == pytest.approx(9600.0 / 0.12 / math.sqrt(6), rel=1e-9)


def test_simulated_roundings_of_both_readings_have_the_triangular_spread() -> None:
    generator = np.random.default_rng(7)
    start, true = generator.uniform(0, 1, 400_000), generator.uniform(30.0, 33.0, 400_000)
    error = np.round(start + true) - np.round(start) - true

    assert error.mean() == pytest.approx(0.0, abs=0.003)
    assert error.std() == pytest.approx(1 / math.sqrt(6), rel=0.005)
    assert np.abs(error).max() <= 1.0


def test_whole_counts_have_no_counting_error(bench: Bench, one_setting: Callable[..., Settings]) -> None:
    procedure = procedure_named("whole-counts")
    model = model_for(bench, kit_of(bench, procedure), procedure, "none", one_setting())

    assert "d_count" not in model.symbols


def test_whole_counts_make_the_mass_step_a_whole_number_of_turns(
    bench: Bench, one_setting: Callable[..., Settings]
) -> None:
    procedure = procedure_named("whole-counts")
    conditions, kit = conditions_of(bench), kit_of(bench, procedure_named("whole-counts"))
    situation = situation_of(
        conditions, kit, hardware_of(conditions, kit.vessel, kit.heater), one_setting(mass=0.12), procedure.pace
    )

    # By hand: 0.12 kg x 2258.8 kJ/kg x 0.9898 x 1.0011 x 1400/(1398.3 - 74) / 9.6 kJ = 29.6 turns, so 30.
    assert situation.runs.counts[0] == 30.0
    assert situation.runs.mass[0] == pytest.approx(0.12, rel=0.02)


def test_doubling_the_mass_step_halves_the_counting_error(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    shares = [
        propagate(model_for(bench, kit, procedure_named("fixed-mass-restart"), "none", one_setting(mass=mass)))
        .contributions["d_count"]
        for mass in (0.12, 0.24)
    ]  # fmt: skip

    assert shares[0] == pytest.approx(2.0 * shares[1])


def test_repeats_average_the_scatter_but_not_what_all_runs_share(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    once, four = (
        propagate(
            model_for(bench, kit, procedure_named("fixed-mass-kept-on"), "none", one_setting(mass=0.05, repeats=n))
        ).contributions
        for n in (1, 4)
    )

    assert abs(four["d_count"]) == pytest.approx(abs(once["d_count"]) / 2.0)
    assert abs(four["e_meter"]) == pytest.approx(abs(once["e_meter"]), rel=1e-3)
    assert abs(four["W_wall"]) == pytest.approx(abs(once["W_wall"]), rel=0.01)


def test_a_hung_heater_has_no_stem_source(bench: Bench, kit: Kit, one_setting: Callable[..., Settings]) -> None:
    hung = replace(kit, heater=replace(kit.heater, held_by="vessel"))
    model = model_for(bench, hung, procedure_named("fixed-mass-kept-on"), "none", one_setting())

    assert model.distributions["a_A"].mean == 0.0
    assert propagate(model).contributions.get("a_A", 0.0) == 0.0


def test_the_estimate_undoes_what_the_model_did(quiet_bench: Bench) -> None:
    # 0.1268 kg shown while 300 kJ go in over 214.3 s at 1400 W, 24 W lost, 600 J into a jacket, 0.9 % carried over,
    # 1.1 % stem.
    known = {
        "W_wall_est": 24.0, "W_base_est": 0.0, "W_return_est": 0.0, "s_splash_est": 0.009, "a_A_est": 0.011,
        "e_meter_est": 0.0, "e_lead_est": 0.0, "b": 1.0011, "w_dry_est": 0.5, "e_still_est": 0.0, "dry": 0.0,
            "above": 0.5, "Q_stored": 600.0, "e_stored_est": 1.0,
    }  # fmt: skip
    by_hand = (300e3 - 600.0 - 24.0 * 214.3) / (0.1268 * 0.991 * 0.989 * 1.0011)

    value = estimate(
        procedure_named("whole-counts"), "calculated", {"E_read": 300e3, "m_read": 0.1268, "t": 214.3}, known
    )

    assert value == pytest.approx(by_hand, rel=1e-12)
    assert (
        estimate(procedure_named("whole-counts"), "none", {"E_read": 300e3, "m_read": 0.1268, "t": 1.0}, {})
        == 300e3 / 0.1268
    )


def test_propagation_simulation_and_closed_form_agree_where_the_model_is_nearly_straight(
    quiet_bench: Bench, one_setting: Callable[..., Settings]
) -> None:
    # One source, 25 +- 2 W of 1400 W: bias W/(P - W), u = P u(W)/(P - W)^2, of L times the buoyancy factor.
    knowledge = {**quiet_bench.knowledge, "wall_loss": Normal(25.0, 2.0)}
    bench = replace(quiet_bench, knowledge=knowledge)
    procedure = procedure_named("fixed-mass-kept-on")
    kit = kit_of(bench, procedure)
    noiseless = replace(kit, meter=replace(kit.meter, kind="volt-ampere", energy_per_count=0.0))
    model = model_for(bench, noiseless, procedure, "none", one_setting())
    for symbol in ("d_boiling", "Q_drift"):
        model = known_exactly(model, symbol, 0.0)
    reference = conditions_of(bench).water.latent_heat * conditions_of(bench).buoyancy
    closed = reference * 1400.0 * 2.0 / (1400.0 - 25.0) ** 2

    propagation = propagate(model)
    simulation = simulate(model, trials=2**14, seed=3)

    assert propagation.estimate == pytest.approx(reference * (1 + 25.0 / 1375.0), rel=1e-9)
    assert propagation.standard_uncertainty == pytest.approx(closed, rel=1e-6)
    assert simulation.standard_uncertainty == pytest.approx(closed, rel=2e-3)


@pytest.mark.parametrize(
    "procedure", AT_ONE_POWER, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
def test_the_walk_adds_up_to_the_error_at_the_expected_values(
    bench: Bench, procedure: Procedure, one_setting: Callable[..., Settings]
) -> None:
    conditions, kit = conditions_of(bench), kit_of(bench, procedure)
    situation = situation_of(
        conditions, kit, hardware_of(conditions, kit.vessel, kit.heater), one_setting(), procedure.pace
    )
    terms = all_terms(procedure, "none", situation)
    model = measurement_model(procedure, "none", terms, 0)

    steps = walk(program_of(procedure, "none"), terms)

    assert sum(steps.values()) == pytest.approx(model.at_estimates() / conditions.water.latent_heat - 1.0, rel=1e-9)
    assert steps["W_wall"] > 0.0 > steps["a_A"]
    assert steps["b"] == pytest.approx(0.0011, abs=2e-4)


def test_shares_sum_to_one_and_freezing_the_top_source_lowers_u_by_its_share(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    model = model_for(bench, kit, procedure_named("fixed-mass-restart"), "none", one_setting(mass=0.12))
    indices = sobol_indices(model, base=4096, seed=5)
    top = indices.symbols[int(np.argmax(indices.total))]

    whole = simulate(model, trials=2**14, seed=3).standard_uncertainty
    frozen = known_exactly(model, top, model.distributions[top].mean)
    rest = simulate(frozen, trials=2**14, seed=3).standard_uncertainty

    assert indices.total.sum() == pytest.approx(1.0, abs=0.02)
    assert rest**2 / whole**2 == pytest.approx(1.0 - indices.total.max(), abs=0.02)


def test_common_draws_are_the_same_in_every_design(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    conditions = conditions_of(bench)
    procedure = procedure_named("fixed-mass-kept-on")
    sample = Sample(256, 11)

    def errors(power: float) -> np.ndarray[Any, Any]:
        situation = situation_of(
            conditions, kit, hardware_of(conditions, kit.vessel, kit.heater), one_setting(power=power), procedure.pace
        )
        every = relative_errors(program_of(procedure, "none"), all_terms(procedure, "none", situation), sample)
        return np.asarray(every[0])

    near, far = errors(1400.0), errors(1390.0)

    assert np.std(near - far) < 0.05 * np.std(near)


def test_a_beam_is_judged_and_a_display_is_read(bench: Bench) -> None:
    # Half a digit rectangular, repeatability, and on the beam the judged balance point, in root sum of squares.
    beam, display = bench.balances

    assert reading_uncertainty(beam, 2e-4) == pytest.approx(math.sqrt((5e-5) ** 2 / 3 + (5e-5) ** 2 + (2e-4) ** 2 / 3))
    assert reading_uncertainty(display, 2e-4) == pytest.approx(math.sqrt((5e-5) ** 2 / 3 + (1e-4) ** 2))
