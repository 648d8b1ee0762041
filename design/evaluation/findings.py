"""Findings before arithmetic: every slip that can be seen in rows and runs, where it stands, and what is likely."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np

from design.chosen import Design
from design.errors import DesignError
from design.evaluation.expected import complaints, mark_uncertainty, neighbours_of, windows_of
from design.evaluation.result import heated_runs, parted
from design.evaluation.runs import BACKWARDS, Run, by_run, mark_key
from design.evaluation.slips import Slip, likely_slip
from design.message import Message
from design.physics.water import ICE_POINT
from design.sheets.readings import Finding, Quantity, Reading, Sheet, at_cell, at_row

NOT_AT_BOIL = 2.0
"""Kelvin below the boiling point of the room from which the water counts as not boiling (thermometers: 1 to 2 K)."""
FEWEST_STEPS = 20
"""Display steps below which a mass step or an energy is read too coarsely (common practice, no source)."""
UNSTEADY = 4.0
"""Standard uncertainties by which early intervals lag behind for boiling to count as not steady (judgement)."""
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


def findings_of(sheet: Sheet, used: Design) -> tuple[Finding, ...]:
    """Look through the readings of all groups: what was seen in the cells first, then by row."""
    found: list[Finding] = []
    for readings in sheet.groups.values():
        rows = Rows(used, readings, by_run(readings))
        for check in CHECKS:
            found += [_finding(sheet, *seen) for seen in check(rows)]
    return (*sheet.findings, *sorted(dict.fromkeys(found), key=lambda finding: finding.row))


def _finding(sheet: Sheet, reading: Reading, quantity: str, code: str, seen: Message) -> Finding:
    row, heading = reading.row, sheet.headings.get(quantity, "")
    message = at_cell(row, heading, seen.key, **seen.values) if heading else at_row(row, seen.key, **seen.values)
    return Finding(row, heading, code, message, reading.group)


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
    allowed = BACKWARDS + 2.0 * rows.used.kit.balance.resolution
    for readings in rows.runs.values():
        all_marked = all(reading.mark for reading in readings)
        ordered = sorted(readings, key=lambda reading: mark_key(reading.mark)) if all_marked else readings
        for quantity, code in RISING:
            for before, after in pairwise([reading for reading in ordered if quantity in reading.numbers]):
                first, second = before.numbers[quantity], after.numbers[quantity]
                if second.value < first.value and (before.mark != after.mark or not before.mark):
                    yield after, quantity, code, Message("runs_backwards", {"typed": second.text, "before": first.text})
        if rows.used.procedure.needs_mass_set or ordered[0].value("mass") == 0.0:
            continue
        for before, after in pairwise(ordered):
            low, high = before.numbers.get("mass"), after.numbers.get("mass")
            if low and high and high.value > low.value + allowed:
                message = Message("mass_runs_backwards", {"typed": high.text, "before": low.text})
                yield after, "mass", "mass_runs_backwards", message


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
    """Both readings of a run must be taken in the same state, as bubbles and steam push on the heater."""
    for readings in rows.runs.values():
        if any("temperature" in reading.numbers and reading.heater is False for reading in readings):
            continue
        off = [reading for reading in readings if reading.heater is False]
        if off and any(reading.heater for reading in readings):
            yield off[0], "heater", "heater_state_differs", Message("heater_state_differs")


def _temperature(rows: Rows) -> Seen:
    boiling = rows.used.conditions.water.boiling_point - ICE_POINT
    for reading in rows.readings:
        number = reading.numbers.get("temperature")
        if number is None or reading.heater is False or reading.states_mean:
            continue
        if number.value < boiling - NOT_AT_BOIL:
            message = Message("not_at_boil", {"typed": number.text, "boiling": boiling})
            yield reading, "temperature", "boiling_not_steady", message


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


def _runs(rows: Rows) -> Seen:
    """What is odd about each run as a whole, and the slip that would account for it."""
    heated, _ = parted(rows.readings)
    typed = by_run(heated)
    made = {name: run for name, readings in typed.items() if (run := _made(readings, rows.used)) is not None}
    windows = windows_of(rows.used)
    for name, run in made.items():
        last = run.readings[-1][-1]
        yield from _coarse(rows.used, run, last)
        unsteady = list(_unsteady(rows.used, run))
        if unsteady:
            yield from unsteady
            continue
        neighbours = neighbours_of(run, list(made.values()), windows)
        wrong = complaints(run, windows, neighbours)
        if wrong or not run.goes_on_steadily:
            slip = likely_slip(typed[name], partial(_remade, used=rows.used), windows, neighbours)
            if slip is not None:
                yield _slip(slip, wrong[0][1] if wrong else Message("not_steadily"))
                continue
            yield from (
                (last, "", code, Message("of_run", {"run": name, "complaint": seen}))
                for code, seen in wrong
                if code != "runs_backwards"
            )
        yield from _uncovered(rows.used, run, last)


def _remade(readings: Sequence[Reading], used: Design) -> Run:
    return heated_runs(readings, used)[0]


def _made(readings: Sequence[Reading], used: Design) -> Run | None:
    try:
        return _remade(readings, used)
    except DesignError:
        return None


def _slip(slip: Slip, complaint: Message) -> tuple[Reading, str, str, Message]:
    typed = slip.reading.numbers[slip.quantity].text
    values = {"typed": typed, "slip": Message(slip.code), "likely": slip.likely, "complaint": complaint}
    return slip.reading, slip.quantity, slip.code, Message("likely_slip", values)


def _coarse(used: Design, run: Run, last: Reading) -> Seen:
    """A mass step or an energy of too few display steps."""
    energy, mass, _ = run.span
    digit, step = used.kit.balance.resolution, used.kit.meter.energy_per_count * used.kit.meter.fineness
    if 0.0 <= mass < FEWEST_STEPS * digit * (1.0 - 1e-9):
        mass = abs(mass)
        message = Message("step_too_small", {"run": run.name, "mass": mass, "steps": mass / digit})
        yield last, "mass", "step_too_small", message
    counted = run.source == "counts" and not used.procedure.pace.whole_counts
    if counted and 0.0 < energy < FEWEST_STEPS * step * (1.0 - 1e-9):
        yield last, "counts", "counts_too_few", Message("counts_too_few", {"run": run.name, "steps": energy / step})


def _unsteady(used: Design, run: Run) -> Seen:
    """Early intervals with less steam for their energy than the later ones: boiling was not steady yet."""
    if run.mass.size < 5 or np.any(np.diff(run.energy) <= 0.0):
        return
    half = run.mass.size // 2
    later_energy, later_mass = run.energy[half:], run.mass[half:]
    rate = float((later_mass[-1] - later_mass[0]) / (later_energy[-1] - later_energy[0]))
    spread = UNSTEADY * mark_uncertainty(used, run)
    early = (run.mass - (run.mass[-1] - rate * (run.energy[-1] - run.energy)))[:half]
    room = 1.0 + (run.energy[-1] - run.energy[0]) / (later_energy[-1] - later_energy[0])
    if early[0] > spread * room and np.all(np.diff(early) < spread):
        message = Message("not_steady_yet", {"run": run.name, "mass": float(early[0])})
        yield run.readings[0][0], "mass", "boiling_not_steady", message


def _uncovered(used: Design, run: Run, last: Reading) -> Seen:
    """Water at the end below the element's mark, whichever way the balance was tared."""
    number = last.numbers.get("mass")
    if number is None or used.procedure.needs_mass_set or run.span[1] <= 0.0:
        return
    vessel, density = used.kit.vessel, used.conditions.water.liquid_density
    least = used.kit.heater.minimum_depth * used.hardware.area * density
    end, start = number.value, number.value + run.span[1]
    filled = [
        end - tare
        for tare in (0.0, vessel.mass)
        if 0.0 < start - tare <= 1.05 * vessel.capacity * density and end - tare > -1e-3
    ]
    if filled and max(filled) < least:
        message = Message("element_uncovered", {"typed": number.text, "mass": max(filled), "least": least})
        yield last, "mass", "element_uncovered", message


CHECKS: tuple[Callable[[Rows], Seen], ...] = (
    _duplicates, _missing, _order, _backwards, _decimals, _means, _heater, _temperature, _attempts, _runs,
)  # fmt: skip
"""Every check of one group, in the order of findings at one row."""
