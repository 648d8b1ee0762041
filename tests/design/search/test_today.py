"""What is done today: any procedure and correction that a bench file may name, or the reason why it cannot be."""

from dataclasses import replace

import pytest

from design.bench import Bench, Current
from design.kit import Role
from design.message import Message
from design.search.today import current_design
from design.setting.hardware import conditions_of

ITEMS: dict[Role, str] = {"balance": "display", "meter": "disk", "heater": "weaker", "vessel": "beaker"}


def today(bench: Bench, procedure: str, correction: str = "none") -> Bench:
    """The bench with a usual way."""
    return replace(bench, current=Current(items=ITEMS, procedure=procedure, correction=correction, mass=0.12))


@pytest.fixture
def stepped(bench: Bench) -> Bench:
    """The bench with a control on its weaker heater."""
    strong, weaker = bench.heaters
    return bench.with_shelves(heater=(strong, replace(weaker, control=(300.0, 500.0, 700.0))))


def test_two_powers_are_full_power_and_the_one_nearest_to_half_of_it(stepped: Bench) -> None:
    design, reason = current_design(conditions_of(today(stepped, "two-powers")))

    assert reason is None
    assert design is not None
    assert tuple(design.powers) == (700.0, 300.0)


def test_a_heater_with_one_power_cannot_be_used_at_two(bench: Bench) -> None:
    design, reason = current_design(conditions_of(today(bench, "two-powers")))

    assert design is None
    assert reason == Message("today_powers", {"number": 2})


def test_a_cooling_run_has_nothing_to_correct_at_two_powers(stepped: Bench) -> None:
    design, reason = current_design(conditions_of(today(stepped, "two-powers", "cooling-run")))

    assert design is None
    assert reason == Message("today_correction", {"correction": "cooling-run", "procedure": "two-powers"})


def test_a_cooling_run_makes_the_usual_lesson_longer(bench: Bench) -> None:
    plain, _ = current_design(conditions_of(today(bench, "whole-counts")))
    cooled, _ = current_design(conditions_of(today(bench, "whole-counts", "cooling-run")))

    assert plain is not None
    assert cooled is not None
    assert cooled.minutes - plain.minutes == pytest.approx(8.0)


def test_what_breaks_a_limit_is_said(bench: Bench) -> None:
    short = replace(bench, lesson=replace(bench.lesson, length=600.0))
    design, reason = current_design(conditions_of(today(short, "whole-counts")))

    assert design is None
    assert reason == Message("today_limits", {"limits": ("time",)})
