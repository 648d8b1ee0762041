"""Today's way, and what the reader of a plan must know."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from design.bench import Bench, FillLimits
from design.chosen import Design, number_to_buy
from design.errors import DesignError
from design.fields import EVERY_GROUP
from design.kit import FITTING_ROLES, Item, Kit, Role, kit_from, needed_roles
from design.limits import FILL, MOST_FILL, USUAL_FILL
from design.message import Message
from design.procedures.face import Correction, Procedure
from design.procedures.registry import USUAL, procedure_named
from design.search.candidates import can_be_timed, masses_of, powers_of
from design.search.plan import RankedDesign
from design.setting.hardware import Conditions, conditions_of

USUAL_CORRECTION: Correction = "none"
"""Correction taken as usual where the bench file says nothing. (common practice, no source)"""


def current_design(conditions: Conditions) -> tuple[Design | None, Message | None]:
    """
    What is done today.

    Parameters
    ----------
    conditions : Conditions
        The bench.

    Returns
    -------
    design : Design or None
        None where it is not stated, not clear, or breaks a limit that is more than advice.
    reason : Message or None
        Why there is none; None otherwise.
    """
    bench = conditions.bench
    procedure = procedure_named(bench.current.procedure or USUAL.identifier)
    chosen: dict[Role, Item] = {}
    for role in roles_in_use(bench, procedure):
        item = _item_in_use(bench, role)
        if item is None:
            return None, Message("today_item", {"role": role})
        chosen[role] = replace(item, owned=EVERY_GROUP)
    kit = read_as_now(bench, kit_from(chosen), procedure)
    usual = bench.current.correction or USUAL_CORRECTION
    correction = next((known for known in procedure.corrections if known == usual), None)
    if correction is None:
        return None, Message("today_correction", {"correction": usual, "procedure": procedure.identifier})
    powers = powers_in_use(bench, kit, procedure)
    if powers is None:
        return None, Message("today_powers", {"number": procedure.number_of_powers})
    mass, repeats = mass_in_use(bench, kit), bench.current.repeats or 1
    design = Design(conditions, kit, procedure, correction, powers, mass, repeats)
    design, least = _filled(design, bench.current.fill)
    if least > 0.0:
        return None, Message("today_fill", {"least": least})
    if design.obstacles:
        return None, Message("today_limits", {"limits": design.obstacles})
    advised = design.against_advice
    return design, Message("today_against_advice", {"limits": advised}) if advised else None


def roles_in_use(bench: Bench, procedure: Procedure) -> tuple[Role, ...]:
    """Roles of today's kit: those that the procedure needs, and what the bench file says is on the vessel."""
    needed = needed_roles(mass_set=procedure.needs_mass_set)
    return (*needed, *(role for role in FITTING_ROLES if role in bench.current.items))


def read_as_now(bench: Bench, kit: Kit, procedure: Procedure) -> Kit:
    """The kit with its counts read by today's rule."""
    timed = bench.current.reading == "timed" and can_be_timed(procedure, kit.meter)
    return kit.read("timed") if timed else kit


def _filled(design: Design, wanted: float | None) -> tuple[Design, float]:
    """The design with today's fill, and what would just cover the element where today's is less; else 0. [kg]"""
    if wanted is None:
        return design, 0.0
    design = replace(design, fill_step=0.0)
    least, more = design.fill, replace(design, spare=1.0).fill
    filled = replace(design, spare=(wanted - least) / (more - least))  # the fill is linear in the water to spare
    bare = replace(design, spare=-float(np.ravel(design.situation.values["least_water - covering"])[0]))
    return (design, bare.fill) if filled.spare < bare.spare - 1e-9 else (filled, 0.0)


def in_use(bench: Bench, correction: str | None = None) -> Design:
    """
    Find what the readings of a bench were taken with, whether or not it keeps the limits; they tell its setting.

    Parameters
    ----------
    bench : Bench
        Its ``[current]`` says what is in use; an item not named there is the one that is owned.
    correction : str, optional
        Correction asked for. Left out, it is the one that ``[current]`` names; where that is ``none`` or not
        stated, the calculated losses are taken off all the same, as a recognised systematic effect is to be
        corrected for (JCGM 100:2008, 3.2.4); the uncorrected value stands beside it.

    Raises
    ------
    DesignError
        If an item in use is not clear, or the procedure does not know the correction.
    """
    procedure = procedure_named(bench.current.procedure or USUAL.identifier)
    chosen = {role: _clear_item_in_use(bench, role) for role in roles_in_use(bench, procedure)}
    kit = read_as_now(bench, kit_from(chosen), procedure)
    powers = powers_in_use(bench, kit, procedure) or (kit.heater.power,) * procedure.number_of_powers
    taken_off = _correction_in_use(bench, procedure, correction)
    return Design(conditions_of(bench), kit, procedure, taken_off, powers, mass_in_use(bench, kit))


def _correction_in_use(bench: Bench, procedure: Procedure, asked: str | None) -> Correction:
    stated = bench.current.correction
    wanted = asked or (stated if stated not in (None, "none") else "calculated")
    for known in procedure.corrections:
        if known == wanted:
            return known
    if asked is None and stated in (None, "none"):
        return procedure.corrections[0]
    known_words = ", ".join(procedure.corrections)
    raise DesignError(
        f"{bench.path}: current.correction: the procedure {procedure.identifier} knows {known_words} (got {wanted!r})"
    )


def _item_in_use(bench: Bench, role: Role) -> Item | None:
    """Item named as in use today, or the one that is owned; None where that is not clear."""
    shelf = bench.shelves[role]
    name = bench.current.items.get(role)
    if name is not None:
        return next((item for item in shelf if item.name == name), None)
    owned = [item for item in shelf if item.owned > 0]
    return owned[0] if len(owned) == 1 else None


def _clear_item_in_use(bench: Bench, role: Role) -> Item:
    """Item in use today, or the only one on the shelf."""
    shelf, name, word = bench.shelves[role], bench.current.items.get(role), role.replace("_", " ")
    found = _item_in_use(bench, role)
    if found is not None:
        return found
    if name is not None:
        raise DesignError(f'{bench.path}: current.items.{role}: must name an item of the shelf (got "{name}")')
    if len(shelf) == 1:
        return shelf[0]
    raise DesignError(
        f"{bench.path}: current.items: must say which {word} the readings were taken with "
        f'(got none, and {len(shelf)} on the shelf); write items = {{ {role} = "{shelf[0].name if shelf else "..."}" }}'
    )


def mass_in_use(bench: Bench, kit: Kit) -> float:
    """Today's mass step, else the largest single mass. [kg]"""
    return bench.current.mass or (max(kit.mass_set.steps) if kit.mass_set else max(masses_of(bench, None)))


def powers_in_use(bench: Bench, kit: Kit, procedure: Procedure) -> tuple[float, ...] | None:
    """Today's power, else full power; with a procedure of several the set that goes nearest to half of it."""
    powers = powers_of(bench, kit.heater)
    full = bench.current.power or max(powers, default=kit.heater.power)
    sets = procedure.power_sets((full, *(power for power in powers if power < full)))
    chosen = [powers for powers in sets if powers[0] == full]
    return min(chosen, key=lambda powers: abs(powers[-1] - 0.5 * full), default=None)


SAFETY = ("scalds", "mains", "covered", "dry_sockets", "rules_first")
"""Keys of the usual cautions for this experiment; they defer to local rules and qualified people."""


def vessel_needed(design: Design, bench: Bench) -> Message | None:
    """
    What vessel of the same width would keep a design under the limits of filling; None where its own does.

    Parameters
    ----------
    design : Design
        The design.
    bench : Bench
        Its bench, on whose shelves a vessel is looked for that would do: the cheapest is named with its price.
    """
    if not _overfull(design):
        return None
    values = design.situation.values
    fill, height = (float(np.ravel(values[text])[0]) for text in (f"{FILL} / {MOST_FILL} * height", "most_crest + rim"))
    wanted = max(fill, height)
    needed = {"volume": wanted * design.hardware.area, "height": wanted, "width": design.kit.vessel.diameter}
    groups = bench.lesson.groups
    fitting = [
        vessel
        for vessel in bench.vessels
        if not _overfull(replace(design, kit=replace(design.kit, vessel=vessel, fittings=())))
    ]
    if not fitting:
        return Message("vessel_needed", needed)
    cheapest = min(fitting, key=lambda vessel: (vessel.price * number_to_buy(vessel, groups), vessel.name))
    price = cheapest.price * number_to_buy(cheapest, groups)
    found = {"vessel": cheapest.name, "price": price, "currency": bench.purse.currency}
    return Message("vessel_on_shelf", {**needed, **found})


def _overfull(design: Design) -> bool:
    return bool({"fill", "rim", "stems"}.intersection((*design.against_advice, *design.obstacles)))


def cautions_of(
    conditions: Conditions,
    recommended: RankedDesign | None,
    current: tuple[Design | None, Message | None],
    *,
    only_owned: bool,
) -> tuple[Message, ...]:
    """
    Cautions of a plan, safety first.

    Parameters
    ----------
    conditions : Conditions
        The bench.
    recommended : RankedDesign or None
        What the plan recommends.
    current : tuple of Design and Message, or None for either
        What is done today; why there is no design for it, or what is done against advice.
    only_owned : bool
        The search was kept to what is in the cupboard.
    """
    accepted = () if recommended is None else recommended.design.accepted
    today, reason = current
    vessel = vessel_needed(today, today.conditions.bench) if today else None
    return (
        *(Message(key) for key in (*SAFETY, "heater_off_rate")),
        *(Message("accepted", {"item": item, "limit": limit}) for item, limit in accepted),
        *_wet_lagging(recommended),
        *(_loosened(recommended.design) if recommended else ()),
        *((reason,) if reason else ()),
        *((vessel,) if vessel else ()),
        *((Message("only_owned"),) if only_owned else ()),
        *_knowledge(conditions.bench),
    )


def _loosened(design: Design) -> Iterator[Message]:
    """Cautions about limits of filling that the bench file states looser than they usually are."""
    fill, rim, usual = design.hardware.limits.fill, design.hardware.limits.rim, FillLimits().rim
    most = float(np.ravel(design.situation.values[USUAL_FILL])[0])
    if fill is not None and fill > most:
        yield Message("loosened_fill", {"share": fill, "usual_share": most})
    if rim < usual:
        yield Message("loosened_rim", {"rim": rim, "usual_rim": usual})


def _wet_lagging(recommended: RankedDesign | None) -> tuple[Message, ...]:
    """Caution about lagging that soaks up water, by the item that brings it."""
    if recommended is None or not recommended.design.kit.vessel.jacket.soaks:
        return ()
    items = recommended.design.items
    return (Message("wet_lagging", {"item": items.get("jacket", items["vessel"])}),)


def _knowledge(bench: Bench) -> tuple[Message, ...]:
    """Caution about what is calculated only, since nobody stated it."""
    stated = set(bench.knowledge).union(*(vessel.knowledge for vessel in bench.vessels))
    missing = [key for key in ("wall_loss", "carry_over") if key not in stated]
    return (Message(f"calculated_{'_'.join(missing)}"),) if missing else ()
