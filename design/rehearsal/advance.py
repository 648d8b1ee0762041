"""One small step of the bench: heat from element to water, losses, steam, what runs back, and droplets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.physics.water import STANDARD_GRAVITY
from design.rehearsal.observer import Seen, count_energy
from design.rehearsal.state import Ledger, Setup, State, mass_error
from design.rehearsal.truth import Truth, behaviour

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
    """What acts on the bench from outside during a step: power metered and lost in the flex [W], superheat [K]."""

    metered: FloatArray
    lead: FloatArray
    superheat: FloatArray


@dataclass(frozen=True)
class Steam:
    """Vapour raised in a step: mass [kg], latent heat in it and heat above the room's temperature [J]."""

    mass: FloatArray
    latent: FloatArray
    carried: FloatArray


def advance(
    setup: Setup, truth: Truth, books: tuple[State, Ledger], drive: Drive, step: float, generator: np.random.Generator
) -> tuple[State, Ledger]:
    """
    State and ledger one step later.

    Parameters
    ----------
    setup : Setup
        The design.
    truth : Truth
        What is true of each run.
    books : tuple of State and Ledger
        At the beginning of the step.
    drive : Drive
        Power and superheat during the step.
    step : float
        Length of the step. [s]
    generator : numpy.random.Generator
        Source of chance for droplets.

    Returns
    -------
    tuple of State and Ledger

    Notes
    -----
    Heat, not temperature, is carried from step to step, and everything that leaves one store enters another or a
    column of the ledger: the books close to rounding whatever the step.
    """
    state, ledger = books
    temperature = state.temperature(setup)
    element, from_element = _element(setup, state, temperature, drive.metered - drive.lead, step)
    wall, cover, into_wall, wall_lost = _wall(setup, truth, state, drive.metered, step)
    base = truth.base_loss * _warmth(setup, temperature) * step
    running = 1.0 - np.exp(-step / behaviour("drip_time"))
    back, back_heat = running * state.condensate, running * state.condensate_heat
    water = state.water + back
    heat = state.heat + from_element - into_wall - base + back_heat
    steam, water, heat = _steam(setup, truth, (water, heat), drive.superheat, step)
    condensed, hardware, given_off = _hardware(setup, truth, state, temperature, steam, step)
    thrown = _droplets(setup, truth, state, steam, step, generator)
    thrown_heat = thrown * heat / water
    left = 1.0 - condensed
    after = State(
        water=water - thrown,
        heat=heat - thrown_heat,
        wall=wall,
        element=element,
        hardware=hardware,
        condensate=state.condensate - back + condensed * steam.mass,
        condensate_heat=state.condensate_heat - back_heat + condensed * steam.carried,
        cover=cover,
        steam=steam.mass / step,
        vapour=state.vapour + left * steam.mass,
        droplets=state.droplets + thrown,
    )
    entered = Ledger(
        electrical=ledger.electrical + drive.metered * step,
        lead=ledger.lead + drive.lead * step,
        latent=ledger.latent + left * steam.latent,
        carried=ledger.carried + left * steam.carried + thrown_heat,
        lost=ledger.lost + wall_lost + base,
        returned=ledger.returned + given_off,
    )
    return after, entered


def _warmth(setup: Setup, temperature: FloatArray) -> FloatArray:
    """Excess over the room's temperature, relative to that at the boil."""
    return (temperature - setup.room_temperature) / (setup.water.boiling_point - setup.room_temperature)


def _element(
    setup: Setup, state: State, temperature: FloatArray, power: FloatArray, step: float
) -> tuple[FloatArray, FloatArray]:
    """Temperature of the element after the step, and heat that it gave to the water: exact for steady power."""
    target = temperature + power / setup.element_conductance
    decay = np.exp(-step * setup.element_conductance / setup.element_heat_capacity)
    element = target + (state.element - target) * decay
    return element, power * step - setup.element_heat_capacity * (element - state.element)


def _wall(
    setup: Setup, truth: Truth, state: State, metered: FloatArray, step: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Wall and steam cover after the step, heat into the wall and heat lost by it."""
    settling = 1.0 - np.exp(-step / behaviour("steam_cover_time"))
    cover = state.cover + ((metered > 0.0) - state.cover) * settling
    weaker = np.clip(1.0 - metered / setup.powers[0], 0.0, 1.0)
    missing = truth.missing_off * (1.0 - cover) + truth.missing_low * weaker * cover
    at_boil = setup.water.boiling_point - truth.wall_loss / setup.wall_conductance
    excess = np.maximum(state.wall - setup.room_temperature, 0.0) / (at_boil - setup.room_temperature)
    loss = truth.wall_loss * (1.0 - missing) * excess**LOSS_EXPONENT
    target = state.temperature(setup) - loss / setup.wall_conductance
    decay = np.exp(-step * setup.wall_conductance / setup.wall_heat_capacity)
    wall = target + (state.wall - target) * decay
    return wall, cover, setup.wall_heat_capacity * (wall - state.wall) + loss * step, loss * step


def _steam(
    setup: Setup, truth: Truth, content: tuple[FloatArray, FloatArray], superheat: FloatArray, step: float
) -> tuple[Steam, FloatArray, FloatArray]:
    """Vapour by evaporation from the surface and by boiling, and the water and heat that are left."""
    water, heat = content
    properties = setup.water
    warm = heat / water
    temperature = setup.room_temperature + warm / properties.specific_heat
    latent = properties.latent_heat + setup.latent_slope * (temperature - properties.boiling_point)
    pressure = np.interp(temperature, setup.temperatures, setup.pressures) - behaviour("room_vapour")
    flux = PAN_COEFFICIENT * truth.evaporation_factor * np.maximum(pressure, 0.0) / latent
    evaporated = np.minimum(flux * setup.area * step, 0.5 * water)
    water, heat = water - evaporated, heat - evaporated * (warm + latent)
    at_boil = properties.specific_heat * (properties.boiling_point + superheat - setup.room_temperature)
    boiled = np.minimum(np.maximum(heat - water * at_boil, 0.0) / properties.latent_heat, 0.5 * water)
    heat = heat - boiled * (at_boil + properties.latent_heat)
    steam = Steam(
        mass=evaporated + boiled,
        latent=evaporated * latent + boiled * properties.latent_heat,
        carried=evaporated * warm + boiled * at_boil,
    )
    return steam, water - boiled, heat


def _hardware(
    setup: Setup, truth: Truth, state: State, temperature: FloatArray, steam: Steam, step: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """
    Share of the steam that condenses on hardware, its temperature after the step, heat given off to the room.

    Where air has got into the freeboard its dew point is too low for steam to condense on hot hardware.
    """
    span = setup.water.boiling_point - setup.room_temperature
    conductance = state.cover * truth.return_loss / (HARDWARE_GAP * span)
    wanted = conductance * np.maximum(temperature - state.hardware, 0.0) * step
    condensed = np.minimum(np.divide(wanted, steam.latent, out=np.zeros_like(wanted), where=steam.latent > 0.0), 1.0)
    given_off = truth.return_loss * _warmth(setup, state.hardware) / (1.0 - HARDWARE_GAP) * step
    hardware = state.hardware + (condensed * steam.latent - given_off) / setup.hardware_heat_capacity
    return condensed, hardware, given_off


def carried_over(setup: Setup, truth: Truth, state: State, steam_power: FloatArray) -> FloatArray:
    """Share of the lost mass that is thrown out as droplets now. [1]"""
    stem_area = truth.stem_factor * setup.stem_area
    freeboard = np.maximum(setup.rim - state.level(setup, stem_area), 1e-3)
    ratio = (steam_power / 1000.0) * (0.050 / freeboard)
    middle = truth.carry_over * ratio * ratio * ratio
    steeper = np.clip(np.sqrt(middle / STEEPER_FROM), 1.0, STEEPEST)
    return np.asarray(np.minimum(middle * steeper, MOST_CARRIED))


def _droplets(
    setup: Setup, truth: Truth, state: State, steam: Steam, step: float, generator: np.random.Generator
) -> FloatArray:
    """Mass thrown out in the step: splashes come at random, their masses vary as an exponential distribution."""
    share = carried_over(setup, truth, state, steam.latent / step)
    event = behaviour("droplet_event")
    splashes = generator.poisson(steam.mass * share / (1.0 - share) / event)
    thrown = np.zeros_like(steam.mass)
    some = np.flatnonzero(splashes)
    thrown[some] = event * generator.standard_gamma(splashes[some].astype(np.float64))
    return np.minimum(thrown, 0.5 * state.water)


def recoil(setup: Setup, steam: FloatArray) -> FloatArray:
    """Mass that the rising steam's thrust on the vessel looks like. [kg]"""
    return np.asarray(steam**2 / (setup.water.vapour_density * setup.area * STANDARD_GRAVITY))


EVERY = 4
"""Steps between two points of a trace."""


@dataclass(frozen=True)
class Traces:
    """
    Traces of some runs; time of shape (k,), the others of shape (k, traced).

    Time in s, power in W, masses in kg (indicated: as the balance shows it; true: water in the vessel), temperature
    in K, counts (energy over one count's), errors of the books relative to what came in.
    """

    time: FloatArray
    power: FloatArray
    indicated: FloatArray
    true: FloatArray
    temperature: FloatArray
    counts: FloatArray
    energy_error: FloatArray
    mass_error: FloatArray


class Tracer:
    """Collects the traces of the first runs while they are played."""

    def __init__(self, setup: Setup, truth: Truth, traced: int) -> None:
        self._setup = setup
        self._phase = truth.phase[:traced]
        self._traced = traced
        self._rows: list[tuple[FloatArray, ...]] = []

    def add(self, count: int, seen: Seen, power: FloatArray, books: tuple[State, Ledger]) -> None:
        """Add a point, if it is time for one."""
        if self._traced == 0 or count % EVERY:
            return
        setup, (state, ledger) = self._setup, books
        columns = (
            np.full(power.size, seen.time),
            power,
            seen.mass,
            state.water,
            seen.temperature,
            seen.shown_energy / count_energy(setup),
            ledger.energy_error(state, setup),
            mass_error(state, setup),
        )
        self._rows.append(tuple(column[: self._traced].copy() for column in columns))

    def traces(self) -> Traces:
        """Give all points so far."""
        width = self._traced
        table = np.array(self._rows, dtype=np.float64).reshape(len(self._rows), 8, width)
        time, *others = np.moveaxis(table, 1, 0)
        power, indicated, true, temperature, counts, energy_error, fault = others
        clock = time[:, 0] if width else np.zeros(0)
        return Traces(clock, power, indicated, true, temperature, counts + self._phase, energy_error, fault)
