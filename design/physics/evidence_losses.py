"""Defaults of heat losses, and of what is measured or done to know them, each with its evidence."""

from __future__ import annotations

from design.physics.evidence_row import Evidence

# fmt: off
ROWS: tuple[Evidence, ...] = (
    Evidence(
        "wall_factor",
        "true over calculated loss of wall and water surface",
        1.0, 0.25, "lognormal", "1", 0.3, 3.0,
        "judgement: free convection (Churchill and Chu 1975) and radiation are good to 10 %, draughts and "
        "surroundings are not; two published lagged runs agree within 20 %",
        "a published run at 512 W in an insulated beaker leaves 17 W (default for 400 to 600 mL lagged: 8 to "
        "26 W); a kettle inferred at 722 W leaves 115 W (default for a bare 2 L: 63 to 155 W)",
    ),
    Evidence(
        "base_factor",
        "true over calculated loss through the base",
        1.0, 0.4, "lognormal", "1", 0.2, 5.0,
        "judgement: the board under the vessel and its contact are seldom known",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "base_board_thickness",
        "board under the vessel",
        0.01, 0.0, "constant", "m", 0.0, 0.1,
        "common practice",
        "not stated in published runs",
    ),
    Evidence(
        "base_board_conductivity",
        "conductivity of the board (cork)",
        0.05, 0.0, "constant", "W/(m K)", 0.02, 1.0,
        "cork underlay, tables of insulation after ISO 10456",
        "not stated in published runs",
    ),
    Evidence(
        "base_surface_coefficient",
        "heat transfer from the underside of the board",
        10.0, 0.0, "constant", "W/(m2 K)", 3.0, 30.0,
        "judgement, a lightly heated face",
        "never measured in published runs",
    ),
    Evidence(
        "stem_conduction",
        "heat led away by one stainless stem of 8 mm",
        0.8, 0.0, "constant", "W", 0.0, 5.0,
        "fin formula for a stainless leg of 0.1 m; a copper leg 2.1 W",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "hardware_return",
        "steam condensing on clamp and stem and running back",
        2.0, 0.0, "constant", "W", 0.0, 10.0,
        "judgement: a few square centimetres of hardware above an open vessel",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "return_factor",
        "true over calculated heat given off by steam that runs back, with stem and lid",
        1.0, 0.5, "lognormal", "1", 0.1, 5.0,
        "judgement; a 0.01 m2 lid with 12 to 15 W/(m2 K) gives off 10 to 12 W",
        "contained in the losses above; never measured alone",
    ),
    Evidence(
        "lid_coefficient",
        "heat transfer from the top of a loose lid",
        13.5, 0.0, "constant", "W/(m2 K)", 8.0, 20.0,
        "free convection and radiation of a face near 95 °C",
        "no published run with and without a lid",
    ),
    Evidence(
        "deflector_return",
        "steam condensing on a deflector and running back",
        6.0, 0.0, "constant", "W", 0.0, 15.0,
        "judgement: deflector inside the rim, 5 to 12 W for a loose lid or deflector",
        "no published run with and without a deflector",
    ),
    Evidence(
        "dry_wall",
        "share of the wall loss missing at a power near nothing, against the highest: air enters the "
        "freeboard and the dry wall cools; in proportion in between",
        0.1, 0.1, "rectangular", "1", 0.0, 0.4,
        "judgement: 10 to 30 % lower at a power that hardly boils; nobody has measured it, to our knowledge",
        "no published run at several powers gives its readings",
    ),
    Evidence(
        "warm_up_evaporation",
        "mean heat that evaporation takes per area of surface while the water warms up",
        2500.0, 0.0, "constant", "W/m2", 0.0, 10000.0,
        "still-air pan formula between 20 and 95 °C (from memory), uncertain by a factor of two",
        "18.0 g in 60 min from 21 to 77 °C (TU Delft) is 1300 to 1900 W/m2: within the factor of two",
    ),
    Evidence(
        "cooling_balance",
        "error of a cooling balance, over all the heat that the water gives up",
        0.0, 0.05, "normal", "1", -1.0, 1.0,
        "judgement: 10 to 20 % of the loss of a bare vessel of 1 L with temperature to 0.1 K and mass to 0.1 "
        "g; two large terms, cooling and evaporation, are subtracted, so a lagged vessel's loss comes out no "
        "better in watts",
        "no published run gives mass and temperature of a cooling vessel",
    ),
    Evidence(
        "element_volume", "volume of a heater's element, which pushes the water up", 30e-6, 0.0, "constant", "m3/kW",
        5e-6, 80e-6, "judgement: travel heaters of 1 to 2 kW displace 30 to 60 cm3",
        "no published run states it",
    ),
    Evidence(
        "element_heat_capacity",
        "heat capacity of a heater's element, which a cooling balance must count with the vessel's",
        60.0, 0.0, "constant", "J/(K kW)", 20.0, 200.0,
        "judgement: 0.1 to 0.15 kg of steel and magnesia per kilowatt",
        "no published run states it",
    ),
    Evidence(
        "freeboard_share",
        "share of the wall loss that a cooling run misses: the dry wall that steam would have kept hot",
        0.15, 0.1, "rectangular", "1", 0.0, 0.5,
        "judgement",
        "no published run gives mass and temperature of a cooling vessel",
    ),
    Evidence(
        "heater_off_evaporation",
        "vapour leaving hot water per area and time with the heater off, near 95 °C",
        0.0055, 0.0022, "rectangular", "kg/(m2 s)", 0.001, 0.012,
        "still-air pan formula (3.3 g/(m2 s)) to 0.6 of film theory with Stefan flow (7.6 g/(m2 s)); "
        "uncertain by a factor of two to three (Shah 2002, HVAC&R Res. 8, 125, on the spread of such formulas "
        "below 94 °C)",
        "a foam cup in a textbook, 98 to 84 °C, lost 1.1 g/(m2 s): recessed, and perhaps made up",
    ),
    Evidence(
        "element_lead",
        "true over calculated power lost in the flex",
        1.0, 0.3, "rectangular", "1", 0.0, 3.0,
        "conductor sections 0.75, 1.0 and 1.5 mm2 by current; 26.0, 19.5 and 13.3 mOhm/m (IEC 60228 class 5, "
        "from memory)",
        "no published run states its flex",
    ),
)
"""Quantity, value, spread, family, unit, limits, source, and how it compares with published classroom data."""
