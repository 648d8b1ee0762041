"""How often an improved method wins: the same methods on many plausible kits, drawn from stated distributions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import Rectangular
from design.bench import Bench, Lesson, Observer, Room, SearchRange, Supply
from design.comparison.changes import IMPROVEMENTS, LIKE_JACKET, LIKE_MASSES, Change, used_with
from design.kit import Balance, Heater, Kit, Meter, Vessel
from design.materials import Jacket
from design.physics.water import pressure_at_altitude
from design.procedures.face import Correction, Procedure
from design.procedures.registry import PROCEDURES, procedure_named
from design.search.sample import Sample
from design.search.setup import Setup, errors_in, obstacles, rms, situation_for
from design.setting.hardware import Conditions, conditions_of

Progress = Callable[..., None]

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


def strongest_power(bench: Bench) -> float:
    """Strongest heater that the circuit of a bench bears, within reason. [W]"""
    return min(STRONGEST_POWER, bench.supply.voltage * bench.supply.current_limit / bench.lesson.groups)


def drawn_from(bench: Bench) -> tuple[tuple[str, str], ...]:
    """
    Say what is drawn, and from what: judgement about schools' cupboards, not a survey.

    Parameters
    ----------
    bench : Bench
        Whose circuit limits the power.

    Returns
    -------
    tuple of (str, str)
        Quantity and distribution, in words.
    """
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
    How a method fares in the population.

    Parameters
    ----------
    key, procedure, correction : str
        The method.
    number_of_powers : int
        Powers of its procedure.
    possible, wins, best : int
        Kits on which it can be used, on which its rms error is below that of the usual method, and on which it is the
        least of all procedures and corrections.
    interval : tuple of float
        Exact binomial interval (Clopper and Pearson) of the share of wins among possible kits, at 95 %. [1]
    median_ratio : float
        Median of its rms error over that of the usual method, on possible kits. [1]
    """

    key: str
    procedure: str
    correction: Correction
    number_of_powers: int
    possible: int
    wins: int
    best: int
    interval: tuple[float, float]
    median_ratio: float


@dataclass(frozen=True)
class Population:
    """
    A population of plausible kits.

    Parameters
    ----------
    kits, drawn, seed : int
        Kits kept, kits drawn, seed.
    distributions : tuple of (str, str)
        What was drawn from what.
    procedures, improvements : tuple of Standing
        Against the usual method: fixed mass, stop and restart, uncorrected.
    """

    kits: int
    drawn: int
    seed: int
    distributions: tuple[tuple[str, str], ...]
    procedures: tuple[Standing, ...]
    improvements: tuple[Standing, ...]


Way = tuple[str, Procedure, Correction, Callable[[Conditions, Setup], Setup | None]]


def population_of(bench: Bench, seed: int, sample: Sample, progress: Progress, kits: int = KITS) -> Population:
    """
    Compare methods on many plausible kits.

    Parameters
    ----------
    bench : Bench
        Voltage and current limit of the supply are kept, everything else is drawn.
    seed : int
        Of the population.
    sample : Sample
        On which each method's rms error is worked out.
    progress : callable (stage, done, total)
        Told how far it has come.
    kits : int
        Kits wanted.

    Returns
    -------
    Population
    """
    generator = np.random.default_rng(seed)
    ways = [*_procedure_ways(), *(_improvement_way(change) for change in IMPROVEMENTS)]
    rows: list[list[float]] = []
    drawn = 0
    while len(rows) < kits and drawn < MOST_DRAWS * kits:
        drawn += 1
        conditions, usual = _drawn(bench, generator)
        own = _error(conditions, usual, sample)
        if not np.isfinite(own):
            continue
        rows.append([own, *(_error(conditions, way[3](conditions, usual), sample) for way in ways)])
        progress("drawing plausible kits", len(rows), kits)
    errors = np.array(rows).reshape(-1, len(ways) + 1)
    standings = [_standing(way, errors, column, len(_procedure_ways())) for column, way in enumerate(ways, start=1)]
    count = len(_procedure_ways())
    return Population(len(rows), drawn, seed, drawn_from(bench), tuple(standings[:count]), tuple(standings[count:]))


def _procedure_ways() -> list[Way]:
    ways: list[Way] = []
    for procedure in PROCEDURES:
        number = procedure.number_of_powers
        key = f"series-{number}-powers" if procedure.identifier == "series" and number > 1 else procedure.identifier
        ways += [(key, procedure, correction, _using(procedure, correction)) for correction in procedure.corrections]
    return ways


def _using(procedure: Procedure, correction: Correction) -> Callable[[Conditions, Setup], Setup | None]:
    return lambda conditions, setup: used_with(conditions, setup, procedure, correction)


def _improvement_way(change: Change) -> Way:
    return (change.key, _usual_procedure(), "none", change.make)


def _usual_procedure() -> Procedure:
    return procedure_named("fixed-mass-restart")


def _error(conditions: Conditions, setup: Setup | None, sample: Sample) -> float:
    """Rms error of a method on a kit; not a number where it cannot be used."""
    if setup is None:
        return float("nan")
    situation = situation_for(conditions, setup)
    if obstacles(situation, setup.procedure):
        return float("nan")
    return rms(errors_in(situation, setup, sample))


def _standing(way: Way, errors: FloatArray, column: int, procedures: int) -> Standing:
    key, procedure, correction, _ = way
    error, usual = errors[:, column], errors[:, 0]
    possible = np.isfinite(error)
    wins = int(np.sum(error[possible] < usual[possible] * (1.0 - 1e-9)))
    number = int(possible.sum())
    ratios = error[possible] / usual[possible]
    rivals = np.nan_to_num(errors[:, 1 : procedures + 1], nan=np.inf)
    best = int(np.sum(error[possible] <= rivals[possible].min(axis=1))) if column <= procedures else 0
    return Standing(
        key=key,
        procedure=procedure.identifier,
        correction=correction,
        number_of_powers=procedure.number_of_powers,
        possible=number,
        wins=wins,
        best=best,
        interval=binomial_interval(wins, number),
        median_ratio=float(np.median(ratios)) if number else float("nan"),
    )


def binomial_interval(successes: int, trials: int, coverage: float = 0.95) -> tuple[float, float]:
    """
    Exact interval of a share.

    Parameters
    ----------
    successes, trials : int
        What was counted.
    coverage : float
        Coverage probability.

    Returns
    -------
    tuple of float
        From quantiles of the beta distribution; 0 to 1 where nothing was tried. [1]

    References
    ----------
    .. [1] Clopper and Pearson 1934, Biometrika 26, 404.

    Examples
    --------
    >>> low, high = binomial_interval(8, 10)
    >>> round(low, 3), round(high, 3)
    (0.444, 0.975)
    """
    from scipy.special import betaincinv

    if trials == 0:
        return (0.0, 1.0)
    tail = 0.5 * (1.0 - coverage)
    low = 0.0 if successes == 0 else float(betaincinv(successes, trials - successes + 1, tail))
    high = 1.0 if successes == trials else float(betaincinv(successes + 1, trials - successes, 1.0 - tail))
    return (low, high)


def _drawn(bench: Bench, generator: np.random.Generator) -> tuple[Conditions, Setup]:
    """One plausible kit, used in the usual way."""
    altitude = float(generator.choice([0.0, 250.0, 500.0, 1000.0, 1500.0]))
    changed = replace(
        bench,
        room=Room(pressure_at_altitude(altitude), 273.15 + float(generator.integers(16, 27))),
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
    return conditions_of(changed), Setup(kit, _usual_procedure(), "none", (heater.power,), mass, repeats)


def _evenly_in_logarithm(generator: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(generator.uniform(np.log(low), np.log(high))))


def _vessel(generator: np.random.Generator, strongest: float) -> Vessel:
    capacity = 1e-6 * strongest * _evenly_in_logarithm(generator, *VESSEL_SHARES)
    slimness = float(generator.uniform(1.2, 1.6))
    diameter = (4.0 * 1.15 * capacity / (pi * slimness)) ** (1.0 / 3.0)
    lagged = bool(generator.random() < 0.4)
    thickness = float(generator.choice([0.010, 0.020, 0.030]))
    jacket = replace(LIKE_JACKET, text="lagging", thickness=thickness) if lagged else Jacket()
    return Vessel(
        name="vessel",
        capacity=capacity,
        diameter=diameter,
        height=slimness * diameter,
        mass=0.35 * capacity / 1e-3,
        material="glass",
        jacket=jacket,
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
    kind = int(generator.integers(3))
    disk = KWH / float(generator.choice([75.0, 120.0, 375.0, 600.0]))
    pulse = KWH / float(generator.choice([800.0, 1600.0, 3200.0]))
    display = 1e-3 * KWH * float(generator.choice([1.0, 10.0, 100.0]))
    kinds = (("disk", disk), ("pulse", pulse), ("display", display))
    return Meter(
        name="meter",
        kind=("disk", "pulse", "display")[kind],
        energy_per_count=kinds[kind][1],
        reads="whole",
        error=Rectangular(-limit, limit),
        max_voltage=float("inf"),
        max_current=float("inf"),
        max_power=float("inf"),
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
