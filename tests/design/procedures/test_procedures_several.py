"""Two powers and series: what cancels, what does not, and whether the budget foresees the scatter of the fit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.model.measurement import MeasurementModel
from budget.model.unit_check import check_units
from budget.propagation import propagate
from budget.quantities.distributions import Constant, Rectangular
from budget.sampling.montecarlo import simulate
from design.bench import Bench
from design.chosen import all_terms, program_of
from design.evaluation.straight_lines import straight_line
from design.kit import Heater, Kit
from design.procedures.face import Correction, Procedure, measurement_model, pace_of
from design.procedures.registry import PROCEDURES, procedure_named
from design.procedures.series import Series, fitted_share
from design.procedures.several_powers import apart
from design.procedures.two_powers import TwoPowers
from design.search.candidates import settings_of
from design.search.ranking import walk
from design.setting.equations import compiled
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, Situation, situation_of

SEVERAL: tuple[Procedure, ...] = (TwoPowers(), Series(2), Series(3))
POWERS = (1400.0, 800.0, 450.0)


def known_exactly(model: MeasurementModel, symbol: str, value: float) -> MeasurementModel:
    inputs = (replace(q, distribution=Constant(value)) if q.symbol == symbol else q for q in model.inputs)
    return replace(model, inputs=tuple(inputs))


def named(procedure: Procedure) -> str:
    """Name of a procedure as the id of a test."""
    return f"{procedure.identifier}-{procedure.number_of_powers}"


def stepped_kit(bench: Bench) -> Kit:
    """Display balance, disk meter and a heater that can be set to any power."""
    heater: Heater = replace(bench.heaters[0], control="stepless")
    return Kit(bench.balances[1], bench.meters[0], heater, bench.vessels[0])


def settings_for(procedure: Procedure, mass: float = 0.25, repeats: int = 1) -> Settings:
    """One setting at as many powers as the procedure takes."""
    powers = POWERS[: procedure.number_of_powers]
    return Settings(np.array([powers]), np.array([mass]), np.array([float(repeats)]))


def situation_for(
    bench: Bench, procedure: Procedure, correction: Correction = "none", mass: float = 0.25, repeats: int = 1
) -> Situation:
    """The stepped kit at one setting."""
    conditions, kit = conditions_of(bench), stepped_kit(bench)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    settings = settings_for(procedure, mass, repeats)
    return situation_of(conditions, kit, hardware, settings, pace_of(procedure, correction))


def model_for(bench: Bench, procedure: Procedure, correction: Correction, mass: float = 0.25) -> MeasurementModel:
    """Measurement model of one setting."""
    situation = situation_for(bench, procedure, correction, mass)
    return measurement_model(procedure, correction, all_terms(procedure, correction, situation), 0)


def values_without_errors(procedure: Procedure, correction: Correction = "none") -> dict[str, float]:
    """Every symbol of a model: nothing lost, nothing wrong, 1400 W and less for 300 s or 40 counts and less."""
    symbols = program_of(procedure, correction).symbols
    values = dict.fromkeys(symbols, 0.0)
    values |= {"L_ref": 2.2565e6, "N": 1.0, "b": 1.0, "t": 300.0, "steep": 1.0, "settled": 1.0}
    for number, power in enumerate(POWERS, start=1):
        suffix = "" if number == 1 else f"_{number}"
        values |= {
            f"P_set{suffix}": power, f"lead{suffix}": power / POWERS[0], f"splash{suffix}": (power / POWERS[0]) ** 3,
            f"cubes{suffix}": (power / POWERS[0]) ** 3,
            f"dry{suffix}": 1.0 - power / POWERS[0], f"above{suffix}": 1.0,
            f"k{suffix}": 9600.0, f"n{suffix}": 40.0 * power / POWERS[0],
            f"fitted{suffix}": 1.0, f"weight_{number}": 1.0 + number,
        }  # fmt: skip
    return {symbol: value for symbol, value in values.items() if symbol in symbols}


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
@pytest.mark.parametrize("correction", ["none", "calculated"])
def test_without_losses_the_reference_comes_out_but_for_the_air(
    quiet_bench: Bench, procedure: Procedure, correction: Correction
) -> None:
    conditions = conditions_of(quiet_bench)
    model = model_for(quiet_bench, procedure, correction)
    if "w_dry" in model.symbols:
        model = known_exactly(model, "w_dry", 0.0)
    expected = conditions.water.latent_heat * (conditions.buoyancy if correction == "none" else 1.0)

    assert model.at_estimates() == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
@given(wall=st.floats(0.0, 250.0), base=st.floats(0.0, 30.0), returned=st.floats(0.0, 30.0))
def test_a_constant_heat_loss_cancels_exactly(procedure: Procedure, wall: float, base: float, returned: float) -> None:
    values = values_without_errors(procedure) | {"W_wall": wall, "W_base": base, "W_return": returned}

    assert float(program_of(procedure, "none").evaluate(values)) == pytest.approx(2.2565e6, rel=1e-11)


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
def test_a_loss_that_differs_between_the_powers_does_not_cancel(procedure: Procedure) -> None:
    values = values_without_errors(procedure) | {"W_wall": 60.0, "w_dry": 0.2}

    assert float(program_of(procedure, "none").evaluate(values)) > 2.2565e6 * 1.002


def test_what_the_lower_power_does_not_lose_is_counted_against_the_difference() -> None:
    # By hand: W is 60 W at 1400 W and 60 (1 - 0.2 (1 - 800/1400)) = 54.86 W at 800 W, so L comes out too high by
    # (60 - 54.86)/(1400 - 800 - 5.14) = 0.865 %.
    values = values_without_errors(TwoPowers()) | {"W_wall": 60.0, "w_dry": 0.2}

    error = float(program_of(TwoPowers(), "none").evaluate(values)) / 2.2565e6 - 1.0

    assert error == pytest.approx(5.142857 / (600.0 - 5.142857), rel=1e-6)


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
def test_carry_over_does_not_cancel(procedure: Procedure) -> None:
    values = values_without_errors(procedure) | {"s_splash": 0.001}

    assert float(program_of(procedure, "none").evaluate(values)) < 2.2565e6 * 0.999


def test_carry_over_weighs_more_in_the_difference_than_in_one_run() -> None:
    # By hand: masses shown 1400/(1 - 0.001) and 800/(1 - 0.001 (800/1400)^3); L_app/L = 600/(their difference).
    values = values_without_errors(TwoPowers()) | {"s_splash": 0.001}
    by_hand = 600.0 / (1400.0 / 0.999 - 800.0 / (1.0 - 0.001 * (800.0 / 1400.0) ** 3))

    found = float(program_of(TwoPowers(), "none").evaluate(values)) / 2.2565e6

    assert found == pytest.approx(by_hand, rel=1e-12)
    assert 1.0 - found > 2.0 * 0.001


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
@pytest.mark.parametrize(("symbol", "value"), [("a_A", 0.013), ("e_meter", 0.02)])
def test_what_acts_on_all_energies_or_masses_alike_stays(procedure: Procedure, symbol: str, value: float) -> None:
    program = program_of(procedure, "none")
    error = float(program.evaluate(values_without_errors(procedure) | {symbol: value, "W_wall": 60.0})) / 2.2565e6

    assert error == pytest.approx(1.0 - value if symbol == "a_A" else 1.0 + value, rel=1e-11)


@given(
    first=st.floats(-2e-3, 2e-3), second=st.floats(-2e-3, 2e-3), wall=st.floats(0.0, 150.0), share=st.floats(0.2, 0.7)
)
def test_a_series_at_two_powers_for_equal_times_is_the_two_power_formula(
    first: float, second: float, wall: float, share: float
) -> None:
    # The same energies and masses read, with the same errors of the balance.
    low = round(40.0 * share)
    common = {"W_wall": wall, "d_balance": first, "d_balance_2": second}
    series = values_without_errors(Series(2)) | common | {"n_2": low, "P_set_2": 1400.0 * low / 40.0}
    pair = values_without_errors(TwoPowers()) | common
    pair |= {"t": 9600.0 * 40.0 / 1400.0, "P_set_2": 1400.0 * low / 40.0}

    expected = float(program_of(TwoPowers(), "none").evaluate(pair))

    assert float(program_of(Series(2), "none").evaluate(series)) == pytest.approx(expected, rel=1e-9)


def test_counts_started_on_a_mark_err_by_half_a_count_at_most(bench: Bench) -> None:
    model = model_for(bench, TwoPowers(), "none")
    tenth = bench.with_shelves(meter=(replace(bench.meters[0], reads="tenth"),))

    assert model.distributions["d_count"] == Rectangular(-0.5, 0.5)
    assert model.distributions["d_count_2"] == Rectangular(-0.5, 0.5)
    assert model_for(tenth, TwoPowers(), "none").distributions["d_count"] == Rectangular(-0.05, 0.05)


def test_a_series_has_no_counting_error(bench: Bench) -> None:
    assert all("d_count" not in model_for(bench, Series(number), "none").symbols for number in (1, 2, 3))


def test_doubling_the_mass_halves_the_counting_contribution_of_two_powers(quiet_bench: Bench) -> None:
    once, twice = (
        propagate(model_for(quiet_bench, TwoPowers(), "none", mass)).contributions["d_count"] for mass in (0.12, 0.24)
    )

    assert once == pytest.approx(2.0 * twice, rel=1e-6)


def test_half_the_power_multiplies_the_scatter_of_the_masses_as_by_hand(quiet_bench: Bench) -> None:
    # Equal times, no loss: u(L)/L = sqrt(2) u/(m1 - m2), against u/m1 for one run: a factor 2 sqrt(2) for P2 = P1/2.
    situation = situation_for(quiet_bench, TwoPowers())
    settings = replace(situation.settings, powers=np.array([[900.0, 450.0]]), mass=np.array([0.2]))
    pair = situation_of(situation.conditions, situation.kit, situation.hardware, settings, pace_of(TwoPowers(), "none"))
    model = measurement_model(TwoPowers(), "none", all_terms(TwoPowers(), "none", pair), 0)
    contributions = propagate(model).contributions

    both = np.hypot(contributions["d_boiling"], contributions["d_boiling_2"])
    one = model.at_estimates() * model.distributions["d_boiling"].standard_uncertainty / 0.2

    assert both / one == pytest.approx(2.0 * np.sqrt(2.0), rel=1e-6)


@pytest.mark.parametrize("procedure", [Series(2), Series(3)], ids=named)
def test_the_budget_foresees_the_scatter_of_the_line_through_all_marks(
    quiet_bench: Bench, procedure: Procedure
) -> None:
    # An observer's marks, each read with its own error, fitted by effective variance: 1500 lessons.
    bench = replace(quiet_bench, knowledge={**quiet_bench.knowledge, "wall_loss": Constant(50.0)})
    situation = situation_for(bench, procedure)
    model = measurement_model(procedure, "none", all_terms(procedure, "none", situation), 0)
    for symbol in model.symbols:
        if symbol.startswith(("Q_drift", "w_dry", "e_still", "d_drift")):
            model = known_exactly(model, symbol, 0.0)
    generator, found = np.random.default_rng(2), []
    energy, mass, exact, deviation = _marks(situation)
    for _ in range(1500):
        noisy = mass + deviation * generator.standard_normal(mass.size)
        found.append(straight_line(noisy, energy, *exact, u_x=deviation, u_y=0.0).slope)

    assert propagate(model).standard_uncertainty == pytest.approx(np.std(found), rel=0.06)
    assert simulate(model, trials=2**12, seed=1).standard_uncertainty == pytest.approx(np.std(found), rel=0.06)


def _marks(situation: Situation) -> tuple[np.ndarray, np.ndarray, list[np.ndarray], np.ndarray]:
    """Energy, mass, time and runs of marks at every power, and the deviation of each reading of the mass: 0.3 g."""
    runs, marks = situation.all_runs, []
    for column, power in enumerate(situation.settings.powers[0]):
        steps = np.linspace(0.0, 1.0, int(runs.marks[0, column]) + 1)
        energy = runs.counts[0, column] * runs.count_energy[0, column]
        deviation = 3e-4 * max(power / 1000.0, 1.0) ** 1.4
        label = np.full(steps.size, column)
        marks.append((energy * steps, runs.mass[0, column] * steps, runs.time[0, column] * steps, label,
                      np.full(steps.size, deviation)))  # fmt: skip
    energy, mass, time, label, deviation = (np.concatenate(part) for part in zip(*marks, strict=True))
    return energy, mass, [time, *((label == one).astype(float) for one in np.unique(label))], deviation


def test_a_series_at_one_power_is_sharper_than_its_two_ends(bench: Bench) -> None:
    ends = model_for(bench, procedure_named("whole-counts"), "calculated")
    line = model_for(bench, Series(1), "calculated")

    assert abs(propagate(line).contributions["d_boiling"]) < 0.85 * abs(propagate(ends).contributions["d_boiling"])
    assert propagate(line).contributions["W_wall"] == pytest.approx(propagate(ends).contributions["W_wall"], rel=0.02)


@pytest.mark.parametrize(("readings", "factor"), [(2, 1.41), (5, 1.26), (11, 0.95), (21, 0.72)])
def test_the_scatter_left_by_the_line_is_that_of_equally_spaced_readings(readings: int, factor: float) -> None:
    # u(slope) span/sigma = sqrt(12 (N - 1)/(N (N + 1))), any text on least squares.
    assert np.sqrt(2.0) * float(compiled(fitted_share(1)).evaluate({"marks_1": readings - 1.0})) == pytest.approx(
        factor, abs=0.006
    )


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
@pytest.mark.parametrize("correction", ["none", "calculated"])
def test_the_walk_adds_up_to_the_error_at_the_expected_values(
    bench: Bench, procedure: Procedure, correction: Correction
) -> None:
    situation = situation_for(bench, procedure, correction)
    terms = all_terms(procedure, correction, situation)
    model = measurement_model(procedure, correction, terms, 0)

    steps = walk(program_of(procedure, correction), terms)

    reference = conditions_of(bench).water.latent_heat
    assert sum(steps.values()) == pytest.approx(model.at_estimates() / reference - 1.0, abs=1e-9)
    assert steps["W_wall"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("procedure", SEVERAL, ids=named)
def test_the_calculated_correction_takes_off_what_is_expected(bench: Bench, procedure: Procedure) -> None:
    model = model_for(bench, procedure, "calculated")

    assert model.at_estimates() == pytest.approx(conditions_of(bench).water.latent_heat, rel=2e-4)


def test_the_lowest_power_comes_first_and_every_run_takes_the_same_time(bench: Bench) -> None:
    situation = situation_for(bench, TwoPowers(), repeats=2)
    levels, runs = situation.levels, situation.all_runs

    assert runs.time[0, 0] == pytest.approx(runs.time[0, 1], rel=1e-12)
    # By hand: three minutes of steam at the power lower the level before the first reading.
    water, values = situation.conditions.water, situation.values
    settled = runs.steaming[0] * 180.0 / water.latent_heat / (situation.hardware.area * water.liquid_density)
    assert values["start_2"] - values["first_2"] == pytest.approx(settled[1], rel=1e-9)
    assert values["start_1"] == pytest.approx(values["last_2"], rel=1e-12)
    assert values["start_1"] - values["first_1"] == pytest.approx(settled[0], rel=1e-9)
    # The lower power comes at the higher level, yet lifts the surface less.
    heights = situation.kit.vessel.height - np.array([values["first_1"], values["first_2"]]).ravel()
    risen = heights - levels.highest[0]
    assert np.all(risen > 0.0)
    assert risen[1] / risen[0] < (runs.steaming[0, 1] / runs.steaming[0, 0]) * 1.6
    assert runs.mass[0, 1] < runs.mass[0, 0] * 800.0 / 1400.0
    # By hand: 2 x (2 runs of t) + 2 x 3 min of settling + 2 gaps of 1 min, beside handling and warm-up.
    expected = 15.0 * 60.0 + levels.warm_up[0] + 4.0 * runs.time[0, 0] + 2.0 * 180.0 + 2.0 * 60.0
    assert situation.total_time[0] == pytest.approx(expected, rel=1e-12)


def test_marks_of_a_series_are_whole_counts_at_least_half_a_minute_apart(bench: Bench) -> None:
    runs = situation_for(bench, Series(2)).all_runs

    per_mark = runs.counts / runs.marks
    assert np.all(runs.counts == np.round(runs.counts))
    assert np.all(per_mark == np.round(per_mark))
    assert np.all(runs.time / runs.marks >= 30.0 - 1e-9)
    assert np.all(runs.time / runs.marks < 30.0 + 9600.0 / 800.0)


def test_powers_that_are_too_near_each_other_are_not_tried() -> None:
    assert apart((500.0, 1000.0, 900.0), 2) == ((1000.0, 500.0), (900.0, 500.0))
    assert apart((1000.0, 900.0), 2) == ()
    assert apart((350.0, 700.0, 1050.0), 3) == ((1050.0, 700.0, 350.0),)


def test_a_heater_with_one_power_offers_no_setting_for_two_powers(bench: Bench) -> None:
    settings = settings_of(
        bench, Kit(bench.balances[1], bench.meters[0], bench.heaters[0], bench.vessels[0]), Series(2)
    )

    assert settings.powers.shape == (0, 2)
    assert settings.mass.size == 0


@pytest.mark.parametrize("procedure", PROCEDURES, ids=named)
def test_the_units_of_every_measurement_model_come_out_as_joules_a_kilogram(bench: Bench, procedure: Procedure) -> None:
    # Followed through every operation by the engine; W_est and W_cooled are stated as watts.
    balance = bench.balances[1] if procedure.needs_display else bench.balances[0]
    masses = bench.mass_sets[0] if procedure.needs_mass_set else None
    conditions, kit = conditions_of(bench), replace(stepped_kit(bench), balance=balance, mass_set=masses)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    for correction in procedure.corrections:
        pace = pace_of(procedure, correction)
        situation = situation_of(conditions, kit, hardware, settings_for(procedure), pace)
        model = measurement_model(procedure, correction, all_terms(procedure, correction, situation), 0)
        steps = {symbol for symbol, _ in model.intermediates}

        check_units(model, dict.fromkeys(steps & {"W", "W_1", "W_est", "W_cooled"}, "W"))
