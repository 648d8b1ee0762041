"""Simulation: against closed forms, an independent library, and its own laws."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import openturns as ot
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import (
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
from budget.quantities.inputs import Correlation, InputQuantity
from budget.report import validate
from budget.sampling.draws import sampler
from budget.sampling.montecarlo import simulate
from budget.sampling.quasirandom import scrambled_net, uniform_draws
from budget.sampling.replicates import shortest_interval

Correlations = tuple[Correlation, ...]


def model(equation: str, correlations: Correlations = (), /, **inputs: Distribution) -> MeasurementModel:
    quantities = tuple(InputQuantity(symbol, distribution) for symbol, distribution in inputs.items())
    return MeasurementModel("y", "", "", quantities, (), equation, correlations)


METHODS = ["quasi", "plain"]


@pytest.mark.parametrize("method", METHODS)
def test_a_product_of_lognormal_quantities_is_lognormal(method: Any) -> None:
    m = model("a * b / c", a=Lognormal(2.0, 0.2), b=Lognormal(3.0, 0.6), c=Lognormal(1.0, 0.1))
    sigmas = [math.sqrt(math.log1p((d.standard_uncertainty / d.mean) ** 2)) for d in m.distributions.values()]
    sigma = math.hypot(*sigmas)
    centre = math.log(6.0) - 0.5 * sigmas[0] ** 2 - 0.5 * sigmas[1] ** 2 + 0.5 * sigmas[2] ** 2
    exact = scipy.stats.lognorm(sigma, scale=math.exp(centre))
    found = simulate(m, 400_000, seed=2, method=method)
    errors = np.maximum(found.errors, 1e-12)

    assert abs(found.estimate - exact.mean()) < 6.0 * errors[0]
    assert abs(found.standard_uncertainty - exact.std()) < 6.0 * errors[1]
    assert abs(found.interval_symmetric[0] - exact.ppf(0.025)) < 6.0 * errors[2]
    assert abs(found.interval_symmetric[1] - exact.ppf(0.975)) < 6.0 * errors[3]


@pytest.mark.parametrize("method", METHODS)
def test_the_shortest_interval_of_an_exponential_quantity_begins_at_its_bound(method: Any) -> None:
    # JCGM 101:2008, 7.7.4; exact: from 0 to -ln 0.05 times the mean
    found = simulate(model("a", a=Exponential(2.0)), 400_000, seed=1, method=method)

    assert found.interval_shortest == pytest.approx((0.0, -2.0 * math.log(0.05)), abs=0.03)


@pytest.mark.parametrize("size", [1e-55, 1e55])
def test_the_unit_that_a_quantity_is_stated_in_does_not_matter(size: float) -> None:
    once = simulate(model("a * b", a=Normal(1.0, 0.1), b=Rectangular(1.0, 2.0)), 8192, seed=2)
    scaled = simulate(model("a * b", a=Normal(size, 0.1 * size), b=Rectangular(1.0, 2.0)), 8192, seed=2)

    assert scaled.standard_uncertainty == pytest.approx(size * once.standard_uncertainty, rel=1e-6)
    assert scaled.interval_symmetric == pytest.approx(size * np.array(once.interval_symmetric), rel=1e-3)


@pytest.mark.parametrize("trials", [1 << 16, 1 << 17, 1 << 20])
@pytest.mark.parametrize("method", METHODS)
def test_the_distribution_that_is_drawn_is_that_of_the_outcomes(method: Any, trials: int) -> None:
    # the exact quantiles of a normal quantity; every second or fourth of Sobol' points would leave half of it out
    found = simulate(model("a + b", a=Normal(3.0, 0.6), b=Normal(1.0, 0.8)), trials, seed=4, method=method)
    places = np.array([25, 250, 500, 750, 975])

    assert found.probabilities[places] == pytest.approx(places / 1000)
    assert found.values[places] == pytest.approx(4.0 + special.ndtri(places / 1000), abs=0.03)


def test_an_independent_library_agrees_on_the_same_model() -> None:
    ot.RandomGenerator.SetSeed(3)
    function = ot.SymbolicFunction(["a", "b", "c", "d"], ["a * b^2 / (c + d) + sin(a)"])
    marginals = [ot.Normal(2.0, 0.1), ot.Uniform(0.9, 1.4), ot.Gamma(4.0, 2.0), ot.Triangular(1.0, 1.5, 2.0)]
    size = 400_000
    theirs = np.asarray(function(ot.JointDistribution(marginals).getSample(size)))[:, 0]
    ours = simulate(
        model(
            "a * b**2 / (c + d) + sin(a)",
            a=Normal(2.0, 0.1),
            b=Rectangular(0.9, 1.4),
            c=Gamma(2.0, 1.0),
            d=Triangular(1.0, 2.0),
        ),
        400_000,
    )
    spread = float(np.std(theirs))
    ends = np.quantile(theirs, [0.025, 0.975])

    assert ours.estimate == pytest.approx(float(np.mean(theirs)), abs=5.0 * spread / math.sqrt(size))
    assert ours.standard_uncertainty == pytest.approx(spread, rel=5.0 / math.sqrt(size))
    assert ours.interval_symmetric == pytest.approx((ends[0], ends[1]), abs=0.015 * spread)


def test_an_independent_library_agrees_on_correlated_inputs() -> None:
    ot.RandomGenerator.SetSeed(4)
    copula = ot.NormalCopula(ot.CorrelationMatrix(2, [1.0, 0.7, 0.7, 1.0]))
    joint = ot.JointDistribution([ot.Exponential(0.5), ot.Uniform(0.0, 3.0)], copula)
    theirs = np.asarray(ot.SymbolicFunction(["a", "b"], ["a * b"])(joint.getSample(400_000)))[:, 0]
    correlation = (Correlation(("a", "b"), 0.7),)
    ours = simulate(model("a * b", correlation, a=Exponential(2.0), b=Rectangular(0.0, 3.0)), 400_000)

    assert ours.estimate == pytest.approx(float(np.mean(theirs)), rel=0.01)
    assert ours.standard_uncertainty == pytest.approx(float(np.std(theirs)), rel=0.015)
    assert ours.interval_symmetric[1] == pytest.approx(float(np.quantile(theirs, 0.975)), rel=0.015)


@pytest.mark.parametrize("r", [1.0, -1.0, 0.4])
def test_correlated_normal_inputs_are_exactly_jointly_normal(r: float) -> None:
    found = simulate(model("a + b", (Correlation(("a", "b"), r),), a=Normal(0, 3), b=Normal(0, 4)), 65536)
    exact = math.sqrt(25 + 24 * r)

    assert found.standard_uncertainty == pytest.approx(exact, rel=1e-4)
    assert found.interval_symmetric[1] == pytest.approx(1.959964 * exact, rel=1e-2)


@given(seed=st.integers(0, 2**40), workers=st.integers(2, 4))
@settings(max_examples=8, deadline=None)
def test_the_same_seed_gives_the_same_bytes_for_any_number_of_workers(seed: int, workers: int) -> None:
    m = model("a * b", a=Normal(2, 0.1), b=StudentT(3, 0.1, 5))
    for method in METHODS:
        one = simulate(m, 40_000, seed=seed, method=method)  # type: ignore[arg-type]
        many = simulate(m, 40_000, seed=seed, method=method, workers=workers)  # type: ignore[arg-type]

        assert one.estimate == many.estimate
        assert one.interval_symmetric == many.interval_symmetric
        assert one.interval_shortest == many.interval_shortest
        assert np.array_equal(one.values, many.values)


def test_another_seed_gives_another_answer_within_the_stated_error() -> None:
    m = model("exp(a) * b", a=Normal(0, 0.3), b=Gamma(3, 1))
    found = [simulate(m, 65536, seed=seed) for seed in range(12)]
    estimates = np.array([f.standard_uncertainty for f in found])
    stated = np.median([f.errors[1] for f in found])

    assert len(set(estimates)) == 12
    assert 0.4 * stated < np.std(estimates, ddof=1) < 2.5 * stated  # chi with 11 degrees of freedom, and a median of 7


@given(p=st.floats(0.5, 0.98))
@settings(max_examples=10, deadline=None)
def test_intervals_nest_and_the_shortest_is_no_longer_than_the_symmetric(p: float) -> None:
    m = model("a * b", a=Lognormal(1, 0.5), b=Exponential(1))
    narrow, wide = simulate(m, 20_000, coverage=p), simulate(m, 20_000, coverage=p + 0.01)

    assert wide.interval_symmetric[0] <= narrow.interval_symmetric[0]
    assert narrow.interval_symmetric[1] <= wide.interval_symmetric[1]
    assert np.ptp(narrow.interval_shortest) <= np.ptp(narrow.interval_symmetric) * 1.001


@given(a=st.floats(0.5, 2.0), u=st.floats(0.01, 0.1))
@settings(max_examples=10, deadline=None)
def test_a_monotone_equation_takes_quantiles_to_quantiles(a: float, u: float) -> None:
    found = simulate(model("exp(a)", a=Normal(a, u)), 65536)

    assert found.interval_symmetric == pytest.approx(
        (math.exp(a - 1.959964 * u), math.exp(a + 1.959964 * u)), rel=0.002
    )


def test_the_default_stops_when_its_error_is_within_the_tolerance() -> None:
    found = simulate(model("a * b", a=Normal(10, 0.1), b=Rectangular(1, 2)))

    assert found.converged
    assert 2.0 * max(found.errors) <= found.numerical_tolerance
    assert found.trials < 300_000


def test_a_t_distribution_of_two_degrees_does_not_settle_and_says_so() -> None:
    assert not simulate(model("a", a=StudentT(0, 1, 2)), 200_000).converged


def test_a_wildly_bent_model_comes_out_right() -> None:
    # y = a² about 0: the slope there is nothing; exact mean 1, standard deviation √2, end points of χ²(1)
    found = simulate(model("a**2", a=Normal(0, 1)), 400_000)

    assert found.estimate == pytest.approx(1.0, abs=1e-4)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(2.0), abs=2e-3)
    ends = (float(scipy.stats.chi2.ppf(0.025, 1)), float(scipy.stats.chi2.ppf(0.975, 1)))
    assert found.interval_symmetric == pytest.approx(ends, rel=0.05, abs=1e-3)


VARIED = [
    model("a * b / c", (Correlation(("a", "b"), 0.7),), a=Normal(2, 0.2), b=Normal(3, 0.3), c=Lognormal(1, 0.2)),
    model("a * b + c * d", a=Rectangular(1, 2), b=StudentT(1, 0.1, 4), c=Gamma(2, 1), d=Normal(1, 0.4)),
    model("(a - b)**2 * c", (Correlation(("a", "b"), -0.5),), a=Normal(0, 1), b=Rectangular(0, 3), c=Exponential(1)),
    model("max(a, 1) * b + floor(4 * c)", a=Normal(1.1, 0.3), b=Triangular(1, 3), c=Rectangular(0, 1)),
    model("exp(a) * sin(b)", a=Normal(0, 0.5), b=Rectangular(0, 3.0)),
]


@pytest.mark.parametrize("number", range(len(VARIED)))
def test_nets_and_plain_sampling_agree(number: int) -> None:
    quasi = simulate(VARIED[number], 1 << 18, seed=3)
    plain = simulate(VARIED[number], 2_000_000, seed=4, method="plain")
    error = np.hypot(quasi.errors, plain.errors)
    ours = (quasi.estimate, quasi.standard_uncertainty, *quasi.interval_symmetric)
    theirs = (plain.estimate, plain.standard_uncertainty, *plain.interval_symmetric)

    assert np.all(np.abs(np.subtract(ours, theirs)) < 5.0 * error + 1e-12)


def test_whole_counts_are_simulated_as_they_jump() -> None:
    # floor of a rectangular quantity on (0, 4): 0, 1, 2, 3 equally likely; mean 1.5, variance 15/12
    found = simulate(model("floor(a)", a=Rectangular(0, 4)), 65536)

    assert found.estimate == pytest.approx(1.5, abs=1e-3)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(1.25), abs=1e-3)


@pytest.mark.parametrize("method", METHODS)
def test_without_uncertain_inputs_the_value_is_certain(method: Any) -> None:
    found = simulate(model("a * 2", a=Constant(3.0)), 1000, method=method)

    assert (found.estimate, found.standard_uncertainty, found.interval_symmetric) == (6.0, 0.0, (6.0, 6.0))


@pytest.mark.parametrize("method", METHODS)
def test_a_logarithm_of_negative_draws_is_refused_with_symbol_and_share(method: Any) -> None:
    message = r"equation of y: .*no value in \d+ of \d+ trials \(.* %\): log needs a positive number, not met through a"

    with pytest.raises(BudgetError, match=message):
        simulate(model("log(a) * b", a=Normal(1, 0.5), b=Normal(1, 0.1)), 100_000, method=method)


def test_rare_draws_without_a_value_are_left_out_and_told() -> None:
    found = simulate(model("sqrt(a)", a=Normal(4, 1)), 400_000, method="plain")

    assert 0 < found.invalid < 100
    assert "sqrt needs a number that is not negative, not met through a" in found.note


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"trials": 10}, r"trials: must be at least 100 \(got 10\)"),
        ({"seed": -1}, r"seed: must not be negative \(got -1\)"),
        ({"coverage": 0.0}, r"coverage: must lie between 0 and 1"),
        ({"method": "magic"}, r"method: must be quasi or plain \(got magic\)"),
    ],
)
def test_an_argument_out_of_range_is_refused(arguments: dict[str, Any], message: str) -> None:
    with pytest.raises(BudgetError, match=message):
        simulate(model("a", a=Normal(0, 1)), **arguments)


def test_clause_8_tells_where_propagation_may_be_trusted() -> None:
    # JCGM 101:2008, 8.1: a linear model of normal inputs agrees, a square about nothing does not
    straight, bent = model("a + b", a=Normal(0, 1), b=Normal(0, 1)), model("a**2", a=Normal(0.1, 1))

    assert validate(propagate(straight), simulate(straight)).valid
    assert not validate(propagate(bent), simulate(bent, 100_000)).valid
    assert "do not agree" in validate(propagate(bent), simulate(bent, 100_000)).sentence()


@pytest.mark.parametrize("exponent", [1, 5, 10])
def test_every_net_puts_one_point_in_each_equal_slice_of_every_input(exponent: int) -> None:
    size = 1 << exponent
    points = uniform_draws(7, size, seed=5)

    assert points.shape == (size, 7)
    for column in points.T:
        assert np.array_equal(np.sort(np.floor(column * size)), np.arange(size))


def test_points_are_inside_the_open_cube_whatever_their_number() -> None:
    points = uniform_draws(3, 10_001, seed=0)

    assert points.shape == (10_001, 3)
    assert 0.0 < points.min() < points.max() < 1.0


def test_a_net_is_as_even_as_scipys() -> None:
    ours = scipy.stats.qmc.discrepancy(uniform_draws(6, 1024, seed=1))
    theirs = scipy.stats.qmc.discrepancy(scipy.stats.qmc.Sobol(6, rng=1).random(1024))
    random = scipy.stats.qmc.discrepancy(np.random.default_rng(1).random((1024, 6)))

    assert ours < 2.0 * theirs < random


def test_blocks_of_a_net_can_be_made_in_any_order() -> None:
    net = scrambled_net(4, 14, np.random.default_rng(3))
    blocks = [net.block(index) for index in range(net.blocks)]

    assert np.array_equal(net.block(2), blocks[2])
    assert np.unique(np.concatenate(blocks, axis=1)[0]).size == 1 << 14


@pytest.mark.parametrize("method", METHODS)
def test_many_trials_keep_the_end_points(method: Any) -> None:
    # a gamma quantity of shape 3 and scale 2: exact quantiles and moments
    exact = scipy.stats.gamma(3.0, scale=2.0)
    found = simulate(model("a", a=Gamma(6.0, math.sqrt(12.0))), 1 << 20, seed=7, method=method)

    assert found.trials == 1 << 20
    assert found.estimate == pytest.approx(6.0, abs=4.0 * found.errors[0])
    assert found.standard_uncertainty == pytest.approx(math.sqrt(12.0), abs=4.0 * found.errors[1])
    assert found.interval_symmetric[0] == pytest.approx(exact.ppf(0.025), abs=4.0 * found.errors[2] + 1e-4)
    assert found.interval_symmetric[1] == pytest.approx(exact.ppf(0.975), abs=4.0 * found.errors[3] + 1e-4)
    assert found.values[500] == pytest.approx(exact.median(), abs=0.02)


def test_the_shortest_interval_of_a_symmetric_quantity_is_the_symmetric_one() -> None:
    below = np.linspace(0.0, 0.05, 2003)[1:-1]
    low, high = Normal(0, 1).ppf(below), Normal(0, 1).ppf(below + 0.95)

    assert shortest_interval(low, high) == pytest.approx((-1.95996, 1.95996), abs=2e-3)


def test_draws_of_a_model_have_the_correlation_asked_for() -> None:
    correlations = (Correlation(("a", "b"), 0.8), Correlation(("b", "c"), -0.5))
    m = model("a + b + c + d", correlations, a=Normal(0, 1), b=Normal(5, 2), c=Normal(0, 1), d=Rectangular(0, 1))
    draws = sampler(m).draws(uniform_draws(4, 1 << 14, seed=1).T)
    matrix = np.corrcoef([draws[symbol] for symbol in "abcd"])

    assert matrix[0, 1] == pytest.approx(0.8, abs=0.005)
    assert matrix[1, 2] == pytest.approx(-0.5, abs=0.005)
    assert matrix[0, 3] == pytest.approx(0.0, abs=0.01)
