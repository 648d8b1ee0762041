"""Sheets of the virtual bench, damaged by faults that move the result, and good ones: what is found, and where."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from budget.errors import BudgetError
from design.chosen import Design
from design.errors import DesignError
from design.evaluation.findings import findings_of
from design.evaluation.result import group_result
from design.message import Message
from design.sheets.readings import Finding, Sheet

Rows = list[dict[str, str]]
Damage = Callable[[Rows, random.Random], set[int]]
"""Changes rows in place, and says at which of them (counted as a spreadsheet does) it may be found; none: cannot be."""

WAYS = ("restart", "kept on", "whole counts", "two powers", "series")
OF_NO_ACCOUNT = {"step_too_small", "counts_too_few", "too_many_decimals", "element_uncovered", "no_cooling_run"}
"""Codes that accuse no reading of a slip that moves the result."""


def place(rows: Rows, chance: random.Random) -> int:
    return chance.randrange(len(rows))


def transposed(column: str) -> Damage:
    def damage(rows: Rows, chance: random.Random) -> set[int]:
        index = place(rows, chance)
        text = rows[index][column]
        pairs = [
            i for i in range(len(text) - 1) if text[i].isdigit() and text[i + 1].isdigit() and text[i] != text[i + 1]
        ]
        if not pairs:
            return set()
        i = chance.choice(pairs)
        rows[index][column] = text[:i] + text[i + 1] + text[i] + text[i + 2 :]
        return {index + 2}

    return damage


def scaled(column: str, factor: float) -> Damage:
    def damage(rows: Rows, chance: random.Random) -> set[int]:
        index = place(rows, chance)
        rows[index][column] = f"{float(rows[index][column]) * factor:.10g}"
        return {index + 2}

    return damage


def whole_column(column: str, factor: float) -> Damage:
    def damage(rows: Rows, chance: random.Random) -> set[int]:
        for row in rows:
            row[column] = f"{float(row[column]) * factor:.10g}"
        return set(range(2, len(rows) + 2))

    return damage


def as_clock(rows: Rows, chance: random.Random) -> set[int]:
    for row in rows:
        minutes, seconds = divmod(round(float(row["time_s"])), 60)
        row["time_s"] = f"{minutes}.{seconds:02d}"
    return set(range(2, len(rows) + 2))


def sign_lost(rows: Rows, chance: random.Random) -> set[int]:
    """A display tared before each run shows less than zero; one minus sign is not typed."""
    starts: dict[str, float] = {}
    for row in rows:
        start = starts.setdefault(row["run"], float(row["mass_g"]))
        row["mass_g"] = f"{float(row['mass_g']) - start:.1f}"
    inner = [index for index in range(len(rows) - 1) if rows[index]["run"] == rows[index + 1]["run"] and index]
    inner = [index for index in inner if float(rows[index]["mass_g"]) < 0.0]
    if not inner:
        return set()
    index = chance.choice(inner)
    rows[index]["mass_g"] = rows[index]["mass_g"].removeprefix("-")
    return {index + 2}


def swapped_in_a_row(rows: Rows, chance: random.Random) -> set[int]:
    index = place(rows, chance)
    rows[index]["mass_g"], rows[index]["counts"] = rows[index]["counts"], rows[index]["mass_g"]
    return {index + 2}


def swapped_in_a_column(rows: Rows, chance: random.Random) -> set[int]:
    index = chance.randrange(len(rows) - 1)
    rows[index]["mass_g"], rows[index + 1]["mass_g"] = rows[index + 1]["mass_g"], rows[index]["mass_g"]
    return {index + 2, index + 3}


def heater_off(rows: Rows, chance: random.Random) -> set[int]:
    for row in rows:
        row["heater"] = "off"
    return set(range(2, len(rows) + 2))


def mass_rises(rows: Rows, chance: random.Random) -> set[int]:
    masses = [row["mass_g"] for row in rows]
    for row, mass in zip(rows, reversed(masses), strict=True):
        row["mass_g"] = mass
    return set(range(2, len(rows) + 2))


def start_missing(rows: Rows, chance: random.Random) -> set[int]:
    starts = [index for index, row in enumerate(rows) if row["mark"] == "0" and index]
    if not starts:
        return set()
    del rows[starts[-1]]
    return {starts[-1] + 2}


def misread(rows: Rows, chance: random.Random) -> set[int]:
    """A 3 taken for an 8, a 1 for a 7, a 0 for a 6 among the hundreds or tens."""
    index = place(rows, chance)
    whole, point, rest = rows[index]["mass_g"].partition(".")
    looks = {"3": "8", "8": "3", "1": "7", "7": "1", "0": "6", "6": "0"}
    digits = [i for i in range(len(whole) - 1) if whole[i] in looks]
    if not digits:
        return set()
    i = chance.choice(digits)
    rows[index]["mass_g"] = whole[:i] + looks[whole[i]] + whole[i + 1 :] + point + rest
    return {index + 2}


def late_clock(rows: Rows, chance: random.Random) -> set[int]:
    """The clock was started minutes late."""
    last = rows[-1]["run"]
    index = max(i for i, row in enumerate(rows) if row["run"] == last)
    rows[index]["time_s"] = f"{float(rows[index]['time_s']) - 180:.1f}"
    return {index + 2, index + 1}


DAMAGES: dict[str, Damage] = {
    "mass transposed": transposed("mass_g"),
    "counts transposed": transposed("counts"),
    "one mass in kg": scaled("mass_g", 1e-3),
    "every mass in kg": whole_column("mass_g", 1e-3),
    "decimal of a mass": scaled("mass_g", 0.1),
    "decimal of a count": scaled("counts", 10.0),
    "every time in min": whole_column("time_s", 1.0 / 60.0),
    "clock as m.ss": as_clock,
    "sign lost": sign_lost,
    "mass and counts swapped": swapped_in_a_row,
    "masses of two marks swapped": swapped_in_a_column,
    "heater off throughout": heater_off,
    "mass that rises": mass_rises,
    "start missing": start_missing,
    "digit misread": misread,
    "late clock": late_clock,
}


def moved(before: Sheet, after: Sheet, used: Design) -> bool:
    """Whether the damage moves the result by more than three standard uncertainties, or there is none any more."""
    good = group_result(before.readings, used).best
    try:
        bad = group_result(after.readings, used).best
        return abs(bad.value - good.value) > 3.0 * good.standard_uncertainty
    except (DesignError, BudgetError):
        return True


def accusing(sheet: Sheet, used: Design) -> list[Finding]:
    return [finding for finding in findings_of(sheet, used) if finding.code not in OF_NO_ACCOUNT]


MOVES_ANYHOW = {"heater off throughout", "mass that rises", "start missing", "clock as m.ss", "every time in min"}
"""Faults that are looked for whether they move this result or not."""


def damaged(handed: dict[str, Any], make_sheet: Callable[..., Sheet], number: int, seed: int) -> list[tuple[Any, ...]]:
    """So many sheets, each kind of damage in turn, on ways and rows by chance."""
    chance = random.Random(seed)  # noqa: S311 - sheets, no secrets
    found: list[tuple[Any, ...]] = []
    kinds = list(DAMAGES)
    while len(found) < number:
        kind, way = kinds[len(found) % len(kinds)], chance.choice(WAYS)
        rows = [dict(row) for row in chance.choice(handed[way].sheets)]
        before = make_sheet(rows)
        where = DAMAGES[kind](rows, chance)
        used = handed[way].used
        if where and (kind in MOVES_ANYHOW or moved(before, make_sheet(rows), used)):
            found.append((kind, way, where, make_sheet(rows), used))
    return found


@pytest.mark.slow
def test_of_60_damaged_sheets_85_in_100_are_found_at_the_right_row(
    hand_in: Callable[..., Any], make_sheet: Callable[..., Any]
) -> None:
    """And no entry is said to be a slip that is none."""
    sheets = damaged({way: hand_in(way) for way in WAYS}, make_sheet, 60, 5)
    kinds, missed, wrong = Counter(kind for kind, *_ in sheets), Counter[str](), Counter[str]()
    for kind, _, where, sheet, used in sheets:
        found = accusing(sheet, used)
        missed[kind] += not any(finding.row in where for finding in found)
        wrong[kind] += any(said_to_be_a_slip(finding) and finding.row not in where for finding in found)

    assert kinds.keys() == DAMAGES.keys()
    assert missed.total() <= 0.15 * len(sheets), missed
    assert wrong.total() <= 1, wrong


def said_to_be_a_slip(finding: Finding) -> bool:
    seen = finding.message.values.get("seen")
    return isinstance(seen, Message) and seen.key.startswith("likely_slip")


@pytest.mark.slow
def test_of_300_good_sheets_at_most_10_are_accused(hand_in: Callable[..., Any], make_sheet: Callable[..., Any]) -> None:
    accused = Counter[str]()
    for start, way in enumerate(WAYS):
        handed = hand_in(way)
        for rows in handed.sheets[60 * start : 60 * (start + 1)]:
            accused.update({finding.code for finding in accusing(make_sheet(rows), handed.used)})

    assert accused.total() <= 10, accused
