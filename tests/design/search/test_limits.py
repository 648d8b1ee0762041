"""Limits are rows of one table: the search looks at each wherever it hangs on an item, and nowhere else is it wired."""

from collections import Counter
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import pytest

from design.bench import Bench, Lesson, SearchRange
from design.chosen import price_of
from design.kit import Balance
from design.limits import END, LIMITS, UNSUITABLE, first_broken, limits_of, unsuitables
from design.procedures.face import pace_of
from design.search.candidates import corrections_of, kits_of, procedures_of, settings_of, vessels_of
from design.search.sample import Aim, Sample
from design.search.survey import survey
from design.search.work import Workforce
from design.setting import constants, equations, situation
from design.setting.constants import Given
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import situation_of
from reports.words.languages import messages
from tests.design.conftest import DISPLAY

SAMPLE, AIM = Sample(128, 3), Aim("rms error", 0.95)


@dataclass(frozen=True, kw_only=True)
class SlowBalance(Balance):
    """A balance of a new kind: its display takes time for every reading. [s]"""

    delay: float = 0.0


SLOW = SlowBalance(**{**vars(DISPLAY), "name": "slow"}, delay=240.0)
QUICK = replace(SLOW, name="quick", delay=0.0)


def counted(bench: Bench) -> tuple[int, Counter[str]]:
    """Feasible combinations, and rejections by the first limit broken: one kit after another, nothing shared."""
    conditions, feasible, rejected = conditions_of(bench), 0, Counter[str]()
    for procedure, heater, use in product(procedures_of(bench), bench.heaters, tuple(vessels_of(bench))):
        hardware = hardware_of(conditions, use.vessel, heater)
        for kit, correction in product(kits_of(bench, procedure, heater, use), corrections_of(bench, procedure)):
            settings = settings_of(bench, kit, procedure)
            barred, _ = unsuitables(kit, conditions, procedure)
            if barred or not settings.mass.size:
                rejected[barred[0].key if barred else "no_setting"] += max(settings.mass.size, 1)
                continue
            asked = situation_of(conditions, kit, hardware, settings, pace_of(procedure, correction))
            limits = limits_of(asked, procedure, price_of(kit, bench.lesson.groups))
            for place in np.broadcast_to(first_broken(limits), settings.mass.shape):
                if place == len(limits):
                    feasible += 1
                else:
                    rejected[limits[place].key] += 1
    return feasible, rejected


def searched(bench: Bench) -> tuple[int, dict[str, int]]:
    found = survey(bench, SAMPLE, AIM, Workforce(), progress=lambda *_: None).combinations
    return found.feasible, dict(found.rejected)


def test_the_search_rejects_by_the_rows_in_their_order(bench: Bench) -> None:
    tight = replace(bench, lesson=replace(bench.lesson, groups=3), purse=replace(bench.purse, amount=200.0))

    feasible, rejected = counted(tight)

    assert feasible > 0
    assert len(rejected) > 3
    assert searched(tight) == (feasible, dict(rejected))


def test_a_balance_that_takes_time_is_looked_at_by_itself(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    # All that a new property of an item asks for: its field, its constant, and its place in the text.
    waiting = Given[SlowBalance]("delay", "s", lambda one: getattr(one, "delay", 0.0))
    stages = (*equations.STAGES, ("wait for the balance", "2 * N * delay"))
    monkeypatch.setitem(constants.ITEMS, "balance", (*constants.BALANCE, waiting))
    for module in (equations, situation):
        monkeypatch.setattr(module, "STAGES", stages)
    caches = (equations.steps_of, equations.following)
    for cached in caches:
        cached.cache_clear()
    try:
        shelves = {**bench.shelves, "balance": (SLOW, QUICK)}
        both = replace(
            bench, shelves=shelves, lesson=Lesson(3000.0, 900.0), search=SearchRange(repeats=(1, 5), masses=(0.1, 0.2))
        )
        feasible, rejected = counted(both)
        by_balance = {
            one.name: counted(replace(both, shelves={**shelves, "balance": (one,)}))[1]["time"] for one in (SLOW, QUICK)
        }

        assert feasible > 0
        assert searched(both) == (feasible, dict(rejected))
        assert by_balance["slow"] > by_balance["quick"]
    finally:
        for cached in caches:
            cached.cache_clear()


def test_every_limit_has_its_words() -> None:
    keys = [row.key for row in (*UNSUITABLE, *LIMITS)]

    assert len(set(keys)) == len(keys)
    wanted = {key.removesuffix(END) for key in (*keys, "no_setting", "covered")}
    assert {f"limit.{key}.reason" for key in wanted} <= messages("en").keys()
