"""One small step of the bench: heat from element to water, losses, steam, what runs back, and droplets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.physics.evidence import default
from design.rehearsal.behaviour import act
from design.rehearsal.state import Apparatus, State, level_of, rise_of, temperature_of

LOSS_EXPONENT = 1.25
"""Growth of the wall's loss with its temperature above the room's (free convection, with radiation)."""
PAN_COEFFICIENT = 0.089
"""Evaporation of still water: kg/(m² s) times latent heat over vapour pressure (pan formula, from memory)."""
HARDWARE_GAP = 0.05
"""How far the hardware stays below the steam at the boil, over the steam's excess over the room (judgement)."""
STEEPER_FROM = 1.0e-3
"""Carry-over above which it rises more steeply than the cube (Kataoka and Ishii 1984, from memory)."""
STEEPEST = np.sqrt(10.0)
"""Largest factor by which it does: the geometric middle of 1 to 10 (judgement)."""
MOST_CARRIED = 0.5
"""Largest share of the lost mass that is thrown out: above it a vessel boils over (judgement)."""


@dataclass(frozen=True)
class Drive:
    """What acts from outside during a step: voltage [V], power metered and lost in the flex [W], superheat [K]."""

    voltage: FloatArray
    metered: FloatArray
    lead: FloatArray
    superheat: FloatArray


@dataclass(frozen=True)
class Steam:
    """Vapour raised in a step: mass [kg], latent heat in it and heat above the room's temperature [J]."""

    mass: FloatArray
    latent: FloatArray
    carried: FloatArray


def advance(apparatus: Apparatus, state: State, drive: Drive, step: float, generator: np.random.Generator) -> State:
    """
    State one step later; ``generator`` is the source of chance for droplets.

    Notes
    -----
    Heat, not temperature, is carried from step to step, and everything that leaves one store enters another or a
    column of the books: they close to rounding whatever the step.
    """
    temperature = temperature_of(apparatus, state)
    element, from_element = _element(apparatus, state, temperature, drive.metered - drive.lead, step)
    still = _stillness(apparatus, state)
    air, more = apparatus.truth["missing_low"] * still, 1.0 + apparatus.truth["still_loss"] * still
    wall, cover, into_wall, wall_lost = _wall(apparatus, state, temperature, (drive.metered, air, more), step)
    lagging, into_lagging = _lagging(apparatus, state, temperature, step)
    base = apparatus.truth["base_loss"] * more * _warmth(apparatus, temperature) * step
    running = act("drip_time", step)
    beside, back = apparatus.truth["dripping"], 1.0 - apparatus.truth["dripping"]
    run_off, run_off_heat = running * state.condensate, running * state.condensate_heat
    heat = state.heat + from_element - into_wall - into_lagging - base + back * run_off_heat
    steam, water, heat = _steam(apparatus, state.water + back * run_off, heat, drive.superheat, step)
    condensed, hardware, given_off = _hardware(apparatus, state, temperature, steam, ((1.0 - air) * more, step))
    thrown = _droplets(apparatus, state, steam, step, generator)
    spilled = _over_the_rim(apparatus, state, step)
    gone_heat = (thrown + spilled) * heat / water
    left = 1.0 - condensed
    return State(
        water=water - thrown - spilled,
        heat=heat - gone_heat,
        wall=wall,
        element=element,
        hardware=hardware,
        lagging=lagging,
        condensate=state.condensate - run_off + condensed * steam.mass,
        condensate_heat=state.condensate_heat - run_off_heat + condensed * steam.carried,
        cover=cover,
        steam=steam.mass / step,
        rising=state.rising + (steam.mass / step - state.rising) * act("bubble_time", step),
        on_pan=state.on_pan + act("stays_on_pan") * spilled,
        vapour=state.vapour + left * steam.mass,
        droplets=state.droplets + thrown,
        over_rim=state.over_rim + spilled,
        dripped=state.dripped + beside * run_off,
        electrical=state.electrical + drive.metered * step,
        lead=state.lead + drive.lead * step,
        latent=state.latent + left * steam.latent,
        carried=state.carried + left * steam.carried + gone_heat + beside * run_off_heat,
        lost=state.lost + wall_lost + base,
        returned=state.returned + given_off,
    )


def _warmth(apparatus: Apparatus, temperature: FloatArray) -> FloatArray:
    """Excess over the room's temperature, relative to that at the boil."""
    return (temperature - apparatus.room) / (apparatus.water.boiling_point - apparatus.room)


def _element(
    apparatus: Apparatus, state: State, temperature: FloatArray, power: FloatArray, step: float
) -> tuple[FloatArray, FloatArray]:
    """Temperature of the element after the step, and heat that it gave to the water: exact for steady power."""
    target = temperature + power / apparatus.element_conductance
    decay = np.exp(-step * apparatus.element_conductance / apparatus.element_heat_capacity)
    element = target + (state.element - target) * decay
    return element, power * step - apparatus.element_heat_capacity * (element - state.element)


def _stillness(apparatus: Apparatus, state: State) -> FloatArray:
    """How little steam keeps the air out above the water while the heater is on: 0 where much, 1 where hardly any."""
    flux = state.rising * apparatus.water.latent_heat / apparatus.area
    return np.asarray(state.cover * np.exp(-((flux / default("cover_flux")) ** 2)))


def _wall(
    apparatus: Apparatus,
    state: State,
    temperature: FloatArray,
    acting: tuple[FloatArray, FloatArray, FloatArray],
    step: float,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Wall and steam cover after the step, heat into the wall and heat lost by it."""
    metered, air, more = acting
    truth, conductance, capacity = apparatus.truth, apparatus.wall_conductance, apparatus.wall_heat_capacity
    cover = state.cover + ((metered > 0.0) - state.cover) * act("steam_cover_time", step)
    losses = apparatus.situation.hardware.losses
    above = np.clip(1.0 - level_of(apparatus, state) / apparatus.kit.vessel.height, 0.0, 1.0)
    missing = truth["missing_off"] * (1.0 - cover) + air * above * losses.side / losses.wall
    at_boil = apparatus.water.boiling_point - truth["wall_loss"] / conductance
    excess = np.maximum(state.wall - apparatus.room, 0.0) / (at_boil - apparatus.room)
    wet = 1.0 + truth["wetting"] * act("wetting_steam", state.vapour)
    loss = truth["wall_loss"] * wet * (1.0 - missing) * more * excess**LOSS_EXPONENT
    target = temperature - loss / conductance
    wall = target + (state.wall - target) * np.exp(-step * conductance / capacity)
    return wall, cover, capacity * (wall - state.wall) + loss * step, loss * step


def _lagging(apparatus: Apparatus, state: State, temperature: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """
    Temperature of the lagging after the step, and heat that it took up: it follows the wall by and by.

    Below the level the wall follows the water, above it the steam, as hardware there does.
    """
    if apparatus.lagging_time == 0.0:
        return state.lagging, np.zeros(apparatus.runs)
    wetted = np.clip(level_of(apparatus, state) / apparatus.kit.vessel.height, 0.0, 1.0)
    goal = wetted * temperature + (1.0 - wetted) * state.hardware
    lagging = goal + (state.lagging - goal) * np.exp(-step / apparatus.lagging_time)
    return lagging, apparatus.truth["storage"] * apparatus.lagging_capacity * (lagging - state.lagging)


def _steam(
    apparatus: Apparatus, water: FloatArray, heat: FloatArray, superheat: FloatArray, step: float
) -> tuple[Steam, FloatArray, FloatArray]:
    """Vapour by evaporation from the surface and by boiling, and the water and heat that are left."""
    properties, room = apparatus.water, apparatus.room
    warm = heat / water
    temperature = room + warm / properties.specific_heat
    latent = properties.latent_heat + apparatus.latent_slope * (temperature - properties.boiling_point)
    pressure = np.interp(temperature, apparatus.temperatures, apparatus.pressures) - act("room_vapour")
    flux = PAN_COEFFICIENT * apparatus.truth["evaporation_factor"] * np.maximum(pressure, 0.0) / latent
    evaporated = np.minimum(flux * apparatus.area * step, 0.5 * water)
    water, heat = water - evaporated, heat - evaporated * (warm + latent)
    at_boil = properties.specific_heat * (properties.boiling_point + superheat - room)
    boiled = np.minimum(np.maximum(heat - water * at_boil, 0.0) / properties.latent_heat, 0.5 * water)
    heat = heat - boiled * (at_boil + properties.latent_heat)
    steam = Steam(
        mass=evaporated + boiled,
        latent=evaporated * latent + boiled * properties.latent_heat,
        carried=evaporated * warm + boiled * at_boil,
    )
    return steam, water - boiled, heat


def _hardware(
    apparatus: Apparatus, state: State, temperature: FloatArray, steam: Steam, acting: tuple[FloatArray, float]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """
    Share of the steam that condenses on hardware, its temperature after the step, heat given off to the room.

    Where air has got into the freeboard its dew point is too low for steam to condense on hot hardware.
    """
    covered, step = acting
    returned = apparatus.truth["return_loss"] * covered
    conductance = state.cover * returned / (HARDWARE_GAP * (apparatus.water.boiling_point - apparatus.room))
    wanted = conductance * np.maximum(temperature - state.hardware, 0.0) * step
    condensed = np.minimum(np.divide(wanted, steam.latent, out=np.zeros_like(wanted), where=steam.latent > 0.0), 1.0)
    given_off = returned * _warmth(apparatus, state.hardware) / (1.0 - HARDWARE_GAP) * step
    hardware = state.hardware + (condensed * steam.latent - given_off) / act("hardware_heat_capacity")
    return condensed, hardware, given_off


def _droplets(
    apparatus: Apparatus, state: State, steam: Steam, step: float, generator: np.random.Generator
) -> FloatArray:
    """Mass thrown out in the step: splashes come at random, their masses vary as an exponential distribution."""
    surface = level_of(apparatus, state) + rise_of(apparatus, state)
    freeboard = np.maximum(apparatus.kit.vessel.height - surface, 1e-3)
    ratio = (steam.latent / step / 1000.0) * (0.050 / freeboard)
    middle = apparatus.truth["carry_over"] * ratio * ratio * ratio
    steeper = np.clip(np.sqrt(middle / STEEPER_FROM), 1.0, STEEPEST)
    share = np.minimum(middle * steeper, MOST_CARRIED)
    event = act("droplet_event")
    splashes = generator.poisson(steam.mass * share / (1.0 - share) / event)
    thrown = np.zeros_like(steam.mass)
    some = np.flatnonzero(splashes)
    thrown[some] = event * generator.standard_gamma(splashes[some].astype(np.float64))
    return np.minimum(thrown, 0.5 * state.water)


def _over_the_rim(apparatus: Apparatus, state: State, step: float) -> FloatArray:
    """Mass that goes over the rim in the step: all that stands above it, and a part of what bursts lift above it."""
    level, rise = level_of(apparatus, state), rise_of(apparatus, state)
    room = apparatus.kit.vessel.height - level - rise
    burst = default("heave") * apparatus.truth["heave_factor"] * state.rising * apparatus.water.latent_heat
    above = np.maximum(-room, 0.0) + act("burst_time", step) * np.clip(burst / apparatus.area - room, 0.0, None)
    column = apparatus.water.liquid_density * apparatus.area * level / (level + rise)
    return np.asarray(np.minimum(column * above, 0.5 * state.water))
