"""What is odd about rows: readings missing, copied, out of order, or that contradict each other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from design.chosen import Design
from design.evaluation.runs import allowed_rise, mark_key
from design.message import Message
from design.physics.water import ICE_POINT
from design.sheets.readings import Quantity, Reading

NOT_AT_BOIL = 2.0
"""Kelvin below the boiling point of the room from which the water counts as not boiling (thermometers: 1 to 2 K)."""
COLD = 20.0
"""Kelvin below the boiling point from which heating up is counted, and not a thermometer in doubt (judgement)."""
SURE = 0.9
"""Share of the heat for warming up below which the water cannot have boiled, meter and water in doubt (judgement)."""
RISING: tuple[tuple[Quantity, str], ...] = (
    ("time", "time_runs_backwards"),
    ("counts", "counts_run_backwards"),
    ("energy", "energy_runs_backwards"),
)
"""Quantities that can only rise, with the code of a fall."""
NEEDED: tuple[Quantity, ...] = ("time", "counts", "energy", "mass", "voltage", "current", "power")
"""Quantities that every mark of a run has, or none."""

Seen = Iterator[tuple[Reading, str, str, Message]]
"""Row, column (empty for the row as a whole), code and message of what is seen."""


@dataclass(frozen=True)
class Rows:
    """Readings of one group with their runs as typed, and the bench in use."""

    used: Design
    readings: tuple[Reading, ...]
    runs: dict[str, list[Reading]]


def _duplicates(rows: Rows) -> Seen:
    """The same readings twice: the same mark copied, or the next one not changed."""
    seen: dict[tuple[object, ...], Reading] = {}
    for reading in rows.readings:
        typed = tuple((name, one.value) for name, one in reading.numbers.items() if not name.startswith("attempt"))
        key = (reading.run, typed)
        if key in seen and len(typed) > 1 and any(quantity in reading.numbers for quantity, _ in RISING):
            yield reading, "", "duplicate_row", Message("duplicate_row", {"other": seen[key].row})
        seen.setdefault(key, reading)


def _missing(rows: Rows) -> Seen:
    """A quantity that the other marks of the run have."""
    for readings in rows.runs.values():
        for quantity in NEEDED:
            given = [reading for reading in readings if quantity in reading.numbers]
            marks = {reading.mark for reading in given} - {""}
            for reading in readings if given else ():
                if quantity not in reading.numbers and reading.mark not in marks:
                    yield reading, quantity, "value_missing", Message("value_missing")


def _order(rows: Rows) -> Seen:
    for readings in rows.runs.values():
        for before, after in pairwise(readings):
            if before.mark and after.mark and mark_key(after.mark) < mark_key(before.mark):
                marks = {"mark": after.mark, "before": before.mark}
                yield after, "mark", "marks_out_of_order", Message("marks_out_of_order", marks)


def _backwards(rows: Rows) -> Seen:
    """Times, counts or energies that fall from mark to mark; a display's mass that rises."""
    for readings in rows.runs.values():
        ordered = in_order(readings)
        for quantity, code in RISING:
            for before, after in pairwise([reading for reading in ordered if quantity in reading.numbers]):
                first, second = before.numbers[quantity], after.numbers[quantity]
                if second.value < first.value and (before.mark != after.mark or not before.mark):
                    yield after, quantity, code, Message("runs_backwards", {"typed": second.text, "before": first.text})
        weighed = [reading for reading in ordered if "mass" in reading.numbers]
        yield from _turns(weighed) if rows.used.procedure.needs_mass_set else _gains(rows, weighed)


def _gains(rows: Rows, ordered: Sequence[Reading]) -> Seen:
    """A display that rises; one tared before the run and read without its minus sign only seems to."""
    shown = [reading.numbers["mass"] for reading in ordered]
    allowed = allowed_rise([number.value for number in shown]) + 2.0 * rows.used.kit.balance.resolution
    tared = len(shown) > 1 and shown[0].value == 0.0 and all(number.value >= -allowed for number in shown)
    if tared and shown[-1].value > allowed:
        typed = {"typed": shown[1].text, "last": shown[-1].text}
        yield ordered[1], "mass", "sign_not_typed", Message("sign_not_typed", typed)
        shown, ordered = shown[::-1], ordered[::-1]
    for index, (low, high) in enumerate(pairwise(shown), start=1):
        if high.value > low.value + allowed:
            message = Message("mass_runs_backwards", {"typed": high.text, "before": low.text})
            yield ordered[index], "mass", "mass_runs_backwards", message


def _turns(ordered: Sequence[Reading]) -> Seen:
    """Masses on the pan that go the other way between two marks than over the run."""
    shown = [reading.numbers["mass"] for reading in ordered]
    way = shown[-1].value - shown[0].value if shown else 0.0
    for index, (before, after) in enumerate(pairwise(shown), start=1):
        if (after.value - before.value) * way < 0.0:
            message = Message("mass_turns", {"typed": after.text, "before": before.text})
            yield ordered[index], "mass", "mass_runs_backwards", message


def in_order(readings: Sequence[Reading]) -> Sequence[Reading]:
    """Readings of a run by their marks, if all have one."""
    marked = all(reading.mark for reading in readings)
    return sorted(readings, key=lambda reading: mark_key(reading.mark)) if marked else readings


def _directions(rows: Rows) -> Seen:
    """Masses on the pan that rise, in every run or in some only."""
    ends = {}
    for name, readings in rows.runs.items():
        masses = [reading for reading in in_order(readings) if "mass" in reading.numbers]
        if len(masses) > 1 and masses[0].numbers["mass"].value != masses[-1].numbers["mass"].value:
            ends[name] = (masses[0], masses[-1])
    rising = {name for name, (first, last) in ends.items() if first.value("mass") < last.value("mass")}  # type: ignore[operator]
    falling = ends.keys() - rising
    if rising and falling:
        odd = rising if len(rising) <= len(falling) else falling
        for name in odd:
            way = "falls_where_others_rise" if odd == falling else "rises_where_others_fall"
            yield ends[name][1], "mass", "directions_differ", Message(way, _from_to(name, *ends[name]))
    elif rising and rows.used.procedure.needs_mass_set:
        name = next(name for name in ends if name in rising)
        if ends[name][0].value("mass") != 0.0:
            yield ends[name][1], "mass", "mass_rises", Message("mass_rises", _from_to(name, *ends[name]))


def _from_to(name: str, first: Reading, last: Reading) -> dict[str, object]:
    return {"run": name, "before": first.numbers["mass"].text, "typed": last.numbers["mass"].text}


def _starts(rows: Rows) -> Seen:
    """A run of one row, where others have a start of their own."""
    typed: dict[str, list[Reading]] = {}
    for reading in rows.readings:
        if not reading.states_mean and "mass_step" not in reading.numbers:
            typed.setdefault(reading.run, []).append(reading)
    names = list(typed)
    own = [name for name in names if len(typed[name]) > 1]
    for place, name in enumerate(names):
        alone = typed[name][0]
        later = any(other in own for other in names[1:] if other != name)
        if name in own or (place > 0 and not later and rows.used.procedure.pace.gap == 0.0):
            continue
        if own and mark_key(alone.mark)[0] == 0 and mark_key(alone.mark) > mark_key("0"):
            yield alone, "", "start_missing", Message("start_missing", {"run": name})


def _equal_times(rows: Rows) -> Seen:
    """The time of another mark, where energy and mass went on."""
    for readings in rows.runs.values():
        timed = [reading for reading in in_order(readings) if "time" in reading.numbers]
        for before, after in pairwise(timed):
            same = before.value("time") == after.value("time") and (before.mark != after.mark or not before.mark)
            moved = any(
                before.value(quantity) is not None and after.value(quantity) not in (None, before.value(quantity))
                for quantity in ("counts", "energy", "mass")
            )
            if same and moved:
                values = {"typed": after.numbers["time"].text, "other": before.row}
                yield after, "time", "times_equal", Message("times_equal", values)


def _decimals(rows: Rows) -> Seen:
    """More decimals than the display has."""
    meter = rows.used.kit.meter
    steps: dict[Quantity, float] = {"mass": place_of(rows.used.kit.balance.resolution)}
    if meter.energy_per_count > 0.0:
        steps["counts"] = meter.fineness
        if meter.kind in ("display", "joule"):
            steps["energy"] = place_of(meter.energy_per_count)
    for reading in rows.readings:
        for quantity, step in steps.items() if not reading.states_mean else ():
            number = reading.numbers.get(quantity)
            if number and number.step < 0.5 * min(step, number.factor if quantity == "energy" else step):
                yield reading, quantity, "too_many_decimals", Message("too_many_decimals", {"typed": number.text})


def place_of(resolution: float) -> float:
    """
    Value of the last decimal place that a display step needs.

    Examples
    --------
    >>> place_of(0.0005), place_of(0.001)
    (0.0001, 0.001)
    """
    return float(10.0 ** math.floor(math.log10(resolution * (1.0 + 1e-9)))) if resolution > 0.0 else 0.0


def _means(rows: Rows) -> Seen:
    """A stated mean must lie among the readings it is the mean of."""
    for stated in rows.readings:
        for quantity, number in stated.numbers.items() if stated.states_mean else ():
            values = _averaged(rows, stated, quantity)
            slack = 0.51 * number.step
            if values and not min(values) - slack <= number.value <= max(values) + slack:
                low, high = min(values) / number.factor, max(values) / number.factor
                message = Message("mean_outside_readings", {"typed": number.text, "low": low, "high": high})
                yield stated, quantity, "mean_outside_readings", message


def _averaged(rows: Rows, stated: Reading, quantity: Quantity) -> list[float]:
    """Differences of the runs where the mean is of the runs, else the readings themselves."""

    def values(readings: Sequence[Reading]) -> list[float]:
        return [value for reading in readings if (value := reading.value(quantity)) is not None]

    if stated.run in rows.runs:
        return values([one for one in rows.readings if not one.states_mean and one.run == stated.run])
    if quantity.startswith("attempt"):
        return values([one for one in rows.readings if not one.states_mean])
    of_runs = [values(readings) for readings in rows.runs.values()]
    return [one for run in of_runs for one in ([abs(run[-1] - run[0])] if len(run) > 1 else run)]


def _heater(rows: Rows) -> Seen:
    """The heater is on while energy is counted, and at both readings of a run, as bubbles and steam push on it."""
    for name, readings in rows.runs.items():
        off = [reading for reading in readings if reading.heater is False]
        if len(off) == len(readings) > 1:
            counted = _counted(readings)
            if counted > 1.0 or not any("temperature" in reading.numbers for reading in readings):
                yield off[0], "heater", "heater_off_throughout", Message("heater_off_throughout", {"run": name})
        elif any("temperature" in reading.numbers for reading in off):
            continue
        elif off and any(reading.heater for reading in readings):
            yield off[0], "heater", "heater_state_differs", Message("heater_state_differs")


def _counted(readings: Sequence[Reading]) -> float:
    """How far counts or energy go on, in their last digits."""
    for quantity in ("counts", "energy"):
        numbers = [reading.numbers[quantity] for reading in readings if quantity in reading.numbers]
        if len(numbers) > 1:
            return abs(numbers[-1].value - numbers[0].value) / max(number.step for number in numbers)
    return 0.0


def _temperature(rows: Rows) -> Seen:
    boiling = rows.used.conditions.water.boiling_point - ICE_POINT
    for reading in rows.readings:
        number = reading.numbers.get("temperature")
        if number is None or reading.heater is False or reading.states_mean:
            continue
        if number.value < boiling - NOT_AT_BOIL:
            message = Message("not_at_boil", {"typed": number.text, "boiling": boiling})
            yield reading, "temperature", "boiling_not_steady", message


def _warm_up(rows: Rows) -> Seen:
    """Too little energy since a cold reading for the water to boil at the next: the least that heating it up takes."""
    water = rows.used.conditions.water
    boiling = water.boiling_point - ICE_POINT
    for readings in rows.runs.values():
        for before, after in pairwise(readings):
            cold, hot = before.value("temperature"), after.value("temperature")
            energy, amount = _energy_between(rows.used, before, after), _least_water(rows.used, before)
            if cold is None or energy is None or amount is None or before.heater is False or after.heater is False:
                continue
            needed = amount * water.specific_heat * (boiling - cold)
            boils = hot is None or hot >= boiling - NOT_AT_BOIL
            if cold < boiling - COLD and boils and energy < SURE * needed:
                values = {"counted": energy, "needed": needed, "water": amount, "temperature": cold}
                yield after, "", "boiling_not_steady", Message("warm_up_too_short", values)


def _energy_between(used: Design, before: Reading, after: Reading) -> float | None:
    """Energy counted or shown between two rows; None without. [J]"""
    counts = [row.value("counts") for row in (before, after)]
    if counts[0] is not None and counts[1] is not None and used.kit.meter.energy_per_count > 0.0:
        return (counts[1] - counts[0]) * used.kit.meter.energy_per_count
    energy = [row.value("energy") for row in (before, after)]
    return None if energy[0] is None or energy[1] is None else energy[1] - energy[0]


def _least_water(used: Design, row: Reading) -> float | None:
    """Least water that a display can mean, tared or not; None beside a mass set, or where it can mean none. [kg]"""
    shown, vessel = row.value("mass"), used.kit.vessel
    if shown is None or used.procedure.needs_mass_set:
        return None
    most = vessel.capacity * used.conditions.water.liquid_density
    return min((one for one in (shown, shown - vessel.mass) if 0.0 < one <= most), default=None)


def _attempts(rows: Rows) -> Seen:
    """The student's own value in another unit than the heading says."""
    for reading in rows.readings:
        number = reading.numbers.get("attempt")
        size = 1.0 if number is None else number.value / rows.used.reference
        if number is None or 0.3 < size < 3.0:
            continue
        fits = [factor for factor in (1e3, 1e6, 1e-3, 1e-6) if 0.3 < size * factor < 3.0]
        code, values = ("attempt_unit_slip", {"factor": fits[0]}) if fits else ("attempt_far_off", {})
        yield reading, "attempt", code, Message(code, {"typed": number.text, **values})


ROW_CHECKS: tuple[Callable[[Rows], Seen], ...] = (
    _duplicates, _missing, _starts, _order, _backwards, _directions, _equal_times, _decimals, _means, _heater,
    _temperature, _warm_up, _attempts,
)  # fmt: skip
"""Every check of the rows of one group, in the order of findings at one row."""
