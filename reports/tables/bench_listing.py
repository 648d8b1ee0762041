"""The bench as it was read, in the units people use: facts of the room and one table a shelf."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from reports.tables.tables import Cell, Column, Table, table
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from budget.quantities.distributions import Distribution
    from design.bench import Bench, Current
    from design.kit import Balance, Fitting, Heater, Item, MassSet, Meter, Vessel

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
    currency = bench.purse.currency
    fitted = (
        _fittings(bench.jackets, currency, "jackets", say),
        _fittings(bench.lids, currency, "lids", say),
        _fittings(bench.guards, currency, "guards", say),
    )
    return (
        _balances(bench.balances, currency, say),
        _meters(bench.meters, currency, say),
        _heaters(bench.heaters, currency, say),
        _vessels(bench.vessels, currency, say),
        _mass_sets(bench.mass_sets, currency, say),
        *(shelf for shelf in fitted if shelf.rows),
    )


def _balances(items: Sequence[Balance], currency: str, say: Language) -> Table:
    _ = say.text
    columns = (
        Column("kind", _("bench.kind")),
        Column("resolution_g", _("bench.resolution"), "significant", "g"),
        Column("repeatability_g", _("bench.repeatability"), "significant", "g"),
        Column("linearity_g", _("bench.linearity"), "significant", "g"),
        Column("capacity_kg", _("bench.capacity"), "significant", "kg"),
        Column("splash_proof", _("bench.splash_proof")),
        Column("stability_filter", _("bench.stability_filter")),
        Column("works_warm", _("bench.works_warm")),
    )
    rows = [
        (
            item.kind,
            item.resolution * 1000,
            item.repeatability * 1000,
            item.linearity * 1000,
            _finite(item.capacity),
            _yes(item.splash_proof),
            _yes(item.stability_filter),
            _yes(item.works_warm),
        )
        for item in items
    ]
    return _shelf("balances", columns, rows, items, currency, say)


def _meters(items: Sequence[Meter], currency: str, say: Language) -> Table:
    _ = say.text
    columns = (
        Column("kind", _("bench.kind")),
        Column("energy_per_count_J", _("bench.energy_per_count"), "significant", "J", 5),
        Column("reads", _("bench.read_to")),
        Column("error", _("bench.relative_error")),
        Column("max_voltage_V", _("bench.voltage_at_most"), "significant", "V"),
        Column("max_current_A", _("bench.current_at_most"), "significant", "A"),
        Column("max_power_W", _("bench.power_at_most"), "significant", "W", 4),
        Column("start_current_A", _("bench.starting_current"), "significant", "A"),
    )
    rows = [
        (
            item.kind,
            item.energy_per_count or None,
            f"{item.reads} count",
            _described(item.error),
            _finite(item.max_voltage),
            _finite(item.max_current),
            _finite(item.max_power),
            item.start_current,
        )
        for item in items
    ]
    return _shelf("meters", columns, rows, items, currency, say)


def _heaters(items: Sequence[Heater], currency: str, say: Language) -> Table:
    _ = say.text
    columns = (
        Column("power_W", _("bench.nameplate_power"), "significant", "W", 4),
        Column("rated_voltage_V", _("bench.at"), "significant", "V"),
        Column("tolerance_percent", _("bench.tolerance"), "percent"),
        Column("stems", _("bench.stems")),
        Column("minimum_depth_mm", _("bench.water_needed"), "significant", "mm"),
        Column("held_by", _("bench.held_by")),
        Column("control", _("bench.control")),
        Column("flex_m", _("bench.flex"), "significant", "m"),
    )
    rows = [
        (
            item.power,
            item.rated_voltage,
            item.tolerance * 100,
            f"{item.stems} × {_unit(item.stem_diameter * 1000, 'mm')}",
            item.minimum_depth * 1000,
            item.held_by,
            item.control if isinstance(item.control, str) else _several(item.control, "W"),
            item.flex,
        )
        for item in items
    ]
    return _shelf("heaters", columns, rows, items, currency, say)


def _vessels(items: Sequence[Vessel], currency: str, say: Language) -> Table:
    _ = say.text
    columns = (
        Column("capacity_L", _("bench.capacity"), "significant", "L"),
        Column("diameter_mm", _("bench.inside_diameter"), "significant", "mm"),
        Column("height_mm", _("bench.height"), "significant", "mm"),
        Column("mass_g", _("word.mass"), "significant", "g"),
        Column("material", _("bench.material")),
        Column("jacket", _("bench.jacket")),
        Column("lid", _("bench.lid")),
        Column("guard", _("bench.guard")),
        Column("knowledge", _("bench.stated_losses")),
    )
    rows = [
        (
            item.capacity * 1000,
            item.diameter * 1000,
            item.height * 1000,
            item.mass * 1000,
            item.material,
            item.jacket.text,
            item.lid,
            item.guard,
            _knowledge(item.knowledge.items()),
        )
        for item in items
    ]
    return _shelf("vessels", columns, rows, items, currency, say)


def _mass_sets(items: Sequence[MassSet], currency: str, say: Language) -> Table:
    _ = say.text
    columns = (Column("masses", _("bench.masses")), Column("accuracy_percent", _("bench.accuracy"), "percent"))
    rows = [(_several([step * 1000 for step in item.steps], "g"), item.accuracy * 100) for item in items]
    return _shelf("mass_sets", columns, rows, items, currency, say)


def _fittings(items: Sequence[Fitting], currency: str, name: str, say: Language) -> Table:
    _ = say.text
    makes = Column("lagging", _("bench.lagging")) if name == "jackets" else Column("kind", _("bench.kind"))
    columns = (makes, Column("mass_g", _("word.mass"), "significant", "g"), Column("fits", _("bench.fits")))
    rows = [
        (
            item.makes if isinstance(item.makes, str) else item.makes.text,
            item.mass * 1000,
            ", ".join(item.fits) or "every vessel",
        )
        for item in items
    ]
    return _shelf(name, columns, rows, items, currency, say)


def _shelf(
    name: str,
    columns: Sequence[Column],
    rows: Sequence[Sequence[Cell]],
    items: Sequence[Item],
    currency: str,
    say: Language,
) -> Table:
    """Put what every item says of itself round what its shelf asks."""
    _ = say.text
    every = [
        (item.name, *row, item.price, _owned(item.owned), _notes(item)) for item, row in zip(items, rows, strict=True)
    ]
    closing = (
        Column("price", _("word.price"), "money", currency),
        Column("owned", _("bench.owned")),
        Column("note", _("bench.note")),
    )
    return table(name, say.text(f"shelf.{name}"), (Column("name", _("word.name")), *columns, *closing), every, say)


def _notes(item: Item) -> str:
    accepted = "accepted although unsuitable" if item.accept_unsuitable else ""
    return "; ".join(part for part in (item.note, accepted) if part)


def _owned(number: int) -> str:
    from design.kit import EVERY_GROUP

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
