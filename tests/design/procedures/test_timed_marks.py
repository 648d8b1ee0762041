"""Counts read in passing with the marks about each reading timed: what it is worth, and where it cannot be done."""

from dataclasses import replace

import numpy as np
import pytest

from design.bench import Bench, Current, ReadingRule, SearchRange
from design.chosen import Design
from design.kit import Kit, Meter
from design.limits import TIMED_LEAST
from design.procedures.registry import PROCEDURES, procedure_named
from design.search.candidates import meters_of
from design.search.planning import plan_bench
from design.search.sample import Sample, errors_of, rms
from design.search.today import current_design
from design.setting.hardware import conditions_of
from tests.design.conftest import BEAM, DISK, DISPLAY, HEATER, MASSES, PULSE, VESSEL

TIMED = replace(DISK, reads="timed")


def design_with(
    bench: Bench, meter: Meter, procedure: str = "fixed-mass-kept-on", powers: tuple[float, ...] = (1400.0,)
) -> Design:
    """A design with a meter; 0.25 kg, calculated losses."""
    needs_display = procedure_named(procedure).needs_display
    kit = Kit(DISPLAY if needs_display else BEAM, meter, HEATER, VESSEL, None if needs_display else MASSES)
    return Design(conditions_of(bench), kit, procedure_named(procedure), "calculated", powers, 0.25)


def count_uncertainty(design: Design, symbol: str = "d_count") -> float:
    """Standard uncertainty of the counts, in counts."""
    term = next(term for term in design.terms if term.symbol == symbol)
    return float(np.ravel(term.size)[0] * term.base.standard_uncertainty)


@pytest.mark.parametrize(("procedure", "readings"), [("fixed-mass-kept-on", 2), ("two-powers", 1)])
def test_the_part_of_a_count_is_as_uncertain_as_three_timings_make_it(
    bench: Bench, procedure: str, readings: int
) -> None:
    # By drawing the three timings of each reading, nothing else: f = (t - t1)/(t2 - t1), linear in their errors. What
    # the timing of the reading itself does is another input quantity, the reaction time.
    powers = (1400.0, 700.0) if procedure == "two-powers" else (1400.0,)
    design = design_with(bench, TIMED, procedure, powers)
    rng = np.random.default_rng(5)
    single, spacing = 0.3 / np.sqrt(2.0), DISK.energy_per_count / 1400.0
    true = rng.random((readings, 400_000)) * spacing
    before, after = (single * rng.standard_normal(true.shape) for _ in range(2))
    found = (true - before) / (spacing + after - before)
    error = np.sum((found - true / spacing) * np.array([1.0, -1.0])[:readings, None], axis=0)

    assert count_uncertainty(design) == pytest.approx(float(error.std()), rel=0.01)


def test_at_half_the_power_the_clock_misses_half_as_much_of_a_count(bench: Bench) -> None:
    design = design_with(bench, TIMED, "two-powers", (1400.0, 700.0))

    assert count_uncertainty(design, "d_count_2") == pytest.approx(0.5 * count_uncertainty(design))


def test_a_coarse_meter_gains_most_from_timed_marks(bench: Bench) -> None:
    sample = Sample(1024, 3)
    gains = []
    for meter in (DISK, replace(PULSE, energy_per_count=4500.0)):
        plain, timed = (
            rms(errors_of(design_with(bench, one), sample)) for one in (meter, replace(meter, reads="timed"))
        )
        gains.append(plain - timed)

    assert gains[0] > gains[1] > 0.0


def test_without_reaction_time_the_clock_misses_nothing(quiet_bench: Bench) -> None:
    assert count_uncertainty(design_with(quiet_bench, TIMED)) == 0.0


def test_marks_that_follow_each_other_too_fast_cannot_be_timed(bench: Bench) -> None:
    for spacing, kept in ((1.1 * TIMED_LEAST, True), (0.9 * TIMED_LEAST, False)):
        timed = replace(TIMED, energy_per_count=spacing * 1400.0)
        limits = design_with(bench, timed).limits
        assert (float(next(limit for limit in limits if limit.key == "timing").excess[0]) <= 0.0) is kept
        plain = replace(timed, reads="whole")
        limits = design_with(bench, plain).limits
        assert float(next(limit for limit in limits if limit.key == "timing").excess[0]) <= 0.0


def test_only_marks_that_can_be_watched_and_are_read_in_passing_are_timed(bench: Bench) -> None:
    display = replace(DISK, name="plug", kind="display")
    offered = bench.with_shelves(meter=(DISK, display))
    for procedure in PROCEDURES:
        readings = [(place, meter.reads) for place, meter in meters_of(offered, procedure)]
        passing = procedure.identifier in ("fixed-mass-restart", "fixed-mass-kept-on", "two-powers")
        assert readings == ([(0, "whole"), (0, "timed"), (1, "whole")] if passing else [(0, "whole"), (1, "whole")])


@pytest.mark.parametrize(("rule", "reading"), [("plain", "whole"), ("timed", "timed")])
def test_a_bench_file_may_ask_for_one_rule_alone(bench: Bench, rule: ReadingRule, reading: str) -> None:
    search = SearchRange(procedures=("fixed-mass-kept-on",), readings=(rule,))
    plan = plan_bench(replace(bench, search=search), seed=7, trials=512)

    assert {row.design.reading for row in plan.ranking} == {reading}


def test_the_search_finds_that_timing_the_marks_of_the_old_disk_beats_buying_a_finer_meter(bench: Bench) -> None:
    # A finer meter of the same class is worth nothing once the marks are timed: "nothing, read it another way".
    finer = replace(DISK, name="finer disk", energy_per_count=3600.0, price=40.0, owned=0)
    search = SearchRange(procedures=("fixed-mass-kept-on",))
    plan = plan_bench(replace(bench.with_shelves(meter=(DISK, finer)), search=search), seed=7, trials=512)

    assert plan.answers is not None
    assert plan.answers.ladder.start is not None
    assert plan.answers.ladder.start.design.reading == "timed"
    assert all(role != "meter" for rung in plan.answers.ladder.rungs for role, *_ in rung.bought)


def test_todays_rule_is_that_of_the_bench_file(bench: Bench) -> None:
    rules: tuple[tuple[ReadingRule | None, str], ...] = (("plain", "whole"), ("timed", "timed"), (None, "whole"))
    for rule, reads in rules:
        current = replace(bench.current, reading=rule)
        design, reason = current_design(conditions_of(replace(bench, current=current)))
        assert design is not None, reason
        assert design.kit.meter.reads == reads
    marks = Current(items={**bench.current.items, "balance": "display"}, procedure="whole-counts", reading="timed")
    design, _ = current_design(conditions_of(replace(bench, current=marks)))
    assert design is not None
    assert (design.kit.meter.reads, design.reading) == ("whole", "")
