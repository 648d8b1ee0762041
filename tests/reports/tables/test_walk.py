from __future__ import annotations

import numpy as np
import pytest

from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Constant, Normal
from budget.quantities.inputs import InputQuantity
from design.search.plan import Plan, RankedDesign
from reports.tables.walk import effect_steps, several_powers, walk
from reports.words import run_sheet
from reports.words.plan import KitWords
from tests.reports.conftest import altered

POWER, LOSS, SPLASH, STEM = 1400.0, 60.0, 0.004, 0.016


@pytest.fixture
def corrected_model() -> MeasurementModel:
    return MeasurementModel(
        symbol="L",
        name="latent heat",
        unit="J/kg",
        inputs=(
            InputQuantity("L_ref", Constant(2258000.0)),
            InputQuantity("P", Constant(POWER)),
            InputQuantity("m_step", Constant(0.12)),
            InputQuantity("W", Normal(LOSS, 15.0), "heat loss", neutral=0.0),
            InputQuantity("s", Normal(SPLASH, 0.002), "carry-over", neutral=0.0),
            InputQuantity("a_A", Normal(STEM, 0.001), "stem", neutral=0.0),
            InputQuantity("W_est_in", Constant(LOSS)),
        ),
        intermediates=(
            ("kept", "(1 - s) * (1 - a_A)"),
            ("t", "L_ref * m_step * kept / (P - W)"),
            ("E_read", "P * t"),
            ("m_read", "m_step"),
            ("W_est", "W_est_in"),
            ("kept_est", "kept"),
            ("E_est", "E_read * 0.998"),
        ),
        equation="(E_est - W_est * t) / (m_read * kept_est)",
    )


@pytest.fixture
def corrected(plan: Plan) -> RankedDesign:
    assert plan.recommended is not None
    return altered(plan.recommended, correction="calculated", bias_percent=-0.2)


def test_the_effects_of_a_corrected_design_multiply_to_the_error_of_its_readings(
    corrected: RankedDesign, corrected_model: MeasurementModel
) -> None:
    # Closed form of the energy balance: E/m over L is (1 + W/(P - W)) (1 - s) (1 - a/A).
    steps = effect_steps(corrected, corrected_model)

    expected = (1 + LOSS / (POWER - LOSS)) * (1 - SPLASH) * (1 - STEM) - 1
    assert sum(step.percent for step in steps) == pytest.approx(100 * expected, rel=1e-12)


def test_the_first_effect_alone_has_the_size_of_its_closed_form(
    corrected: RankedDesign, corrected_model: MeasurementModel
) -> None:
    steps = {step.symbol: step.percent for step in effect_steps(corrected, corrected_model)}

    assert steps["W"] == pytest.approx(100 * LOSS / (POWER - LOSS), rel=1e-12)
    assert steps["s"] < 0
    assert steps["a_A"] < 0


def test_the_correction_is_the_last_step_and_closes_the_walk(
    corrected: RankedDesign, corrected_model: MeasurementModel
) -> None:
    steps = walk(corrected, corrected_model)

    assert steps[-1].name.startswith("correction")
    assert sum(step.percent for step in steps) == pytest.approx(corrected.bias_percent, abs=1e-12)


def test_the_steps_are_ordered_by_size(corrected: RankedDesign, corrected_model: MeasurementModel) -> None:
    sizes = [abs(step.percent) for step in effect_steps(corrected, corrected_model)]

    assert sizes == sorted(sizes, reverse=True)


def test_an_uncorrected_design_walks_by_the_biases_of_its_sources(plan: Plan) -> None:
    assert plan.recommended is not None
    steps = effect_steps(plan.recommended, plan.model)

    biases = {source.symbol: source.bias_percent for source in plan.recommended.sources}
    assert {step.symbol: step.percent for step in steps} == {s: b for s, b in biases.items() if b != 0}


def test_the_run_sheet_gives_the_correction_as_numbers(
    corrected: RankedDesign, corrected_model: MeasurementModel
) -> None:
    lines = run_sheet.reckoning(corrected.design, corrected_model, KitWords("pulse", power_can_be_set=True))

    kept = (1 - SPLASH) * (1 - STEM)
    assert f"0.9980 × E − 60\u202fW × t) / ({kept:.4f} × m)" in lines[-1]


def test_the_run_sheet_of_an_uncorrected_design_says_so(plan: Plan) -> None:
    assert plan.recommended is not None
    lines = run_sheet.reckoning(plan.recommended.design, plan.model, KitWords("pulse", power_can_be_set=True))

    assert lines[0] == "Energy: E = 4500\u202fJ × number of pulses."
    assert "Nothing is corrected" in lines[-1]


LATENT_HEAT, HEAT_LOSS, POWERS, TIME = 2258000.0, 45.0, (1400.0, 900.0, 350.0), 780.0


def readings_at(*powers: float, **more: float) -> dict[str, float]:
    """Readings of a bench that loses heat and does nothing else."""
    found = dict(more)
    for number, power in enumerate(powers, start=1):
        found[f"E_{number}_read"] = power * TIME
        found[f"m_{number}_read"] = (power - HEAT_LOSS) * TIME / LATENT_HEAT
        found[f"t_{number}"] = TIME
    return found


def test_the_difference_of_two_powers_and_the_fit_to_three_are_free_of_the_heat_lost() -> None:
    # Closed form of the energy balance: P t = L m + W t at every power.
    assert several_powers(readings_at(*POWERS[:2])) == pytest.approx(LATENT_HEAT, rel=1e-12)

    weights = {f"weight_{number}": weight for number, weight in enumerate((1.0, 0.7, 0.4), start=1)}
    assert several_powers(readings_at(*POWERS, **weights)) == pytest.approx(LATENT_HEAT, rel=1e-9)


def test_the_fit_is_that_of_numpys_least_squares() -> None:
    weights = {"weight_1": 1.0, "weight_2": 0.6, "weight_3": 0.3}
    values = readings_at(*POWERS, **weights)
    values["m_2_read"] *= 1.01
    size = np.sqrt([weights[f"weight_{number}"] for number in (1, 2, 3)])
    design = np.array([[values[f"m_{number}_read"], values[f"t_{number}"]] for number in (1, 2, 3)])
    energy = np.array([values[f"E_{number}_read"] for number in (1, 2, 3)])

    fitted = np.linalg.lstsq(design * size[:, None], energy * size, rcond=None)[0]

    assert several_powers(values) == pytest.approx(fitted[0], rel=1e-9)
