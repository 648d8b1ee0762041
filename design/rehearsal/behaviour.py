"""
What the virtual bench does that no budget states, and what is true of each run: every such thing is a row here.

Bench and budget share the water at the boil, the geometry of a kit, its filling (``design.physics``,
``design.setting``), and the distributions from which the rows of ``TRUTHS`` made by ``shared`` are drawn: where the
truth is wider than the budget knows, it is such a row that says so. They share no equation. What the bench does by
itself is a row of ``BEHAVIOURS``, whose law is called by name where it acts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import Constant, Distribution, Rectangular
from design.physics.evidence import evidence
from design.setting.hardware import LOSSES
from design.setting.situation import Situation
from design.setting.terms import default_distribution


def itself(value: float) -> float:
    """Law of what is used as it stands."""
    return value


def conductance(above: float, power: float) -> float:
    """Law of what stands above the water by so much at its own power. [W/K]"""
    return power / above


def gone(time: float, step: float) -> float:
    """Law of a lag: share of the way to its goal that is gone in a step."""
    return 1.0 - float(np.exp(-step / time))


def kept(time: float, step: float) -> float:
    """Law of what wanders: share of a deviation that is kept over a step."""
    return float(np.exp(-step / time))


def drift(digits: float, digit: float, step: float) -> float:
    """Law of a zero's random walk: deviation that a step adds, from that of a quarter of an hour. [kg]"""
    return digits * digit * float(np.sqrt(step / 900.0))


def delayed(delays: float, scatter: float, chance: FloatArray) -> FloatArray:
    """Law of a reaction: late by some times its scatter, and never early. [s]"""
    return np.asarray(np.maximum(scatter * (delays + chance), 0.0))


def about_median(median: float, chance: FloatArray) -> FloatArray:
    """Law of a share of bubbles: lognormal by a factor of two, at most a tenth. [1]"""
    return np.asarray(np.clip(median * np.exp(np.log(2.0) * chance), 0.0, 0.1))


@dataclass(frozen=True)
class Behaviour:
    """What the bench does: its key, what it is, default, unit and evidence, and the law by which the default acts."""

    key: str
    quantity: str
    value: float
    unit: str
    source: str
    law: Callable[..., Any] = itself


BEHAVIOURS: tuple[Behaviour, ...] = (
    Behaviour("element_superheat", "element above the water at its own power", 20.0, "K",
              "nucleate boiling at 100 kW/m2 (textbook boiling curve, from memory)", conductance),
    Behaviour("inner_coefficient", "heat transfer from water and steam to the wall", 1500.0, "W/(m2 K)",
              "film condensation with some air mixed in, 0.3 to 2 kW/(m2 K) (from memory)",
              lambda coefficient, area: coefficient * area),
    Behaviour("hardware_heat_capacity", "heat capacity of the hardware in the steam", 40.0, "J/K",
              "judgement: half of a 0.2 kg steel clamp"),
    Behaviour("drip_time", "time that condensate takes to run back", 30.0, "s",
              "judgement: drops of 0.05 g from a few watts of condensing steam", gone),
    Behaviour("steam_cover_time", "time in which the freeboard cools or warms", 40.0, "s",
              "judgement: heat capacity of a glass wall over its film coefficient, several minutes without wind", gone),
    Behaviour("void_share", "share of bubbles round the element at 1 kW (median, logarithm's deviation ln 2)", 0.01,
              "1", "judgement: 1 to 5 % of void shifts a reading by 0.5 to 2.7 g at 60 cm3", about_median),
    Behaviour("supply_wander", "short-term wander of the supply voltage", 0.003, "1",
              "0.5 to 1.5 % within a run, from end to end (from memory)"),
    Behaviour("wander_time", "correlation time of the supply's wander", 60.0, "s", "judgement", kept),
    Behaviour("superheat_time", "correlation time of the water's mean temperature at the boil", 30.0, "s",
              "judgement: turn-over of the water by convection", kept),
    Behaviour("noise_time", "correlation time of the boil's push on the balance", 2.0, "s",
              "judgement: bubbles and swing of the surface", kept),
    Behaviour("balance_time", "time in which a balance follows its load", 0.8, "s",
              "common practice, no source: about a second", gone),
    Behaviour("balance_drift", "drift of the zero of an electronic balance in a quarter of an hour, over its digit",
              0.5, "1", "judgement; OIML R 76 lets the zero move by a verification interval for 5 K (from memory)",
              drift),
    Behaviour("wetting_steam", "steam after which lagging that gets wet is wet", 0.1, "kg", "judgement",
              lambda mass, gone_by: 1.0 - np.exp(-gone_by / mass)),
    Behaviour("bubbles_gather", "how far bubbles gather where the water rises", 0.195, "1",
              "1.2 - 0.2 (density of vapour over water)^(1/2) - 1 (Ishii 1977, from memory)"),
    Behaviour("bubble_time", "time in which the bubbles in the water are replaced", 2.0, "s",
              "judgement: 0.1 m of water at half a metre a second, and the slosh of the surface", gone),
    Behaviour("burst_time", "time in which bursts above the rim carry off what they lift", 20.0, "s",
              "judgement: a burst a second, on a twentieth of the surface", gone),
    Behaviour("stays_on_pan", "share of the water over the rim that stays on the pan", 0.5, "1",
              "judgement: some runs down the vessel, some drips off the pan"),
    Behaviour("droplet_event", "mass of one splash", 2e-5, "kg", "judgement: a few drops of 2 mm"),
    Behaviour("room_vapour", "partial pressure of vapour in the room", 1200.0, "Pa",
              "half of saturation at 21 degrees Celsius"),
    Behaviour("reaction_delay", "mean delay of a reading after what calls for it, over its scatter", 3.0, "1",
              "judgement: the delay is not negative; at start and stop its mean is the same", delayed),
)  # fmt: skip
"""Everything that the bench does by itself: judgement unless a source is named; none of it enters the budget."""
_BY_KEY = {row.key: row for row in BEHAVIOURS}


def act(key: str, *given: Any) -> Any:
    """What the law of a behaviour makes of its default and of what is given."""
    row = _BY_KEY[key]
    return row.law(row.value, *given)


Truth = Mapping[str, FloatArray]
"""What is true of each run, by the keys of ``TRUTHS``; arrays of shape (n,), ``linearity`` of shape (n, powers)."""
Law = Callable[[Situation, Truth, int, np.random.Generator], FloatArray]
"""Draws what is true from one setting of a kit, the truths drawn before, the number of runs, and chance."""

PAN_RATE = 3.3e-3
"""Evaporation of still water near 95 °C by the pan formula of ``design.rehearsal.advance``. [kg/(m² s)]"""
LONGEST_PAUSE = 900.0
"""Longest pause by which a stated restart energy is played. [s]"""


def shared(known: Callable[[Situation], Distribution], *, add: float = 0.0, over: float = 1.0) -> Law:
    """Law of a truth drawn from what the budget knows, as it is, or with something added, or over something."""
    return lambda situation, _, runs, generator: add + drawn(known(situation), runs, generator) / over


def neutral(value: float) -> Law:
    """Law of a truth that makes no difference as the world is stated; ``design.rehearsal.worlds`` sets it otherwise."""
    return lambda _, __, runs, ___: np.full(runs, value)


def of_kit(key: str) -> Law:
    """Law of a truth drawn from what is known of vessel and heater."""
    return shared(lambda situation: situation.hardware.knowledge[key])


def of_default(key: str, *, add: float = 0.0, over: float = 1.0) -> Law:
    """Law of a truth drawn from a row of the table of evidence."""
    return shared(lambda _: default_distribution(key), add=add, over=over)


def within(limit: Callable[[Situation], float]) -> Law:
    """Law of a truth that lies anywhere within a limit either way."""

    def known(situation: Situation) -> Distribution:
        half = limit(situation)
        return Rectangular(-half, half) if half > 0.0 else Constant(0.0)

    return shared(known)


def drawn(distribution: Distribution, runs: int, generator: np.random.Generator) -> FloatArray:
    """Independent draws of a distribution, shape (runs,)."""
    if distribution.standard_uncertainty == 0.0:
        return np.full(runs, distribution.mean)
    return np.asarray(distribution.ppf(generator.random(runs)), dtype=np.float64)


def _meter_error(situation: Situation) -> Distribution:
    return situation.conditions.bench.knowledge.get("meter_error", situation.kit.meter.error)


def _mass_accuracy(situation: Situation) -> float:
    return situation.kit.mass_set.accuracy if situation.kit.mass_set else 0.0


def _voids(_: Situation, __: Truth, runs: int, generator: np.random.Generator) -> FloatArray:
    return np.asarray(act("void_share", generator.standard_normal(runs)))


def _drift(situation: Situation, _: Truth, runs: int, generator: np.random.Generator) -> FloatArray:
    swell = situation.hardware.swell
    return np.asarray(swell.drift * np.exp(swell.spread * generator.standard_normal(runs)))


def _heave(situation: Situation, _: Truth, runs: int, generator: np.random.Generator) -> FloatArray:
    return np.asarray(np.exp(situation.hardware.swell.heave_spread * generator.standard_normal(runs)))


def _linearity(situation: Situation, _: Truth, runs: int, generator: np.random.Generator) -> FloatArray:
    return generator.uniform(-1.0, 1.0, (runs, situation.settings.powers.shape[1]))


def _pause(situation: Situation, truth: Truth, runs: int, generator: np.random.Generator) -> FloatArray:
    """Pause of the table of evidence, or the one in which the losses take the energy that the bench file states."""
    stated = situation.conditions.bench.knowledge.get("restart_cooling")
    if stated is None:
        return drawn(default_distribution("pause"), runs, generator)
    energy, loss = drawn(stated, runs, generator), np.sum([truth[key] for key in LOSSES], axis=0)
    pause = np.divide(energy, loss, out=np.zeros_like(loss), where=loss > 0.0)
    return np.asarray(np.clip(pause, 0.0, min(LONGEST_PAUSE, evidence("pause").high * 3.0)))


@dataclass(frozen=True)
class TrueQuantity:
    """What is true of a run: its key, the unit that reports show it in, and its law."""

    key: str
    unit: str
    law: Law


TRUTHS: tuple[TrueQuantity, ...] = (
    TrueQuantity("wall_loss", "W", of_kit("wall_loss")),
    TrueQuantity("base_loss", "W", of_kit("base_loss")),
    TrueQuantity("return_loss", "W", of_kit("return_loss")),
    TrueQuantity("carry_over", "%", of_kit("carry_over")),
    TrueQuantity("evaporation_factor", "", of_default("heater_off_evaporation", over=PAN_RATE)),
    TrueQuantity("void_share", "%", _voids),
    TrueQuantity("spot_cooling", "", of_default("cooling_balance", add=1.0)),
    TrueQuantity("missing_low", "%", of_default("dry_wall")),
    TrueQuantity("missing_off", "%", of_default("freeboard_share")),
    TrueQuantity("meter_error", "%", shared(_meter_error)),
    TrueQuantity("heater_error", "%", within(lambda situation: situation.kit.heater.tolerance)),
    TrueQuantity("supply_error", "%", within(lambda situation: situation.conditions.bench.supply.tolerance)),
    TrueQuantity("mass_error", "%", within(_mass_accuracy)),
    TrueQuantity("lead_factor", "", of_default("element_lead")),
    TrueQuantity("stem_factor", "", of_default("stem_area_factor")),
    TrueQuantity("linearity", "", _linearity),
    TrueQuantity("pause", "s", _pause),
    TrueQuantity("drift", "m/s", _drift),
    TrueQuantity("heave_factor", "", _heave),
    TrueQuantity("noise_factor", "", neutral(1.0)),
    TrueQuantity("void_slope", "", neutral(0.0)),
    TrueQuantity("wetting", "", neutral(0.0)),
    TrueQuantity("dripping", "%", neutral(0.0)),
    TrueQuantity("phase", "", lambda _, __, runs, generator: generator.random(runs)),
    TrueQuantity("still_loss", "%", of_default("still_loss")),
    TrueQuantity("storage", "", of_default("jacket_storage")),
)  # fmt: skip
"""Everything that is true of a run, in the order in which it is drawn."""


def draw_truth(situation: Situation, runs: int, generator: np.random.Generator) -> Truth:
    """Draw what is true of each run of one setting of a kit."""
    truth: dict[str, FloatArray] = {}
    for row in TRUTHS:
        truth[row.key] = np.asarray(row.law(situation, truth, runs, generator))
    return truth
