"""
Writes `design/physics/water_table.json`: Chebyshev coefficients of what CoolProp says of water and air.

Run it as a program where another property, a wider range or a newer CoolProp is wanted.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
from CoolProp.CoolProp import PropsSI
from numpy.polynomial import chebyshev

PRESSURES = (45e3, 115e3)
SATURATED = (273.16, 400.0)
LIQUID = (273.16, 330.0)
AIR = (266.0, 430.0)
PLACE = Path(__file__).parents[3] / "design" / "physics" / "water_table.json"
NOTHING = 1e-17
"""Part of the largest coefficient below which those at the end are left out."""


def at_pressure(name: str, quality: float) -> Callable[[float], float]:
    return lambda logarithm: float(PropsSI(name, "P", math.exp(logarithm), "Q", quality, "Water"))


def at_temperature(name: str, quality: float) -> Callable[[float], float]:
    return lambda temperature: float(PropsSI(name, "T", temperature, "Q", quality, "Water"))


def points(low: float, high: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Chebyshev nodes on [-1, 1] and where they lie between two ends."""
    nodes = np.cos(np.pi * (np.arange(count) + 0.5) / count)
    return nodes, 0.5 * (low + high) + 0.5 * (high - low) * nodes


def fit(law: Callable[[float], float], ends: tuple[float, float], degree: int) -> list[list[float]]:
    nodes, places = points(*ends, 8 * degree)
    return [chebyshev.chebfit(nodes, [law(float(place)) for place in places], degree).tolist()]


def fit_both(name: str, fluid: str, ends: tuple[float, float], degrees: tuple[int, int]) -> list[list[float]]:
    """Coefficients by degree in temperature, each a row over degrees in pressure."""
    nodes, temperatures = points(*ends, 3 * degrees[0])
    others, pressures = points(*PRESSURES, 4 * degrees[1])
    values = [[float(PropsSI(name, "T", float(t), "P", float(p), fluid)) for p in pressures] for t in temperatures]
    over_temperature = chebyshev.chebfit(nodes, np.array(values), degrees[0])
    found: list[list[float]] = chebyshev.chebfit(others, over_temperature.T, degrees[1]).T.tolist()
    return found


def trimmed(rows: list[list[float]]) -> list[list[float]]:
    """Leave out the coefficients at the ends that change nothing."""
    table = np.array(rows)
    kept = np.abs(table) > NOTHING * np.max(np.abs(table))
    high, across = int(np.flatnonzero(kept.any(axis=1))[-1]) + 1, int(np.flatnonzero(kept.any(axis=0))[-1]) + 1
    found: list[list[float]] = table[:high, :across].tolist()
    return found


def main() -> None:
    ends = (math.log(PRESSURES[0]), math.log(PRESSURES[1]))
    vapour, liquid = at_pressure("H", 1), at_pressure("H", 0)
    vapour_at, liquid_at = at_temperature("H", 1), at_temperature("H", 0)
    at_boiling = {
        "boiling_point": at_pressure("T", 0),
        "latent_heat": lambda p: vapour(p) - liquid(p),
        "liquid_density": at_pressure("D", 0),
        "vapour_density": at_pressure("D", 1),
        "specific_heat": at_pressure("C", 0),
        "surface_tension": at_pressure("I", 0),
        "liquid_viscosity": at_pressure("V", 0),
        "vapour_viscosity": at_pressure("V", 1),
    }
    of_air = {"conductivity": "L", "viscosity": "V", "prandtl": "PRANDTL", "density": "D"}
    tables = {
        "boiling, by ln(pressure/Pa)": (ends, {name: fit(law, ends, 12) for name, law in at_boiling.items()}),
        "saturated, by temperature": (
            SATURATED,
            {
                "latent_heat": fit(lambda t: vapour_at(t) - liquid_at(t), SATURATED, 22),
                "log_pressure": fit(lambda t: math.log(PropsSI("P", "T", t, "Q", 0, "Water")), SATURATED, 22),
            },
        ),
        "liquid, by temperature and pressure": (LIQUID, {"density": fit_both("D", "Water", LIQUID, (16, 3))}),
        "air, by temperature and pressure": (
            AIR,
            {name: fit_both(key, "Air", AIR, (20, 5)) for name, key in of_air.items()},
        ),
    }
    found = {
        name.partition(",")[0]: {
            "argument": name.partition(", ")[2],
            "reach": reach,
            "pressures": PRESSURES,
            "coefficients": {key: trimmed(rows) for key, rows in fitted.items()},
        }
        for name, (reach, fitted) in tables.items()
    }
    text = json.dumps(found, indent=1)
    PLACE.write_text(
        re.sub(r"\[\s+([^\[\]]*?)\s+\]", lambda row: f"[{' '.join(row[1].split())}]", text) + "\n", encoding="utf-8"
    )


if __name__ == "__main__":
    main()
