"""State of the bench at one instant, and the ledgers of energy and mass since its start."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from design.virtual_run.setup import Setup

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class State:
    """
    State of every run; arrays of shape (n,).

    Parameters
    ----------
    water : ndarray
        Water in the vessel. [kg]
    heat : ndarray
        Heat in it above that at the room's temperature. [J]
    wall, element, hardware : ndarray
        Temperatures of vessel wall, heating element and hardware in the steam. [K]
    condensate, condensate_heat : ndarray
        Water on the hardware [kg] and the heat in it above that at the room's temperature [J].
    cover : ndarray
        How far steam keeps air out of the freeboard, from 0 to 1. [1]
    steam : ndarray
        Vapour that leaves the water. [kg/s]
    vapour, droplets : ndarray
        Water that has left as vapour and as droplets. [kg]
    """

    water: FloatArray
    heat: FloatArray
    wall: FloatArray
    element: FloatArray
    hardware: FloatArray
    condensate: FloatArray
    condensate_heat: FloatArray
    cover: FloatArray
    steam: FloatArray
    vapour: FloatArray
    droplets: FloatArray

    def temperature(self, setup: Setup) -> FloatArray:
        """Temperature of the water. [K]"""
        return setup.room_temperature + self.heat / (self.water * setup.water.specific_heat)

    def level(self, setup: Setup, stem_area: FloatArray) -> FloatArray:
        """Height of the water surface above the floor, pushed up by element and stems. [m]"""
        volume = self.water / setup.water.liquid_density + setup.element_volume
        return np.asarray(volume / (setup.area - stem_area))


@dataclass(frozen=True)
class Ledger:
    """
    Energy since the start; arrays of shape (n,). [J]

    Parameters
    ----------
    electrical : ndarray
        Through the meter.
    lead : ndarray
        Turned into heat by the flex.
    latent : ndarray
        Carried off as latent heat.
    carried : ndarray
        Carried off as heat of the water that left, above the room's temperature.
    lost : ndarray
        Through wall, surface and base.
    returned : ndarray
        Given off by hardware on which steam condensed.
    """

    electrical: FloatArray
    lead: FloatArray
    latent: FloatArray
    carried: FloatArray
    lost: FloatArray
    returned: FloatArray

    def stored(self, state: State, setup: Setup) -> FloatArray:
        """Sensible heat in water, wall, element and hardware now. [J]"""
        room = setup.room_temperature
        return np.asarray(
            state.water * setup.water.specific_heat * (state.temperature(setup) - room)
            + setup.wall_heat_capacity * (state.wall - room)
            + setup.element_heat_capacity * (state.element - room)
            + setup.hardware_heat_capacity * (state.hardware - room)
            + state.condensate_heat
        )

    def sensible(self, state: State, setup: Setup) -> FloatArray:
        """Sensible heat in the bench and in the water that left it. [J]"""
        return self.stored(state, setup) + self.carried

    def energy_error(self, state: State, setup: Setup) -> FloatArray:
        """What is missing in the books of energy, relative to what came in. [1]"""
        out = self.lead + self.latent + self.sensible(state, setup) + self.lost + self.returned
        return np.asarray((self.electrical - out) / np.maximum(self.electrical, 1.0))


def mass_error(state: State, setup: Setup) -> FloatArray:
    """What is missing in the books of mass, relative to the fill. [1]"""
    total = state.water + state.vapour + state.droplets + state.condensate
    return np.asarray((total - setup.fill) / setup.fill)


def start_state(setup: Setup, runs: int) -> State:
    """Everything at the room's temperature, the water filled in."""
    room, zero = np.full(runs, setup.room_temperature), np.zeros(runs)
    return State(
        water=np.full(runs, setup.fill),
        heat=zero,
        wall=room,
        element=room,
        hardware=room,
        condensate=zero,
        condensate_heat=zero,
        cover=zero,
        steam=zero,
        vapour=zero,
        droplets=zero,
    )


def start_ledger(runs: int) -> Ledger:
    """Books at the start."""
    zero = np.zeros(runs)
    return Ledger(zero, zero, zero, zero, zero, zero)
