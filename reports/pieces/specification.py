"""Kit as figures: what each item must be able to do, in numbers that any supplier can answer, without names."""

from __future__ import annotations

import math

from design.kit import Balance, Heater, Item, MassSet, Meter, Vessel
from reports.languages import Language
from reports.pieces.given import Given
from reports.pieces.parts import role_name


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
            return _vessel(given.say, item)
        case MassSet():
            return _mass_set(given.say, item)
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
        case Meter() if item.energy_per_count > 0.0:
            return _(
                "{number} per kWh, {energy} each",
                number=say.in_unit(3.6e6 / item.energy_per_count, "", 4),
                energy=say.in_unit(item.energy_per_count, "J", 4),
            )
        case Meter():
            return _("voltage and current shown together")
        case Heater():
            volts, depth = say.in_unit(item.rated_voltage, "V"), say.in_unit(item.minimum_depth * 1000, "mm")
            return f"{say.power(item.power)}, {volts}, " + _("covered by {depth} of water", depth=depth)
        case Vessel():
            lagging = _("lagged") if item.jacket.thickness > 0.0 else _("not lagged")
            return f"{say.in_unit(item.capacity * 1000, 'L')}, {lagging}"
        case MassSet():
            return say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
    raise TypeError(f"no shelf item: {type(item).__name__}")


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


def _mass_set(say: Language, item: MassSet) -> tuple[str, ...]:
    _ = say.text
    steps = say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
    return (
        _("masses of {steps}", steps=steps),
        _("each within ± {limit}", limit=say.percent_of_share(item.accuracy)),
    )
