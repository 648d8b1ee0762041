"""Improvements, one at a time: each changes one thing about a kit or its use, like for like."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from design.bench import Bench
from design.kit import Balance, Fitting, Heater, Item, Kit, MassSet, Meter, Role, Vessel
from design.materials import Jacket
from design.procedures.face import Correction, Procedure
from design.procedures.registry import procedure_named
from design.search.candidates import masses_of, number_to_buy, powers_of
from design.search.setup import Setup
from design.setting.hardware import Conditions

LIKE_JACKET = Jacket(text="cork 20 mm", thickness=0.020, conductivity=0.05)
"""Jacket that a bare vessel is given: cork, in tables of insulation after ISO 10456."""
LIKE_MASSES = MassSet(name="a mass set", steps=(0.02, 0.05, 0.1, 0.1, 0.2), accuracy=0.005)
"""Mass set that is taken where the kit has none. (common practice, no source)"""
MORE_POWER = 1.5
"""Factor of the improvement "more power"."""
LOWER_POWER = 0.5
"""Lowest power of two over the highest, where the kit's own heater offers none."""
RUNS = 3
"""Runs of the improvement "three runs"."""


@dataclass(frozen=True)
class Change:
    """
    One improvement.

    Parameters
    ----------
    key : str
        Name in JSON and CSV.
    make : callable (Conditions, Setup) -> Setup or None
        The setup with the change; None where there is nothing to change.
    is_way : bool
        Whether it is a change to another procedure or correction, and nothing else.
    """

    key: str
    make: Callable[[Conditions, Setup], Setup | None]
    is_way: bool = False


def with_vessel(setup: Setup, vessel: Vessel) -> Setup:
    """Change the vessel; what the bench file states of the one in hand is changed as the calculated losses are."""
    before = setup.kit.vessel
    return replace(setup, kit=replace(setup.kit, vessel=replace(vessel, bare=before.bare or before)))


def _jacket(_: Conditions, setup: Setup) -> Setup | None:
    vessel = setup.kit.vessel
    if vessel.jacket.thickness > 0.0:
        return None
    return with_vessel(setup, replace(vessel, jacket=LIKE_JACKET))


def _deflector(_: Conditions, setup: Setup) -> Setup | None:
    vessel = setup.kit.vessel
    if vessel.guard != "none" or vessel.lid != "none":
        return None
    return with_vessel(setup, replace(vessel, guard="deflector"))


def _lid(_: Conditions, setup: Setup) -> Setup | None:
    vessel = setup.kit.vessel
    if vessel.lid != "none":
        return None
    return with_vessel(setup, replace(vessel, lid="loose"))


def _more_power(_: Conditions, setup: Setup) -> Setup:
    heater = replace(setup.kit.heater, power=setup.kit.heater.power * MORE_POWER)
    powers = tuple(power * MORE_POWER for power in setup.powers)
    return replace(setup, kit=replace(setup.kit, heater=heater), powers=powers)


def _larger_step(conditions: Conditions, setup: Setup) -> Setup | None:
    possible = masses_of(conditions.bench, setup.kit.mass_set) if setup.procedure.needs_mass_set else ()
    wanted = 2.0 * setup.mass
    larger = [mass for mass in possible if mass > 1.2 * setup.mass]
    if setup.procedure.needs_mass_set and not larger:
        return None
    return replace(setup, mass=min(larger, key=lambda mass: abs(mass - wanted)) if larger else wanted)


def _hung(_: Conditions, setup: Setup) -> Setup | None:
    heater = setup.kit.heater
    if heater.held_by == "vessel":
        return None
    return replace(setup, kit=replace(setup.kit, heater=replace(heater, held_by="vessel")))


def _finer_reading(_: Conditions, setup: Setup) -> Setup | None:
    """Read a disk to a tenth of a turn; where nothing turns, take a meter with ten times finer counts."""
    meter = setup.kit.meter
    if meter.reads != "whole" or meter.energy_per_count == 0.0:
        return None
    if meter.kind == "disk":
        finer = replace(meter, reads="tenth")
    else:
        finer = replace(meter, energy_per_count=0.1 * meter.energy_per_count)
    return replace(setup, kit=replace(setup.kit, meter=finer))


def _more_runs(_: Conditions, setup: Setup) -> Setup | None:
    return replace(setup, repeats=RUNS) if setup.repeats < RUNS else None


def _calculated(_: Conditions, setup: Setup) -> Setup | None:
    return None if setup.correction == "calculated" else replace(setup, correction="calculated")


def _cooling_run(_: Conditions, setup: Setup) -> Setup | None:
    offered = "cooling-run" in setup.procedure.corrections and setup.correction != "cooling-run"
    return replace(setup, correction="cooling-run") if offered else None


def _with_procedure(procedure: Procedure) -> Callable[[Conditions, Setup], Setup | None]:
    def make(conditions: Conditions, setup: Setup) -> Setup | None:
        correction: Correction = setup.correction if setup.correction in procedure.corrections else "none"
        return None if procedure == setup.procedure else used_with(conditions, setup, procedure, correction)

    return make


def used_with(conditions: Conditions, setup: Setup, procedure: Procedure, correction: Correction) -> Setup:
    """
    Use a procedure with a kit, like for like.

    A beam gets a display of its own fineness where the procedure needs one, and a heater with one power a control.
    """
    kit = setup.kit
    if procedure.needs_display and kit.balance.kind == "beam":
        kit = replace(kit, balance=replace(kit.balance, kind="electronic"))
    if procedure.needs_mass_set and kit.mass_set is None:
        kit = replace(kit, mass_set=LIKE_MASSES)
    if not procedure.needs_mass_set:
        kit = replace(kit, mass_set=None)
    powers = _power_set(conditions.bench, kit, setup.powers[0], procedure)
    if procedure.number_of_powers > 1 and powers[-1] not in powers_of(conditions.bench, kit.heater):
        kit = replace(kit, heater=replace(kit.heater, control="stepless"))
    return replace(setup, kit=kit, procedure=procedure, correction=correction, powers=powers)


def _power_set(bench: Bench, kit: Kit, highest: float, procedure: Procedure) -> tuple[float, ...]:
    """Powers of the kit's own heater where it can be set to them, else an even spread down to half the highest."""
    number = procedure.number_of_powers
    own = procedure.power_sets((highest, *(power for power in powers_of(bench, kit.heater) if power < highest)))
    offered = [powers for powers in own if powers[0] == highest]
    if offered:
        return min(offered, key=lambda powers: abs(powers[-1] - LOWER_POWER * highest))
    return tuple(float(power) for power in np.linspace(highest, LOWER_POWER * highest, number))


def _together(conditions: Conditions, setup: Setup) -> Setup | None:
    """Everything that acts on kit and setting, with the calculated correction."""
    changed = setup
    for change in (_jacket, _hung, _larger_step, _finer_reading, _calculated):
        changed = change(conditions, changed) or changed
    return None if changed == setup else changed


def is_display(item: Item) -> bool:
    """Whether a balance can be read while the mass falls."""
    return isinstance(item, Balance) and item.kind == "electronic" and item.splash_proof and not item.stability_filter


def is_jacketed(item: Item) -> bool:
    """Whether a vessel is lagged."""
    return isinstance(item, Vessel) and item.jacket.thickness > 0.0


def has_deflector(item: Item) -> bool:
    """Whether a vessel has a deflector."""
    return isinstance(item, Vessel) and item.guard == "deflector"


def has_lid(item: Item) -> bool:
    """Whether a vessel has a lid."""
    return isinstance(item, Vessel) and item.lid == "loose"


def is_hung(item: Item) -> bool:
    """Whether a heater hangs on the vessel."""
    return isinstance(item, Heater) and item.held_by == "vessel"


def is_controlled(item: Item) -> bool:
    """Whether a heater can be set to several powers."""
    return isinstance(item, Heater) and item.control != "none"


def is_stronger(power: float) -> Callable[[Item], bool]:
    """Whether a heater has at least a power."""
    return lambda item: isinstance(item, Heater) and item.power >= power


def counts_within(energy: float) -> Callable[[Item], bool]:
    """Whether a meter can be read as finely as an energy. [J]"""
    return lambda item: (
        isinstance(item, Meter) and item.energy_per_count * (0.1 if item.kind == "disk" else 1.0) <= energy
    )


IMPROVEMENTS = (
    Change("jacket", _jacket),
    Change("deflector", _deflector),
    Change("lid", _lid),
    Change("more-power", _more_power),
    Change("larger-step", _larger_step),
    Change("hung-heater", _hung),
    Change("finer-reading", _finer_reading),
    Change("three-runs", _more_runs),
    Change("whole-counts", _with_procedure(procedure_named("whole-counts")), is_way=True),
    Change("two-powers", _with_procedure(procedure_named("two-powers")), is_way=True),
    Change("series", _with_procedure(procedure_named("series")), is_way=True),
    Change("series-two-powers", _with_procedure(procedure_named("series", 2)), is_way=True),
    Change("calculated", _calculated, is_way=True),
    Change("cooling-run", _cooling_run, is_way=True),
    Change("together", _together),
)
"""Improvements of a usual way, in the order of the reports."""


def extra_price(bench: Bench, before: Kit, after: Kit) -> float | None:
    """
    Price of what a changed kit needs beyond the one in hand, for all groups.

    Parameters
    ----------
    bench : Bench
        With its shelves.
    before, after : Kit
        In hand, and changed.

    Returns
    -------
    float or None
        Cheapest items on the shelves that bring each change; None where a shelf has none. A disk is read to a tenth
        for nothing; jacket, guard and lid come by themselves or with another vessel.
    """
    prices = [_cheapest(bench, *wish) for wish in _wanted(before, after)]
    return _sum([*prices, _vessel_price(bench, before.vessel, after.vessel)])


def _sum(prices: Sequence[float | None]) -> float | None:
    """Sum of prices; None where one of them is."""
    known = [price for price in prices if price is not None]
    return float(sum(known)) if len(known) == len(prices) else None


def _cheapest(bench: Bench, role: Role, wanted: Callable[[Item], bool]) -> float | None:
    groups = bench.lesson.groups
    return min((item.price * number_to_buy(item, groups) for item in bench.shelves[role] if wanted(item)), default=None)


def _vessel_price(bench: Bench, before: Vessel, after: Vessel) -> float | None:
    """Price of a vessel that has what the other has more, or of what can be put on the one in hand."""
    ways: dict[Role, tuple[bool, Callable[[Item], bool]]] = {
        "jacket": (after.jacket != before.jacket, is_jacketed),
        "guard": (after.guard != before.guard, has_deflector),
        "lid": (after.lid != before.lid, has_lid),
    }
    needs = {role: has for role, (changed, has) in ways.items() if changed}
    if not needs:
        return 0.0
    parts = _sum(
        [_cheapest(bench, role, lambda item: isinstance(item, Fitting) and item.goes_on(before)) for role in needs]
    )
    whole = _cheapest(bench, "vessel", lambda item: all(has(item) for has in needs.values()))
    return min((price for price in (whole, parts) if price is not None), default=None)


def _wanted(before: Kit, after: Kit) -> list[tuple[Role, Callable[[Item], bool]]]:
    """Roles whose item changes, but for the vessel, each with what the new item must be."""
    wanted: list[tuple[Role, Callable[[Item], bool]]] = []
    if after.balance.kind != before.balance.kind:
        wanted.append(("balance", is_display))
    if after.meter.energy_per_count != before.meter.energy_per_count:
        wanted.append(("meter", counts_within(2.0 * after.meter.energy_per_count)))
    if after.mass_set is not None and before.mass_set is None:
        wanted.append(("mass_set", lambda _: True))
    heater = [
        (after.heater.held_by != before.heater.held_by, is_hung),
        (after.heater.control != before.heater.control, is_controlled),
        (after.heater.power > before.heater.power, is_stronger(0.95 * after.heater.power)),
    ]
    tests = [test for changed, test in heater if changed]
    if tests:
        wanted.append(("heater", lambda item: all(test(item) for test in tests)))
    return wanted
