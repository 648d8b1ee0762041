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
            step = _("specification.step_mass", mass=say.in_unit(item.resolution * 1000, "g"))
            return f"{say.in_unit(item.capacity, 'kg')}, {step}"
        case Meter():
            return _fineness(say, item)
        case Heater():
            volts, depth = say.in_unit(item.rated_voltage, "V"), say.in_unit(item.minimum_depth * 1000, "mm")
            return f"{say.power(item.power)}, {volts}, " + _("specification.covered_water", depth=depth)
        case Vessel():
            jacket = (item.bare or item).jacket
            lagging = _("specification.lagged") if jacket.thickness > 0.0 else _("specification.not_lagged")
            return f"{say.in_unit(item.capacity * 1000, 'L')}, {lagging}"
        case MassSet():
            return say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
        case Fitting():
            made = (
                _made_as(say, item)
                if item.role == "jacket"
                else _("specification.loose")
                if item.role == "lid"
                else _("specification.deflector")
            )
            return f"{made}, {say.mass(item.mass)}"
    raise TypeError(f"no shelf item: {type(item).__name__}")


def _fineness(say: Language, item: Meter) -> str:
    if item.energy_per_count == 0.0:
        return say.text("specification.voltage_current_shown")
    return say.text(
        "specification.per_kwh_each",
        number=say.in_unit(3.6e6 / item.energy_per_count, "", 4),
        energy=say.in_unit(item.energy_per_count, "J", 4),
    )


def _balance(say: Language, item: Balance) -> tuple[str, ...]:
    _ = say.text
    kind = _("specification.beam_tips") if item.kind == "beam" else _("specification.digital_display")
    found = [
        kind,
        _("specification.capacity_least", mass=say.in_unit(item.capacity, "kg")),
        _("specification.smallest_step_finer", mass=say.in_unit(item.resolution * 1000, "g")),
        _("specification.repeatability_better", mass=say.in_unit(item.repeatability * 1000, "g")),
    ]
    if item.kind == "electronic" and not item.stability_filter:
        found.append(_("specification.shows_changing_load"))
    if item.splash_proof:
        found.append(_("specification.bears_drops_steam"))
    return tuple(found)


def _meter(say: Language, item: Meter) -> tuple[str, ...]:
    _ = say.text
    found = []
    if item.energy_per_count > 0.0:
        per = 3.6e6 / item.energy_per_count
        step = say.in_unit(item.energy_per_count, "J", 4)
        found.append(_("specification.counts_per_kwh", number=say.in_unit(per, "", 4), energy=step))
    else:
        found.append(_("specification.voltage_current_shown"))
    low, high = item.error.support
    if math.isfinite(low) and math.isfinite(high):
        limit = say.percent_of_share(max(abs(low), abs(high)))
        found.append(_("specification.limits_error_closer", limit=limit))
    else:
        spread = say.percent_of_share(item.error.standard_uncertainty)
        found.append(_("specification.standard_uncertainty_energy", limit=spread))
    if math.isfinite(item.max_voltage):
        found.append(_("specification.least", voltage=say.in_unit(item.max_voltage, "V")))
    if math.isfinite(item.max_current):
        found.append(_("specification.least_2", current=say.in_unit(item.max_current, "A")))
    return tuple(found)


def _heater(say: Language, item: Heater) -> tuple[str, ...]:
    _ = say.text
    control = {"none": "", "stepless": _("specification.power_can_set")}
    found = [
        _("specification.power_voltage", power=say.power(item.power), voltage=say.in_unit(item.rated_voltage, "V")),
        _("specification.must_covered_water", depth=say.in_unit(item.minimum_depth * 1000, "mm")),
        _("specification.hangs_vessel") if item.held_by == "vessel" else _("specification.held_stand"),
        say.several(
            "specification.stem_thick", item.stems,
            diameter=say.in_unit(item.stem_diameter * 1000, "mm"),
        ),
    ]  # fmt: skip
    if isinstance(item.control, str):
        found += [control[item.control]] if control[item.control] else []
    else:
        steps = say.listed([say.power(power) for power in item.control])
        found.append(_("specification.steps_power", steps=steps))
    return tuple(found)


def _vessel(say: Language, item: Vessel) -> tuple[str, ...]:
    _ = say.text
    found = [
        _("specification.holds_volume", volume=say.in_unit(item.capacity * 1000, "L")),
        _(
            "specification.wide_high_inside",
            diameter=say.in_unit(item.diameter * 1000, "mm"),
            height=say.in_unit(item.height * 1000, "mm"),
        ),
    ]
    if item.jacket.thickness > 0.0:
        thickness = say.in_unit(item.jacket.thickness * 1000, "mm")
        found.append(_("specification.lagged_thick", thickness=thickness))
    else:
        found.append(_("specification.not_lagged"))
    found.append(_("specification.mass_when_empty", mass=say.mass(item.mass)))
    if item.lid == "loose":
        found.append(_("specification.loose_lid_hole"))
    if item.guard == "deflector":
        found.append(_("specification.deflector_against_droplets"))
    return tuple(found)


def _made_as(say: Language, item: Fitting) -> str:
    """Say what a jacket, lid or guard is."""
    _ = say.text
    if not isinstance(item.makes, Jacket):
        return (
            _("specification.loose_lid_hole") if item.role == "lid" else _("specification.deflector_against_droplets")
        )
    if item.makes.thickness == 0.0:
        return _("specification.bright_foil")
    return _("specification.lagging_thick", thickness=say.in_unit(item.makes.thickness * 1000, "mm"))


def _fitting(say: Language, item: Fitting, vessel: Vessel) -> tuple[str, ...]:
    _ = say.text
    found = [_made_as(say, item)]
    if isinstance(item.makes, Jacket):
        conductivity = say.in_unit(item.makes.conductivity, "W/(m K)", 2)
        found += (
            [_("specification.thermal_conductivity_less", value=conductivity)] if item.makes.thickness > 0.0 else []
        )
        found += (
            [_("specification.bright_foil_outside")]
            if item.makes.thickness > 0.0 and item.makes.emissivity is not None
            else []
        )
    fits = _(
        "specification.fits_vessel_wide",
        diameter=say.in_unit(vessel.diameter * 1000, "mm"),
        height=say.in_unit(vessel.height * 1000, "mm"),
    )
    return (*found, fits, _("specification.mass_less", mass=say.mass(item.mass)))


def _mass_set(say: Language, item: MassSet) -> tuple[str, ...]:
    _ = say.text
    steps = say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
    return (
        _("specification.masses_steps", steps=steps),
        _("specification.each_within", limit=say.percent_of_share(item.accuracy)),
    )
