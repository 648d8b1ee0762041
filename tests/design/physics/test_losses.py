"""Heat losses: sizes known from correlations and tables, and how they scale."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.model.equation import compile_program
from design.kit import Heater, Vessel
from design.materials import Jacket
from design.physics.carry_over import LARGEST_SHARE, cube_law, mean_cube, reference_share, thrown
from design.physics.losses import (
    base_loss,
    convection_coefficient,
    heat_loss,
    inside_area,
    lead_share,
    radiation_coefficient,
    side_loss,
    stem_share,
    surface_radiation,
)
from design.physics.water import boiling_water

WATER = boiling_water(101325.0)
ROOM = 293.15


LAW = compile_program(
    (("law", cube_law("power", mean_cube("first", "last"))), ("middle", "at_reference * law")), thrown("middle")
)


def mean_share(at_reference: float, power: np.ndarray, first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """Share thrown out at a power while the level falls, as a setting's equations have it."""
    return LAW.evaluate({"at_reference": at_reference, "power": power, "first": first, "last": last})


def beaker(diameter: float, height: float, jacket: Jacket | None = None) -> Vessel:
    """A glass beaker by its outside diameter; wall 2.2 mm."""
    return Vessel(
        name="beaker", capacity=1e-3, diameter=diameter - 0.0044, height=height, mass=0.3, material="glass",
        jacket=jacket or Jacket(),
    )  # fmt: skip


LITRE = beaker(0.105, 0.145)
"""Low-form beaker of 1 L, 105 mm by 145 mm (ISO 3819, from memory)."""
HEATER = Heater(
    name="heater", power=1000.0, rated_voltage=230.0, tolerance=0.05, stem_diameter=0.008, stems=2,
    minimum_depth=0.06, held_by="stand", flex=1.0,
)  # fmt: skip


def lagged(millimetres: float) -> Jacket:
    """Lagging of 0.04 W/(m K)."""
    return Jacket(f"{millimetres} mm", millimetres / 1000, 0.04, 0.9)


# Recomputed by an independent calculation from Churchill and Chu 1975 with the slender-cylinder factor of Popiel et
# al. 2007, emissivity 0.90, 100 °C against 20 °C: watts through the side of beakers after ISO 3819.
@pytest.mark.parametrize(
    ("diameter", "height", "bare", "ten", "twenty"),
    [
        (0.080, 0.110, 32, 7.4, 4.7),
        (0.090, 0.125, 41, 9.3, 5.8),
        (0.105, 0.145, 54, 12.4, 7.7),
        (0.132, 0.185, 85, 19.3, 11.8),
    ],
)
def test_a_bare_beaker_loses_tens_of_watts_and_lagging_a_quarter_of_that(
    diameter: float, height: float, bare: float, ten: float, twenty: float
) -> None:
    losses = [side_loss(beaker(diameter, height, jacket), WATER, ROOM) for jacket in (Jacket(), lagged(10), lagged(20))]

    assert losses == pytest.approx([bare, ten, twenty], rel=0.015)


def test_convection_agrees_with_the_simple_formula_of_mcadams() -> None:
    # McAdams: Nu = 0.59 Ra^(1/4) for 1e4 < Ra < 1e9 on a vertical plate; within 15 % of the finer correlation.
    from design.physics.water import air

    film = air(333.0, 101325.0)
    rayleigh = 9.81 * 80 * 0.145**3 / (333.0 * film.kinematic_viscosity**2) * film.prandtl
    simple = 0.59 * rayleigh**0.25 * film.conductivity / 0.145

    assert convection_coefficient(373.0, 293.0, 10.0, 0.145, 101325.0) == pytest.approx(simple, rel=0.15)


def test_radiation_of_a_black_face_follows_stefan_and_boltzmann() -> None:
    net = radiation_coefficient(373.15, 293.15, 1.0) * 80.0

    assert net == pytest.approx(5.670374419e-8 * (373.15**4 - 293.15**4), rel=1e-12)


def test_a_litre_beaker_on_cork_loses_about_two_watts_through_its_base() -> None:
    assert base_loss(LITRE, WATER, ROOM) == pytest.approx(2.3, abs=0.05)


def test_an_open_surface_radiates_and_a_lid_gives_off_what_condenses_on_it() -> None:
    closed = replace(LITRE, lid="loose")

    assert surface_radiation(LITRE, WATER, ROOM) == pytest.approx(5.2, abs=0.1)
    assert surface_radiation(closed, WATER, ROOM) == 0.0
    assert heat_loss(closed, HEATER, WATER, ROOM).returned > heat_loss(LITRE, HEATER, WATER, ROOM).returned + 5.0


def test_all_losses_of_bare_beakers_add_up_to_the_published_range() -> None:
    # Totals with two 8 mm stems: 0.6 L 48 to 53 W, 1 L 63 to 70 W, 2 L 99 to 107 W (recomputed as above).
    beakers = [beaker(d, h) for d, h in ((0.09, 0.125), (0.105, 0.145), (0.132, 0.185))]
    losses = [heat_loss(vessel, HEATER, WATER, ROOM) for vessel in beakers]
    totals = [loss.wall + loss.base + loss.returned for loss in losses]

    assert 48 <= totals[0] <= 53
    assert 63 <= totals[1] <= 70
    assert 99 <= totals[2] <= 107


def test_thin_cold_air_on_a_mountain_takes_less_heat_away() -> None:
    high = boiling_water(82e3)

    assert 0.85 < side_loss(LITRE, high, ROOM) / side_loss(LITRE, WATER, ROOM) < 0.95


@given(thickness=st.floats(0.001, 0.05), more=st.floats(0.001, 0.05))
def test_thicker_lagging_never_loses_more(thickness: float, more: float) -> None:
    thin = replace(LITRE, jacket=lagged(1000 * thickness))
    thick = replace(LITRE, jacket=lagged(1000 * (thickness + more)))

    assert side_loss(thick, WATER, ROOM) < side_loss(thin, WATER, ROOM)


def test_two_eight_millimetre_legs_cut_a_hundredth_of_a_litre_beaker() -> None:
    # Direct solution of the level: two 6.5 mm legs in 80 mm cut 1.3 %, two 9 mm legs in 101 mm 1.6 %.
    wide = replace(LITRE, diameter=0.101)

    assert stem_share(replace(HEATER, stem_diameter=0.0065), replace(LITRE, diameter=0.080)) == pytest.approx(
        0.013, abs=5e-4
    )
    assert stem_share(replace(HEATER, stem_diameter=0.009), wide) == pytest.approx(0.0159, abs=1e-4)


def test_a_heater_that_hangs_on_the_vessel_has_no_stem_effect() -> None:
    assert stem_share(replace(HEATER, held_by="vessel"), LITRE) == 0.0


def test_the_indicated_fall_follows_the_level_alone() -> None:
    # 100 g boiled off with a/A = 0.0159: the balance sees rho A dz with rho (A - a) dz = 100 g.
    area, stem = 0.008012, 0.008012 * 0.015882
    level = 0.100 / (958.4 * (area - stem))

    assert 958.4 * area * level == pytest.approx(0.101614, abs=1e-6)
    assert 958.4 * area * level * (1 - stem / area) == pytest.approx(0.100, abs=1e-12)


def test_a_metre_of_flex_loses_a_thousandth() -> None:
    # 1 m out and 1 m back of 0.75 mm2 at 26 mohm/m carry 4.3 A: 0.96 W of 1 kW (IEC 60228, from memory).
    assert lead_share(HEATER, np.array([1000.0]), 230.0) == pytest.approx(0.00098, abs=1e-5)


# Kataoka and Ishii 1984, middle law, coefficients from memory, recomputed: E at 50 mm and 1 kW.
@pytest.mark.parametrize(("diameter", "share"), [(0.090, 1.5e-4), (0.105, 7e-5)])
def test_carry_over_at_one_kilowatt_and_fifty_millimetres(diameter: float, share: float) -> None:
    area = math.pi * diameter**2 / 4

    assert reference_share(WATER, area, steam_power=1000.0 - 60.0) == pytest.approx(share, rel=0.06)


def test_carry_over_follows_the_cube_of_power_and_freeboard_in_its_middle_range() -> None:
    here = np.array([0.06])
    one = mean_share(1e-4, np.array([1000.0]), here, here)

    assert mean_share(1e-4, np.array([1400.0]), here, here) == pytest.approx(one * 1.4**3)
    assert mean_share(1e-4, np.array([1000.0]), here / 1.1, here / 1.1) == pytest.approx(one * 1.1**3)


def test_the_mean_over_a_falling_level_is_the_integral_of_the_cube_law() -> None:
    levels = np.linspace(0.05, 0.09, 20_001)
    integral = np.trapezoid(1e-4 * (0.05 / levels) ** 3, levels) / 0.04

    assert mean_share(1e-4, np.array([1000.0]), np.array([0.05]), np.array([0.09])) == pytest.approx(integral, rel=1e-6)


@given(power=st.floats(50, 3000), freeboard=st.floats(0.002, 0.2), factor=st.floats(1.0, 3.0))
def test_carry_over_never_falls_with_power_and_stays_a_share(power: float, freeboard: float, factor: float) -> None:
    height = np.array([freeboard])
    low, high = (mean_share(1e-4, np.array([p]), height, height)[0] for p in (power, factor * power))

    assert 0.0 < low <= high <= LARGEST_SHARE


def test_inside_area_is_that_of_the_circle() -> None:
    assert inside_area(LITRE) == pytest.approx(math.pi * 0.1006**2 / 4)
