"""The bench as it was read, in the units people use: facts of the room and one table a shelf."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from reports.tables.tables import Column, Table, listed
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from budget.quantities.distributions import Distribution
    from design.bench import Bench, Current, SearchRange
    from design.kit import Item, Role

KNOWLEDGE_UNITS = {"wall_loss": "W", "base_loss": "W", "return_loss": "W", "restart_cooling": "J"}
"""Units of what is known of losses by their keys, where there is one."""


def bench_facts(bench: Bench, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Room, supply, lesson, purse, observer, today, search and stated knowledge as pairs of label and text."""
    _, room, supply, lesson, observer = say.text, bench.room, bench.supply, bench.lesson, bench.observer
    return (
        (_("bench.file"), bench.path),
        (
            _("bench.room"),
            f"{say.in_unit(room.pressure / 1000, 'kPa', 4)}, {say.in_unit(room.temperature - 273.15, '°C')}",
        ),
        (
            _("bench.supply"),
            _(
                "bench.supply_said",
                voltage=say.in_unit(supply.voltage, "V"),
                tolerance=say.percent_of_share(supply.tolerance),
                current=say.in_unit(supply.current_limit, "A"),
            ),
        ),
        (
            _("bench.lesson"),
            _(
                "bench.lesson_said",
                length=say.minutes(lesson.length / 60),
                handling=say.minutes(lesson.handling / 60),
                groups=lesson.groups,
            ),
        ),
        (_("bench.purse"), say.money(bench.purse.amount, bench.purse.currency)),
        (
            _("bench.observer"),
            _(
                "bench.observer_said",
                time=say.in_unit(observer.reaction_time, "s"),
                mass=say.in_unit(observer.tipping * 1000, "g"),
            ),
        ),
        (_("bench.today"), _today(bench.current, say)),
        (_("bench.search"), _search(bench.search, say)),
        (_("bench.stated_knowledge"), _knowledge(bench.knowledge.items(), say) or _("bench.no_knowledge")),
    )


def _search(search: SearchRange, say: Language) -> str:
    """What the file says of the search."""
    _, sensible = say.text, say.text("bench.all_sensible")
    return _(
        "bench.search_said",
        objective=say.name("objective", search.objective.replace(" ", "_")),
        powers=_several(search.powers, "W", sensible, say),
        masses=_several([mass * 1000 for mass in search.masses], "g", sensible, say),
        runs=_several(search.repeats, "", sensible, say),
        procedures=", ".join(search.procedures) or _("bench.all"),
        corrections=", ".join(search.corrections) or _("bench.all"),
        readings=", ".join(search.readings) or _("bench.all"),
        spare=_several([1000 * spare for spare in search.spare_water], "g", _("bench.what_helps"), say),
    )


def _today(current: Current, say: Language) -> str:
    """What the file says of today's way."""
    numbers = (
        ("power", current.power, 1.0, "W"),
        ("mass", current.mass, 1000.0, "g"),
        ("runs", current.repeats, 1.0, ""),
        ("fill", current.fill, 1000.0, "g"),
    )
    said = [*current.items.values(), current.procedure, current.correction]
    for word, value, factor, unit in numbers:
        said += [] if value is None else [say.text(f"bench.today_{word}", value=say.in_unit(value * factor, unit, 4))]
    said += [say.text("bench.today_reading", value=current.reading)] if current.reading else []
    return "; ".join(part for part in said if part) or say.text("bench.not_stated")


def shelf_tables(bench: Bench, say: Language = ENGLISH) -> tuple[Table, ...]:
    """One table a shelf, in file order; those of what may be put on a vessel where they are not empty."""
    from design.kit import FITTING_ROLES

    return tuple(
        _shelf(role, items, bench.purse.currency, say)
        for role, items in bench.shelves.items()
        if items or role not in FITTING_ROLES
    )


def _fitting(key: str, heading: str, say: Language) -> tuple[Column, ...]:
    return (
        Column(
            key, say.text(heading), cell=lambda item: item.makes if isinstance(item.makes, str) else item.makes.text
        ),
        Column("mass_g", say.text("word.mass"), "significant", "g", cell=lambda item: item.mass * 1000),
        Column(
            "fits", say.text("bench.fits"), cell=lambda item: ", ".join(item.fits) or say.text("bench.every_vessel")
        ),
    )


def _columns(say: Language) -> Mapping[Role, tuple[Column, ...]]:
    """What the items of each shelf say in columns of their own; kinds are the words of bench files."""
    _, sensible = say.text, say.text("bench.all_sensible")

    def yes(answer: bool) -> str:
        return _("word.yes") if answer else _("word.no")

    return {
        "balance": (
            Column("kind", _("bench.kind")),
            Column("resolution_g", _("bench.resolution"), "significant", "g", cell=lambda item: item.resolution * 1000),
            Column(
                "repeatability_g",
                _("bench.repeatability"),
                "significant",
                "g",
                cell=lambda item: item.repeatability * 1000,
            ),
            Column("linearity_g", _("bench.linearity"), "significant", "g", cell=lambda item: item.linearity * 1000),
            Column("capacity_kg", _("bench.capacity"), "significant", "kg", cell=lambda item: _finite(item.capacity)),
            Column("splash_proof", _("bench.splash_proof"), cell=lambda item: yes(item.splash_proof)),
            Column("stability_filter", _("bench.stability_filter"), cell=lambda item: yes(item.stability_filter)),
            Column("works_warm", _("bench.works_warm"), cell=lambda item: yes(item.works_warm)),
        ),
        "meter": (
            Column("kind", _("bench.kind")),
            Column(
                "energy_per_count_J",
                _("bench.energy_per_count"),
                "significant",
                "J",
                5,
                cell=lambda item: item.energy_per_count or None,
            ),
            Column("reads", _("bench.read_to"), cell=lambda item: say.text(f"bench.reads_{item.reads}")),
            Column("error", _("bench.relative_error"), cell=lambda item: item.error.describe()),
            Column(
                "max_voltage_V",
                _("bench.voltage_at_most"),
                "significant",
                "V",
                cell=lambda item: _finite(item.max_voltage),
            ),
            Column(
                "max_current_A",
                _("bench.current_at_most"),
                "significant",
                "A",
                cell=lambda item: _finite(item.max_current),
            ),
            Column(
                "max_power_W",
                _("bench.power_at_most"),
                "significant",
                "W",
                4,
                cell=lambda item: _finite(item.max_power),
            ),
            Column(
                "start_current_A", _("bench.starting_current"), "significant", "A", cell=lambda item: item.start_current
            ),
        ),
        "heater": (
            Column("power_W", _("bench.nameplate_power"), "significant", "W", 4, cell=lambda item: item.power),
            Column("rated_voltage_V", _("bench.at"), "significant", "V", cell=lambda item: item.rated_voltage),
            Column("tolerance_percent", _("bench.tolerance"), "percent", cell=lambda item: item.tolerance * 100),
            Column(
                "stems",
                _("bench.stems"),
                cell=lambda item: f"{item.stems} × {say.in_unit(item.stem_diameter * 1000, 'mm')}",
            ),
            Column(
                "minimum_depth_mm",
                _("bench.water_needed"),
                "significant",
                "mm",
                cell=lambda item: item.minimum_depth * 1000,
            ),
            Column("held_by", _("bench.held_by")),
            Column(
                "control",
                _("bench.control"),
                cell=lambda item: (
                    item.control if isinstance(item.control, str) else _several(item.control, "W", sensible, say)
                ),
            ),
            Column("flex_m", _("bench.flex"), "significant", "m", cell=lambda item: item.flex),
        ),
        "vessel": (
            Column("capacity_L", _("bench.capacity"), "significant", "L", cell=lambda item: item.capacity * 1000),
            Column(
                "diameter_mm", _("bench.inside_diameter"), "significant", "mm", cell=lambda item: item.diameter * 1000
            ),
            Column("height_mm", _("bench.height"), "significant", "mm", cell=lambda item: item.height * 1000),
            Column("mass_g", _("word.mass"), "significant", "g", cell=lambda item: item.mass * 1000),
            Column("material", _("bench.material")),
            Column("jacket", _("bench.jacket"), cell=lambda item: item.jacket.text),
            Column("lid", _("bench.lid")),
            Column("guard", _("bench.guard")),
            Column("knowledge", _("bench.stated_losses"), cell=lambda item: _knowledge(item.knowledge.items(), say)),
        ),
        "mass_set": (
            Column(
                "masses",
                _("bench.masses"),
                cell=lambda item: _several([step * 1000 for step in item.steps], "g", sensible, say),
            ),
            Column("accuracy_percent", _("bench.accuracy"), "percent", cell=lambda item: item.accuracy * 100),
        ),
        "jacket": _fitting("lagging", "bench.lagging", say),
        "lid": _fitting("kind", "bench.kind", say),
        "guard": _fitting("kind", "bench.kind", say),
    }


def _shelf(role: Role, items: Sequence[Item], currency: str, say: Language) -> Table:
    """Put what every item says of itself round what its shelf asks."""
    _ = say.text
    columns = (
        Column("name", _("word.name")),
        *_columns(say)[role],
        Column("price", _("word.price"), "money", currency),
        Column("owned", _("bench.owned"), cell=lambda one: _owned(one.owned, say)),
        Column("note", _("bench.note"), cell=lambda one: _notes(one, say)),
    )
    return listed(f"{role}s", say.text(f"shelf.{role}s"), items, columns, say)


def _notes(item: Item, say: Language) -> str:
    accepted = say.text("bench.accepted_unsuitable") if item.accept_unsuitable else ""
    return "; ".join(part for part in (item.note, accepted) if part)


def _owned(number: int, say: Language) -> str:
    from design.fields import EVERY_GROUP

    if number == 0:
        return say.text("word.no")
    return say.text("bench.enough") if number >= EVERY_GROUP else str(number)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _several(values: Sequence[float], unit: str, otherwise: str, say: Language) -> str:
    if not values:
        return otherwise
    return f"{', '.join(say.in_unit(value, '', 4) for value in values)}{rounding.THIN}{unit}".strip()


def _knowledge(pairs: Iterable[tuple[str, Distribution]], say: Language) -> str:
    """Say what is known of losses, by their names."""
    return "; ".join(
        f"{say.name('knowledge', key)}: {distribution.describe()} {KNOWLEDGE_UNITS.get(key, '')}".rstrip()
        for key, distribution in pairs
    )
