"""Search against exhaustion: on small random benches every combination is sampled, and nothing is ruled out."""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Literal

import numpy as np
import pytest

from budget.quantities.distributions import Rectangular
from design.bench import Bench, Current, Lesson, Observer, Purse, Room, SearchRange, Supply
from design.chosen import Design, all_terms, number_to_buy, price_of, program_of
from design.kit import ROLES, Balance, Fitting, Heater, Kit, MassSet, Meter, Role, Vessel
from design.limits import first_broken, limits_of, unsuitables
from design.materials import Jacket
from design.procedures.face import pace_of
from design.search.candidates import (
    corrections_of,
    kits_of,
    procedures_of,
    settings_of,
    vessels_of,
)
from design.search.cells import Cell, look_at
from design.search.estimate import floor_of, slack_of
from design.search.plan import Tried
from design.search.planning import plan_bench
from design.search.pool import LEAST_GAIN, Pool
from design.search.ranking import refined
from design.search.sample import Aim, Sample, objective_at, objective_of, relative_errors, rows
from design.search.survey import RANKED
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import situation_of

TRIALS = 512
BENCHES = 30
OBJECTIVES = ("rms error", "standard uncertainty", "expanded uncertainty", "worst error")


def random_bench(seed: int) -> Bench:
    """Invent a small bench: two or three items on each shelf, some owned, some to buy."""
    rng = np.random.default_rng(seed)

    def price() -> float:
        return float(rng.choice([7.5, 12.0, 19.0, 31.5, 48.0, 77.0]))

    def owned() -> int:
        return int(rng.choice([0, 1], p=[0.8, 0.2]))

    balances = tuple(
        Balance(
            name=f"balance {place}", kind="beam" if rng.random() < 0.4 else "electronic",
            resolution=float(rng.choice([1e-4, 5e-4, 1e-3])), repeatability=float(rng.choice([5e-5, 1e-4, 4e-4])),
            linearity=float(rng.choice([0.0, 2e-4, 1e-3])), capacity=float(rng.choice([2.0, 3.2, 5.0])),
            splash_proof=bool(rng.random() < 0.9), stability_filter=False,
            price=price(), owned=1 if place == 0 else owned(),
        )
        for place in range(int(rng.integers(1, 3)) + 1)
    )  # fmt: skip
    meters = tuple(
        Meter(
            name=f"meter {place}", kind="pulse", energy_per_count=float(rng.choice([2250.0, 4500.0, 9600.0])),
            reads="whole" if rng.random() < 0.5 else "tenth",
            error=_limits(rng),
            max_voltage=250.0, max_current=float(rng.choice([5.0, 16.0])), max_power=np.inf,
            price=price(), owned=1 if place == 0 else owned(),
        )
        for place in range(2)
    )  # fmt: skip
    heaters = tuple(
        Heater(
            name=f"heater {place}", power=float(rng.choice([700.0, 1050.0, 1400.0])), rated_voltage=230.0,
            tolerance=0.05, stem_diameter=float(rng.choice([6.5e-3, 9e-3])), stems=2, minimum_depth=0.06,
            held_by="vessel" if rng.random() < 0.3 else "stand",
            control=(350.0, 700.0) if rng.random() < 0.4 else "none", flex=1.6,
            price=price(), owned=1 if place == 0 else owned(),
        )
        for place in range(2)
    )  # fmt: skip
    vessels = tuple(
        Vessel(
            name=f"vessel {place}", capacity=1.4e-3, diameter=0.112, height=float(rng.choice([0.14, 0.165])), mass=0.42,
            material="glass", jacket=Jacket("20 mm", 0.02) if rng.random() < 0.5 else Jacket(),
            price=price(), owned=1 if place == 0 else owned(),
        )
        for place in range(2)
    )  # fmt: skip
    sets = tuple(
        MassSet(
            name=f"set {place}", steps=tuple(rng.choice([0.05, 0.12, 0.25], 2, replace=False).tolist()),
            accuracy=float(rng.choice([2e-4, 3e-3, 1e-2])), price=price(), owned=1 if place == 0 else owned(),
        )
        for place in range(int(rng.integers(0, 2)) + 1)
    )  # fmt: skip
    return Bench(
        name="random", scenario="invented", path="random.toml",
        room=Room(98200.0, 294.15), supply=Supply(230.0, 0.06, 13.0),
        lesson=Lesson(float(rng.choice([50, 65, 80])) * 60.0, 900.0, groups=int(rng.choice([1, 1, 1, 2]))),
        purse=Purse("EUR", float(rng.choice([30.0, 90.0, 150.0, 400.0]))), observer=Observer(0.3, 2e-4),
        search=SearchRange(
            masses=(0.05, 0.12, 0.17, 0.25), repeats=(1, 2), spare_water=(0.0, 0.08) if rng.random() < 0.3 else (0.0,),
            margin=float(rng.choice([0.0005, 0.002])), **_aim(np.random.default_rng([seed, 2])),
        ),
        current=Current(), knowledge={},
        shelves={
            "balance": balances, "meter": meters, "heater": heaters, "vessel": vessels, "mass_set": sets,
            **_fittings(np.random.default_rng([seed, 1])),
        },
    )  # fmt: skip


def _aim(rng: np.random.Generator) -> dict[str, Any]:
    """What is made small: the rms error or the worst error more often than the others."""
    return {
        "objective": str(rng.choice(OBJECTIVES, p=[0.3, 0.15, 0.15, 0.4])),
        "coverage": float(rng.choice([0.5, 0.8, 0.95, 0.95, 0.99, 0.999])),
    }


def _fittings(rng: np.random.Generator) -> dict[Role, tuple[Fitting, ...]]:
    """Perhaps a jacket for one of the vessels, and perhaps a deflector, owned or to buy."""

    def fitting(role: Literal["jacket", "guard"], makes: Jacket | Literal["deflector"]) -> Fitting:
        return Fitting(
            name=f"{role} 0", role=role, makes=makes, mass=0.07, fits=("vessel 0",) if rng.random() < 0.5 else (),
            price=float(rng.choice([5.5, 9.0, 21.0])), owned=int(rng.choice([0, 1], p=[0.8, 0.2])),
        )  # fmt: skip

    jackets = (fitting("jacket", Jacket("12 mm", 0.012)),) if rng.random() < 0.6 else ()
    guards = (fitting("guard", "deflector"),) if rng.random() < 0.3 else ()
    return {"jacket": jackets, "guard": guards}


def _limits(rng: np.random.Generator) -> Rectangular:
    half_width = float(rng.choice([0.007, 0.01, 0.02]))
    return Rectangular(-half_width, half_width)


@dataclass(frozen=True)
class Every:
    """Every feasible combination with its sampled objective, and the number of all that were tried."""

    branches: tuple[Tried, ...]
    considered: int

    @property
    def leaders(self) -> tuple[Tried, ...]:
        """The best of every kit and way, as many as a plan ranks."""
        best: dict[object, Tried] = {}
        for branch in sorted(self.branches, key=lambda branch: branch.order):
            design = branch.design
            best.setdefault((tuple(design.items.items()), design.procedure, design.correction), branch)
        return tuple(best.values())[:RANKED]

    @property
    def chosen(self) -> Tried:
        """Most headroom among the leaders that are as good as the least error, and not dearer."""
        first, *others = sorted(map(set_finely, self.leaders), key=lambda one: one.order)
        purse, margin = first.design.conditions.bench.purse, first.design.conditions.bench.search.margin
        rivals = [
            other
            for other in others
            if other.objective <= first.objective + margin
            and other.design.price < first.design.price + purse.margin * purse.amount
        ]
        return max([first, *rivals], key=lambda branch: branch.design.headroom)


def set_finely(found: Tried) -> Tried:
    """The same with what can be set finely, as a plan does with what it shows: here, how long a jacket warms."""
    search = found.design.conditions.bench.search
    sample, aim = Sample(TRIALS, 3), Aim(search.objective, search.coverage)
    design = refined(found, sample, aim)
    return Tried(design, objective_at(design, sample, aim))


def exhausted(bench: Bench) -> Every:
    """Sample every feasible combination of a bench."""
    conditions = conditions_of(bench)
    branches: list[Tried] = []
    considered = 0
    for procedure, heater, use in product(procedures_of(bench), bench.heaters, tuple(vessels_of(bench))):
        hardware = hardware_of(conditions, use.vessel, heater)
        for kit, correction in product(kits_of(bench, procedure, heater, use), corrections_of(bench, procedure)):
            settings = settings_of(bench, kit, procedure)
            considered += max(settings.mass.size, 1)
            if settings.mass.size == 0 or unsuitables(kit, conditions, procedure)[0]:
                continue
            price = price_of(kit, bench.lesson.groups)
            situation = situation_of(conditions, kit, hardware, settings, pace_of(procedure, correction))
            limits = limits_of(situation, procedure, price)
            chosen = np.flatnonzero(first_broken(limits) == len(limits))
            if not chosen.size:
                continue
            terms = rows(all_terms(procedure, correction, situation), chosen)
            errors = relative_errors(program_of(procedure, correction), terms, Sample(TRIALS, 3))
            aim = Aim(bench.search.objective, bench.search.coverage)
            for row, objective in zip(chosen, objective_of(errors, aim), strict=True):
                setting = settings.only(np.array([row]))
                powers, (mass,), (repeats,), (spare,) = (
                    setting.powers[0].tolist(), setting.mass.tolist(), setting.repeats.tolist(), setting.spare.tolist(),
                )  # fmt: skip
                design = Design(conditions, kit, procedure, correction, tuple(powers), mass, int(repeats), spare)
                branches.append(Tried(design, float(objective)))
    return Every(tuple(branches), considered)


def frontier_of(branches: Iterable[Tried]) -> list[Tried]:
    """Branches that no cheaper or equally dear one beats."""
    steps: list[Tried] = []
    for branch in sorted(branches, key=lambda branch: (branch.design.price, *branch.order)):
        if not steps or branch.objective < steps[-1].objective:
            steps.append(branch)
    return steps


def missing(branch: Tried, groups: int, bought: frozenset[str]) -> frozenset[str]:
    """Names of what has to be bought for a branch beyond what is bought already; names differ between shelves."""
    return frozenset(
        item.name
        for item in branch.design.kit.items.values()
        if item.price * number_to_buy(item, groups) > 0.0 and item.name not in bought
    )


def ladder_by_hand(
    bench: Bench, branches: tuple[Tried, ...], taken: list[frozenset[str]]
) -> list[tuple[frozenset[str], float]]:
    """
    Purchases of the ladder and the error reached by each, by trying everything at every step.

    Of purchases that are as good as each other to twelve digits, the one that was ``taken``.
    """
    groups = bench.lesson.groups
    prices = {item.name: item.price * number_to_buy(item, groups) for shelf in bench.shelves.values() for item in shelf}
    bought, spent = frozenset[str](), 0.0
    free = [branch for branch in branches if not missing(branch, groups, bought)]
    reached = min((branch.objective for branch in free), default=np.inf)
    steps: list[tuple[frozenset[str], float]] = []
    while True:
        options = []
        for together in range(1, len(ROLES) + 1):
            lacking = [(missing(branch, groups, bought), branch) for branch in branches]
            for names in {names for names, _ in lacking if len(names) == together}:
                price = round(math.fsum(prices[name] for name in names), 9)  # whatever the order of a set
                error = min(branch.objective for other, branch in lacking if other == names)
                if spent + price > bench.purse.amount + 1e-9 or error > reached - LEAST_GAIN * bench.search.margin:
                    continue
                gain = 1.0 if np.isinf(reached) else reached - error
                options.append((-gain / price, price, error, names))
            if options:
                break
        if not options:
            return steps
        best = min(options, key=lambda option: option[:3])
        equal = [one for one in options if np.allclose(one[:3], best[:3], rtol=1e-12, atol=0.0)]
        mine = [one for one in equal if one[3] in taken[len(steps) : len(steps) + 1]]
        _, price, reached, names = (mine or equal)[0]
        bought, spent = bought | names, spent + price
        steps.append((names, 100.0 * reached))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(BENCHES))
def test_nothing_that_is_ruled_out_beforehand_would_have_won(seed: int) -> None:
    bench = random_bench(seed)
    every = exhausted(bench)

    plan = plan_bench(bench, seed=3, trials=TRIALS)

    assert plan.considered == every.considered
    assert plan.feasible == len(every.branches)
    if not every.branches:
        assert plan.recommended is None
        return
    assert plan.recommended is not None
    assert plan.answers is not None
    winner = every.chosen
    assert plan.recommended.objective_percent == pytest.approx(100.0 * winner.objective, rel=1e-9)
    assert plan.recommended.design.items == {role: item.name for role, item in winner.design.kit.items.items()}
    assert (plan.recommended.design.procedure.identifier, plan.recommended.design.correction) == (
        winner.design.procedure.identifier,
        winner.design.correction,
    )
    finely = [set_finely(branch) for branch in dict.fromkeys((*every.leaders, *frontier_of(every.branches)[-12:]))]
    frontier = frontier_of(finely)[-12:]
    assert [row.design.price for row in plan.frontier] == pytest.approx([branch.design.price for branch in frontier])
    assert [row.objective_percent for row in plan.frontier] == pytest.approx(
        [100.0 * branch.objective for branch in frontier], rel=1e-9
    )
    rungs = plan.answers.ladder.rungs
    taken = [frozenset(name for _, name, _, _ in rung.bought) for rung in rungs]
    by_hand = ladder_by_hand(bench, every.branches, taken)
    assert taken == [names for names, _ in by_hand]
    assert [rung.choice.objective_percent for rung in rungs] == pytest.approx([error for _, error in by_hand], rel=1e-9)
    assert plan.answers.sampled + plan.answers.discarded == plan.feasible


def test_every_objective_is_among_the_benches() -> None:
    drawn = Counter(random_bench(seed).search.objective for seed in range(BENCHES))

    assert set(drawn) == set(OBJECTIVES)
    assert min(drawn["rms error"], drawn["worst error"]) >= 8


@pytest.mark.parametrize(
    ("objective", "coverage"),
    [*((one, 0.95) for one in OBJECTIVES), *(("worst error", one) for one in (0.5, 0.8, 0.99, 0.999, 0.9999))],
)
def test_no_sampled_error_lies_outside_the_bounds_of_its_closed_form(objective: str, coverage: float) -> None:
    ratios: list[float] = []
    for seed, procedure_place in product((0, 3, 7), range(7)):
        bench = random_bench(seed)
        bench = replace(
            bench, lesson=Lesson(5400.0, 900.0), purse=Purse("EUR", 900.0),
            search=replace(bench.search, objective=objective),  # type: ignore[arg-type]
        )  # fmt: skip
        sample, aim = Sample(TRIALS, seed), Aim(bench.search.objective, coverage)
        procedure, conditions = procedures_of(bench)[procedure_place], conditions_of(bench)
        use = next(vessels_of(bench))
        hardware = hardware_of(conditions, use.vessel, bench.heaters[seed % 2])
        columns = look_at(Cell(conditions, procedure, procedure_place, seed % 2, use, hardware, sample, aim)).columns
        pool = Pool(conditions, columns, sample, aim)
        some = range(0, len(columns), max(len(columns) // 40, 1))
        ratios += [float(pool.look(row).objective / pool.columns.estimate[row]) for row in some]

    assert len(ratios) > 100
    assert min(ratios) >= floor_of(aim, sample)
    assert max(ratios) <= slack_of(aim, sample)


def test_most_combinations_are_ruled_out_without_sampling() -> None:
    plan = plan_bench(random_bench(1), seed=3, trials=TRIALS)

    assert plan.answers is not None
    assert plan.answers.discarded > 0.8 * plan.feasible


def test_a_kit_needs_no_mass_set_to_be_counted() -> None:
    bench = random_bench(4)
    kits = [
        kit
        for procedure in procedures_of(bench)
        if not procedure.needs_mass_set
        for kit in kits_of(bench, procedure, bench.heaters[0], next(vessels_of(bench)))
    ]

    assert all(isinstance(kit, Kit) and kit.mass_set is None for kit in kits)
