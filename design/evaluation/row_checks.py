"""Plausibility of single rows and marks, before any arithmetic; nothing is changed or dropped."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from design.evaluation.in_use import InUse
from design.evaluation.runs import by_run, mark_key
from design.physics.water import ICE_POINT
from design.sheets.readings import Finding, Quantity, Reading, Sheet

NOT_AT_BOIL = 2.0
"""Kelvin below the boiling point of the room from which the water counts as not boiling (thermometers: 1 to 2 K)."""
RISING: tuple[tuple[Quantity, str], ...] = (
    ("time", "time_runs_backwards"),
    ("counts", "counts_run_backwards"),
    ("energy", "energy_runs_backwards"),
)
_NEEDED: tuple[Quantity, ...] = ("time", "counts", "energy", "mass", "voltage", "current", "power")


@dataclass(frozen=True)
class Rows:
    """Readings of one group with the sheet they stand in and the bench in use."""

    sheet: Sheet
    used: InUse
    readings: tuple[Reading, ...]

    def finding(self, reading: Reading, quantity: str, code: str, text: str) -> Finding:
        """Make a finding at a row and column."""
        heading = self.sheet.headings.get(quantity, "") if quantity else ""
        place = f"Row {reading.row}, {heading}" if heading else f"Row {reading.row}"
        return Finding(reading.row, heading, code, f"{place}: {text}", reading.group)


def row_findings(rows: Rows) -> tuple[Finding, ...]:
    """Look at every row and pair of neighbouring marks of a group."""
    checks: tuple[Callable[[Rows], Iterator[Finding]], ...] = (
        _duplicates, _missing, _order, _backwards, _decimals, _means, _heater, _temperature, _attempts,
    )  # fmt: skip
    return tuple(finding for check in checks for finding in check(rows))


def _typed(reading: Reading) -> tuple[tuple[str, float], ...]:
    return tuple(
        (quantity, number.value) for quantity, number in reading.numbers.items() if not quantity.startswith("attempt")
    )


def _duplicates(rows: Rows) -> Iterator[Finding]:
    """The same readings twice: the same mark copied, or the next one not changed."""
    seen: dict[tuple[object, ...], Reading] = {}
    for reading in rows.readings:
        typed = _typed(reading)
        key = (reading.run, typed)
        moving = [quantity for quantity, _ in typed if quantity in ("time", "counts", "energy")]
        if key in seen and moving and len(typed) > 1:
            yield rows.finding(
                reading, "", "duplicate_row", f"the same readings as in row {seen[key].row}; one of them is a copy."
            )
        seen.setdefault(key, reading)


def _missing(rows: Rows) -> Iterator[Finding]:
    """A quantity that the other marks of the run have."""
    for readings in by_run(rows.readings).values():
        for quantity in _NEEDED:
            has = [quantity in reading.numbers for reading in readings]
            if not any(has) or all(has):
                continue
            names = {reading.mark for reading, given in zip(readings, has, strict=True) if given}
            for reading, given in zip(readings, has, strict=True):
                if not given and reading.mark not in (names if reading.mark else ()):
                    yield rows.finding(reading, quantity, "value_missing", "empty, and the other marks have a reading.")


def _order(rows: Rows) -> Iterator[Finding]:
    for readings in by_run(rows.readings).values():
        for before, after in pairwise(readings):
            if before.mark and after.mark and mark_key(after.mark) < mark_key(before.mark):
                yield rows.finding(
                    after, "mark", "marks_out_of_order", f"mark {after.mark} stands after mark {before.mark}."
                )


def _backwards(rows: Rows) -> Iterator[Finding]:
    """Times, counts or energies that fall from mark to mark; a display's mass that rises."""
    for readings in by_run(rows.readings).values():
        ordered = sorted(readings, key=lambda reading: mark_key(reading.mark)) if _all_marked(readings) else readings
        for quantity, code in RISING:
            for _, after, fall in _falls(ordered, quantity):
                yield rows.finding(after, quantity, code, f"{fall}, yet it can only rise.")
        if rows.used.procedure.needs_mass_set or not ordered:
            continue
        first = ordered[0].value("mass")
        if first == 0.0:
            continue
        for before, after in pairwise(ordered):
            low, high = before.value("mass"), after.value("mass")
            allowed = 4e-3 + 2.0 * rows.used.kit.balance.resolution
            if low is not None and high is not None and high > low + allowed:
                yield rows.finding(
                    after,
                    "mass",
                    "mass_runs_backwards",
                    f"{after.numbers['mass'].text} after {before.numbers['mass'].text}; the balance can only fall "
                    "while water boils away. Refilled, or digits changed?",
                )


def _all_marked(readings: Sequence[Reading]) -> bool:
    return all(reading.mark for reading in readings)


def _falls(readings: Sequence[Reading], quantity: Quantity) -> Iterator[tuple[Reading, Reading, str]]:
    have = [reading for reading in readings if quantity in reading.numbers]
    for before, after in pairwise(have):
        first, second = before.numbers[quantity], after.numbers[quantity]
        if second.value < first.value and (before.mark != after.mark or not before.mark):
            yield before, after, f"{second.text} after {first.text}"


def _decimals(rows: Rows) -> Iterator[Finding]:
    """More decimals than the display has."""
    meter = rows.used.kit.meter
    steps: dict[Quantity, float] = {"mass": place_of(rows.used.kit.balance.resolution)}
    if meter.energy_per_count > 0.0:
        steps["counts"] = meter.fineness
        if meter.kind in ("display", "joule"):
            steps["energy"] = place_of(meter.energy_per_count)
    for reading in rows.readings:
        if reading.states_mean:
            continue
        for quantity, step in steps.items():
            number = reading.numbers.get(quantity)
            if number is not None and number.step < 0.5 * min(step, number.factor if quantity == "energy" else step):
                yield rows.finding(
                    reading,
                    quantity,
                    "too_many_decimals",
                    f"{number.text} has more decimals than the instrument shows; calculated, or not its reading?",
                )


def place_of(resolution: float) -> float:
    """
    Value of the last decimal place that a display step needs.

    Examples
    --------
    >>> place_of(0.0005), place_of(0.001)
    (0.0001, 0.001)
    """
    return float(10.0 ** math.floor(math.log10(resolution * (1.0 + 1e-9)))) if resolution > 0.0 else 0.0


def _means(rows: Rows) -> Iterator[Finding]:
    """A stated mean must lie among the readings it is the mean of."""
    runs = by_run(rows.readings)
    for stated in (reading for reading in rows.readings if reading.states_mean):
        alike = [
            reading
            for reading in rows.readings
            if not reading.states_mean and (reading.run == stated.run or stated.run not in runs)
        ]
        for quantity, number in stated.numbers.items():
            values = _compared(runs, alike, stated, quantity)
            slack = 0.51 * number.step
            if values and not min(values) - slack <= number.value <= max(values) + slack:
                low, high = min(values) / number.factor, max(values) / number.factor
                yield rows.finding(
                    stated,
                    quantity,
                    "mean_outside_readings",
                    f"the mean {number.text} lies outside its readings ({low:.6g} to {high:.6g}).",
                )


def _compared(
    runs: dict[str, list[Reading]], alike: Sequence[Reading], stated: Reading, quantity: Quantity
) -> list[float]:
    """Differences of the runs where the mean is of the runs, else the readings themselves."""
    if stated.run in runs or quantity.startswith("attempt"):
        return [number.value for reading in alike if (number := reading.numbers.get(quantity))]
    differences = []
    for readings in runs.values():
        values = [value for reading in readings if (value := reading.value(quantity)) is not None]
        if len(values) > 1:
            differences.append(abs(values[-1] - values[0]))
        else:
            differences += values
    return differences


def _heater(rows: Rows) -> Iterator[Finding]:
    """Both readings of a run must be taken in the same state, as bubbles and steam push on the heater."""
    for readings in by_run(rows.readings).values():
        if any("temperature" in reading.numbers and reading.heater is False for reading in readings):
            continue
        states = {reading.heater for reading in readings if reading.heater is not None}
        odd = [reading for reading in readings if reading.heater is False]
        if len(states) > 1:
            yield rows.finding(
                odd[0],
                "heater",
                "heater_state_differs",
                "heater off here and on at another mark of the run; bubbles round the heater shift the balance by "
                "0.5 to 3 g between the two states.",
            )


def _temperature(rows: Rows) -> Iterator[Finding]:
    boiling = rows.used.conditions.water.boiling_point - ICE_POINT
    for reading in rows.readings:
        number = reading.numbers.get("temperature")
        if number is None or reading.heater is False or reading.states_mean:
            continue
        if number.value < boiling - NOT_AT_BOIL:
            yield rows.finding(
                reading,
                "temperature",
                "boiling_not_steady",
                f"{number.text} °C, and water boils at {boiling:.1f} °C in this room; not boiling yet?",
            )


def _attempts(rows: Rows) -> Iterator[Finding]:
    """The student's own value in another unit than the heading says."""
    reference = rows.used.reference
    for reading in rows.readings:
        number = reading.numbers.get("attempt")
        if number is None or 0.3 < number.value / reference < 3.0:
            continue
        fits = [factor for factor in (1e3, 1e6, 1e-3, 1e-6) if 0.3 < number.value * factor / reference < 3.0]
        code = "attempt_unit_slip" if fits else "attempt_far_off"
        likely = f"times {fits[0]:g} it would be near the expected size; another unit?" if fits else "a slip?"
        yield rows.finding(reading, "attempt", code, f"{number.text} is far from any latent heat of water; {likely}")
