"""The bench as it was read, in the units people use: facts of the room and one table a shelf."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from reports.tables.tables import Column, Table, listed
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from budget.quantities.distributions import Distribution
    from design.bench import Bench, Current
    from design.kit import Item, Role

KNOWLEDGE_NAMES = {
    "wall_loss": ("heat loss of wall and water surface at boiling", "W"),
    "base_loss": ("heat loss through the base at boiling", "W"),
    "return_loss": ("heat given off by steam that runs back", "W"),
    "carry_over": ("carry-over at 1 kW and 50 mm of freeboard", "1"),
    "restart_cooling": ("energy of a restart", "J"),
    "meter_error": ("relative error of the energy meter", "1"),
}


def bench_facts(bench: Bench, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Room, supply, lesson, purse, observer, today, search and stated knowledge as pairs of label and text."""
    _, search = say.text, bench.search
    return (
        (_("bench.file"), bench.path),
        (
            _("bench.room"),
            f"{_unit(bench.room.pressure / 1000, 'kPa', 4)}, {_unit(bench.room.temperature - 273.15, '°C')}",
        ),
        (
            _("bench.supply"),
            f"{_unit(bench.supply.voltage, 'V')} ± {rounding.percent_of_share(bench.supply.tolerance)}, "
            f"at most {_unit(bench.supply.current_limit, 'A')}",
        ),
        (
            _("bench.lesson"),
            f"{rounding.minutes(bench.lesson.length / 60)}, of which {rounding.minutes(bench.lesson.handling / 60)} "
            f"for setting up and clearing away; groups at once: {bench.lesson.groups}",
        ),
        (_("bench.purse"), rounding.money(bench.purse.amount, bench.purse.currency)),
        (
            _("bench.observer"),
            f"reaction time {_unit(bench.observer.reaction_time, 's')}, "
            f"balance point judged to {_unit(bench.observer.tipping * 1000, 'g')}",
        ),
        (_("bench.today"), _today(bench.current)),
        (
            _("bench.search"),
            f"made small: {search.objective}; powers: {_several(search.powers, 'W')}; "
            f"masses: {_several([mass * 1000 for mass in search.masses], 'g')}; runs: {_several(search.repeats, '')}; "
            f"procedures: {', '.join(search.procedures) or 'all'}; "
            f"corrections: {', '.join(search.corrections) or 'all'}; "
            f"readings of the meter: {', '.join(search.readings) or 'all'}; spare water: "
            f"{_several([1000 * spare for spare in search.spare_water], 'g', 'what helps the best designs')}",
        ),
        (_("bench.stated_knowledge"), _knowledge(bench.knowledge.items()) or "none: every loss is a default"),
    )


def _today(current: Current) -> str:
    """What the file says of today's way."""
    numbers = (
        ("power", current.power, 1.0, "W"),
        ("mass", current.mass, 1000.0, "g"),
        ("runs", current.repeats, 1.0, ""),
        ("fill", current.fill, 1000.0, "g"),
    )
    said = [*current.items.values(), current.procedure, current.correction]
    said += [f"{word}: {_unit(value * factor, unit, 4)}" for word, value, factor, unit in numbers if value is not None]
    said += [f"reading of the meter: {current.reading}"] if current.reading else []
    return "; ".join(part for part in said if part) or "not stated"


def shelf_tables(bench: Bench, say: Language = ENGLISH) -> tuple[Table, ...]:
    """One table a shelf, in file order; those of what may be put on a vessel where they are not empty."""
    from design.kit import FITTING_ROLES

    return tuple(
        _shelf(role, items, bench.purse.currency, say)
        for role, items in bench.shelves.items()
        if items or role not in FITTING_ROLES
    )


def _fitting(key: str, heading: str) -> tuple[Column, ...]:
    return (
        Column(key, heading, cell=lambda item: item.makes if isinstance(item.makes, str) else item.makes.text),
        Column("mass_g", "word.mass", "significant", "g", cell=lambda item: item.mass * 1000),
        Column("fits", "bench.fits", cell=lambda item: ", ".join(item.fits) or "every vessel"),
    )


_SHELVES: Mapping[Role, tuple[Column, ...]] = {
    "balance": (
        Column("kind", "bench.kind"),
        Column("resolution_g", "bench.resolution", "significant", "g", cell=lambda item: item.resolution * 1000),
        Column(
            "repeatability_g", "bench.repeatability", "significant", "g", cell=lambda item: item.repeatability * 1000
        ),
        Column("linearity_g", "bench.linearity", "significant", "g", cell=lambda item: item.linearity * 1000),
        Column("capacity_kg", "bench.capacity", "significant", "kg", cell=lambda item: _finite(item.capacity)),
        Column("splash_proof", "bench.splash_proof", cell=lambda item: _yes(item.splash_proof)),
        Column("stability_filter", "bench.stability_filter", cell=lambda item: _yes(item.stability_filter)),
        Column("works_warm", "bench.works_warm", cell=lambda item: _yes(item.works_warm)),
    ),
    "meter": (
        Column("kind", "bench.kind"),
        Column(
            "energy_per_count_J",
            "bench.energy_per_count",
            "significant",
            "J",
            5,
            cell=lambda item: item.energy_per_count or None,
        ),
        Column("reads", "bench.read_to", cell=lambda item: f"{item.reads} count"),
        Column("error", "bench.relative_error", cell=lambda item: _described(item.error)),
        Column(
            "max_voltage_V", "bench.voltage_at_most", "significant", "V", cell=lambda item: _finite(item.max_voltage)
        ),
        Column(
            "max_current_A", "bench.current_at_most", "significant", "A", cell=lambda item: _finite(item.max_current)
        ),
        Column("max_power_W", "bench.power_at_most", "significant", "W", 4, cell=lambda item: _finite(item.max_power)),
        Column("start_current_A", "bench.starting_current", "significant", "A", cell=lambda item: item.start_current),
    ),
    "heater": (
        Column("power_W", "bench.nameplate_power", "significant", "W", 4, cell=lambda item: item.power),
        Column("rated_voltage_V", "bench.at", "significant", "V", cell=lambda item: item.rated_voltage),
        Column("tolerance_percent", "bench.tolerance", "percent", cell=lambda item: item.tolerance * 100),
        Column("stems", "bench.stems", cell=lambda item: f"{item.stems} × {_unit(item.stem_diameter * 1000, 'mm')}"),
        Column(
            "minimum_depth_mm", "bench.water_needed", "significant", "mm", cell=lambda item: item.minimum_depth * 1000
        ),
        Column("held_by", "bench.held_by"),
        Column(
            "control",
            "bench.control",
            cell=lambda item: item.control if isinstance(item.control, str) else _several(item.control, "W"),
        ),
        Column("flex_m", "bench.flex", "significant", "m", cell=lambda item: item.flex),
    ),
    "vessel": (
        Column("capacity_L", "bench.capacity", "significant", "L", cell=lambda item: item.capacity * 1000),
        Column("diameter_mm", "bench.inside_diameter", "significant", "mm", cell=lambda item: item.diameter * 1000),
        Column("height_mm", "bench.height", "significant", "mm", cell=lambda item: item.height * 1000),
        Column("mass_g", "word.mass", "significant", "g", cell=lambda item: item.mass * 1000),
        Column("material", "bench.material"),
        Column("jacket", "bench.jacket", cell=lambda item: item.jacket.text),
        Column("lid", "bench.lid"),
        Column("guard", "bench.guard"),
        Column("knowledge", "bench.stated_losses", cell=lambda item: _knowledge(item.knowledge.items())),
    ),
    "mass_set": (
        Column("masses", "bench.masses", cell=lambda item: _several([step * 1000 for step in item.steps], "g")),
        Column("accuracy_percent", "bench.accuracy", "percent", cell=lambda item: item.accuracy * 100),
    ),
    "jacket": _fitting("lagging", "bench.lagging"),
    "lid": _fitting("kind", "bench.kind"),
    "guard": _fitting("kind", "bench.kind"),
}
"""What the items of each shelf say in columns of their own; headings by their keys."""


def _shelf(role: Role, items: Sequence[Item], currency: str, say: Language) -> Table:
    """Put what every item says of itself round what its shelf asks."""
    columns = (
        Column("name", "word.name"),
        *_SHELVES[role],
        Column("price", "word.price", "money", currency),
        Column("owned", "bench.owned", cell=lambda one: _owned(one.owned)),
        Column("note", "bench.note", cell=_notes),
    )
    headed = [replace(column, heading=say.text(column.heading)) for column in columns]
    return listed(f"{role}s", say.text(f"shelf.{role}s"), items, headed, say)


def _notes(item: Item) -> str:
    accepted = "accepted although unsuitable" if item.accept_unsuitable else ""
    return "; ".join(part for part in (item.note, accepted) if part)


def _owned(number: int) -> str:
    from design.fields import EVERY_GROUP

    if number == 0:
        return "no"
    return "enough" if number >= EVERY_GROUP else str(number)


def _yes(answer: bool) -> str:
    return "yes" if answer else "no"


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _unit(value: float, unit: str, digits: int = 3) -> str:
    return rounding.in_unit(value, unit, digits)


def _several(values: Sequence[float], unit: str, otherwise: str = "all sensible ones") -> str:
    if not values:
        return otherwise
    return f"{', '.join(rounding.in_unit(value, '', 4) for value in values)}{rounding.THIN}{unit}".strip()


def _knowledge(pairs: Iterable[tuple[str, Distribution]]) -> str:
    parts = []
    for key, distribution in pairs:
        name, unit = KNOWLEDGE_NAMES.get(key, (key, ""))
        parts.append(f"{name}: {_described(distribution)}{'' if unit in {'', '1'} else f' {unit}'}")
    return "; ".join(parts)


def _described(distribution: Distribution) -> str:
    return distribution.describe()
