"""The evidence table: every default that nobody measures, with value, spread, range and unit; its source by its key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Basis = Literal["measured", "published", "judgement"]
"""What a default rests on: measured on this kind of rig, published for another, or judgement."""


@dataclass(frozen=True)
class Evidence:
    """
    One default.

    Parameters
    ----------
    key : str
        Name in the code, and of the words for what it is, where it comes from, how thin that is, and how it compares
        with published classroom data.
    value : float
        Best estimate. [unit]
    spread : float
        Standard uncertainty (normal, lognormal), half-width (rectangular), or factor where the quantity says so.
        [unit]
    family : {"normal", "lognormal", "rectangular", "constant"}
        Distribution.
    unit : str
        Unit of value and spread.
    low, high : float
        Range in which the value may be set. [unit]
    basis : {"measured", "published", "judgement"}
        What it rests on.
    """

    key: str
    value: float
    spread: float
    family: Literal["normal", "lognormal", "rectangular", "constant"]
    unit: str
    low: float
    high: float
    basis: Basis = "judgement"


# fmt: off
LOSSES: tuple[Evidence, ...] = (
    Evidence("wall_factor", 1.0, 0.25, "lognormal", "1", 0.3, 3.0),
    Evidence("base_factor", 1.0, 0.4, "lognormal", "1", 0.2, 5.0),
    Evidence("base_board_thickness", 0.01, 0.0, "constant", "m", 0.0, 0.1),
    Evidence("base_board_conductivity", 0.05, 0.0, "constant", "W/(m K)", 0.02, 1.0, basis="published"),
    Evidence("base_surface_coefficient", 10.0, 0.0, "constant", "W/(m2 K)", 3.0, 30.0),
    Evidence("stem_conduction", 0.8, 0.0, "constant", "W", 0.0, 5.0, basis="published"),
    Evidence("hardware_return", 2.0, 0.0, "constant", "W", 0.0, 10.0),
    Evidence("return_factor", 1.0, 0.5, "lognormal", "1", 0.1, 5.0),
    Evidence("lid_coefficient", 13.5, 0.0, "constant", "W/(m2 K)", 8.0, 20.0, basis="published"),
    Evidence("deflector_return", 6.0, 0.0, "constant", "W", 0.0, 15.0),
    Evidence("dry_wall", 0.5, 0.5, "rectangular", "1", 0.0, 1.0),
    Evidence("still_loss", 0.0, 0.75, "rectangular", "1", -1.0, 1.0),
    Evidence("cover_flux", 20e3, 0.0, "constant", "W/m2", 10e3, 80e3),
    Evidence("jacket_storage", 1.0, 0.6, "rectangular", "1", 0.0, 3.0),
    Evidence("warm_up_evaporation", 2500.0, 0.0, "constant", "W/m2", 0.0, 10000.0, basis="published"),
    Evidence("cooling_balance", 0.0, 0.05, "normal", "1", -1.0, 1.0),
    Evidence("element_volume", 30e-6, 0.0, "constant", "m3/kW", 5e-6, 80e-6),
    Evidence("element_heat_capacity", 60.0, 0.0, "constant", "J/(K kW)", 20.0, 200.0),
    Evidence("freeboard_share", 0.15, 0.1, "rectangular", "1", 0.0, 0.5),
    Evidence("heater_off_evaporation", 0.0055, 0.0022, "rectangular", "kg/(m2 s)", 0.001, 0.012, basis="published"),
    Evidence("element_lead", 1.0, 0.3, "rectangular", "1", 0.0, 3.0, basis="published"),
)
"""Quantity, value, spread, family, unit and limits."""


# fmt: off
PRACTICE: tuple[Evidence, ...] = (
    Evidence("carry_over_factor", 1.0, 3.0, "lognormal", "1", 0.01, 100.0, basis="published"),
    Evidence("cover_carry_over", 0.15, 0.0, "constant", "1", 0.01, 1.0),
    Evidence("stem_area_factor", 1.0, 0.07, "normal", "1", 0.5, 2.0),
    Evidence("pause", 30.0, 15.0, "rectangular", "s", 0.0, 300.0),
    Evidence("temperature_drift", 0.0, 0.1, "normal", "K", -2.0, 2.0),
    Evidence("boiling_noise", 0.0, 0.0003, "normal", "kg", 0.0, 0.005, basis="measured"),
    Evidence("balance_drift", 0.0, 0.5, "normal", "1", -5.0, 5.0),
    Evidence("boiling_noise_exponent", 1.4, 0.0, "constant", "1", 0.0, 3.0),
    Evidence("steady_time", 180.0, 0.0, "constant", "s", 0.0, 900.0),
    Evidence("depth_margin", 0.02, 0.0, "constant", "m", 0.005, 0.1),
    Evidence("heated_from", 0.01, 0.0, "constant", "m", 0.0, 0.1),
    Evidence("drift_laws", 0.95, 0.0, "constant", "1", 0.5, 0.999),
    Evidence("heave", 0.12e-6, 2.0, "lognormal", "m3/W", 0.03e-6, 0.5e-6),
    Evidence("vessel_heater_mass", 0.35, 0.0, "constant", "kg", 0.0, 2.0),
    Evidence("run_gap", 60.0, 0.0, "constant", "s", 0.0, 600.0),
    Evidence("mark_interval", 30.0, 0.0, "constant", "s", 5.0, 300.0),
    Evidence("cooling_observed", 240.0, 0.0, "constant", "s", 60.0, 1200.0),
    Evidence("cooling_run", 480.0, 0.0, "constant", "s", 240.0, 1800.0),
)
"""Quantity, value, spread, family, unit and limits."""


ROWS: tuple[Evidence, ...] = (*LOSSES, *PRACTICE)
"""Every row."""
_BY_KEY = {row.key: row for row in ROWS}


def evidence(key: str) -> Evidence:
    """
    Row of the table by its key.

    Raises
    ------
    KeyError
        If no row has that key.
    """
    return _BY_KEY[key]


def default(key: str) -> float:
    """Best estimate of a row. [its unit]"""
    return evidence(key).value
