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
    """What the bench does: its key, default and unit, and the law by which the default acts."""

    key: str
    value: float
    unit: str
    law: Callable[..., Any] = itself


BEHAVIOURS: tuple[Behaviour, ...] = (
    Behaviour("element_superheat", 20.0, "K", conductance),
    Behaviour("inner_coefficient", 1500.0, "W/(m2 K)", lambda coefficient, area: coefficient * area),
    Behaviour("hardware_heat_capacity", 40.0, "J/K"),
    Behaviour("drip_time", 30.0, "s", gone),
    Behaviour("steam_cover_time", 40.0, "s", gone),
    Behaviour("void_share", 0.01, "1", about_median),
    Behaviour("supply_wander", 0.003, "1"),
    Behaviour("wander_time", 60.0, "s", kept),
    Behaviour("superheat_time", 30.0, "s", kept),
    Behaviour("noise_time", 2.0, "s", kept),
    Behaviour("balance_time", 0.8, "s", gone),
    Behaviour("balance_drift", 0.5, "1", drift),
    Behaviour("wetting_steam", 0.1, "kg", lambda mass, gone_by: 1.0 - np.exp(-gone_by / mass)),
    Behaviour("bubbles_gather", 0.195, "1"),
    Behaviour("bubble_time", 2.0, "s", gone),
    Behaviour("burst_time", 20.0, "s", gone),
    Behaviour("stays_on_pan", 0.5, "1"),
    Behaviour("droplet_event", 2e-5, "kg"),
    Behaviour("room_vapour", 1200.0, "Pa"),
    Behaviour("reaction_delay", 3.0, "1", delayed),
)
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
