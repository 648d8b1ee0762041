"""The bench as it was read, in the units people use: facts of the room and one table a shelf."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from reports.tables.tables import Cell, Column, Table, table
from reports.words import rounding
from reports.words.languages import N_

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


def bench_facts(bench: Bench) -> tuple[tuple[str, str], ...]:
    """Room, supply, lesson, purse, observer, today, search and stated knowledge as pairs of label and text."""
    search = bench.search
    return (
        (N_("File"), bench.path),
        (N_("Room"), f"{_unit(bench.room.pressure / 1000, 'kPa', 4)}, {_unit(bench.room.temperature - 273.15, '°C')}"),
        (
            N_("Supply"),
            f"{_unit(bench.supply.voltage, 'V')} ± {rounding.percent_of_share(bench.supply.tolerance)}, "
            f"at most {_unit(bench.supply.current_limit, 'A')}",
        ),
        (
            N_("Lesson"),
            f"{rounding.minutes(bench.lesson.length / 60)}, of which {rounding.minutes(bench.lesson.handling / 60)} "
            f"for setting up and clearing away; groups at once: {bench.lesson.groups}",
        ),
        (N_("Purse"), rounding.money(bench.purse.amount, bench.purse.currency)),
        (
            N_("Observer"),
            f"reaction time {_unit(bench.observer.reaction_time, 's')}, "
            f"balance point judged to {_unit(bench.observer.tipping * 1000, 'g')}",
        ),
        (N_("Today"), _today(bench.current)),
        (
            N_("Search"),
            f"made small: {search.objective}; powers: {_several(search.powers, 'W')}; "
            f"masses: {_several([mass * 1000 for mass in search.masses], 'g')}; runs: {_several(search.repeats, '')}; "
            f"procedures: {', '.join(search.procedures) or 'all'}; "
            f"corrections: {', '.join(search.corrections) or 'all'}; "
            f"readings of the meter: {', '.join(search.readings) or 'all'}; spare water: "
            f"{_several([1000 * spare for spare in search.spare_water], 'g', 'what helps the best designs')}",
        ),
        (N_("Stated knowledge"), _knowledge(bench.knowledge.items()) or "none: every loss is a default"),
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


def shelf_tables(bench: Bench) -> tuple[Table, ...]:
    """One table a shelf, in file order; those of what may be put on a vessel where they are not empty."""
    currency = bench.purse.currency
    fitted = (
        _fittings(bench.jackets, currency, "jackets", N_("Jackets")),
        _fittings(bench.lids, currency, "lids", N_("Lids")),
        _fittings(bench.guards, currency, "guards", N_("Guards")),
    )
    return (
        _balances(bench.balances, currency),
        _meters(bench.meters, currency),
        _heaters(bench.heaters, currency),
        _vessels(bench.vessels, currency),
        _mass_sets(bench.mass_sets, currency),
        *(shelf for shelf in fitted if shelf.rows),
    )


def _balances(items: Sequence[Balance], currency: str) -> Table:
    columns = (
        Column("kind", "Kind"),
        Column("resolution_g", "Resolution", "significant", "g"),
        Column("repeatability_g", "Repeatability", "significant", "g"),
        Column("linearity_g", "Linearity", "significant", "g"),
        Column("capacity_kg", "Capacity", "significant", "kg"),
        Column("splash_proof", "Splash-proof"),
        Column("stability_filter", "Stability filter"),
        Column("works_warm", "Works warm"),
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
    return _shelf("balances", N_("Balances"), columns, rows, items, currency)


def _meters(items: Sequence[Meter], currency: str) -> Table:
    columns = (
        Column("kind", "Kind"),
        Column("energy_per_count_J", "Energy per count", "significant", "J", 5),
        Column("reads", "Read to"),
        Column("error", "Relative error"),
        Column("max_voltage_V", "Voltage, at most", "significant", "V"),
        Column("max_current_A", "Current, at most", "significant", "A"),
        Column("max_power_W", "Power, at most", "significant", "W", 4),
        Column("start_current_A", "Starting current", "significant", "A"),
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
    return _shelf("meters", N_("Energy meters"), columns, rows, items, currency)


def _heaters(items: Sequence[Heater], currency: str) -> Table:
    columns = (
        Column("power_W", "Nameplate power", "significant", "W", 4),
        Column("rated_voltage_V", "At", "significant", "V"),
        Column("tolerance_percent", "Tolerance", "percent"),
        Column("stems", "Stems"),
        Column("minimum_depth_mm", "Water needed", "significant", "mm"),
        Column("held_by", "Held by"),
        Column("control", "Control"),
        Column("flex_m", "Flex", "significant", "m"),
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
    return _shelf("heaters", N_("Immersion heaters"), columns, rows, items, currency)


def _vessels(items: Sequence[Vessel], currency: str) -> Table:
    columns = (
        Column("capacity_L", "Capacity", "significant", "L"),
        Column("diameter_mm", "Inside diameter", "significant", "mm"),
        Column("height_mm", "Height", "significant", "mm"),
        Column("mass_g", "Mass", "significant", "g"),
        Column("material", "Material"),
        Column("jacket", "Jacket"),
        Column("lid", "Lid"),
        Column("guard", "Guard"),
        Column("knowledge", "Stated losses"),
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
    return _shelf("vessels", N_("Vessels"), columns, rows, items, currency)


def _mass_sets(items: Sequence[MassSet], currency: str) -> Table:
    columns = (Column("masses", "Masses"), Column("accuracy_percent", "Accuracy", "percent"))
    rows = [(_several([step * 1000 for step in item.steps], "g"), item.accuracy * 100) for item in items]
    return _shelf("mass_sets", N_("Mass sets"), columns, rows, items, currency)


def _fittings(items: Sequence[Fitting], currency: str, name: str, caption: str) -> Table:
    makes = Column("lagging", "Lagging") if name == "jackets" else Column("kind", "Kind")
    columns = (makes, Column("mass_g", "Mass", "significant", "g"), Column("fits", "Fits"))
    rows = [
        (
            item.makes if isinstance(item.makes, str) else item.makes.text,
            item.mass * 1000,
            ", ".join(item.fits) or "every vessel",
        )
        for item in items
    ]
    return _shelf(name, caption, columns, rows, items, currency)


def _shelf(
    name: str,
    caption: str,
    columns: Sequence[Column],
    rows: Sequence[Sequence[Cell]],
    items: Sequence[Item],
    currency: str,
) -> Table:
    """Put what every item says of itself round what its shelf asks."""
    every = [
        (item.name, *row, item.price, _owned(item.owned), _notes(item)) for item, row in zip(items, rows, strict=True)
    ]
    closing = (Column("price", "Price", "money", currency), Column("owned", "Owned"), Column("note", "Note"))
    return table(name, caption, (Column("name", "Name"), *columns, *closing), every)


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
