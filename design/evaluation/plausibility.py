"""Plausibility before arithmetic: every slip that can be seen, where it stands, and what is likely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from design.errors import DesignError
from design.evaluation.expected import Complaint, Windows, complaints, mark_uncertainty, neighbours_of, windows_of
from design.evaluation.in_use import InUse
from design.evaluation.measured import rated_power
from design.evaluation.result import parted
from design.evaluation.row_checks import Rows, row_findings
from design.evaluation.runs import Run, by_run, runs_of
from design.evaluation.slips import Slip, likely_slip
from design.sheets.readings import Finding, Reading, Sheet

FEWEST_STEPS = 20
"""Display steps below which a mass step or an energy is read too coarsely (common practice, no source)."""
UNSTEADY = 4.0
"""Standard uncertainties by which early intervals lag behind for boiling to count as not steady (judgement)."""
_SLIP_TEXT = {
    "unit_slip": "another unit than the heading says?",
    "decimal_slip": "the decimal mark in another place?",
    "digits_transposed": "two digits the wrong way round?",
}


def findings_of(sheet: Sheet, used: InUse) -> tuple[Finding, ...]:
    """
    Look through a sheet.

    Parameters
    ----------
    sheet : Sheet
        Readings of all groups.
    used : InUse
        What they were taken with.

    Returns
    -------
    tuple of Finding
        Those of the cells first, then by row.
    """
    found: list[Finding] = []
    for readings in sheet.groups.values():
        rows = Rows(sheet, used, readings)
        found += row_findings(rows)
        found += _run_findings(rows)
    order = sorted(dict.fromkeys(found), key=lambda finding: finding.row)
    return (*sheet.findings, *order)


def _run_findings(rows: Rows) -> list[Finding]:
    windows = windows_of(rows.used)
    runs: dict[str, Run] = {}
    heated, _ = parted(rows.readings)
    rowwise: dict[str, list[Reading]] = by_run(heated)
    for name, readings in rowwise.items():
        run = _made(readings, rows.used)
        if run is not None:
            runs[name] = run
    found: list[Finding] = []
    for name, run in runs.items():
        found += _look(rows, rowwise[name], run, list(runs.values()), windows)
    return found


def _made(readings: Sequence[Reading], used: InUse) -> Run | None:
    try:
        return _remade(readings, used)
    except DesignError:
        return None


def _remade(readings: Sequence[Reading], used: InUse) -> Run:
    steps = used.procedure.needs_mass_set
    return runs_of(readings, used.kit, steps_of_mass=steps, rated_power=rated_power(used))[0]


def _look(rows: Rows, readings: Sequence[Reading], run: Run, runs: Sequence[Run], windows: Windows) -> list[Finding]:
    last = run.readings[-1][-1]
    found = _coarse(rows, run, last)
    neighbours = neighbours_of(run, runs, windows)
    wrong = complaints(run, windows, neighbours)
    unsteady = _unsteady(rows, run)
    if unsteady:
        return [*found, *unsteady]
    if wrong or not _steadily(run):
        slip = likely_slip(readings, lambda changed: _remade(changed, rows.used), windows, neighbours)
        if slip is not None:
            return [*found, _slip_finding(rows, slip, wrong)]
        found += [_complaint(rows, run, complaint) for complaint in wrong if complaint.code != "runs_backwards"]
    return found + _uncovered(rows, run, last)


def _steadily(run: Run) -> bool:
    falls = bool(np.any(np.diff(run.energy) < 0.0) or np.any(np.diff(run.mass) < -4e-3))
    return not falls and (run.time is None or not np.any(np.diff(run.time) < 0.0))


def _slip_finding(rows: Rows, slip: Slip, wrong: Sequence[Complaint]) -> Finding:
    seen = wrong[0].text if wrong else "the readings of this run do not go on steadily"
    typed = slip.reading.numbers[slip.quantity].text
    text = f"{typed}: {_SLIP_TEXT[slip.code]} With {slip.likely} the run would be as expected; as typed, {seen}."
    return rows.finding(slip.reading, slip.quantity, slip.code, text)


def _complaint(rows: Rows, run: Run, complaint: Complaint) -> Finding:
    last = run.readings[-1][-1]
    return rows.finding(last, "", complaint.code, f"run {run.name}: {complaint.text}.")


def _coarse(rows: Rows, run: Run, last: Reading) -> list[Finding]:
    """A mass step or an energy of too few display steps."""
    kit, found = rows.used.kit, []
    _, mass, _ = run.span
    if 0.0 <= mass < FEWEST_STEPS * kit.balance.resolution * (1.0 - 1e-9):
        mass = abs(mass)
        steps = mass / kit.balance.resolution
        text = f"run {run.name} boils away {1e3 * mass:.3g} g, only {steps:.0f} display steps of the balance."
        found.append(rows.finding(last, "mass", "step_too_small", text))
    counted = run.source == "counts" and not rows.used.procedure.pace.whole_counts
    step = kit.meter.energy_per_count * kit.meter.fineness
    if counted and 0.0 < run.span[0] < FEWEST_STEPS * step * (1.0 - 1e-9):
        text = f"run {run.name} has {run.span[0] / step:.0f} steps of the meter only."
        found.append(rows.finding(last, "counts", "counts_too_few", text))
    return found


def _unsteady(rows: Rows, run: Run) -> list[Finding]:
    """Early intervals with less steam for their energy than the later ones: boiling was not steady yet."""
    count = run.mass.size
    if count < 5 or np.any(np.diff(run.energy) <= 0.0):
        return []
    half = count // 2
    later_energy, later_mass = run.energy[half:], run.mass[half:]
    rate = float((later_mass[-1] - later_mass[0]) / (later_energy[-1] - later_energy[0]))
    spread = mark_uncertainty(rows.used, run)
    lag = run.mass - (run.mass[-1] - rate * (run.energy[-1] - run.energy))
    early = lag[:half]
    room = 1.0 + (run.energy[-1] - run.energy[0]) / (later_energy[-1] - later_energy[0])
    if early[0] > UNSTEADY * spread * room and np.all(np.diff(early) < UNSTEADY * spread):
        reading = run.readings[0][0]
        text = (
            f"run {run.name} begins with {1e3 * early[0]:.2g} g less steam than its energy makes later on; "
            "was the water boiling steadily when it began?"
        )
        return [rows.finding(reading, "mass", "boiling_not_steady", text)]
    return []


def _uncovered(rows: Rows, run: Run, last: Reading) -> list[Finding]:
    """Water at the end below the element's mark, whichever way the balance was tared."""
    used = rows.used
    number = last.numbers.get("mass")
    if number is None or used.procedure.needs_mass_set or run.span[1] <= 0.0:
        return []
    vessel, density = used.kit.vessel, used.conditions.water.liquid_density
    least = used.kit.heater.minimum_depth * used.hardware.area * density
    end, start = number.value, number.value + run.span[1]
    filled = [
        (end - tare)
        for tare in (0.0, vessel.mass)
        if 0.0 < start - tare <= 1.05 * vessel.capacity * density and end - tare > -1e-3
    ]
    if not filled or max(filled) >= least:
        return []
    text = (
        f"{number.text} leaves at most {1e3 * max(filled):.0f} g of water, and the element needs {1e3 * least:.0f} g."
    )
    return [rows.finding(last, "mass", "element_uncovered", text)]
