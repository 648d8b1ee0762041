"""How the bench behaves where no reading tells: rows with their evidence, used by the virtual bench alone."""

from __future__ import annotations

from functools import cache

from design.physics.evidence import Evidence

ROWS: tuple[Evidence, ...] = (
    Evidence(
        "element_volume", "volume of a heater's element", 30e-6, 0.0, "constant", "m3/kW", 5e-6, 80e-6,
        "judgement: travel heaters of 1 to 2 kW displace 30 to 60 cm3",
    ),
    Evidence(
        "element_superheat", "element above the water at its own power", 20.0, 0.0, "constant", "K", 5.0, 50.0,
        "nucleate boiling at 100 kW/m2 (textbook boiling curve, from memory)",
    ),
    Evidence(
        "inner_coefficient", "heat transfer from water and steam to the wall", 1500.0, 0.0, "constant", "W/(m2 K)",
        300.0, 10000.0, "film condensation with some air mixed in, 0.3 to 2 kW/(m2 K) (from memory)",
    ),
    Evidence(
        "hardware_heat_capacity", "heat capacity of the hardware in the steam", 40.0, 0.0, "constant", "J/K", 5.0,
        200.0, "judgement: half of a 0.2 kg steel clamp",
    ),
    Evidence(
        "drip_time", "time that condensate takes to run back", 30.0, 0.0, "constant", "s", 1.0, 300.0,
        "judgement: drops of 0.05 g from a few watts of condensing steam",
    ),
    Evidence(
        "steam_cover_time", "time in which the freeboard cools or warms", 40.0, 0.0, "constant", "s", 5.0, 300.0,
        "judgement: heat capacity of a glass wall over its film coefficient, several minutes without wind",
    ),
    Evidence(
        "void_share", "share of bubbles round the element at 1 kW (median, logarithm's deviation ln 2)", 0.01, 2.0,
        "lognormal", "1", 0.0, 0.1, "judgement: 1 to 5 % of void shifts a reading by 0.5 to 2.7 g at 60 cm3",
    ),
    Evidence(
        "supply_wander", "short-term wander of the supply voltage", 0.003, 0.0, "constant", "1", 0.0, 0.02,
        "0.5 to 1.5 % within a run, from end to end (from memory)",
    ),
    Evidence(
        "wander_time", "correlation time of the supply's wander", 60.0, 0.0, "constant", "s", 1.0, 900.0, "judgement",
    ),
    Evidence(
        "superheat_time", "correlation time of the water's mean temperature at the boil", 30.0, 0.0, "constant", "s",
        1.0, 300.0, "judgement: turn-over of the water by convection",
    ),
    Evidence(
        "noise_time", "correlation time of the boil's push on the balance", 2.0, 0.0, "constant", "s", 0.2, 20.0,
        "judgement: bubbles and swing of the surface",
    ),
    Evidence(
        "balance_time", "time in which a balance follows its load", 0.8, 0.0, "constant", "s", 0.1, 5.0,
        "common practice, no source: about a second",
    ),
    Evidence(
        "balance_drift", "drift of the zero of an electronic balance in a quarter of an hour, over its digit", 0.5, 0.0,
        "constant", "1", 0.0, 5.0, "judgement; OIML R 76 lets the zero move by a verification interval for 5 K (from "
        "memory)",
    ),
    Evidence(
        "droplet_event", "mass of one splash", 2e-5, 0.0, "constant", "kg", 1e-6, 1e-3,
        "judgement: a few drops of 2 mm",
    ),
    Evidence(
        "room_vapour", "partial pressure of vapour in the room", 1200.0, 0.0, "constant", "Pa", 300.0, 3000.0,
        "half of saturation at 21 degrees Celsius",
    ),
    Evidence(
        "reaction_delay", "mean delay of a reading after what calls for it, over its scatter", 3.0, 0.0, "constant",
        "1", 0.0, 10.0, "judgement: the delay is not negative; at start and stop its mean is the same",
    ),
)  # fmt: skip
"""Judgement unless a source is named; none of them enters the budget."""


def behaviour_row(key: str) -> Evidence:
    """
    Row by its key.

    Raises
    ------
    KeyError
        If no row has that key.
    """
    for row in ROWS:
        if row.key == key:
            return row
    raise KeyError(key)


@cache
def behaviour(key: str) -> float:
    """Best estimate of a row. [its unit]"""
    return behaviour_row(key).value
