"""The evidence table: every default that nobody measures, with value, spread, range, unit and source."""

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
        Name in the code, and of the words for what it is.
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
    source : str
        Where it comes from, and how thin that is.
    compared : str
        How it compares with published classroom data.
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
    source: str
    compared: str = "not compared with published classroom data"
    basis: Basis = "judgement"


# fmt: off
LOSSES: tuple[Evidence, ...] = (
    Evidence(
        "wall_factor",
        1.0, 0.25, "lognormal", "1", 0.3, 3.0,
        "judgement: free convection (Churchill and Chu 1975) and radiation are good to 10 %, draughts and "
        "surroundings are not",
        "no published run of known power states its vessel: 512 W in an insulated beaker leave 17 W (default for 400 "
        "to 600 mL lagged: 8 to 26 W), but that size is a guess; 722 W of a kettle, inferred from its own results, "
        "leave 115 W (default for a bare 2 L: 63 to 155 W)",
    ),
    Evidence(
        "base_factor",
        1.0, 0.4, "lognormal", "1", 0.2, 5.0,
        "judgement: the board under the vessel and its contact are seldom known",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "base_board_thickness",
        0.01, 0.0, "constant", "m", 0.0, 0.1,
        "common practice",
        "not stated in published runs",
    ),
    Evidence(
        "base_board_conductivity",
        0.05, 0.0, "constant", "W/(m K)", 0.02, 1.0,
        "cork underlay, tables of insulation after ISO 10456",
        "not stated in published runs",
        basis="published",
    ),
    Evidence(
        "base_surface_coefficient",
        10.0, 0.0, "constant", "W/(m2 K)", 3.0, 30.0,
        "judgement, a lightly heated face",
        "never measured in published runs",
    ),
    Evidence(
        "stem_conduction",
        0.8, 0.0, "constant", "W", 0.0, 5.0,
        "fin formula for a stainless leg of 0.1 m; a copper leg 2.1 W",
        "contained in the losses above; never measured alone",
        basis="published",
    ),
    Evidence(
        "hardware_return",
        2.0, 0.0, "constant", "W", 0.0, 10.0,
        "judgement: a few square centimetres of hardware above an open vessel",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "return_factor",
        1.0, 0.5, "lognormal", "1", 0.1, 5.0,
        "judgement; a 0.01 m2 lid with 12 to 15 W/(m2 K) gives off 10 to 12 W",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "lid_coefficient",
        13.5, 0.0, "constant", "W/(m2 K)", 8.0, 20.0,
        "free convection and radiation of a face near 95 °C",
        "no published run with and without a lid",
        basis="published",
    ),
    Evidence(
        "deflector_return",
        6.0, 0.0, "constant", "W", 0.0, 15.0,
        "judgement: deflector inside the rim, 5 to 12 W for a loose lid or deflector",
        "no published run with and without a deflector",
    ),
    Evidence(
        "dry_wall",
        0.5, 0.5, "rectangular", "1", 0.0, 1.0,
        "judgement: anything from nothing to all of it; nobody has measured it, to our knowledge",
        "no published run at several powers gives its readings",
    ),
    Evidence(
        "still_loss",
        0.0, 0.75, "rectangular", "1", -1.0, 1.0,
        "judgement: below some 30 kW/m2 draughts, hardware and how fully the water boils make more than 25 % of "
        "difference; nobody has measured it, to our knowledge",
        "no published run of known vessel at less than 100 W states its loss",
    ),
    Evidence(
        "cover_flux",
        20e3, 0.0, "constant", "W/m2", 10e3, 80e3,
        "judgement: steam at 20 kW/m2 rises at 15 mm/s; air comes in against it through an opening of 0.1 m at some "
        "50 mm/s (Epstein 1988, J. Heat Transfer 110, 885, from memory) unless the steam keeps pace",
        "no published run at several powers gives its readings",
    ),
    Evidence(
        "jacket_storage",
        1.0, 0.6, "rectangular", "1", 0.0, 3.0,
        "judgement: first mode of a slab (Carslaw and Jaeger 1959); heat capacity of the lagging good to a third, its "
        "fit, its outer film and how hot the warm-up left it make up the rest",
        "no published run of a lagged vessel says what its jacket is",
    ),
    Evidence(
        "warm_up_evaporation",
        2500.0, 0.0, "constant", "W/m2", 0.0, 10000.0,
        "still-air pan formula between 20 and 95 °C (from memory), uncertain by a factor of two",
        "18.0 g in 60 min from 21 to 77 °C (TU Delft) is 1300 to 1900 W/m2: within the factor of two",
        basis="published",
    ),
    Evidence(
        "cooling_balance",
        0.0, 0.05, "normal", "1", -1.0, 1.0,
        "judgement: 10 to 20 % of the loss of a bare vessel of 1 L with temperature to 0.1 K and mass to 0.1 "
        "g; two large terms, cooling and evaporation, are subtracted, so a lagged vessel's loss comes out no "
        "better in watts",
        "no published run gives mass and temperature of a cooling vessel",
    ),
    Evidence(
        "element_volume", 30e-6, 0.0, "constant", "m3/kW",
        5e-6, 80e-6, "judgement: travel heaters of 1 to 2 kW displace 30 to 60 cm3",
        "no published run states it",
    ),
    Evidence(
        "element_heat_capacity",
        60.0, 0.0, "constant", "J/(K kW)", 20.0, 200.0,
        "judgement: 0.1 to 0.15 kg of steel and magnesia per kilowatt",
        "no published run states it",
    ),
    Evidence(
        "freeboard_share",
        0.15, 0.1, "rectangular", "1", 0.0, 0.5,
        "judgement",
        "no published run gives mass and temperature of a cooling vessel",
    ),
    Evidence(
        "heater_off_evaporation",
        0.0055, 0.0022, "rectangular", "kg/(m2 s)", 0.001, 0.012,
        "still-air pan formula (3.3 g/(m2 s)) to 0.6 of film theory with Stefan flow (7.6 g/(m2 s)); "
        "uncertain by a factor of two to three (Shah 2002, HVAC&R Res. 8, 125, on the spread of such formulas "
        "below 94 °C)",
        "a foam cup in a textbook, 98 to 84 °C, lost 1.1 g/(m2 s): recessed, and perhaps made up",
        basis="published",
    ),
    Evidence(
        "element_lead",
        1.0, 0.3, "rectangular", "1", 0.0, 3.0,
        "conductor sections 0.75, 1.0 and 1.5 mm2 by current; 26.0, 19.5 and 13.3 mOhm/m (IEC 60228 class 5, "
        "from memory)",
        "no published run states its flex",
        basis="published",
    ),
)
"""Quantity, value, spread, family, unit, limits, source, and how it compares with published classroom data."""


# fmt: off
PRACTICE: tuple[Evidence, ...] = (
    Evidence(
        "carry_over_factor",
        1.0, 3.0, "lognormal", "1", 0.01, 100.0,
        "Kataoka and Ishii 1984, Int. J. Heat Mass Transfer 27, 1999 (coefficients from memory), uncertain by "
        "a factor of three for an open vessel; no measured values for beakers are known to us",
        "no published run states freeboard and power; values below the true one are rare among published "
        "results",
        basis="published",
    ),
    Evidence(
        "cover_carry_over",
        0.15, 0.0, "constant", "1", 0.01, 1.0,
        "judgement",
        "no published run with and without a cover",
    ),
    Evidence(
        "stem_area_factor",
        1.0, 0.07, "normal", "1", 0.5, 2.0,
        "diameters known to 2 to 3 % (judgement); with callipers 0.05 to 0.1 % of L",
        "no published run states stems; the run at 512 W agrees with 1 to 2 %",
    ),
    Evidence(
        "pause",
        30.0, 15.0, "rectangular", "s", 0.0, 300.0,
        "common practice, no source",
        "no published run states it",
    ),
    Evidence(
        "temperature_drift",
        0.0, 0.1, "normal", "K", -2.0, 2.0,
        "judgement: steady boiling; two readings in the same state",
        "no published run reads the temperature at both marks",
    ),
    Evidence(
        "boiling_noise",
        0.0, 0.0003, "normal", "kg", 0.0, 0.005,
        "one published run of 14 readings at 512 W, said to look like what one may get: 0.43 g about its line, of "
        "which rounding to 1 g explains 0.29 g and leaves 0.33 g; so few readings tell 0.1 to 0.7 g",
        "a published run at 512 W scatters by 0.43 g about its line; 0.3 g and rounding to 1 g give 0.42 g",
        basis="measured",
    ),
    Evidence(
        "balance_drift",
        0.0, 0.5, "normal", "1", -5.0, 5.0,
        "judgement; OIML R 76 lets the zero move by a verification interval for 5 K (from memory)",
        "no published run leaves a steady load on its warm balance",
    ),
    Evidence(
        "boiling_noise_exponent",
        1.4, 0.0, "constant", "1", 0.0, 3.0,
        "judgement: 0.5 to 2 g at 2 to 3 kW",
        "no published run above 1 kW reads often enough",
    ),
    Evidence(
        "steady_time",
        180.0, 0.0, "constant", "s", 0.0, 900.0,
        "common practice, 2 to 3 min",
        "one published collection asks for 20 min of boiling in all",
    ),
    Evidence(
        "depth_margin",
        0.02, 0.0, "constant", "m", 0.005, 0.1,
        "common practice, no source",
        "makers' marks only",
    ),
    Evidence(
        "heated_from",
        0.01, 0.0, "constant", "m", 0.0, 0.1,
        "judgement: an element that reaches near the floor; more water is lifted the lower it reaches",
        "no published run states it",
    ),
    Evidence(
        "drift_laws",
        0.95, 0.0, "constant", "1", 0.5, 0.999,
        "judgement; the laws: Zuber and Findlay 1965, J. Heat Transfer 87, 453 (water that churns) and Kataoka and "
        "Ishii 1987, Int. J. Heat Mass Transfer 30, 1927 (a pool that circulates), coefficients of both from memory",
        "no published run states how high its water stood at the boil",
    ),
    Evidence(
        "heave",
        0.12e-6, 2.0, "lognormal", "m3/W", 0.03e-6, 0.5e-6,
        "judgement: 10 to 30 mm at 1 to 2 kW in a beaker of 105 mm",
        "no published run states it",
    ),
    Evidence(
        "vessel_heater_mass",
        0.35, 0.0, "constant", "kg", 0.0, 2.0,
        "common practice, no source",
        "no published run states it",
    ),
    Evidence(
        "run_gap",
        60.0, 0.0, "constant", "s", 0.0, 600.0,
        "common practice, no source",
        "no published run states it",
    ),
    Evidence(
        "mark_interval",
        30.0, 0.0, "constant", "s", 5.0, 300.0,
        "one published class run reads the balance every 30 s",
        "the run at 512 W",
    ),
    Evidence(
        "cooling_observed",
        240.0, 0.0, "constant", "s", 60.0, 1200.0,
        "common practice: about from 97 to 90 °C in a bare vessel of 1 L",
        "no published run",
    ),
    Evidence(
        "cooling_run",
        480.0, 0.0, "constant", "s", 240.0, 1800.0,
        "common practice, no source: switching off, settling and reading",
        "no published run",
    ),
)
"""Quantity, value, spread, family, unit, limits, source, and how it compares with published classroom data."""


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
