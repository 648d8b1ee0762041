"""Sample groups for marking: readings that a class might write down, drawn from the measurement model by a seed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from budget.model.measurement import MeasurementModel
from design.evaluation.runs import Run, runs_of
from design.procedures.face import Procedure, estimate
from design.rehearsal.tally import METER_DIGITS
from design.sheets.readings import Number, Quantity, Reading
from reports.pieces.parts import Given

NUMBER_OF_GROUPS = 3
READ_OFF = ("d_count",)
"""Inputs whose error is made here by rounding the readings as the meter shows them; not where its marks are timed."""


@dataclass(frozen=True)
class SampleRun:
    """
    What a group writes down at one power.

    Parameters
    ----------
    power : float
        As dialled in. [W]
    counts : float
        Counts as read; 0 where the meter counts nothing.
    energy, mass, time : float
        As read, in J, kg and s.
    """

    power: float
    counts: float
    energy: float
    mass: float
    time: float


@dataclass(frozen=True)
class SampleGroup:
    """
    One group.

    Parameters
    ----------
    letter : str
        Its label.
    runs : tuple of tuple of SampleRun
        Each run, with its readings at each power, the highest first.
    values : tuple of float
        Uncorrected latent heat of each run. [J/kg]
    corrected : float
        Mean latent heat with the correction of the design. [J/kg]
    """

    letter: str
    runs: tuple[tuple[SampleRun, ...], ...]
    values: tuple[float, ...]
    corrected: float

    @property
    def mean(self) -> float:
        """Mean of the uncorrected values. [J/kg]"""
        return float(np.mean(self.values))


def sample_groups(given: Given, number: int = NUMBER_OF_GROUPS) -> tuple[SampleGroup, ...]:
    """
    Draw the readings of some groups, each with a set of its own.

    What a set has for all its runs (losses, meter, heater) is drawn once a group, the scatter anew for each run.
    """
    model = given.design.design.model
    generator = np.random.default_rng([given.plan.seed, number])
    return tuple(_group(given, model, generator, chr(ord("A") + place)) for place in range(number))


def _group(given: Given, model: MeasurementModel, generator: np.random.Generator, letter: str) -> SampleGroup:
    known = {symbol: value for symbol, value in model.constants.items() if symbol.endswith("_est") or symbol == "b"}
    shared = _drawn(model, generator)
    rounded = () if given.kit.meter.reads == "timed" else READ_OFF
    scatter = {quantity.symbol for quantity in model.inputs if quantity.scatter}
    runs, values, corrected = [], [], []
    for _ in range(given.design.repeats):
        fresh = _drawn(model, generator)
        state = {symbol: fresh[symbol] if symbol in scatter else value for symbol, value in shared.items()}
        state.update({symbol: 0.0 for symbol in state if symbol.startswith(rounded)})
        found = {key: float(value) for key, value in model.evaluate_all({**state, "N": 1.0}).items()}
        run = tuple(_as_read(given, model, found, place) for place in range(len(given.design.powers_W)))
        readings = {**found, **_symbols(run, given.procedure), **model.constants}
        runs.append(run)
        values.append(estimate(given.procedure, "none", readings, known))
        corrected.append(_corrected(given, readings, known))
    return SampleGroup(letter, tuple(runs), tuple(values), float(np.mean(corrected)))


def readings_of(given: Given, group: SampleGroup) -> tuple[Reading, ...]:
    """Rows of a sheet that the group would hand in: start and end of each run at each power, in their order."""
    rows: list[Reading] = []
    for number, run in enumerate(group.runs, start=1):
        for place, reading in enumerate(run, start=1):
            end = _typed(given, reading)
            start = {key: one if key == "power" else replace(one, text="0", value=0.0) for key, one in end.items()}
            name = f"{number}.{place}"
            for mark, numbers in (("0", start), ("1", end)):
                rows.append(Reading(len(rows) + 2, group.letter, name, mark, numbers, heater=True))
    return tuple(rows)


def runs_by_power(given: Given, group: SampleGroup) -> tuple[tuple[Run, ...], ...]:
    """Runs of a group as an evaluation reads them from its sheet, at each power, the highest first."""
    powers = given.design.powers_W
    runs = runs_of(
        readings_of(given, group), given.kit, steps_of_mass=given.procedure.needs_mass_set, rated_power=max(powers)
    )
    return tuple(runs[place :: len(powers)] for place in range(len(powers)))


def _typed(given: Given, reading: SampleRun) -> dict[Quantity, Number]:
    """What is typed at the end of a run that starts at nought, in the digits of the instruments."""
    kit = given.kit
    read: dict[Quantity, tuple[float, float]] = {
        "time": (reading.time, 1.0),
        "mass": (reading.mass, kit.balance.resolution),
    }
    if kit.meter.energy_per_count > 0.0:
        read["counts"] = (reading.counts, kit.meter.fineness)
    else:
        power = reading.energy / reading.time
        step = 10.0 ** (math.floor(math.log10(power)) + 1 - METER_DIGITS)
        read["power"] = (round(power / step) * step, step)
    return {quantity: Number(repr(value), value, step, 1.0) for quantity, (value, step) in read.items()}


def _drawn(model: MeasurementModel, generator: np.random.Generator) -> dict[str, float]:
    """Draw every uncertain input once."""
    return {
        symbol: float(model.distributions[symbol].ppf(np.asarray(generator.uniform(0.001, 0.999))))
        for symbol in model.uncertain
    }


def _as_read(given: Given, model: MeasurementModel, found: Mapping[str, float], place: int) -> SampleRun:
    """Round energy to what the meter shows, the mass to what the balance shows, the time to seconds."""
    part = "" if len(given.design.powers_W) == 1 else f"_{place + 1}"
    energy, mass, time = found[f"E{part}_read"], found[f"m{part}_read"], found[f"t{part}"]
    own = f"k{part}" if place and f"k{part}" in model.constants else "k"
    step = model.constants.get(own, 0.0)
    counts = 0.0
    if step > 0.0:
        fineness = given.kit.meter.fineness
        counts = round(energy / step / fineness) * fineness
        energy = counts * step
    if given.procedure.needs_display:
        mass = round(mass / given.kit.balance.resolution) * given.kit.balance.resolution
    return SampleRun(given.design.powers_W[place], counts, energy, mass, float(round(time)))


def _symbols(run: tuple[SampleRun, ...], procedure: Procedure) -> dict[str, float]:
    """Readings under the symbols of the procedure's equation."""
    if procedure.number_of_powers == 1:
        return {"E_read": run[0].energy, "m_read": run[0].mass, "t": run[0].time}
    named = {"t": run[0].time}
    for place, reading in enumerate(run, start=1):
        named |= {f"E_{place}_read": reading.energy, f"m_{place}_read": reading.mass, f"t_{place}": reading.time}
    return named


def _corrected(given: Given, readings: Mapping[str, float], known: Mapping[str, float]) -> float:
    return estimate(given.procedure, given.design.correction, readings, known)
