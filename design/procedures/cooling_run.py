"""The right use of a heater-off run, the cooling balance; and what subtracting its loss of mass costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.errors import DesignError
from design.physics.water import latent_heat_at

LOSS_EXPONENT = 1.25
"""Growth of the heat loss with the temperature difference to the room: free convection and radiation together."""

MIDDLE_BELOW_BOIL = 6.5
"""How far the middle of a cooling run lies below the boiling point: about from 97 to 90 °C. [K] (common practice)"""


def scale_to_boil(boiling_point: float, room: float) -> float:
    """
    Factor by which a loss seen in the middle of a cooling run is scaled to the boiling point.

    Examples
    --------
    >>> round(scale_to_boil(373.15, 293.15), 3)
    1.112
    """
    return float((1.0 - MIDDLE_BELOW_BOIL / (boiling_point - room)) ** -LOSS_EXPONENT)


@dataclass(frozen=True)
class CoolingRun:
    """
    Readings of a heater-off run; arrays of shape (n,).

    Time [s], temperature of the water [K], and ``fall`` of mass since the first reading, as vapour: corrected for stem
    and air buoyancy [kg]; water in the vessel at the first reading [kg]; heat capacity of vessel and heater [J/K].
    """

    time: FloatArray
    temperature: FloatArray
    fall: FloatArray
    water: float
    vessel_heat_capacity: float


def cooling_loss(run: CoolingRun, specific_heat: float, boiling_point: float, room: float) -> float:
    """
    Heat loss at the boiling point from a cooling balance, temperatures in K. [W].

    By all ways but evaporation, without the dry freeboard wall and the returning steam.

    Raises
    ------
    DesignError
        If there are fewer than two readings, or the water is not between room and boiling point.

    Notes
    -----
    W(T) = -(m c + C) dT/dt - m_off L(T), integrated over the run: the heat that water and vessel give up, less what
    the vapour takes, is the integral of W_b ((T - T_room)/(T_b - T_room))^1.25.
    """
    if run.time.size < 2 or not np.all((run.temperature > room) & (run.temperature <= boiling_point + 1.0)):
        raise DesignError(
            "readings: a cooling run needs two readings or more of water between room temperature and boiling point "
            f"(got {run.time.size})"
        )
    middle = 0.5 * (run.temperature[1:] + run.temperature[:-1])
    water = run.water - 0.5 * (run.fall[1:] + run.fall[:-1])
    given = (water * specific_heat + run.vessel_heat_capacity) * -np.diff(run.temperature)
    taken = np.array([latent_heat_at(round(float(temperature), 3)) for temperature in middle]) * np.diff(run.fall)
    share = ((run.temperature - room) / (boiling_point - room)) ** LOSS_EXPONENT
    return float((given - taken).sum() / (0.5 * (share[1:] + share[:-1]) @ np.diff(run.time)))


def heater_off_mistake(boiling_rate: float, heater_off_rate: float) -> float:
    """
    Relative error made by subtracting the heater-off rate of mass loss from that with the heater on.

    With the heater off the water pays for its vapour by cooling; with the heater on the heater paid for it.

    Rates in kg/s; 1/(1 - off/on) - 1, always above 0. [1]

    Examples
    --------
    >>> round(heater_off_mistake(25.0, 3.0), 3)
    0.136
    """
    return 1.0 / (1.0 - heater_off_rate / boiling_rate) - 1.0
