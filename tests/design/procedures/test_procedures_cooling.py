"""Cooling run: the balance finds the loss, its correction takes the loss off, and the usual mistake has its price."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from budget.propagation import propagate
from design.bench import Bench
from design.chosen import all_terms, program_of
from design.errors import DesignError
from design.kit import Kit
from design.physics.water import latent_heat_at
from design.procedures.cooling_run import CoolingRun, cooling_loss, heater_off_mistake
from design.procedures.face import Correction, Procedure, measurement_model, pace_of
from design.procedures.registry import PROCEDURES, procedure_named
from design.procedures.series import Series
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, situation_of

BOILING, ROOM, HEAT = 373.12, 294.15, 4216.0


def simulated(loss: float, evaporation: float, water: float, minutes: float) -> CoolingRun:
    """
    A cooling run stepped in time: water and vessel pay for loss and vapour alike.

    Loss goes with the 1.25th power of the difference to the room; evaporation [kg/s at 95 °C] halves every 17 K.
    """

    def change(_: float, state: np.ndarray) -> list[float]:
        temperature, mass = state
        off = evaporation * 2.0 ** ((temperature - 368.15) / 17.0)
        lost = loss * ((temperature - ROOM) / (BOILING - ROOM)) ** 1.25
        return [-(lost + off * latent_heat_at(round(temperature, 2))) / (mass * HEAT + 350.0), -off]

    times = np.linspace(0.0, 60.0 * minutes, 13)
    solution = solve_ivp(change, (0.0, times[-1]), [370.15, water], t_eval=times, rtol=1e-9, atol=1e-9)
    return CoolingRun(times, solution.y[0], water - solution.y[1], water, 350.0)


@pytest.mark.parametrize(("loss", "water", "minutes"), [(62.0, 0.7, 5.0), (16.0, 0.6, 12.0), (105.0, 1.3, 8.0)])
def test_the_cooling_balance_finds_the_loss_of_a_simulated_run(loss: float, water: float, minutes: float) -> None:
    run = simulated(loss, 2.8e-3 / 60.0, water, minutes)

    assert cooling_loss(run, HEAT, BOILING, ROOM) == pytest.approx(loss, rel=0.01)


def test_leaving_the_vapour_out_of_the_balance_would_more_than_double_the_loss() -> None:
    # 2.8 g/min at 95 °C takes 2.8e-3/60 x 2.27 MJ/kg = 106 W: the reason why mass is read as well as temperature.
    run = simulated(62.0, 2.8e-3 / 60.0, 0.7, 5.0)
    without = replace(run, fall=np.zeros_like(run.fall))

    assert cooling_loss(without, HEAT, BOILING, ROOM) > 2.0 * cooling_loss(run, HEAT, BOILING, ROOM)


def test_a_cooling_run_needs_two_readings_of_hot_water() -> None:
    run = simulated(62.0, 2.8e-3 / 60.0, 0.7, 5.0)
    alone = CoolingRun(run.time[:1], run.temperature[:1], run.fall[:1], 0.7, 350.0)

    with pytest.raises(DesignError, match="two readings or more"):
        cooling_loss(alone, HEAT, BOILING, ROOM)
    with pytest.raises(DesignError, match="between room temperature and boiling point"):
        cooling_loss(replace(run, temperature=run.temperature - 100.0), HEAT, BOILING, ROOM)


def test_subtracting_the_heater_off_rate_makes_the_value_9_to_19_percent_too_high() -> None:
    # 2 to 4 g/min off, 25 g/min on: 1 kW in a vessel of 1 L. 1/(1 - 2/25) - 1 = 8.7 %, 1/(1 - 4/25) - 1 = 19 %.
    assert heater_off_mistake(25.0, 2.0) == pytest.approx(0.087, abs=0.0005)
    assert heater_off_mistake(25.0, 4.0) == pytest.approx(0.190, abs=0.0005)


@given(on=st.floats(1e-4, 2e-3), share=st.floats(0.0, 0.9))
def test_the_mistake_is_never_too_low(on: float, share: float) -> None:
    assert heater_off_mistake(on, share * on) >= 0.0


COOLED = [procedure for procedure in PROCEDURES if "cooling-run" in procedure.corrections]


def test_a_cooling_run_is_offered_wherever_the_loss_must_come_from_elsewhere() -> None:
    assert set(PROCEDURES) - set(COOLED) == {procedure_named("two-powers"), Series(2), Series(3)}


@pytest.mark.parametrize(
    "procedure", COOLED, ids=lambda procedure: f"{procedure.identifier}-{procedure.number_of_powers}"
)
@given(wall=st.floats(5.0, 120.0), base=st.floats(0.0, 10.0), returned=st.floats(0.0, 20.0))
def test_a_perfect_cooling_run_takes_the_loss_off_exactly(
    procedure: Procedure, wall: float, base: float, returned: float
) -> None:
    # W_wall is measured, whatever it is; base and returning steam are known rightly, as is the dry wall: 15 %.
    program = program_of(procedure, "cooling-run")
    values = dict.fromkeys(program.symbols, 0.0) | {"steep": 1.0, "settled": 1.0}
    values |= {"L_ref": 2.2565e6, "P_set": 1400.0, "P_ref": 1400.0, "N": 1.0, "b": 1.0, "k": 9600.0, "fitted": 1.0}
    values |= {"n": 31.0, "m_step": 0.12, "f_freeboard": 0.15, "f_freeboard_est": 0.15, "W_wall": wall}
    values |= {"W_base": base, "W_base_est": base, "W_return": returned, "W_return_est": returned}
    values = {symbol: values[symbol] for symbol in program.symbols}

    assert float(program.evaluate(values)) == pytest.approx(2.2565e6, rel=1e-11)


def test_the_cooling_run_replaces_ignorance_of_the_wall_by_that_of_the_balance(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    procedure, conditions = procedure_named("fixed-mass-kept-on"), conditions_of(bench)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)

    def contributions(correction: Correction) -> dict[str, float]:
        situation = situation_of(conditions, kit, hardware, one_setting(), pace_of(procedure, correction))
        model = measurement_model(procedure, correction, all_terms(procedure, correction, situation), 0)
        return dict(propagate(model).contributions)

    calculated, cooled = contributions("calculated"), contributions("cooling-run")

    assert abs(cooled["W_wall"]) < 0.02 * abs(calculated["W_wall"])
    # By hand: 5 % of all the heat that the water gives up, 0.85 W_wall + W_base and that of 5.5 g/(m2 s) of vapour,
    # scaled to the boil from 6.5 K below, over 0.85.
    wall, base = hardware.knowledge["wall_loss"].mean, hardware.knowledge["base_loss"].mean
    scale = (1.0 - 6.5 / (conditions.water.boiling_point - conditions.room_temperature)) ** -1.25
    vapour = scale * 5.5e-3 * hardware.area * conditions.water.latent_heat
    expected = 0.05 * (0.85 * wall + base + vapour) / 0.85 / (0.25 * wall)
    assert abs(cooled["e_cooling"] / calculated["W_wall"]) == pytest.approx(expected, rel=1e-3)


def test_a_cooling_run_takes_eight_minutes_of_the_lesson(
    bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    procedure, conditions = procedure_named("fixed-mass-kept-on"), conditions_of(bench)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    plain, cooled = (
        situation_of(conditions, kit, hardware, one_setting(), pace_of(procedure, correction))
        for correction in ("none", "cooling-run")
    )

    assert cooled.total_time[0] - plain.total_time[0] == pytest.approx(480.0)
    assert dict(cooled.time_table)["cooling_run"][0] == 480.0
    assert "cooling_run" not in dict(plain.time_table)
