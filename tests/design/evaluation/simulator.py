"""A second bench, plain and independent of the virtual one: one energy balance, normal noise of a stated size."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from design.chosen import Design
from design.physics.losses import lead_share
from design.setting.situation import Situation

Rows = list[dict[str, str]]


@dataclass(frozen=True)
class Truth:
    """What holds in one lesson: loss [W], errors of meter and masses, shares of droplets, stem and flex."""

    loss: float
    meter: float
    splash: float
    stem: float
    lead: float
    gain: float = 0.0


def truths(used: Design, situation: Situation, number: int, rng: np.random.Generator) -> Iterator[Truth]:
    """Lessons as the bench's own knowledge deals them; droplets only at the calculated share."""
    hardware = used.hardware
    sigma = np.sqrt(np.log1p((hardware.loss_uncertainty / hardware.loss) ** 2))
    error = used.conditions.bench.knowledge.get("meter_error", used.kit.meter.error)
    power = float(situation.settings.powers[0, 0])
    lead = float(lead_share(used.kit.heater, np.array([power]), used.conditions.bench.supply.voltage)[0])
    accuracy = used.kit.mass_set.accuracy if used.kit.mass_set and used.procedure.needs_mass_set else 0.0
    for _ in range(number):
        yield Truth(
            loss=hardware.loss * float(np.exp(rng.normal(-0.5 * sigma**2, sigma))),
            meter=float(error.ppf(np.array(rng.uniform(1e-9, 1.0 - 1e-9)))),
            splash=float(situation.carry_over[0]),
            stem=hardware.stem,
            lead=lead,
            gain=accuracy * float(rng.uniform(-1.0, 1.0)),
        )


@dataclass(frozen=True)
class Plan:
    """What a group does: powers [W], mass a run [kg], marks after the start, runs a power, masses on the pan or not."""

    powers: tuple[float, ...]
    mass: float
    marks: int = 1
    repeats: int = 1
    pan: bool = False


def sheet(used: Design, plan: Plan, truth: Truth, noise: float, rng: np.random.Generator) -> Rows:
    """
    Play a group: the meter's whole counts and the clock without error, each reading of the balance with noise [kg].

    With masses on the pan the moment of tipping scatters, and the meter is read as it stands.
    """
    rows: Rows = []
    run, water = 0, used.reference
    count = used.kit.meter.energy_per_count
    for power in plan.powers:
        splash = truth.splash * (power / plan.powers[0]) ** 3
        kept = (1.0 - splash) * (1.0 - truth.stem) * used.conditions.buoyancy
        steam = (power * (1.0 - truth.lead) - truth.loss) / water / kept
        shown = power * (1.0 + truth.meter) / count
        for _ in range(plan.repeats):
            run += 1
            start = float(rng.uniform(0.0, 1.0))
            for mark in range(plan.marks + 1):
                goal = plan.mass * mark / plan.marks
                error = noise * rng.standard_normal()
                time = max(goal / (1.0 + truth.gain) + error, 0.0 if mark else error) / steam
                counts = 20.0 + start + shown * time
                if plan.pan:
                    mass, read = 1.0 - goal, fineness(counts, used.kit.meter.fineness)
                else:
                    whole = round(shown * goal / steam)
                    time = whole / shown
                    mass, read = 1.0 - (1.0 + truth.gain) * (time * steam + error), 20.0 + whole
                rows.append(
                    {
                        "group": "1", "run": str(run), "mark": str(mark), "time_s": f"{time + 5000.0 * run:.1f}",
                        "counts": f"{read:.4f}".rstrip("0").rstrip("."), "heater": "on",
                        "mass_g": f"{rounded(1e3 * mass, 0.0 if plan.pan else 1e3 * used.kit.balance.resolution):.6g}",
                    }
                )  # fmt: skip
    return rows


def fineness(counts: float, step: float) -> float:
    """The meter as it can be read."""
    return float(np.round(counts / step) * step)


def rounded(mass: float, step: float) -> float:
    """The display."""
    return float(np.round(mass / step) * step) if step else mass
