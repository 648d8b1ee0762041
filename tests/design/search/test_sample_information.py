"""What a trial is worth, against closed forms, and how sure the ranking is, against campaigns played over and over."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import special

from budget.quantities.distributions import Lognormal, Normal
from design.bench import Bench, SearchRange
from design.chosen import Design
from design.search.information import mean_squares, tied_with_first, trials_of, worth
from design.search.planning import plan_bench, quiet
from design.search.pool import Pool
from design.search.ranking import Appraisal, appraise
from design.search.sample import Aim, Sample
from design.search.sureness import LEARNT, near_best_probabilities, sureness_of
from design.search.survey import survey
from design.search.work import Workforce

TRIALS = 8192


def unit_loss(distance: float) -> float:
    """Expected value of max(z - distance, 0) for a standard normal z: the unit normal loss integral."""
    density = math.exp(-0.5 * distance**2) / math.sqrt(2.0 * math.pi)
    return density - distance * float(special.ndtr(-distance))


@pytest.mark.parametrize("noise", [0.0, 0.5, 1.0, 3.0])
def test_the_value_of_choosing_is_that_of_the_linear_normal_case(noise: float) -> None:
    # Raiffa and Schlaifer 1961, Applied Statistical Decision Theory, ch. 5A (from memory): with a difference of losses
    # a + b x, x ~ N(0, 1), seen with an error of standard deviation noise, EVSI = s u(|a|/s), s = b/sqrt(1 + noise^2),
    # u the unit normal loss integral. Design 1 has the loss 1, design 2 the loss 1 + a + b x.
    a, b = 0.02, 0.1
    x = np.asarray(special.ndtri((np.arange(TRIALS) + 0.5) / TRIALS))
    seen = x + noise * np.random.default_rng(8).permutation(x)
    losses = np.array([np.ones(TRIALS), 1.0 + a + b * x])
    errors, scatter = np.sqrt(losses), np.zeros(2)

    found = worth("a trial", seen, (errors, scatter, np.array([False, False])))
    spread = b / math.sqrt(1.0 + noise**2)
    expected = spread * unit_loss(a / spread)

    assert found.choosing_percent == pytest.approx(100.0 * (1.0 - math.sqrt(1.0 - expected)), rel=0.04)


def test_a_trial_without_error_tells_which_is_the_best() -> None:
    x = np.random.default_rng(1).standard_normal(TRIALS)
    errors = np.array([0.01 * x, np.full(TRIALS, 0.008)])

    found = worth("a trial", np.abs(x), (errors, np.zeros(2), np.array([False, False])))

    assert found.best_probability > 0.95
    assert found.choosing_percent > 0.0


def test_a_trial_of_something_else_is_worth_nothing() -> None:
    rng = np.random.default_rng(2)
    errors = 0.01 * rng.standard_normal((3, TRIALS))

    found = worth("a trial", rng.standard_normal(TRIALS), (errors, np.zeros(3), np.full(3, fill_value=True)))

    assert found.choosing_percent == pytest.approx(0.0, abs=0.01)
    assert found.correcting_percent == pytest.approx(0.0, abs=0.01)


def test_a_correction_takes_off_what_a_trial_explains() -> None:
    # One design with the error 0.01 x, seen without error: nothing is left of it but the scatter.
    x = np.asarray(special.ndtri((np.arange(TRIALS) + 0.5) / TRIALS))

    found = worth("a trial", x, (0.01 * x[None], np.array([1e-6]), np.array([True])))

    assert found.choosing_percent == 0.0
    assert found.correcting_percent == pytest.approx(100.0 * (math.sqrt(1e-4 + 1e-6) - 1e-3), rel=0.02)


def two_close_designs(bench: Bench) -> tuple[Appraisal, Appraisal]:
    """Two designs that are close to each other: the same kit with and without a correction, losses hardly known."""
    tall = tuple(replace(vessel, height=0.24) for vessel in bench.vessels)
    bench = replace(
        bench,
        shelves={**bench.shelves, "vessel": tall},
        search=SearchRange(procedures=("fixed-mass-kept-on",), masses=(0.17,), repeats=(2,)),
        knowledge={"wall_loss": Lognormal(16.0, 9.0), "carry_over": Normal(0.03, 0.003)},
    )
    sample, aim = Sample(TRIALS, 4), Aim("rms error", 0.95)
    found = survey(bench, sample, aim, Workforce(), progress=quiet)
    pool = Pool(found.conditions, found.combinations.columns, sample, aim)
    ways: dict[str, Design] = {}
    for leader in pool.leaders(40):
        branch = leader.design
        if (
            branch.kit.balance.name == "beam"
            and branch.kit.meter.name == "pulse"
            and branch.kit.heater.name == "heater"
        ):
            ways.setdefault(branch.correction, branch)
    return tuple(appraise(ways[way], sample, aim) for way in ("calculated", "none"))  # type: ignore[return-value]


def test_how_sure_a_choice_is_by_brute_force(bench: Bench) -> None:
    """Schools and lessons of plain random numbers: losses, droplets, stem and meter drawn once a school."""
    pair = two_close_designs(bench)
    sample, aim = Sample(TRIALS, 3), Aim("rms error", 0.95)
    claimed = sureness_of([one.design for one in pair], sample, aim, 0.002)
    rng = np.random.default_rng(77)
    schools, lessons = 1500, 400
    shared: dict[str, np.ndarray] = {}
    errors = []
    for appraisal in pair:
        terms = {term.symbol: term for term in appraisal.design.terms}
        values: dict[str, np.ndarray] = {}
        for symbol, term in terms.items():
            size = float(np.ravel(term.size)[0])
            if term.base.standard_uncertainty == 0.0:
                values[symbol] = np.asarray(size * term.base.mean)
            elif symbol in LEARNT:
                drawn = shared.setdefault(symbol, rng.random((schools, 1)))
                values[symbol] = size * term.base.ppf(drawn)
            else:
                values[symbol] = size * term.base.ppf(rng.random((schools, lessons)))
        reference = float(np.ravel(terms["L_ref"].size)[0])
        reported = appraisal.design.program.evaluate(values) / reference - 1.0
        errors.append(np.sqrt(np.mean(reported**2, axis=1)))
    found = np.stack(errors)
    regret = 100.0 * (found - found.min(axis=0)).mean(axis=1)

    for place, one in enumerate(claimed):
        assert one.best == pytest.approx(float((found[place] <= found.min(axis=0)).mean()), abs=0.04)
        assert one.near == pytest.approx(float((found[place] <= found.min(axis=0) + 0.002).mean()), abs=0.04)
        assert one.regret_percent == pytest.approx(regret[place], abs=0.03)


def test_designs_that_are_far_apart_are_no_tie() -> None:
    rng = np.random.default_rng(3)
    errors = [0.005 * rng.standard_normal(TRIALS), 0.005 * rng.standard_normal(TRIALS)]

    assert tied_with_first([errors[0], errors[1] + 0.05], [0.0, 0.0], [0.005, 0.05], 0.002) == (0,)
    assert tied_with_first(errors, [0.0, 0.0], [0.005, 0.005], 0.002) == (0, 1)


def test_a_design_that_is_a_little_worse_whatever_the_losses_is_no_tie() -> None:
    error = 0.005 * np.random.default_rng(3).standard_normal(TRIALS)

    assert tied_with_first([error, error], [1e-6, 2e-6], [0.0051, 0.0052], 0.002) == (0,)
    squares = mean_squares([error, error], [1e-6, 2e-6])
    assert near_best_probabilities(np.sqrt(squares), 0.002).tolist() == [1.0, 1.0]


def test_knowledge_from_a_trial_lowers_the_error(bench: Bench) -> None:
    unsure = replace(bench, knowledge={"wall_loss": Lognormal(20.0, 10.0)}, purse=replace(bench.purse, amount=0.0))
    sure = replace(unsure, knowledge={"wall_loss": Normal(20.0, 1.0)})

    before, after = (plan_bench(each, seed=6, trials=2048) for each in (unsure, sure))

    assert before.recommended is not None
    assert after.recommended is not None
    assert after.recommended.objective_percent < before.recommended.objective_percent


def test_the_trial_of_what_is_least_known_is_named_first(bench: Bench) -> None:
    pair = two_close_designs(bench)

    trials = trials_of(pair, Sample(TRIALS, 4))

    assert trials[0].trial == "cooling_run"
    assert trials[0].choosing_percent > 0.0
    assert all(trial.correcting_percent >= trial.choosing_percent - 1e-9 for trial in trials)
