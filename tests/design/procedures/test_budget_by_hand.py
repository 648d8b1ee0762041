"""One budget as a teacher would work it out on paper, in kWh, grams and minutes, against the measurement model."""

from collections.abc import Callable
from dataclasses import replace
from math import sqrt

import pytest

from budget.propagation import propagate
from budget.quantities.distributions import Constant, Normal
from budget.sampling.montecarlo import simulate
from design.bench import Bench
from design.chosen import all_terms
from design.kit import Kit
from design.procedures.face import measurement_model
from design.procedures.registry import procedure_named
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, situation_of

KWH = 3.6e6
"""One kilowatt-hour. [J]"""

# The sheet of paper ---------------------------------------------------------------------------------------
# 1.4 kW at 230 V, 250 g off a beam balance, disk meter of 375 rev/kWh read to the nearest turn, heater kept on.
POWER_KW = 1.4
LOSS_KW = 0.030 + 0.003 + 0.004  # wall, base, steam that runs back
CURRENT_A = 1400.0 / 230.0  # 6.09 A, so 0.0195 ohm/m
FLEX_SHARE = 2 * 1.2 * 0.0195 * CURRENT_A / 230.0  # there and back: 0.124 %
STEAM_KW = POWER_KW * (1 - FLEX_SHARE) - LOSS_KW  # 1.361 kW
LATENT_KWH_PER_KG = 2258.8e3 / KWH  # steam tables, 98.2 kPa: 0.6274 kWh/kg
STEM_SHARE = 2 * (8.0 / 112.0) ** 2  # two stems of 8 mm in 112 mm: 1.020 %
AIR = 1 + 1.163 * (1 / 959.2 - 1 / 8000.0)  # air of 1.163 kg/m3 bears water up more than brass
VAPOUR_G = 250.0 * (1 - STEM_SHARE) * AIR  # 247.7 g
HEAT_KWH = VAPOUR_G / 1000 * LATENT_KWH_PER_KG  # 0.1554 kWh
MINUTES = HEAT_KWH / STEAM_KW * 60  # 6.85 min
ENERGY_KWH = POWER_KW * MINUTES / 60  # 0.1599 kWh
RESULT_KWH_PER_KG = ENERGY_KWH / 0.250  # 0.6394 kWh/kg: 1.9 % too high
ELEMENT_KG = 1.4 * 30e-6 * 959.2  # 42 cm3 of water that the element pushes up
# 80 mm without what the element pushes up, and half of what boils away
WATER_KG = 0.080 * 0.009852 * 959.2 - ELEMENT_KG + 0.5 * (0.2475 + STEAM_KW / LATENT_KWH_PER_KG * 3 / 60)
READING_G = sqrt((0.05 / sqrt(3)) ** 2 + 0.05**2 + (0.2 / sqrt(3)) ** 2)  # half a digit, repeatability, tipping
RELATIVE = {
    "e_meter": 0.02 / sqrt(3),  # 2 % either way: 1.15 %
    "d_count": 1 / 375 / sqrt(6) / ENERGY_KWH,  # two readings to the nearest turn: 0.68 %
    "W_wall": 0.006 / STEAM_KW,  # 30 +- 6 W: 0.44 %
    "W_base": 0.001 / STEAM_KW,
    "W_return": 0.002 / STEAM_KW,
    "e_heater": 0.05 / sqrt(3) * LOSS_KW / STEAM_KW,  # 5 % of power is 5 % of time and so of the loss: 0.08 %
    "e_supply": 2 * 0.06 / sqrt(3) * LOSS_KW / STEAM_KW,  # 6 % of voltage is 12 % of power: 0.19 %
    "d_boiling": sqrt(2) * 0.3 * 1.4**1.4 / 250,  # 0.27 %
    "d_balance": sqrt(2) * READING_G / 250,  # 0.07 %
    "a_A": 0.07 * STEM_SHARE / (1 - STEM_SHARE),  # 0.07 %
    "e_mass": 0.003 / sqrt(3),  # 0.17 %
    "e_lead": 0.3 / sqrt(3) * FLEX_SHARE * POWER_KW / STEAM_KW,  # 0.02 %
    "Q_drift": 0.1 * WATER_KG * 4.213e3 / KWH / HEAT_KWH,  # 0.1 K of 0.89 kg: 0.07 %
    "d_time": POWER_KW * 0.3 / 3600 / ENERGY_KWH,  # 0.3 s: 0.07 %
}
"""Relative standard uncertainty of the result from each source."""


@pytest.fixture
def paper_bench(bench: Bench) -> Bench:
    """The invented bench with losses stated in the file, and no carry-over."""
    stated = {"wall_loss": Normal(30.0, 6.0), "base_loss": Normal(3.0, 1.0), "return_loss": Normal(4.0, 2.0)}
    return replace(bench, knowledge={**stated, "carry_over": Constant(0.0)})


def test_the_budget_on_paper_is_the_budget_of_the_program(
    paper_bench: Bench, kit: Kit, one_setting: Callable[..., Settings]
) -> None:
    conditions, procedure = conditions_of(paper_bench), procedure_named("fixed-mass-kept-on")
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    exact = replace(one_setting(mass=0.25), fill_step=0.0)
    situation = situation_of(conditions, kit, hardware, exact, procedure.pace)
    model = measurement_model(procedure, "none", all_terms(procedure, "none", situation), 0)
    propagation = propagate(model)
    found = {symbol: abs(value) / propagation.estimate for symbol, value in propagation.contributions.items()}

    assert propagation.estimate / KWH == pytest.approx(RESULT_KWH_PER_KG, rel=1e-4)
    assert situation.runs.time[0] / 60 == pytest.approx(MINUTES, rel=1e-4)
    assert situation.levels.mean[0] == pytest.approx(WATER_KG, rel=1e-3)
    # At 1.4 kW so much steam rises that what air would take away over the water is some 1e-9 of the result.
    assert {symbol for symbol, value in found.items() if value > 1e-8} == set(RELATIVE)
    for symbol, share in RELATIVE.items():
        assert found[symbol] == pytest.approx(share, rel=3e-3), symbol
    total = sqrt(sum(share**2 for share in RELATIVE.values()))
    assert propagation.standard_uncertainty / propagation.estimate == pytest.approx(total, rel=2e-3)


def test_simulation_agrees_with_the_paper(paper_bench: Bench, kit: Kit, one_setting: Callable[..., Settings]) -> None:
    conditions, procedure = conditions_of(paper_bench), procedure_named("fixed-mass-kept-on")
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    situation = situation_of(conditions, kit, hardware, one_setting(mass=0.25), procedure.pace)
    model = measurement_model(procedure, "none", all_terms(procedure, "none", situation), 0)
    simulation = simulate(model, trials=2**14, seed=5)
    total = sqrt(sum(share**2 for share in RELATIVE.values()))

    assert simulation.standard_uncertainty / simulation.estimate == pytest.approx(total, rel=0.01)
