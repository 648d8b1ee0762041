"""The fitted table of water and air against CoolProp itself: within the error that it states, and beyond its ranges."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from design.physics.water import (
    LARGEST_ERROR,
    air,
    boiling_water,
    latent_heat_at,
    liquid_density_at,
    vapour_pressure_at,
)

PLACES = np.random.default_rng(4).uniform(size=(60, 2))


def between(low: float, high: float, part: float) -> float:
    return float(low + (high - low) * part)


def saturated(name: str, quality: float, pressure: float) -> float:
    return float(PropsSI(name, "P", pressure, "Q", quality, "Water"))


@pytest.mark.parametrize("part", [0.0, 1.0, *PLACES[:, 0]])
def test_boiling_water_is_that_of_coolprop_over_every_pressure_that_a_bench_may_have(part: float) -> None:
    pressure = between(45.01e3, 114.99e3, part)
    found = boiling_water(pressure)

    expected = {
        "boiling_point": saturated("T", 0, pressure),
        "latent_heat": saturated("H", 1, pressure) - saturated("H", 0, pressure),
        "liquid_density": saturated("D", 0, pressure),
        "vapour_density": saturated("D", 1, pressure),
        "specific_heat": saturated("C", 0, pressure),
        "surface_tension": saturated("I", 0, pressure),
        "liquid_viscosity": saturated("V", 0, pressure),
        "vapour_viscosity": saturated("V", 1, pressure),
    }
    assert {name: getattr(found, name) for name in expected} == pytest.approx(expected, rel=LARGEST_ERROR, abs=0.0)


def test_temperatures_give_the_latent_heat_vapour_pressure_and_density_of_coolprop() -> None:
    for part, other in PLACES:
        temperature, cold = between(273.17, 399.9, part), between(273.17, 329.9, part)
        pressure = between(45.01e3, 114.99e3, other)
        vapour, liquid = (PropsSI("H", "T", temperature, "Q", quality, "Water") for quality in (1, 0))

        assert latent_heat_at(temperature) == pytest.approx(vapour - liquid, rel=LARGEST_ERROR)
        assert vapour_pressure_at(temperature) == pytest.approx(
            PropsSI("P", "T", temperature, "Q", 0, "Water"), rel=LARGEST_ERROR
        )
        assert liquid_density_at(cold, pressure) == pytest.approx(
            PropsSI("D", "T", cold, "P", pressure, "Water"), rel=LARGEST_ERROR
        )


def test_air_is_that_of_coolprop() -> None:
    for part, other in PLACES:
        temperature, pressure = between(266.1, 429.9, part), between(45.01e3, 114.99e3, other)
        conductivity, viscosity, prandtl, density = (
            PropsSI(name, "T", temperature, "P", pressure, "Air") for name in ("L", "V", "PRANDTL", "D")
        )
        found = air(temperature, pressure)

        assert (found.conductivity, found.kinematic_viscosity, found.prandtl, found.density) == pytest.approx(
            (conductivity, viscosity / density, prandtl, density), rel=LARGEST_ERROR
        )


def test_beyond_the_table_coolprop_is_asked_itself() -> None:
    assert boiling_water(20e3).boiling_point == pytest.approx(saturated("T", 0, 20e3), rel=1e-14)
    assert air(250.0, 1e5).density == pytest.approx(float(PropsSI("D", "T", 250.0, "P", 1e5, "Air")), rel=1e-14)
    assert latent_heat_at(420.0) == pytest.approx(
        PropsSI("H", "T", 420.0, "Q", 1, "Water") - PropsSI("H", "T", 420.0, "Q", 0, "Water"), rel=1e-14
    )
    assert math.isfinite(liquid_density_at(340.0, 1e5))


def test_a_bench_is_read_without_loading_coolprop() -> None:
    code = (
        "import sys; from design.physics import water; water.boiling_water(101325.0); water.air(300.0, 101325.0);"
        " print('CoolProp' in sys.modules)"
    )

    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "False"
