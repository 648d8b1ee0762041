"""Findings before arithmetic: every slip that can be seen in rows and runs, where it stands, and what is likely."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial

from design.chosen import Design
from design.errors import DesignError
from design.evaluation.checks.boiling import CHANCE, not_steady, rising_marks, stands_above
from design.evaluation.checks.candidates import Slip
from design.evaluation.checks.oddities import oddities
from design.evaluation.checks.rows import ROW_CHECKS, Rows, Seen
from design.evaluation.checks.slips import Group, Judged, judged, mark_astray, slip_of_the_sheet, unsound_somewhere
from design.evaluation.expected import windows_of
from design.evaluation.result import heated_runs, parted
from design.evaluation.runs import Run, by_run
from design.message import Message
from design.sheets.readings import Finding, Reading, Sheet, at_cell, at_row

FEWEST_STEPS = 20
"""Display steps below which a mass step or an energy is read too coarsely (common practice, no source)."""
FEWEST_REPEATS = 3
"""Runs at about one power from which the first may be seen to stand above the others."""


def findings_of(sheet: Sheet, used: Design) -> tuple[Finding, ...]:
    """Look through the readings of all groups: what was seen in the cells first, then by row."""
    found: list[Finding] = []
    for readings in sheet.groups.values():
        rows = Rows(used, readings, by_run(readings))
        for check in (*ROW_CHECKS, _runs):
            found += [_finding(sheet, *seen) for seen in check(rows)]
    return (*sheet.findings, *sorted(dict.fromkeys(found), key=lambda finding: finding.row))


def _finding(sheet: Sheet, reading: Reading, quantity: str, code: str, seen: Message) -> Finding:
    row, heading = reading.row, sheet.headings.get(quantity, "")
    message = at_cell(row, heading, seen.key, **seen.values) if heading else at_row(row, seen.key, **seen.values)
    return Finding(row, heading, code, message, reading.group)


def _runs(rows: Rows) -> Seen:
    """What is odd about each run as a whole, and the slip that would account for it."""
    used = rows.used
    group = _group_of(rows.readings, used)
    made = group.made
    for run in made.values():
        yield from _coarse(used, run, run.readings[-1][-1])
    yield from _computed(made.values())
    slip = slip_of_the_sheet(group)
    if slip is not None:
        yield _slip(slip, Message("all_runs_so"))
        return
    yield from _each(rows, group)
    for run in made.values():
        yield from _uncovered(used, run, run.readings[-1][-1])


def slips_of(readings: Sequence[Reading], used: Design) -> tuple[Slip, ...]:
    """Slips that may account for what is odd about the readings of a group, the likelier of each run first."""
    group = _group_of(readings, used)
    slip = slip_of_the_sheet(group)
    if slip is not None:
        return (slip,)
    return tuple(slip for one in judged(group) for slip in ((one.slip,) if one.slip else one.possible))


def _group_of(readings: Sequence[Reading], used: Design) -> Group:
    heated, _ = parted(readings)
    typed = by_run(heated)
    made = {name: run for name, rows in typed.items() if (run := _made(rows, used)) is not None}
    return Group(typed, made, windows_of(used), partial(_remade, used=used))


def _each(rows: Rows, group: Group) -> Seen:
    """Judge run by run; where none is off, the runs may still contradict each other."""
    found = 0
    for one in judged(group):
        seen = list(_not_boiling(rows, group, one) or _off(group, one))
        found += len(seen)
        yield from seen
    if not found and unsound_somewhere(group):
        *_, run = group.made.values()
        yield run.readings[-1][-1], "", "run_out_of_line", Message("runs_disagree", {"runs": ", ".join(group.made)})


def _not_boiling(rows: Rows, group: Group, one: Judged) -> list[tuple[Reading, str, str, Message]]:
    """The boil-off rate rises from mark to mark, or the first of several runs needs more energy than the others."""
    run = group.made[one.run]
    rising = rising_marks(run, group.windows)
    if rising is not None and one.slip is None:
        rise, first = rising
        left_out = [reading for mark in run.readings[:first] for reading in mark]
        seen = Message("not_steady_yet", {"run": one.run, "rise": 100.0 * rise})
        marks = Message("marks_up_to", {"run": one.run, "mark": left_out[-1].mark or str(first), "number": first})
        message = not_steady(seen, rows.readings, left_out, rows.used, marks)
        return [(left_out[0], "mass", "boiling_not_steady", message)]
    if one.run != next(iter(group.made)) or len(group.made) < FEWEST_REPEATS or one.slip is not None:
        return []
    if one.traits is None or not one.traits.goes_on or stands_above(one.traits, one.outlook) >= CHANCE:
        return []
    others = [other.span[0] / other.span[1] for name, other in group.made.items() if name != one.run]
    values = {"run": one.run, "value": run.span[0] / run.span[1], "others": sum(others) / len(others)}
    whole = Message("whole_run", {"run": one.run})
    message = not_steady(Message("first_run_above", values), rows.readings, group.typed[one.run], rows.used, whole)
    return [(run.readings[0][0], "", "boiling_not_steady", message)]


def _off(group: Group, one: Judged) -> Seen:
    """A run that is off: the slip that is certain, else what is odd, and at most two entries that could account."""
    if one.slip is None and not one.off:
        return
    others = [run for name, run in group.made.items() if name != one.run and run.goes_on]
    odd = oddities(group.made[one.run], one.traits, one.outlook, others, group.windows)
    if one.slip is not None:
        yield _slip(one.slip, odd[0].seen)
        return
    rows = group.made[one.run].rows
    for number, found in enumerate(odd):
        message = Message("of_run", {"run": one.run, "first": rows[0], "last": rows[-1], "complaint": found.seen})
        if number == 0 and one.possible:
            entries = Message("entries_of_two" if len(one.possible) > 1 else "entry_of_one", _entries(one.possible))
            message = Message("may_be", {"seen": message, "entries": entries})
            yield from ((entry.reading, entry.quantity, found.code, message) for entry in one.possible)
        elif number == 0 and (astray := mark_astray(one.run, group, one.outlook)) is not None:
            code = "mark_out_of_line" if found.code == "runs_backwards" else found.code
            yield astray, "", code, Message("fits_neither", {"seen": message})
        elif found.code != "runs_backwards":
            yield found.reading, found.quantity, found.code, message


def _entries(possible: Sequence[Slip]) -> dict[str, object]:
    return {f"entry_{number}": slip.said for number, slip in enumerate(possible, start=1)}


def _slip(slip: Slip, complaint: Message) -> tuple[Reading, str, str, Message]:
    typed = slip.reading.numbers[slip.quantity].text
    values = {"typed": typed, "slip": Message(slip.code), "likely": slip.likely, "complaint": complaint}
    return (
        slip.reading,
        slip.quantity,
        slip.code,
        Message("likely_slip" if slip.stretched == 1.0 else "likely_slip_in_column", values),
    )


def _remade(readings: Sequence[Reading], used: Design) -> Run:
    return heated_runs(readings, used)[0]


def _made(readings: Sequence[Reading], used: Design) -> Run | None:
    try:
        return _remade(readings, used)
    except DesignError:
        return None


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


def _computed(runs: Iterable[Run]) -> Seen:
    """Energy that no reading gives: nameplate power times time."""
    computed = [run for run in runs if run.source == "nameplate"]
    if computed:
        names = ", ".join(run.name for run in computed)
        yield computed[0].readings[0][0], "", "energy_computed", Message("energy_computed", {"runs": names})


def _uncovered(used: Design, run: Run, last: Reading) -> Seen:
    """Water at the end below the element's mark, whichever way the balance was tared."""
    number = last.numbers.get("mass")
    first = run.readings[0][0].numbers.get("mass")
    if number is None or first is None or used.procedure.needs_mass_set or not first.value > number.value:
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
