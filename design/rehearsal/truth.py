"""One bench as it really is: what is true of it, and how it behaves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import Distribution, Rectangular
from design.physics.evidence import Evidence, evidence
from design.setting.situation import Situation
from design.setting.terms import default_distribution

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


PAN_RATE = 3.3e-3
"""Evaporation of still water near 95 °C by the pan formula of ``design.rehearsal.advance``. [kg/(m² s)]"""
LONGEST_PAUSE = 900.0
"""Longest pause by which a stated restart energy is played. [s]"""


@dataclass(frozen=True)
class Truth:
    """
    What is true of each run; arrays of shape (n,).

    Parameters
    ----------
    wall_loss, base_loss, return_loss : ndarray
        At the boil. [W]
    carry_over : ndarray
        Share of the lost mass at 1 kW and 50 mm of freeboard. [1]
    evaporation_factor, void_share, spot_cooling : ndarray
        True over calculated evaporation; bubbles round the element; cooling at the thermometer over the mean. [1]
    missing_low, missing_off : ndarray
        Share of the wall's loss that is missing at a power near nothing, and with the heater off: air gets in. [1]
    meter_error, heater_error, supply_error, mass_error : ndarray
        Relative. [1]
    lead_factor, stem_factor : ndarray
        True over calculated. [1]
    linearity : ndarray, shape (n, p)
        Error of the balance over a run at each power, relative to its limit. [1]
    pause : ndarray
        Time for which the heater is switched off at a restart. [s]
    phase : ndarray
        Part of a count that the meter has done at the start. [1]
    """

    wall_loss: FloatArray
    base_loss: FloatArray
    return_loss: FloatArray
    carry_over: FloatArray
    evaporation_factor: FloatArray
    void_share: FloatArray
    spot_cooling: FloatArray
    missing_low: FloatArray
    missing_off: FloatArray
    meter_error: FloatArray
    heater_error: FloatArray
    supply_error: FloatArray
    mass_error: FloatArray
    lead_factor: FloatArray
    stem_factor: FloatArray
    linearity: FloatArray
    pause: FloatArray
    phase: FloatArray

    @property
    def runs(self) -> int:
        """Number of runs."""
        return self.wall_loss.size


def draw_truth(situation: Situation, runs: int, generator: np.random.Generator) -> Truth:
    """
    Draw what is true of each run.

    Parameters
    ----------
    situation : Situation
        One setting of a kit.
    runs : int
        Number of runs.
    generator : numpy.random.Generator
        Source of chance.

    Returns
    -------
    Truth
    """
    bench, kit = situation.conditions.bench, situation.kit
    known = situation.hardware.knowledge

    def draw(distribution: Distribution) -> FloatArray:
        return drawn(distribution, runs, generator)

    def limits(half_width: float) -> FloatArray:
        return draw(Rectangular(-half_width, half_width)) if half_width > 0.0 else np.zeros(runs)

    losses = {key: draw(known[key]) for key in ("wall_loss", "base_loss", "return_loss")}
    return Truth(
        **losses,
        carry_over=draw(known["carry_over"]),
        evaporation_factor=draw(default_distribution("heater_off_evaporation")) / PAN_RATE,
        void_share=_about_median("void_share", runs, generator),
        spot_cooling=1.0 + draw(default_distribution("cooling_balance")),
        missing_low=draw(default_distribution("dry_wall")),
        missing_off=draw(default_distribution("freeboard_share")),
        meter_error=draw(bench.knowledge.get("meter_error", kit.meter.error)),
        heater_error=limits(kit.heater.tolerance),
        supply_error=limits(bench.supply.tolerance),
        mass_error=limits(kit.mass_set.accuracy if kit.mass_set else 0.0),
        lead_factor=draw(default_distribution("element_lead")),
        stem_factor=draw(default_distribution("stem_area_factor")),
        linearity=generator.uniform(-1.0, 1.0, (runs, situation.settings.powers.shape[1])),
        pause=_pause(situation, sum(losses.values(), np.zeros(runs)), generator),
        phase=generator.random(runs),
    )


def drawn(distribution: Distribution, runs: int, generator: np.random.Generator) -> FloatArray:
    """Independent draws of a distribution, shape (runs,)."""
    if distribution.standard_uncertainty == 0.0:
        return np.full(runs, distribution.mean)
    return np.asarray(distribution.ppf(generator.random(runs)), dtype=np.float64)


def _about_median(key: str, runs: int, generator: np.random.Generator) -> FloatArray:
    """Lognormal draws about a median with a factor as spread, kept within the row's range."""
    row = behaviour_row(key)
    values = row.value * np.exp(np.log(row.spread) * generator.standard_normal(runs))
    return np.asarray(np.clip(values, row.low, row.high))


def _pause(situation: Situation, loss: FloatArray, generator: np.random.Generator) -> FloatArray:
    """Pause of the table of evidence, or the one in which the losses take the energy that the bench file states."""
    stated = situation.conditions.bench.knowledge.get("restart_cooling")
    if stated is None:
        return drawn(default_distribution("pause"), loss.size, generator)
    energy = drawn(stated, loss.size, generator)
    pause = np.divide(energy, loss, out=np.zeros_like(loss), where=loss > 0.0)
    return np.clip(pause, 0.0, min(LONGEST_PAUSE, evidence("pause").high * 3.0))
