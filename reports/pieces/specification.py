"""Kit as figures: what each item must be able to do, in numbers that any supplier can answer, without names."""

from __future__ import annotations

import math
from collections.abc import Sequence

from design.kit import Balance, Fitting, Heater, Item, MassSet, Meter, Vessel
from design.materials import Jacket
from reports.pieces.parts import PieceBasis
from reports.words.languages import Language


def figures_of(given: PieceBasis, item: Item) -> tuple[str, ...]:
    """List what an item must be able to do."""
    return tuple(_written(given, item)[1])


def ranges_of(given: PieceBasis, item: Item) -> str:
    """Write range and fineness of an item, the two or three figures that its user needs, as they stand on it."""
    return _written(given, item)[0]


def _written(given: PieceBasis, item: Item) -> tuple[str, Sequence[str]]:
    """Ranges of an item, and everything it must be able to do."""
    match item:
        case Balance():
            return _balance(given.say, item)
        case Meter():
            return _meter(given.say, item)
        case Heater():
            return _heater(given.say, item)
        case Vessel():
            bare = item.bare or item
            lagged = "specification.lagged" if bare.jacket.thickness > 0.0 else "specification.not_lagged"
            return f"{given.say.in_unit(item.capacity * 1000, 'L')}, {given.say.text(lagged)}", _vessel(given.say, bare)
        case MassSet():
            return _mass_set(given.say, item)
        case Fitting():
            return _fitting(given.say, item, given.design.kit.vessel)
    raise TypeError(f"no shelf item: {type(item).__name__}")


def _balance(say: Language, item: Balance) -> tuple[str, Sequence[str]]:
    _, capacity, step = say.text, say.in_unit(item.capacity, "kg"), say.in_unit(item.resolution * 1000, "g")
    found = [
        _("specification.beam_tips") if item.kind == "beam" else _("specification.digital_display"),
        _("specification.capacity_least", mass=capacity),
        _("specification.smallest_step_finer", mass=step),
        _("specification.repeatability_better", mass=say.in_unit(item.repeatability * 1000, "g")),
    ]
    if item.kind == "electronic" and not item.stability_filter:
        found.append(_("specification.shows_changing_load"))
    if item.splash_proof:
        found.append(_("specification.bears_drops_steam"))
    return f"{capacity}, {_('specification.step_mass', mass=step)}", found


def _meter(say: Language, item: Meter) -> tuple[str, Sequence[str]]:
    _ = say.text
    if item.energy_per_count > 0.0:
        number, energy = say.in_unit(3.6e6 / item.energy_per_count, "", 4), say.in_unit(item.energy_per_count, "J", 4)
        short = _("specification.per_kwh_each", number=number, energy=energy)
        found = [_("specification.counts_per_kwh", number=number, energy=energy)]
    else:
        short = _("specification.voltage_current_shown")
        found = [short]
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
    return short, found


def _heater(say: Language, item: Heater) -> tuple[str, Sequence[str]]:
    _, power, volts = say.text, say.power(item.power), say.in_unit(item.rated_voltage, "V")
    depth, stem = say.in_unit(item.minimum_depth * 1000, "mm"), say.in_unit(item.stem_diameter * 1000, "mm")
    found = [
        _("specification.power_voltage", power=power, voltage=volts),
        _("specification.must_covered_water", depth=depth),
        _("specification.hangs_vessel") if item.held_by == "vessel" else _("specification.held_stand"),
        say.several("specification.stem_thick", item.stems, diameter=stem),
    ]
    if item.control == "stepless":
        found.append(_("specification.power_can_set"))
    elif not isinstance(item.control, str):
        steps = say.listed([say.power(power) for power in item.control])
        found.append(_("specification.steps_power", steps=steps))
    return f"{power}, {volts}, {_('specification.covered_water', depth=depth)}", found


def _vessel(say: Language, item: Vessel) -> Sequence[str]:
    _, thickness = say.text, item.jacket.thickness
    found = [
        _("specification.holds_volume", volume=say.in_unit(item.capacity * 1000, "L")),
        _("specification.wide_high_inside", **_wide_and_high(say, item)),
        _("specification.lagged_thick", thickness=say.in_unit(thickness * 1000, "mm"))
        if thickness > 0.0
        else _("specification.not_lagged"),
        _("specification.mass_when_empty", mass=say.mass(item.mass)),
    ]
    if item.lid == "loose":
        found.append(_("specification.loose_lid_hole"))
    if item.guard == "deflector":
        found.append(_("specification.deflector_against_droplets"))
    return found


def _wide_and_high(say: Language, vessel: Vessel) -> dict[str, str]:
    return {"diameter": say.in_unit(vessel.diameter * 1000, "mm"), "height": say.in_unit(vessel.height * 1000, "mm")}


def _fitting(say: Language, item: Fitting, vessel: Vessel) -> tuple[str, Sequence[str]]:
    _, jacket, lid, mass = say.text, item.makes, item.makes == "loose", say.mass(item.mass)
    further = []
    if not isinstance(jacket, Jacket):
        made = _("specification.loose_lid_hole") if lid else _("specification.deflector_against_droplets")
        short = _("specification.loose") if lid else _("specification.deflector")
    elif jacket.thickness == 0.0:
        made = short = _("specification.bright_foil")
    else:
        made = short = _("specification.lagging_thick", thickness=say.in_unit(jacket.thickness * 1000, "mm"))
        conductivity = say.in_unit(jacket.conductivity, "W/(m K)", 2)
        further.append(_("specification.thermal_conductivity_less", value=conductivity))
        if jacket.emissivity is not None:
            further.append(_("specification.bright_foil_outside"))
    fits = _("specification.fits_vessel_wide", **_wide_and_high(say, vessel))
    return f"{short}, {mass}", (made, *further, fits, _("specification.mass_less", mass=mass))


def _mass_set(say: Language, item: MassSet) -> tuple[str, Sequence[str]]:
    steps = say.listed([say.in_unit(step * 1000, "g") for step in item.steps])
    within = say.text("specification.each_within", limit=say.percent_of_share(item.accuracy))
    return steps, (say.text("specification.masses_steps", steps=steps), within)
