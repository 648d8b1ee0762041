"""Kit as figures: what each item must be able to do, in numbers that any supplier can answer, without names."""

from __future__ import annotations

import math

from design.kit import Balance, Fitting, Heater, Item, MassSet, Meter, Vessel
from design.materials import Jacket
from reports.pieces.parts import Given, role_name
from reports.words.languages import Language


def figures_of(given: Given, item: Item) -> tuple[str, ...]:
    """List what an item must be able to do."""
    match item:
        case Balance():
            return _balance(given.say, item)
        case Meter():
            return _meter(given.say, item)
        case Heater():
            return _heater(given.say, item)
        case Vessel():
            return _vessel(given.say, item.bare or item)
        case MassSet():
            return _mass_set(given.say, item)
        case Fitting():
            return _fitting(given.say, item, given.kit.vessel)
    raise TypeError(f"no shelf item: {type(item).__name__}")


def short_figures(given: Given) -> tuple[tuple[str, str], ...]:
    """Name each role with the two or three figures that a user of the item needs."""
    return tuple((role_name(given.say, role), ranges_of(given, item)) for role, item in given.kit.items.items())


def ranges_of(given: Given, item: Item) -> str:
    """Write range and fineness of an item, as they stand on it."""
    say, _ = given.say, given.say.text
    match item:
        case Balance():
            step = _("step {mass}", mass=say.in_unit(item.resolution * 1000, "g"))
            return f"{say.in_unit(item.capacity, 'kg')}, {step}"
        case Meter():
            return _fineness(say, item)
        case Heater():
            volts, depth = say.in_unit(item.rated_voltage, "V"), say.in_unit(item.minimum_depth * 1000, "mm")
            return f"{say.power(item.power)}, {volts}, " + _("covered by {depth} of water", depth=depth)
        case Vessel():
            jacket = (item.bare or item).jacket
            lagging = _("lagged") if jacket.thickness > 0.0 else _("not lagged")
            return f"{say.in_unit(item.capacity * 1000, 'L')}, {lagging}"
        case MassSet():
            return say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
        case Fitting():
            made = (
                _made_as(say, item) if item.role == "jacket" else _("loose") if item.role == "lid" else _("deflector")
            )
            return f"{made}, {say.mass(item.mass)}"
    raise TypeError(f"no shelf item: {type(item).__name__}")


def _fineness(say: Language, item: Meter) -> str:
    if item.energy_per_count == 0.0:
        return say.text("voltage and current shown together")
    return say.text(
        "{number} per kWh, {energy} each",
        number=say.in_unit(3.6e6 / item.energy_per_count, "", 4),
        energy=say.in_unit(item.energy_per_count, "J", 4),
    )


def _balance(say: Language, item: Balance) -> tuple[str, ...]:
    _ = say.text
    kind = _("beam that tips") if item.kind == "beam" else _("digital display")
    found = [
        kind,
        _("capacity at least {mass}", mass=say.in_unit(item.capacity, "kg")),
        _("smallest step {mass} or finer", mass=say.in_unit(item.resolution * 1000, "g")),
        _("repeatability {mass} or better", mass=say.in_unit(item.repeatability * 1000, "g")),
    ]
    if item.kind == "electronic" and not item.stability_filter:
        found.append(_("shows a changing load (no filter that holds the reading)"))
    if item.splash_proof:
        found.append(_("bears drops and steam"))
    return tuple(found)


def _meter(say: Language, item: Meter) -> tuple[str, ...]:
    _ = say.text
    found = []
    if item.energy_per_count > 0.0:
        per = 3.6e6 / item.energy_per_count
        step = say.in_unit(item.energy_per_count, "J", 4)
        found.append(_("{number} counts per kWh or more ({energy} each)", number=say.in_unit(per, "", 4), energy=step))
    else:
        found.append(_("voltage and current shown together"))
    low, high = item.error.support
    if math.isfinite(low) and math.isfinite(high):
        limit = say.percent_of_share(max(abs(low), abs(high)))
        found.append(_("limits of error ± {limit} or closer, stated by the maker", limit=limit))
    else:
        spread = say.percent_of_share(item.error.standard_uncertainty)
        found.append(_("standard uncertainty of the energy {limit} or better", limit=spread))
    if math.isfinite(item.max_voltage):
        found.append(_("for at least {voltage}", voltage=say.in_unit(item.max_voltage, "V")))
    if math.isfinite(item.max_current):
        found.append(_("for at least {current}", current=say.in_unit(item.max_current, "A")))
    return tuple(found)


def _heater(say: Language, item: Heater) -> tuple[str, ...]:
    _ = say.text
    control = {"none": "", "stepless": _("power can be set")}
    found = [
        _("{power} at {voltage}", power=say.power(item.power), voltage=say.in_unit(item.rated_voltage, "V")),
        _("must be covered by {depth} of water", depth=say.in_unit(item.minimum_depth * 1000, "mm")),
        _("hangs on the vessel") if item.held_by == "vessel" else _("held by a stand"),
        say.several(
            "{number} stem, {diameter} thick", "{number} stems, {diameter} thick each", item.stems,
            diameter=say.in_unit(item.stem_diameter * 1000, "mm"),
        ),
    ]  # fmt: skip
    if isinstance(item.control, str):
        found += [control[item.control]] if control[item.control] else []
    else:
        steps = say.listed([say.power(power) for power in item.control])
        found.append(_("steps of power: {steps}", steps=steps))
    return tuple(found)


def _vessel(say: Language, item: Vessel) -> tuple[str, ...]:
    _ = say.text
    found = [
        _("holds {volume}", volume=say.in_unit(item.capacity * 1000, "L")),
        _(
            "{diameter} wide and {height} high inside",
            diameter=say.in_unit(item.diameter * 1000, "mm"),
            height=say.in_unit(item.height * 1000, "mm"),
        ),
    ]
    if item.jacket.thickness > 0.0:
        thickness = say.in_unit(item.jacket.thickness * 1000, "mm")
        found.append(_("lagged, {thickness} thick", thickness=thickness))
    else:
        found.append(_("not lagged"))
    found.append(_("mass {mass} when empty", mass=say.mass(item.mass)))
    if item.lid == "loose":
        found.append(_("loose lid with a hole for the heater"))
    if item.guard == "deflector":
        found.append(_("deflector against droplets"))
    return tuple(found)


def _made_as(say: Language, item: Fitting) -> str:
    """Say what a jacket, lid or guard is."""
    _ = say.text
    if not isinstance(item.makes, Jacket):
        return _("loose lid with a hole for the heater") if item.role == "lid" else _("deflector against droplets")
    if item.makes.thickness == 0.0:
        return _("bright foil")
    return _("lagging {thickness} thick", thickness=say.in_unit(item.makes.thickness * 1000, "mm"))


def _fitting(say: Language, item: Fitting, vessel: Vessel) -> tuple[str, ...]:
    _ = say.text
    found = [_made_as(say, item)]
    if isinstance(item.makes, Jacket):
        conductivity = say.in_unit(item.makes.conductivity, "W/(m K)", 2)
        found += [_("thermal conductivity {value} or less", value=conductivity)] if item.makes.thickness > 0.0 else []
        found += [_("bright foil outside")] if item.makes.thickness > 0.0 and item.makes.emissivity is not None else []
    fits = _(
        "fits a vessel {diameter} wide and {height} high inside",
        diameter=say.in_unit(vessel.diameter * 1000, "mm"),
        height=say.in_unit(vessel.height * 1000, "mm"),
    )
    return (*found, fits, _("mass {mass} or less", mass=say.mass(item.mass)))


def _mass_set(say: Language, item: MassSet) -> tuple[str, ...]:
    _ = say.text
    steps = say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
    return (
        _("masses of {steps}", steps=steps),
        _("each within ± {limit}", limit=say.percent_of_share(item.accuracy)),
    )
