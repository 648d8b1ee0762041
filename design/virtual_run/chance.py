"""What wanders from second to second: supply, temperature at the boil, push of the boil, zero of the balance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from design.physics.evidence import default, evidence
from design.virtual_run.behaviour import behaviour
from design.virtual_run.setup import Setup

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Wander:
    """
    What wanders; arrays of shape (n,).

    Parameters
    ----------
    supply : ndarray
        Supply voltage about its mean. [1]
    superheat : ndarray
        Mean temperature of the water about the boiling point. [K]
    push : ndarray
        Push of the boil on the balance, in standard deviations.
    zero : ndarray
        Drift of the balance's zero since the start. [kg]
    """

    supply: FloatArray
    superheat: FloatArray
    push: FloatArray
    zero: FloatArray


def start_wander(runs: int, generator: np.random.Generator) -> Wander:
    """Wander in its steady state, the balance at zero."""
    first = generator.standard_normal((3, runs))
    return Wander(
        supply=behaviour("supply_wander") * first[0],
        superheat=superheat_deviation() * first[1],
        push=first[2],
        zero=np.zeros(runs),
    )


def stir(setup: Setup, wander: Wander, step: float, generator: np.random.Generator) -> Wander:
    """Wander one step later: exponentially correlated, and a random walk of the zero."""
    fresh = generator.standard_normal((4, wander.zero.size))
    return Wander(
        supply=_relaxed(wander.supply, fresh[0], behaviour("supply_wander"), step / behaviour("wander_time")),
        superheat=_relaxed(wander.superheat, fresh[1], superheat_deviation(), step / behaviour("superheat_time")),
        push=_relaxed(wander.push, fresh[2], 1.0, step / behaviour("noise_time")),
        zero=wander.zero + drift_deviation(setup) * np.sqrt(step / 900.0) * fresh[3],
    )


def _relaxed(value: FloatArray, fresh: FloatArray, deviation: float, steps: float) -> FloatArray:
    keep = np.exp(-steps)
    return np.asarray(keep * value + deviation * np.sqrt(1.0 - keep**2) * fresh)


def superheat_deviation() -> float:
    """Standard deviation of the temperature at the boil: two readings far apart differ by √2 times as much. [K]"""
    return evidence("temperature_drift").spread / math.sqrt(2.0)


def drift_deviation(setup: Setup) -> float:
    """Standard deviation of the zero's drift in a quarter of an hour; none on a beam. [kg]"""
    balance = setup.kit.balance
    return behaviour("balance_drift") * balance.resolution if balance.kind == "electronic" else 0.0


def push_deviation(power: FloatArray) -> FloatArray:
    """Standard deviation of the boil's push on one reading. [kg]"""
    growth = np.maximum(power / 1000.0, 1.0) ** default("boiling_noise_exponent")
    return np.asarray(evidence("boiling_noise").spread * growth)
