"""How often an improved method wins: the same methods on many plausible kits, drawn from stated distributions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.binomial import binomial_interval
from budget.quantities.distributions import Rectangular
from design.bench import Bench, Lesson, Observer, Room, SearchRange, Supply
from design.chosen import Design
from design.comparison.changes import IMPROVEMENTS, LIKE_JACKET, LIKE_MASSES, WAYS, Alternative
from design.kit import Balance, Heater, Kit, Meter, Vessel
from design.materials import Jacket
from design.physics.water import ICE_POINT, pressure_at_altitude
from design.procedures.registry import USUAL
from design.search.planning import Progress
from design.search.sample import Sample, errors_of, rms
from design.search.today import USUAL_CORRECTION
from design.setting.hardware import conditions_of

KITS = 300
"""Kits in the population."""
MOST_DRAWS = 20
"""Draws per kit wanted: physically impossible kits (too weak, too small) are drawn again."""
KWH = 3.6e6
"""One kilowatt-hour. [J]"""
LONG_LESSON = 24 * 3600.0
"""Lesson of the population: time is shown, not limited. [s]"""

STRONGEST_POWER = 2500.0
"""Strongest heater of the population, where the circuit bears it. [W]"""
POWER_SHARES = (0.12, 1.0)
"""Range of the powers, over the strongest."""
VESSEL_SHARES = (0.25, 1.0)
"""Range of the capacities, in litres a kilowatt of the strongest."""
STEP_SHARES = (0.06, 0.25)
"""Range of the mass steps, over the water that the vessel holds."""
DEPTH_SHARES = (0.25, 0.45)
"""Range of the depth that covers the element, over the height of the vessel."""
COUNTS: tuple[tuple[Literal["disk", "pulse", "display"], FloatArray], ...] = (
    ("disk", KWH / np.array([75.0, 120.0, 375.0, 600.0])),
    ("pulse", KWH / np.array([800.0, 1600.0, 3200.0])),
    ("display", 1e-3 * KWH * np.array([1.0, 10.0, 100.0])),
)  # fmt: skip
"""Kinds of meters with the energies of a count. [J]"""


def strongest_power(bench: Bench) -> float:
    """Strongest heater that the circuit of a bench bears, within reason. [W]"""
    return min(STRONGEST_POWER, bench.supply.voltage * bench.supply.current_limit / bench.lesson.groups)


def drawn_from(bench: Bench) -> tuple[tuple[str, str], ...]:
    """Say what is drawn, and from what: judgement about schools' cupboards, not a survey; the circuit limits power."""
    strongest = strongest_power(bench)
    powers = " to ".join(f"{strongest * share:.0f}" for share in POWER_SHARES)
    capacities = " to ".join(f"{strongest / 1000.0 * share:.2g}" for share in VESSEL_SHARES)
    return (
        ("heater", f"{powers} W, evenly in the logarithm; from a stand in 4 of 5 kits; 1 or 2 stems of 6 to 10 mm"),
        ("vessel", f"{capacities} L, evenly in the logarithm; 1.2 to 1.6 times as high as wide; glass; bare in 3 of 5"),
        ("jacket", "cork of 10, 20 or 30 mm where there is one"),
        ("meter", "disk of 75 to 600 rev/kWh, pulses of 800 to 3200 per kWh, or display steps of 1, 10 or 100 Wh"),
        ("meter's limits of error", "1, 2 or 3 % either way"),
        ("balance", "display of 0.1, 0.2, 0.5, 1 or 2 g; repeatability half a step to one, linearity one to three"),
        ("mass step", "6 to 25 % of the vessel's capacity, evenly in the logarithm; one run or three"),
        ("supply", "tolerance 3 to 9 %"),
        ("room", "0 to 1500 m above sea level, 16 to 26 °C"),
        ("losses, carry-over, noise", "as calculated for each kit, with the spread of the table of evidence"),
    )


@dataclass(frozen=True)
class Standing:
    """
    How a way of working fares in the population.

    Kits on which it is possible, on which its rms error is below that of the usual way, and on which it is the least of
    all procedures and corrections; exact interval of the share of wins among the possible at 95 %, and median of its
    rms error over that of the usual way on them. [1]
    """

    way: Alternative
    possible: int
    wins: int
    best: int
    interval: tuple[float, float]
    median_ratio: float


@dataclass(frozen=True)
class Population:
    """Plausible kits, how many were drawn to find them, and how every way stands against the usual one on them."""

    kits: int
    drawn: int
    procedures: tuple[Standing, ...]
    improvements: tuple[Standing, ...]


def population_of(bench: Bench, seed: int, sample: Sample, progress: Progress, kits: int = KITS) -> Population:
    """
    Compare methods on as many plausible kits as are wanted, each method's rms error worked out on a sample.

    Voltage and current limit of the bench's supply are kept, everything else is drawn with the seed.
    """
    generator = np.random.default_rng(seed)
    rows: list[list[float]] = []
    drawn = 0
    while len(rows) < kits and drawn < MOST_DRAWS * kits:
        drawn += 1
        usual = _drawn(bench, generator)
        own = _error(usual, sample)
        if np.isfinite(own):
            rows.append([own, *(_error(way.make(usual), sample) for way in (*WAYS, *IMPROVEMENTS))])
            progress("drawing plausible kits", len(rows), kits)
    errors = np.array(rows).reshape(-1, 1 + len(WAYS) + len(IMPROVEMENTS)).T
    least = np.nan_to_num(errors[1 : len(WAYS) + 1], nan=np.inf).min(axis=0)
    procedures = tuple(_standing(way, error, errors[0], least) for way, error in zip(WAYS, errors[1:], strict=False))
    improvements = tuple(
        _standing(way, error, errors[0], np.zeros_like(least))
        for way, error in zip(IMPROVEMENTS, errors[len(WAYS) + 1 :], strict=True)
    )
    return Population(len(rows), drawn, procedures, improvements)


def _error(design: Design | None, sample: Sample) -> float:
    """Rms error of a method on a kit; not a number where it cannot be used."""
    return float("nan") if design is None or design.obstacles else rms(errors_of(design, sample))


def _standing(way: Alternative, error: FloatArray, usual: FloatArray, least: FloatArray) -> Standing:
    possible = np.isfinite(error)
    wins, number = int(np.sum(error < usual * (1.0 - 1e-9))), int(possible.sum())
    return Standing(
        way=way,
        possible=number,
        wins=wins,
        best=int(np.sum(error <= least)),
        interval=binomial_interval(wins, number),
        median_ratio=float(np.median(error[possible] / usual[possible])) if number else float("nan"),
    )


def _drawn(bench: Bench, generator: np.random.Generator) -> Design:
    """One plausible kit, used in the usual way."""
    altitude = float(generator.choice([0.0, 250.0, 500.0, 1000.0, 1500.0]))
    changed = replace(
        bench,
        room=Room(pressure_at_altitude(altitude), ICE_POINT + float(generator.integers(16, 27))),
        supply=Supply(bench.supply.voltage, float(generator.uniform(0.03, 0.09)), bench.supply.current_limit),
        lesson=Lesson(LONG_LESSON, 0.0),
        observer=Observer(bench.observer.reaction_time, float(generator.choice([1e-4, 2e-4, 5e-4]))),
        search=SearchRange(),
        knowledge={},
    )
    strongest = strongest_power(bench)
    vessel = _vessel(generator, strongest)
    heater = _heater(generator, strongest, vessel, bench.supply.voltage)
    kit = Kit(_balance(generator), _meter(generator), heater, vessel, LIKE_MASSES)
    mass = vessel.capacity * 1000.0 * _evenly_in_logarithm(generator, *STEP_SHARES)
    repeats = int(generator.choice([1, 3]))
    return Design(conditions_of(changed), kit, USUAL, USUAL_CORRECTION, (heater.power,), mass, repeats)


def _evenly_in_logarithm(generator: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(generator.uniform(np.log(low), np.log(high))))


def _vessel(generator: np.random.Generator, strongest: float) -> Vessel:
    capacity = 1e-6 * strongest * _evenly_in_logarithm(generator, *VESSEL_SHARES)
    slimness = float(generator.uniform(1.2, 1.6))
    diameter = (4.0 * 1.15 * capacity / (pi * slimness)) ** (1.0 / 3.0)
    lagged = bool(generator.random() < 0.4)
    lagging = replace(LIKE_JACKET, text="lagging", thickness=float(generator.choice([0.010, 0.020, 0.030])))
    return Vessel(
        name="vessel",
        capacity=capacity,
        diameter=diameter,
        height=slimness * diameter,
        mass=0.35 * capacity / 1e-3,
        material="glass",
        jacket=lagging if lagged else Jacket(),
    )


def _heater(generator: np.random.Generator, strongest: float, vessel: Vessel, voltage: float) -> Heater:
    return Heater(
        name="heater",
        power=strongest * _evenly_in_logarithm(generator, *POWER_SHARES),
        rated_voltage=voltage,
        tolerance=float(generator.choice([0.05, 0.10])),
        stem_diameter=float(generator.uniform(0.006, 0.010)),
        stems=int(generator.choice([1, 2])),
        minimum_depth=vessel.height * float(generator.uniform(*DEPTH_SHARES)),
        held_by="stand" if generator.random() < 0.8 else "vessel",
        flex=float(generator.uniform(1.0, 2.0)),
    )


def _meter(generator: np.random.Generator) -> Meter:
    limit = float(generator.choice([0.01, 0.02, 0.03]))
    place = int(generator.integers(len(COUNTS)))
    energy = [float(generator.choice(energies)) for _, energies in COUNTS][place]
    return Meter(
        name="meter",
        kind=COUNTS[place][0],
        energy_per_count=energy,
        reads="whole",
        error=Rectangular(-limit, limit),
        max_voltage=np.inf,
        max_current=np.inf,
        max_power=np.inf,
    )


def _balance(generator: np.random.Generator) -> Balance:
    resolution = float(generator.choice([0.1e-3, 0.2e-3, 0.5e-3, 1e-3, 2e-3]))
    return Balance(
        name="balance",
        kind="electronic",
        resolution=resolution,
        repeatability=resolution * float(generator.uniform(0.5, 1.0)),
        linearity=resolution * float(generator.uniform(1.0, 3.0)),
        capacity=10.0,
        splash_proof=True,
        stability_filter=False,
    )
