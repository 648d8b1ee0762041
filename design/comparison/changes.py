"""Ways of working on one kit, like for like: every procedure with every correction, and single improvements."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from design.bench import Bench
from design.chosen import Design, number_to_buy
from design.kit import Kit, MassSet, Role, Vessel
from design.materials import Jacket
from design.procedures.face import Correction, Procedure
from design.procedures.registry import PROCEDURES, USUAL
from design.procedures.series import Series
from design.procedures.two_powers import TwoPowers
from design.procedures.whole_counts import WholeCounts
from design.search.candidates import masses_of, powers_of
from design.search.today import USUAL_CORRECTION

"""Procedure taken as usual."""
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

Make = Callable[[Design], Design | None]
"""Makes a changed design of one; None where there is nothing to change."""


@dataclass(frozen=True)
class Alternative:
    """A way of working: its name in JSON and CSV, what it makes of a kit and its use, and how it reads and corrects."""

    key: str
    make: Make
    procedure: Procedure = USUAL
    correction: Correction = USUAL_CORRECTION


def used_with(design: Design, procedure: Procedure, correction: Correction) -> Design:
    """
    Use a procedure with a kit, like for like.

    A beam gets a display of its own fineness where the procedure needs one, and a heater with one power a control.
    """
    kit, bench = design.kit, design.conditions.bench
    if procedure.needs_display and kit.balance.kind == "beam":
        kit = replace(kit, balance=replace(kit.balance, kind="electronic"))
    kit = replace(kit, mass_set=(kit.mass_set or LIKE_MASSES) if procedure.needs_mass_set else None)
    powers = _power_set(bench, kit, design.powers[0], procedure)
    if procedure.number_of_powers > 1 and powers[-1] not in powers_of(bench, kit.heater):
        kit = replace(kit, heater=replace(kit.heater, control="stepless"))
    return replace(design, kit=kit, procedure=procedure, correction=correction, powers=powers)


def _power_set(bench: Bench, kit: Kit, highest: float, procedure: Procedure) -> tuple[float, ...]:
    """Powers of the kit's own heater where it can be set to them, else an even spread down to half the highest."""
    own = procedure.power_sets((highest, *(power for power in powers_of(bench, kit.heater) if power < highest)))
    offered = [powers for powers in own if powers[0] == highest]
    if offered:
        return min(offered, key=lambda powers: abs(powers[-1] - LOWER_POWER * highest))
    return tuple(float(power) for power in np.linspace(highest, LOWER_POWER * highest, procedure.number_of_powers))


def using(procedure: Procedure, correction: Correction) -> Alternative:
    """Use a procedure with a correction, on any kit."""
    alike = [one for one in PROCEDURES if one.identifier == procedure.identifier]
    several = "" if procedure == alike[0] else f"-{procedure.number_of_powers}-powers"
    make = partial(used_with, procedure=procedure, correction=correction)
    return Alternative(procedure.identifier + several, make, procedure, correction)


WAYS = tuple(using(procedure, correction) for procedure in PROCEDURES for correction in procedure.corrections)
"""Every procedure with every correction, uncorrected first."""


def with_vessel(design: Design, **changes: Any) -> Design:
    """Change the vessel; what the bench file states of the one in hand is changed as the calculated losses are."""
    before = design.kit.vessel
    return with_kit(design, vessel=replace(before, bare=before.bare or before, **changes))


def with_kit(design: Design, **items: Any) -> Design:
    """Change items of the kit."""
    return replace(design, kit=replace(design.kit, **items))


def _jacket(design: Design) -> Design | None:
    return None if design.kit.vessel.jacket.thickness > 0.0 else with_vessel(design, jacket=LIKE_JACKET)


def _deflector(design: Design) -> Design | None:
    vessel = design.kit.vessel
    return None if vessel.guard != "none" or vessel.lid != "none" else with_vessel(design, guard="deflector")


def _lid(design: Design) -> Design | None:
    return None if design.kit.vessel.lid != "none" else with_vessel(design, lid="loose")


def _more_power(design: Design) -> Design:
    return at_power(design, MORE_POWER * design.powers[0], MORE_POWER * design.kit.heater.power)


def at_power(design: Design, highest: float, rated: float) -> Design:
    """Use a like heater of another power; lower powers keep their ratio to the highest."""
    powers = tuple(power / design.powers[0] * highest for power in design.powers)
    return replace(with_kit(design, heater=replace(design.kit.heater, power=rated)), powers=powers)


def _larger_step(design: Design) -> Design | None:
    masses, needed = design.kit.mass_set, design.procedure.needs_mass_set
    wanted, possible = 2.0 * design.mass, masses_of(design.conditions.bench, masses) if needed else ()
    larger = [mass for mass in possible if mass > 1.2 * design.mass]
    if needed and not larger:
        return None
    return replace(design, mass=min(larger, key=lambda mass: abs(mass - wanted)) if larger else wanted)


def _hung(design: Design) -> Design | None:
    heater = design.kit.heater
    return None if heater.held_by == "vessel" else with_kit(design, heater=replace(heater, held_by="vessel"))


def _finer_reading(design: Design) -> Design | None:
    """Read a disk to a tenth of a turn; where nothing turns, take a meter with ten times finer counts."""
    meter = design.kit.meter
    if meter.reads != "whole" or meter.energy_per_count == 0.0:
        return None
    finer = replace(meter, reads="tenth") if meter.kind == "disk" else None
    return with_kit(design, meter=finer or replace(meter, energy_per_count=0.1 * meter.energy_per_count))


def _more_runs(design: Design) -> Design | None:
    return replace(design, repeats=RUNS) if design.repeats < RUNS else None


def _corrected(correction: Correction) -> Make:
    def make(design: Design) -> Design | None:
        offered = correction in design.procedure.corrections and design.correction != correction
        return replace(design, correction=correction) if offered else None

    return make


def _instead(procedure: Procedure) -> Make:
    def make(design: Design) -> Design | None:
        correction = design.correction if design.correction in procedure.corrections else procedure.corrections[0]
        return None if procedure == design.procedure else used_with(design, procedure, correction)

    return make


def _together(design: Design) -> Design | None:
    """Everything that acts on kit and setting, with the calculated correction."""
    changed = design
    for change in (_jacket, _hung, _larger_step, _finer_reading, _corrected("calculated")):
        changed = change(changed) or changed
    return None if changed == design else changed


OF_WAY = (
    *(Alternative(one.identifier, _instead(one)) for one in (WholeCounts(), TwoPowers(), Series(1))),
    Alternative("series-two-powers", _instead(Series(2))),
    *(Alternative(one, _corrected(one)) for one in USUAL.corrections if one != USUAL_CORRECTION),
)
"""Improvements that change nothing but the procedure or the correction."""
TOGETHER = Alternative("together", _together)
"""The improvement that is made of others."""
IMPROVEMENTS = (
    Alternative("jacket", _jacket),
    Alternative("deflector", _deflector),
    Alternative("lid", _lid),
    Alternative("more-power", _more_power),
    Alternative("larger-step", _larger_step),
    Alternative("hung-heater", _hung),
    Alternative("finer-reading", _finer_reading),
    Alternative("three-runs", _more_runs),
    *OF_WAY,
    TOGETHER,
)
"""Improvements of a usual way, in the order of the reports."""
PUT_ON: tuple[tuple[Role, Callable[[Vessel], bool]], ...] = (
    ("jacket", lambda vessel: vessel.jacket.thickness > 0.0),
    ("guard", lambda vessel: vessel.guard == "deflector"),
    ("lid", lambda vessel: vessel.lid == "loose"),
)
"""What the improvements put on a vessel, and whether a vessel has it."""


def extra_price(bench: Bench, before: Kit, after: Kit) -> float | None:
    """
    Price of what a changed kit needs beyond the one in hand, for all groups.

    Cheapest items on the shelves that bring each change; None where a shelf has none. A disk is read to a tenth for
    nothing; jacket, guard and lid come by themselves or with another vessel.
    """
    fine = 2.0 * after.meter.energy_per_count
    heater: dict[str, Callable[[Any], bool]] = {
        "held_by": lambda item: item.held_by == "vessel",
        "control": lambda item: item.control != "none",
        "power": lambda item: item.power >= 0.95 * after.heater.power,
    }
    tests = [test for name, test in heater.items() if getattr(before.heater, name) != getattr(after.heater, name)]
    wanted: list[tuple[Role, bool, Callable[[Any], bool]]] = [
        ("balance", after.balance.kind != before.balance.kind,
         lambda item: item.kind == "electronic" and item.splash_proof and not item.stability_filter),
        ("meter", after.meter.energy_per_count != before.meter.energy_per_count,
         lambda item: item.energy_per_count * (0.1 if item.kind == "disk" else 1.0) <= fine),
        ("mass_set", after.mass_set is not None and before.mass_set is None, lambda _: True),
        ("heater", bool(tests), lambda item: all(test(item) for test in tests)),
    ]  # fmt: skip
    prices = [_cheapest(bench, role, test) for role, changed, test in wanted if changed]
    return _sum([*prices, _vessel_price(bench, before.vessel, after.vessel)])


def _sum(prices: Sequence[float | None]) -> float | None:
    """Sum of prices; None where one of them is."""
    known = [price for price in prices if price is not None]
    return float(sum(known)) if len(known) == len(prices) else None


def _cheapest(bench: Bench, role: Role, wanted: Callable[[Any], bool]) -> float | None:
    groups = bench.lesson.groups
    return min((item.price * number_to_buy(item, groups) for item in bench.shelves[role] if wanted(item)), default=None)


def _vessel_price(bench: Bench, before: Vessel, after: Vessel) -> float | None:
    """Price of a vessel that has what the other has more, or of what can be put on the one in hand."""
    needs = {role: has for role, has in PUT_ON if getattr(after, role) != getattr(before, role)}
    if not needs:
        return 0.0
    parts = _sum([_cheapest(bench, role, lambda item: item.goes_on(before)) for role in needs])
    whole = _cheapest(bench, "vessel", lambda item: all(has(item) for has in needs.values()))
    return min((price for price in (whole, parts) if price is not None), default=None)
