"""Was it boiling? A rate that rises is noticed, rough but steady boiling is not, and nothing is left out unasked."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from design.chosen import Design
from design.evaluation.findings import findings_of
from design.evaluation.result import group_result
from design.message import Message
from design.sheets.readings import Finding, Sheet
from reports.words.findings import what_was_found
from reports.words.languages import LANGUAGES, language

Rows = list[dict[str, str]]
COUNTS = 20
"""Of one run of several."""
SPAN = 56
"""Counts of a series, at most."""
PER_COUNT = 9600.0
"""J of one turn of the demo bench's disk meter."""
NEEDED = 2.54e6
"""E/m of the display balance's vessel, invented. [J/kg]"""


def marks(masses: Any, run: str = "1", first: int = 50, every: int = 4) -> Rows:
    """Marks at every so many counts of 9600 J at 690 W, masses [g] as shown."""
    return [
        {"group": "1", "run": run, "mark": str(index), "time_s": f"{(first + every * index) * PER_COUNT / 690.0:.1f}",
         "counts": str(first + every * index), "mass_g": f"{mass:.1f}", "heater": "on"}
        for index, mass in enumerate(masses)
    ]  # fmt: skip


def series(number: int, rise: float, noise: float, draw: np.random.Generator) -> Rows:
    """Marks of one run whose rate rises evenly by so much from its start to its end."""
    place = np.linspace(0.0, 1.0, number)
    every = SPAN // (number - 1)
    total = 1e3 * (number - 1) * every * PER_COUNT / NEEDED
    bend = rise / (2.0 + rise)
    gone = total * (place + bend * (place**2 - place))
    return marks(950.0 - gone + noise * draw.standard_normal(number), every=every)


def repeats(number: int, noise: float, draw: np.random.Generator, first: float = 1.0) -> Rows:
    """Runs of so many counts each, the first of them with so many times the energy for its mass."""
    rows: Rows = []
    start, count = 1100.0, 20
    for index in range(number):
        fall = 1e3 * COUNTS * PER_COUNT / NEEDED / (first if index == 0 else 1.0)
        shown = [start, start - fall] + noise * draw.standard_normal(2)
        rows += marks(shown, str(index + 1), count, COUNTS)
        start, count = start - fall - 10.0, count + COUNTS + 3
    return rows


@pytest.fixture(scope="module")
def used(hand_in: Callable[..., Any]) -> Design:
    design: Design = hand_in("series", 2, 3).used
    return design


@pytest.fixture(scope="module")
def used_of_repeats(hand_in: Callable[..., Any]) -> Design:
    design: Design = hand_in("whole counts", 2, 3).used
    return design


def unsteady(sheet: Sheet, used: Design) -> list[Any]:
    return [finding for finding in findings_of(sheet, used) if finding.code == "boiling_not_steady"]


def said_of(finding: Finding) -> dict[str, Any]:
    """What is filled into the sentence about results with all readings and without some."""
    seen = finding.message.values["seen"]
    assert isinstance(seen, Message)
    assert seen.key == "try_without"
    return dict(seen.values)


@pytest.mark.parametrize("number", [5, 6, 9, 15])
def test_a_rate_that_rises_by_28_percent_is_noticed(
    number: int, make_sheet: Callable[..., Sheet], used: Design
) -> None:
    draw = np.random.default_rng(number)
    noticed = sum(bool(unsteady(make_sheet(series(number, 0.28, 0.3, draw)), used)) for _ in range(20))

    assert noticed >= 18


def test_the_result_is_shown_with_and_without_the_marks_before_it_settled(
    make_sheet: Callable[..., Sheet], used: Design
) -> None:
    """The first three of ten marks lag: they are what is suggested, and the result without them is worked out."""
    draw = np.random.default_rng(5)
    rows = series(10, 0.0, 0.1, draw)
    for row, lag in zip(rows, (6.0, 3.0, 1.2), strict=False):
        row["mass_g"] = f"{float(row['mass_g']) - lag:.1f}"
    sheet = make_sheet(rows)
    (found,) = unsteady(sheet, used)
    results = said_of(found)
    marks_left_out = results["marks"].values["mark"]
    rest = tuple(reading for reading in sheet.readings if int(reading.mark) > int(marks_left_out))

    assert (found.row, found.column) == (2, "mass_g")
    assert marks_left_out in {"1", "2"}
    assert results["all"] == group_result(sheet.readings, used).best.value
    assert results["without"] == group_result(rest, used).best.value


@pytest.mark.parametrize("noise", [0.3, 1.5, 3.0])
def test_rough_boiling_accuses_nobody(
    noise: float, make_sheet: Callable[..., Sheet], used: Design, used_of_repeats: Design
) -> None:
    """Marks and repeats that show their scatter: 60 steady sheets, of which at most two are accused of anything."""
    draw = np.random.default_rng(int(10 * noise))
    sheets = [(series(int(draw.integers(5, 15)), 0.0, noise, draw), used) for _ in range(30)]
    sheets += [(repeats(int(draw.integers(3, 7)), noise, draw), used_of_repeats) for _ in range(30)]
    accused = sum(bool(findings_of(make_sheet(rows), design)) for rows, design in sheets)

    assert accused <= 2


def test_a_first_run_above_the_others_was_not_boiling_yet(
    make_sheet: Callable[..., Sheet], used_of_repeats: Design
) -> None:
    draw = np.random.default_rng(2)
    sheet = make_sheet(repeats(4, 0.3, draw, first=1.1))
    (found,) = unsteady(sheet, used_of_repeats)

    assert found.row == 2
    assert said_of(found)["without"] < said_of(found)["all"]


@pytest.mark.parametrize("code", LANGUAGES)
def test_it_is_said_in_every_language(code: str, make_sheet: Callable[..., Sheet], used: Design) -> None:
    (found,) = unsteady(make_sheet(series(9, 0.4, 0.1, np.random.default_rng(1))), used)
    said = what_was_found(found, language(code))

    assert "kJ/kg" in said
    assert "{" not in said


def warmed(counts: int) -> Rows:
    """A run that begins cold, and goes on at the boil after some counts."""
    start = {"group": "1", "run": "1", "mark": "0", "time_s": "0", "counts": "10", "mass_g": "900", "heater": "on"}
    rows = [{**start, "temperature_C": "18.0"}]
    for mark in range(1, 4):
        counted, fallen = counts + 20 * mark, 45 * (mark - 1)
        rows.append(
            {**start, "mark": str(mark), "time_s": str(600 * mark), "counts": str(counted), "mass_g": str(900 - fallen)}
        )
    return [{"temperature_C": "", **row} for row in rows]


def test_a_counted_warm_up_that_is_too_short_tells_that_the_water_did_not_boil_yet(
    make_sheet: Callable[..., Sheet], used: Design
) -> None:
    """Second way: water of 900 g less the vessel, 4.2 kJ/(kg K), 82 K."""
    count = used.kit.meter.energy_per_count
    needed = (0.9 - used.kit.vessel.mass) * 4200.0 * 82.0
    short, long = round(0.4 * needed / count), round(1.3 * needed / count)
    told = [
        [one.row for one in unsteady(make_sheet(warmed(10 + counts - 20)), used) if _is_of_warm_up(one)]
        for counts in (short, long)
    ]

    assert told == [[3], []]


def _is_of_warm_up(finding: Finding) -> bool:
    seen = finding.message.values.get("seen")
    return isinstance(seen, Message) and seen.key == "warm_up_too_short"
