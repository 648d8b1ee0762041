"""The worst error in closed form: against known quantiles, and within its stated bounds for mixtures of all kinds."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from budget.distributions import (
    Arcsine,
    Constant,
    Distribution,
    Exponential,
    Gamma,
    Lognormal,
    Normal,
    Rectangular,
    StudentT,
    Triangular,
)
from budget.equation import compile_program
from design.search.estimate import floor_of, objective_from, slack_of
from design.search.expectation import Aim, Sample, objective_of, relative_errors
from design.search.moments import knowledge_of, moments
from design.search.sharp import EDGES, FEW_EDGES, at_mean, points_of, sharp_among, shifts_of
from design.search.worst_error import RESERVE, least_factor, quantile
from design.terms import InputTerm, setting

COVERAGES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 0.999, 0.9999)
BIASES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0)
SYMBOLS = ("s_splash", "W_wall", "e_meter")
PROGRAM = compile_program((), "L_ref * (1 + shift + c_1*s_splash + c_2*W_wall + c_3*e_meter)")

TAME: dict[str, Distribution] = {
    "normal": Normal(0.0, 1.0),
    "rectangular": Rectangular(-1.0, 1.0),
    "triangular": Triangular(-1.0, 1.0),
    "lognormal to 25 %": Lognormal(1.0, 0.25),
    "lognormal to 50 %": Lognormal(1.0, 0.5),
    "gamma": Gamma(1.0, 0.5),
}
DROPLETS = Lognormal(1.0, math.sqrt(math.expm1(math.log(3.0) ** 2)))
SHARP: dict[str, Distribution] = {
    "droplets": DROPLETS,
    "exponential": Exponential(1.0),
    "arcsine": Arcsine(-1.0, 1.0),
    "t": StudentT(0.0, 1.0, 4.0),
}
FAMILIES = TAME | SHARP


def mixture(families: Sequence[Distribution], parts: Sequence[float]) -> tuple[InputTerm, ...]:
    """Terms whose standard uncertainties are in the ratio of the parts, together 1 % of what is measured."""
    whole = 0.01 / math.hypot(*parts)
    sizes = [whole * part / family.standard_uncertainty for family, part in zip(families, parts, strict=True)]
    return tuple(
        InputTerm(symbol, symbol, "1", family, np.asarray(size))
        for symbol, family, size in zip(SYMBOLS, families, sizes, strict=True)
    )


def ratios(terms: Sequence[InputTerm], signs: Sequence[float], coverage: float, sample: Sample) -> np.ndarray:
    """Sampled worst error over the estimate, for every bias in ``BIASES``, either way."""
    aim = Aim("worst error", coverage)
    mean = sum(sign * float(knowledge_of(term, sample).mean) for sign, term in zip(signs, terms, strict=True))
    biases = 0.01 * np.array([*BIASES, *(-bias for bias in BIASES[1:])])
    turns = (setting(f"c_{place}", "sign", "1", sign) for place, sign in enumerate(signs, start=1))
    reference, shift = setting("L_ref", "reference", "J/kg", 2.26e6), setting("shift", "bias", "1", biases - mean)
    every = (*terms, *turns, reference, shift)
    known = {term.symbol: knowledge_of(term, sample) for term in every}
    sharp = sharp_among(terms, sample)[:2]
    edges = EDGES if len(sharp) < 2 else FEW_EDGES
    points = {term.symbol: points_of([term], sample, edges) for term in terms if term.symbol in sharp}
    shape = (1, biases.size)
    shifts = shifts_of(PROGRAM, known, points, shape)
    rest = {symbol: at_mean(value) if symbol in points else value for symbol, value in known.items()}
    found = moments(PROGRAM, rest, shape, {})
    estimate = objective_from(found.bias, found.variance, aim, shifts)[0]
    return np.asarray(objective_of(relative_errors(PROGRAM, every, sample), aim) / estimate)


def assert_within(terms: Sequence[InputTerm], signs: Sequence[float], coverage: float, sample: Sample) -> None:
    aim, found = Aim("worst error", coverage), ratios(terms, signs, coverage, sample)

    assert found.min() >= floor_of(aim, sample)
    assert found.max() <= slack_of(aim, sample)


@pytest.mark.parametrize("coverage", COVERAGES)
@pytest.mark.parametrize("bias", [0.0, 0.3, 1.0, 4.0])
def test_without_shifts_it_is_the_quantile_of_a_folded_normal_distribution(coverage: float, bias: float) -> None:
    found = quantile(np.array([-bias]), np.ones(1), np.ones(1), np.zeros((1, 1)), np.zeros((1, 1)), coverage)

    assert found[0] == pytest.approx(stats.foldnorm.ppf(coverage, bias), abs=0.002 * math.hypot(1.0, bias))


@pytest.mark.parametrize("coverage", COVERAGES)
def test_it_obeys_the_inequalities_of_chebyshev_and_of_vysochanskij_and_petunin(coverage: float) -> None:
    # Theory of Probability and Mathematical Statistics 21 (1980), 25-36, from memory: for one hump and r > 0,
    # P(|X| >= r) <= max(4 M/(9 r^2), 4 M/(3 r^2) - 1/3).
    bias = np.array(BIASES)
    size = quantile(bias, np.ones(bias.shape), np.ones(1), np.zeros((1, 1)), np.zeros((1, 1)), coverage)
    ratio = (1.0 + bias**2) / size**2

    assert np.all(1.0 - coverage <= 1.01 * ratio)
    assert np.all(1.0 - coverage <= 1.01 * np.maximum(4.0 * ratio / 9.0, 4.0 * ratio / 3.0 - 1.0 / 3.0))


def test_a_rectangular_quantity_alone_sets_the_least_factor_at_high_coverage() -> None:
    # By hand: a rectangular quantity without bias has the quantile q sqrt(3) standard uncertainties.
    for coverage in (0.99, 0.999, 0.9999):
        pure = coverage * math.sqrt(3.0) / stats.norm.ppf(0.5 + 0.5 * coverage)
        assert least_factor(coverage, 10**9) == pytest.approx(RESERVE * pure, rel=1e-3)


def test_shifts_make_a_mixture() -> None:
    weights, shifts = np.array([0.7, 0.2, 0.1]), np.array([-0.5, 1.0, 6.0])
    random = np.random.default_rng(3)
    draws = random.normal(0.3, 0.8, 1_000_000) + random.choice(shifts, 1_000_000, p=weights)

    for coverage in (0.5, 0.8, 0.95, 0.99):
        found = quantile(np.array([0.3]), np.array([0.64]), weights, shifts[:, None], np.zeros((3, 1)), coverage)
        assert found[0] == pytest.approx(np.quantile(np.abs(draws), coverage), rel=0.01)


@pytest.mark.parametrize("name", SHARP)
def test_points_have_mean_and_variance_of_the_draws(name: str) -> None:
    sample = Sample(1024, 5)
    term = InputTerm("s_splash", "", "1", SHARP[name], np.asarray(0.3))
    known, points = knowledge_of(term, sample), points_of([term], sample)
    values = points.values[:, :, 0, 0]

    assert points.weights.sum() == pytest.approx(1.0)
    assert points.weights @ values.mean(axis=1) == pytest.approx(float(known.mean), abs=1e-12)
    assert points.weights @ np.mean((values - known.mean) ** 2, axis=1) == pytest.approx(
        float(known.weight * (1.0 - known.weight) * (known.high - known.low) ** 2)
    )


@pytest.mark.parametrize("seed", range(8))
def test_points_stand_for_what_mean_and_variance_do_not_describe(seed: int) -> None:
    sample = Sample(8192, seed)

    def is_sharp(family: Distribution) -> bool:
        return bool(sharp_among([InputTerm("W_wall", "", "1", family, np.ones(()))], sample))

    assert not any(is_sharp(family) for family in (*TAME.values(), Constant(1.0)))
    assert all(is_sharp(SHARP[name]) for name in ("droplets", "exponential", "arcsine"))


@pytest.mark.slow
@pytest.mark.parametrize("trials", [512, 8192])
@pytest.mark.parametrize("coverage", COVERAGES)
def test_mixtures_of_any_two_families_stay_within_the_bounds(coverage: float, trials: int) -> None:
    for first in FAMILIES.values():
        for second in FAMILIES.values():
            for part in (0.0, 0.3, 0.5, 0.7, 1.0):
                terms = mixture((first, second, Normal(0.0, 1.0)), (math.sqrt(part), math.sqrt(1.0 - part), 0.02))
                for signs in ((1.0, 1.0, 1.0), (1.0, -1.0, 1.0)):
                    assert_within(terms, signs, coverage, Sample(trials, 1))


@settings(max_examples=150, deadline=None)
@given(
    names=st.tuples(st.sampled_from(list(FAMILIES)), st.sampled_from(list(TAME)), st.sampled_from(list(FAMILIES))),
    parts=st.tuples(st.floats(0.02, 1.0), st.floats(0.02, 1.0), st.floats(0.02, 1.0)),
    turned=st.tuples(st.booleans(), st.booleans(), st.booleans()),
    coverage=st.floats(0.5, 0.9999),
    seed=st.integers(0, 50),
)
def test_mixtures_of_three_quantities_stay_within_the_bounds(
    names: tuple[str, ...],
    parts: tuple[float, ...],
    turned: tuple[bool, ...],
    coverage: float,
    seed: int,
) -> None:
    signs = [-1.0 if turn else 1.0 for turn in turned]

    assert_within(mixture([FAMILIES[name] for name in names], parts), signs, coverage, Sample(1024, seed))
