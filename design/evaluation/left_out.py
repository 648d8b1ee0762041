"""Readings that an empty cell leaves out: nothing is put in the place of what was not read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from design.chosen import Design
from design.evaluation.result import parted
from design.evaluation.runs import by_run, mark_key
from design.sheets.readings import Finding, Quantity, Reading, Sheet, at_cell, at_row

Needed = tuple[Quantity, ...]
"""Quantities of which a mark must have one reading each."""
SOURCES: tuple[Needed, ...] = (("counts",), ("energy",), ("power", "time"), ("voltage", "current", "time"))
"""What the energy may come from, the first first."""
COOLING: Needed = ("time", "temperature", "mass")
"""What every reading of a cooling run must have."""


@dataclass(frozen=True)
class Mark:
    """Rows of one mark of a run, several where it was read again; first tells the start of a run of several."""

    run: str
    rows: tuple[Reading, ...]
    first: bool

    @property
    def name(self) -> str:
        """As typed on the sheet, where it was."""
        return self.rows[0].mark

    def lacks(self, needed: Needed) -> Quantity | None:
        """The first quantity that none of its rows has."""
        return next((one for one in needed if not any(one in row.numbers for row in self.rows)), None)


def without_gaps(sheet: Sheet, used: Design) -> tuple[Sheet, tuple[Finding, ...]]:
    """
    Leave out the marks with an empty cell that the result would need, and runs of which less than two marks are left.

    Parameters
    ----------
    sheet, used
        As read, and what the readings were taken with.

    Returns
    -------
    tuple of (Sheet, tuple of Finding)
        The sheet without them, and what was left out because of which cell.
    """
    kept: list[Reading] = []
    findings: list[Finding] = []
    for readings in sheet.groups.values():
        dropped = dict(_dropped(readings, used))
        kept += [reading for reading in readings if reading.row not in dropped]
        findings += [
            _said(sheet, reading, gap) for reading in readings if (gap := dropped.get(reading.row)) is not None
        ]
    order = {reading.row: place for place, reading in enumerate(sheet.readings)}
    return replace(sheet, readings=tuple(sorted(kept, key=lambda reading: order[reading.row]))), tuple(findings)


@dataclass(frozen=True)
class Gap:
    """An empty cell, and what it takes along: a mark, or its whole run; no quantity where a run has a start alone."""

    quantity: Quantity | None
    whole_run: bool


def _dropped(readings: Sequence[Reading], used: Design) -> Iterator[tuple[int, Gap | None]]:
    """Rows that are left out, with the gap that is the reason; None for those that a gap elsewhere takes along."""
    heated, _ = parted(readings)
    runs = {name: _marks(name, rows) for name, rows in by_run(heated).items()}
    cooling = {name for name, marks in runs.items() if _is_cooling(marks)}
    needed = _needed([marks for name, marks in runs.items() if name not in cooling], used)
    for name, marks in runs.items():
        if _is_start_alone(marks) and any(len(other) > 1 for other in runs.values()):
            yield marks[0].rows[0].row, Gap(None, whole_run=True)
        else:
            cools = name in cooling
            in_steps = used.procedure.needs_mass_set and not cools
            yield from _of_run(marks, COOLING if cools else needed, in_steps=in_steps)


def _is_start_alone(marks: Sequence[Mark]) -> bool:
    """A run of which only the start was noted; one that stands for itself has a step of mass."""
    (row, *more), kind = marks[0].rows, mark_key(marks[0].name)
    return len(marks) == 1 and not more and "mass_step" not in row.numbers and kind[:2] == (0, 0.0)


def _marks(run: str, rows: Sequence[Reading]) -> tuple[Mark, ...]:
    if any(not row.mark for row in rows):
        return tuple(Mark(run, (row,), index == 0 < len(rows) - 1) for index, row in enumerate(rows))
    names = dict.fromkeys(row.mark for row in rows)
    return tuple(
        Mark(run, tuple(row for row in rows if row.mark == name), index == 0 < len(names) - 1)
        for index, name in enumerate(names)
    )


def _is_cooling(marks: Sequence[Mark]) -> bool:
    """A run with the heater off at which temperatures were read, though some cells are empty."""
    rows = [row for mark in marks for row in mark.rows]
    return (
        len(rows) > 1 and all(row.heater is False for row in rows) and any("temperature" in row.numbers for row in rows)
    )


def _needed(runs: Sequence[Sequence[Mark]], used: Design) -> Needed:
    """What the marks of a group need: mass, and what its energy comes from, and times where most have one."""
    marks = [mark for run in runs for mark in run]
    most = 0.5 * len(marks)

    def number(needed: Needed) -> int:
        return sum(mark.lacks(needed) is None for mark in marks)

    sources = [one for one in SOURCES if used.kit.meter.energy_per_count > 0.0 or one != ("counts",)]
    found = next((one for one in sources if number(one) > most), max(sources, key=number))
    source = found if number(found) else ()
    mass: Needed = () if any(row.numbers.get("mass_step") for mark in marks for row in mark.rows) else ("mass",)
    timed: Needed = ("time",) if number(("time",)) > most else ()
    return tuple(dict.fromkeys((*source, *mass, *timed)))


def _of_run(marks: Sequence[Mark], needed: Needed, *, in_steps: bool) -> Iterator[tuple[int, Gap | None]]:
    """Rows of a run that its gaps leave out; where a mass is set, its marks are steps and none between can go."""
    gaps = {place: gap for place, mark in enumerate(marks) if (gap := _gap(mark, needed)) is not None}
    if not gaps:
        return
    between = in_steps and any(0 < place < len(marks) - 1 for place in gaps)
    whole = between or "mass_step" in gaps.values() or len(marks) - len(gaps) < 2
    for place, mark in enumerate(marks):
        if place in gaps or whole:
            yield from ((row.row, None) for row in mark.rows)
            if place in gaps:
                yield mark.rows[0].row, Gap(gaps[place], whole)


def _gap(mark: Mark, needed: Needed) -> Quantity | None:
    """The first cell that is empty and needed; steps of mass are, but at the start."""
    steps: Needed = () if "mass" in needed or mark.first or "temperature" in needed else ("mass_step",)
    return mark.lacks((*needed, *steps))


def _said(sheet: Sheet, reading: Reading, gap: Gap) -> Finding:
    code = "run_left_out" if gap.whole_run else "mark_left_out"
    if gap.quantity is None:
        return Finding(reading.row, "", code, at_row(reading.row, "run_of_one_mark", run=reading.run), reading.group)
    heading = sheet.headings.get(gap.quantity, "")
    values = {"run": reading.run, "mark": reading.mark}
    if not heading:
        return Finding(reading.row, "", code, at_row(reading.row, code, **values), reading.group)
    return Finding(reading.row, heading, code, at_cell(reading.row, heading, code, **values), reading.group)
