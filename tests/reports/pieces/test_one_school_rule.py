"""One school rule: for the same kit and readings the marking sheet and an evaluation state the same uncertainty."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from design.bench import Bench, Current
from design.bench_files.reader import read_bench
from design.evaluation.evaluate import EvaluationRequest, evaluate
from design.evaluation.school import SchoolResult
from design.evaluation.school_rules import read_rules
from design.kit import PassingReading, Role
from design.search.plan import Plan
from design.sheets.readings_file import read_readings
from reports.pieces.marking import SampleGroup, SampleRun, sample_groups, school_percent
from reports.pieces.parts import PieceBasis, given_for
from reports.rendering import Origin
from reports.words.languages import Language
from tests.reports.conftest import altered

CONFIGS = Path(__file__).parents[3] / "configs"
RULES = sorted(file.stem for file in (CONFIGS / "rules").glob("*.toml"))
BEAM: dict[Role, str] = {
    "balance": "Old beam balance", "meter": "Old disk meter", "heater": "Travel heater", "vessel": "Tall beaker, bare",
    "mass_set": "Slotted masses",
}  # fmt: skip
DISPLAY: dict[Role, str] = {
    "balance": "Drip-proof bench balance", "meter": "Old disk meter", "heater": "Travel heater",
    "vessel": "Tall beaker, bare",
}  # fmt: skip
STEPPED: dict[Role, str] = {**DISPLAY, "meter": "Rail pulse meter", "heater": "Stepped heater"}
TWO_DIALS: dict[Role, str] = {**DISPLAY, "meter": "Voltmeter and ammeter"}
START = 1.2
"""Kilograms on the display as a run begins; any would do, as the difference counts."""


@dataclasses.dataclass(frozen=True)
class Way:
    """A procedure on the demo bench: items, powers [W], mass step [kg], runs at each power, reading of the meter."""

    procedure: str
    items: dict[Role, str]
    powers: tuple[float, ...] = (700.0,)
    mass: float = 0.12
    repeats: int = 1
    reading: PassingReading = ""


WAYS = {
    "fixed-mass-restart": Way("fixed-mass-restart", BEAM),
    "fixed-mass-kept-on": Way("fixed-mass-kept-on", BEAM, repeats=2),
    "marks timed": Way("fixed-mass-kept-on", BEAM, repeats=2, reading="timed"),
    "whole-counts": Way("whole-counts", DISPLAY, repeats=3),
    "voltmeter and ammeter": Way("whole-counts", TWO_DIALS),
    "two-powers": Way("two-powers", STEPPED, powers=(1050.0, 350.0), mass=0.2),
    "two powers, three times": Way("two-powers", STEPPED, powers=(1050.0, 350.0), mass=0.2, repeats=3),
    "series": Way("series", DISPLAY, mass=0.2, repeats=2),
    "series at three powers": Way("series", STEPPED, powers=(1050.0, 700.0, 350.0), mass=0.2),
}


@pytest.fixture(scope="module")
def demo() -> Bench:
    return read_bench(CONFIGS / "demo.toml")


def given_of(bench: Bench, plan: Plan, way: Way) -> PieceBasis:
    assert plan.recommended is not None
    design = altered(
        plan.recommended,
        bench=bench,
        items={str(role): name for role, name in way.items.items()},
        procedure=way.procedure,
        powers_W=way.powers,
        mass_kg=way.mass,
        repeats=way.repeats,
        reading=way.reading,
    )
    recommended = dataclasses.replace(plan, recommended=design)
    return given_for(recommended, bench, Language("en"), Origin("0.0.0", "2026-03-04"), "abc")


def sheet_of(given: PieceBasis, group: SampleGroup) -> str:
    """Sheet that the group hands in, typed in the digits of its instruments."""
    counted = given.design.kit.meter.energy_per_count > 0.0
    rows = [f"group,run,mark,time_s,{'counts' if counted else 'power_W'},mass_g,heater"]
    readings = [reading for run in group.runs for reading in run]
    for run, reading in enumerate(readings, start=1):
        for mark, share in ((0, 0.0), (1, 1.0)):
            shown = energy_cell(given, reading, share)
            mass = 1000 * (START - share * reading.mass)
            rows.append(f"A,{run},{mark},{share * reading.time:.0f},{shown},{mass:.{mass_digits(given)}f},on")
    return "\n".join([*rows, ""])


def energy_cell(given: PieceBasis, reading: SampleRun, share: float) -> str:
    """What is typed of the energy: counts that start at 12, or the power of voltmeter and ammeter to four figures."""
    if given.design.kit.meter.energy_per_count > 0.0:
        return f"{12 + share * reading.counts:.{given.design.kit.meter.digits}f}"
    power = reading.energy / reading.time
    return f"{power:.{3 - int(np.floor(np.log10(power)))}f}"


def mass_digits(given: PieceBasis) -> int:
    """Decimals of a gram: as the balance shows them; more where masses are put on, for none is read then."""
    resolution = given.design.kit.balance.resolution
    return 6 if given.is_fixed_mass else max(0, -int(np.floor(np.log10(1000 * resolution) + 1e-9)))


def evaluated(bench: Bench, given: PieceBasis, way: Way, group: SampleGroup) -> dict[str, SchoolResult]:
    """Results by every preset of rules that an evaluation of the group's sheet gives."""
    current = Current(
        items=dict(way.items),
        procedure=way.procedure,
        correction="none",
        power=way.powers[0],
        reading="timed" if way.reading == "timed" else None,
    )
    with TemporaryDirectory() as folder:
        file = Path(folder) / "sheet.csv"
        file.write_text(sheet_of(given, group), encoding="utf-8")
        found = evaluate(
            dataclasses.replace(bench, current=current), read_readings(file), EvaluationRequest(trials=256)
        )
    presets = found.groups[0].presets
    return dict(zip(RULES, presets, strict=True))


@pytest.mark.parametrize("name", WAYS)
def test_the_marking_sheet_and_an_evaluation_state_the_same_uncertainty(name: str, demo: Bench, plan: Plan) -> None:
    way = WAYS[name]
    given = given_of(demo, plan, way)
    for group in sample_groups(given):
        results = evaluated(demo, given, way, group)
        marked = {rules: school_percent(given, group, read_rules(rules)) for rules in RULES}

        assert marked == pytest.approx({rules: result.percent for rules, result in results.items()}, rel=1e-9)
        if len(way.powers) < 3:
            assert group.mean == pytest.approx(results["add-limits"].value, rel=1e-4 if "volt" in name else 1e-9)
            assert len(set(marked.values())) > 1


def test_the_rule_is_that_of_its_words(demo: Bench, plan: Plan) -> None:
    """
    Hand-worked from the words of each file: half or whole divisions, twice for a difference, added or in squares.

    One run with a disk meter read in whole turns and a beam balance of 0.5 g; the 1 % of the masses and the 2 % of the
    meter, which makers state and no reading shows, are no part of any of the rules.
    """
    given = given_of(demo, plan, WAYS["fixed-mass-restart"])
    group = sample_groups(given)[0]
    turns, mass = group.runs[0][0].counts, group.runs[0][0].mass
    halves, root = (1 / turns, 0.0005 / mass), np.hypot(1 / turns, 0.0005 / mass)

    by_hand = {
        "add-limits": sum(halves),
        "add-full-divisions": 2 * sum(halves),
        "first-year-laboratory": root / np.sqrt(2),
        "standard-and-expanded": 2 * root / np.sqrt(6),
    }
    for rules, expected in by_hand.items():
        assert school_percent(given, group, read_rules(rules)) == pytest.approx(100 * expected), rules


def test_repeated_runs_at_two_powers_are_paired_in_the_order_of_the_sheet(demo: Bench, plan: Plan) -> None:
    """The mains rises from run to run at the higher power alone, so that an order by power would turn the pairs."""
    way = WAYS["two powers, three times"]
    given = given_of(demo, plan, way)
    group = sample_groups(given)[0]
    count = given.design.kit.meter.energy_per_count
    runs = tuple(
        (dataclasses.replace(high, counts=high.counts + 3 * place, energy=high.energy + 3 * place * count), low)
        for place, (high, low) in enumerate(group.runs)
    )
    values = tuple((high.energy - low.energy) / (high.mass - low.mass) for high, low in runs)
    risen = dataclasses.replace(group, runs=runs, values=values)
    results = evaluated(demo, given, way, risen)

    assert results["add-limits"].value == pytest.approx(np.mean(values), rel=1e-9)
    for rules, result in results.items():
        assert [line.value for line in result.lines] == pytest.approx(values, rel=1e-9)
        assert school_percent(given, risen, read_rules(rules)) == pytest.approx(result.percent, rel=1e-9)
