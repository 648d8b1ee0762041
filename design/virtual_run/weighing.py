"""What the balance feels and shows: level, buoyancy, bubbles, thrust of the steam, lag."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from design.virtual_run.advance import recoil
from design.virtual_run.behaviour import behaviour
from design.virtual_run.chance import Wander, push_deviation
from design.virtual_run.setup import Setup
from design.virtual_run.state import State
from design.virtual_run.truth import Truth

FloatArray = NDArray[np.float64]


def load(setup: Setup, truth: Truth, state: State) -> FloatArray:
    """
    Load that the balance feels, without the empty vessel. [kg, weighed in air]

    Notes
    -----
    With a heater held from outside the floor of the vessel carries the column of water up to the level, whatever
    fills it: density times surface times height (Stevin's law). Bubbles round the element take the place of water and
    lower the level's weight; a heater that hangs on the vessel brings its own weight and takes nothing away.
    """
    if setup.kit.heater.held_by == "vessel":
        return np.asarray((state.water + state.condensate + recoil(setup, state.steam)) / setup.buoyancy)
    stem_area = truth.stem_factor * setup.stem_area
    column = setup.water.liquid_density * setup.area * state.level(setup, stem_area)
    steam_power = state.steam * setup.water.latent_heat / 1000.0
    bubbles = setup.water.liquid_density * setup.element_volume * truth.void_share * steam_power
    return np.asarray((column - bubbles + recoil(setup, state.steam)) / setup.buoyancy)


def followed(shown: FloatArray, felt: FloatArray, step: float) -> FloatArray:
    """Reading of a balance that follows its load with a lag. [kg]"""
    return np.asarray(shown + (felt - shown) * (1.0 - np.exp(-step / behaviour("balance_time"))))


def unsteady(setup: Setup, shown: FloatArray, state: State, wander: Wander, power: FloatArray) -> FloatArray:
    """Reading with the push of the boil, which fades with the steam, and the drift of the zero. [kg]"""
    boiling = np.minimum(state.steam * setup.water.latent_heat / np.maximum(0.5 * power, 1.0), 1.0)
    return np.asarray(shown + push_deviation(power) * boiling * wander.push + wander.zero)
