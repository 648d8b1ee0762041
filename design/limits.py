"""What a design may not do: each limit says by how much a setting breaks it, and what would mend it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.bench import Bench
from design.kit import Balance, Heater, Item, Meter
from design.physics.evidence import default
from design.procedures.face import Procedure
from design.setting.situation import Situation

OVERVOLTAGE = 1.10
"""Largest supply voltage over a heater's rated voltage (EN 50160: ± 10 % of the nominal voltage)."""
LOSS_MARGIN = 0.5
"""Least power that makes steam over the heat loss: less, and the water does not boil steadily (judgement)."""
LEAST_STEP = 0.010
"""Smallest mass step. [kg] (common practice, no source)"""
TIMED_LEAST = 2.0
"""Least time between two marks of a meter that are timed by hand with a reading between them. [s] (judgement)"""
BOIL_OVER_SHARE = 0.10
"""Expected carry-over above which a vessel counts as boiling over (judgement)."""

TOO_DEAR = "costs more than the purse"
"""Reason for a kit that the purse does not cover."""
TOLERANCE = 1e-9
"""Excess that counts as rounding. [1]"""


@dataclass(frozen=True)
class Limit:
    """
    One limit over a grid of settings.

    Parameters
    ----------
    reason : str
        Why a design is rejected, in words; the key of ``plan.json``'s ``rejected``.
    excess : ndarray, shape (g,)
        How far it is broken, relative to what is allowed; at most 0 where it is kept.
    remedy : callable (int) -> str
        What would mend it in one setting.
    """

    reason: str
    excess: FloatArray
    remedy: Callable[[int], str]


@dataclass(frozen=True)
class Unsuitable:
    """A property that rules an item out; a bench file may accept it knowingly only where ``acceptable``."""

    item: Item
    reason: str
    remedy: str
    acceptable: bool = True


def unsuitable_balance(balance: Balance, procedure: Procedure) -> list[Unsuitable]:
    """Properties of a balance that rule it out under a boiling vessel."""
    faults = []
    if not balance.splash_proof:
        faults.append(Unsuitable(balance, "balance is not splash-proof", "a balance that bears drops and steam"))
    if balance.stability_filter:
        reason = "balance holds or averages its reading while the load changes (stability filter)"
        faults.append(Unsuitable(balance, reason, "a balance whose stability filter can be switched off"))
    if not balance.works_warm:
        reason = "balance does not work under a warm vessel"
        faults.append(Unsuitable(balance, reason, "a balance that works under a warm vessel"))
    if procedure.needs_display and balance.kind == "beam":
        reason = "a beam balance cannot be read while the mass falls"
        faults.append(Unsuitable(balance, reason, "a balance with a display, or a fixed mass step", acceptable=False))
    return faults


def unsuitable_meter(meter: Meter, bench: Bench, procedure: Procedure) -> list[Unsuitable]:
    """Properties of a meter that rule it out on this supply, whatever the setting."""
    faults = []
    if bench.supply.voltage > meter.max_voltage:
        reason, remedy = (
            "supply voltage is above what the meter bears",
            f"a meter for {bench.supply.voltage:g} V",
        )
        faults.append(Unsuitable(meter, reason, remedy, acceptable=False))
    if procedure.pace.whole_counts and meter.energy_per_count == 0.0 and meter.kind != "volt-ampere":
        reason = "meter has no marks to start and stop on"
        faults.append(Unsuitable(meter, reason, "a meter that counts, or a fixed mass step", acceptable=False))
    return faults


def unsuitable_heater(heater: Heater, bench: Bench) -> list[Unsuitable]:
    """Properties of a heater that rule it out on this supply."""
    if bench.supply.voltage > OVERVOLTAGE * heater.rated_voltage:
        reason = "heater is made for a lower voltage than the supply's"
        return [Unsuitable(heater, reason, f"a heater for {bench.supply.voltage:g} V", acceptable=False)]
    return []


def limits_of(situation: Situation, procedure: Procedure, price: float) -> tuple[Limit, ...]:
    """
    Every limit on a kit's settings.

    Parameters
    ----------
    situation : Situation
        The kit at many settings.
    procedure : Procedure
        How readings are taken.
    price : float
        Of all that has to be bought, for all groups.

    Returns
    -------
    tuple of Limit
        In the order in which rejections are counted.
    """
    return (
        *_money(situation, price),
        *setting_limits(situation),
        *meter_limits(situation, situation.kit.meter),
        balance_limit(situation, procedure, situation.kit.balance),
    )


def setting_limits(situation: Situation) -> tuple[Limit, ...]:
    """Limits that neither the balance nor the meter has a part in: circuit, boiling, water and time."""
    bench = situation.conditions.bench
    return (circuit_limit(situation, bench), time_limit(situation, bench), _weak(situation), *_water(situation))


def meter_limits(situation: Situation, meter: Meter) -> tuple[Limit, ...]:
    """Limits on what a meter, in place of the kit's own, would have to carry."""
    voltage = situation.conditions.bench.supply.voltage
    power, lowest = situation.settings.power, situation.settings.lowest_power
    current = power / voltage
    interval, least = meter.energy_per_count / power, TIMED_LEAST if meter.reads == "timed" else 0.0
    return (
        _limit("takes more current than the meter bears", current, meter.max_current,
               lambda i: f"a meter for {current[i]:.1f} A, or less power"),
        _limit("takes more power than the meter bears", power, meter.max_power,
               lambda i: f"a meter for {power[i]:.0f} W, or less power"),
        _limit("takes less current than the meter starts at", meter.start_current, lowest / voltage,
               lambda i: f"a meter that starts below {lowest[i] / voltage:.2f} A, or more power"),
        _limit("marks of the meter follow each other too fast to be timed", least, interval,
               lambda _: "a meter of fewer counts, or counts that are not timed"),
    )  # fmt: skip


def _limit(reason: str, used: FloatArray | float, allowed: FloatArray | float, remedy: Callable[[int], str]) -> Limit:
    """Limit on something that must not exceed what is allowed; an infinite allowance is never exceeded."""
    if np.ndim(allowed) == 0 and np.isinf(allowed):
        return Limit(reason, np.asarray(-1.0), remedy)
    return Limit(reason, np.asarray((used - allowed) / np.maximum(allowed, 1e-12)), remedy)


def _money(situation: Situation, price: float) -> tuple[Limit, ...]:
    purse = situation.conditions.bench.purse
    needed = f"a purse of {price:.2f} {purse.currency}, or fewer groups"
    return (_limit(TOO_DEAR, price, purse.amount, lambda _: needed),)


def circuit_limit(situation: Situation, bench: Bench) -> Limit:
    """Limit on the current of all groups at once; the bench may be another with a stronger circuit."""
    total = situation.settings.power / bench.supply.voltage * bench.lesson.groups
    return _limit("takes more current than the circuit allows", total, bench.supply.current_limit,
                  lambda i: f"a circuit of {total[i]:.1f} A, less power or fewer groups")  # fmt: skip


def time_limit(situation: Situation, bench: Bench) -> Limit:
    """Limit on the time that everything takes; the bench may be another with a longer lesson."""
    total = situation.total_time
    return _limit("takes longer than the lesson", total, bench.lesson.length,
                  lambda i: f"a lesson of {total[i] / 60:.0f} min, more power or fewer runs")  # fmt: skip


def _weak(situation: Situation) -> Limit:
    """Power that is left for steam when loss and power are both unlucky."""
    bench, hardware, power = situation.conditions.bench, situation.hardware, situation.settings.lowest_power
    unlucky = (1.0 - situation.kit.heater.tolerance) * (1.0 - bench.supply.tolerance) ** 2
    needed = (1.0 + LOSS_MARGIN) * (hardware.loss + 2.0 * hardware.loss_uncertainty) / max(unlucky, 1e-9)
    return _limit("too little power to boil steadily in that vessel", needed, power,
                  lambda _: f"at least {needed:.0f} W, or a smaller or lagged vessel")  # fmt: skip


def _water(situation: Situation) -> tuple[Limit, ...]:
    vessel, heater, levels = situation.kit.vessel, situation.kit.heater, situation.levels
    volume = (levels.fill + situation.hardware.displaced) / situation.conditions.water.liquid_density
    least = default("least_freeboard")
    level = vessel.height - levels.first_freeboard
    return (
        _limit("stems do not fit into the vessel", heater.stems * heater.stem_diameter, vessel.diameter,
               lambda _: "a wider vessel or a slimmer heater"),
        _limit("vessel is too small for the water that covers the element and boils away", volume, vessel.capacity,
               lambda i: f"a vessel of {1000 * volume[i]:.1f} L, a smaller mass step or fewer runs"),
        _limit("too little height between water and rim", level + least, vessel.height,
               lambda i: f"a vessel {1000 * (level[i] + least):.0f} mm high, or less to boil away"),
        _limit("would boil over: too much power for the vessel", situation.carry_over, BOIL_OVER_SHARE,
               lambda _: "less power, a wider or higher vessel, or a deflector"),
        _limit("mass step is too small", LEAST_STEP, situation.runs.mass,
               lambda _: f"at least {1000 * LEAST_STEP:.0f} g"),
    )  # fmt: skip


def balance_limit(situation: Situation, procedure: Procedure, balance: Balance) -> Limit:
    """Limit on what a balance, in place of the kit's own, would have to carry."""
    kit = situation.kit
    load = kit.vessel_mass + situation.levels.fill
    if kit.heater.held_by == "vessel":
        load = load + default("vessel_heater_mass")
    if procedure.needs_mass_set:
        load = load + situation.runs.mass
    return _limit("vessel, water and masses are too heavy for the balance", load, balance.capacity,
                  lambda i: f"a balance for {load[i]:.2f} kg, or a smaller vessel")  # fmt: skip


def excesses(limits: tuple[Limit, ...]) -> FloatArray:
    """Excess of every limit in every setting, shape (limits, g)."""
    return np.stack(np.broadcast_arrays(*(np.atleast_1d(limit.excess) for limit in limits)))


def first_broken(limits: tuple[Limit, ...]) -> NDArray[np.intp]:
    """Index of the first limit that each setting breaks; the number of limits where it breaks none."""
    broken = excesses(limits) > TOLERANCE
    return np.where(broken.any(axis=0), np.argmax(broken, axis=0), len(limits))
