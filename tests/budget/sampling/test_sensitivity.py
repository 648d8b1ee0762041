"""Variance shares: against closed forms, SALib's bootstrap, OpenTURNS, and the laws of a fair split."""

from __future__ import annotations

import numpy as np
import openturns as ot
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from SALib.analyze import sobol as salib
from SALib.sample import sobol as scheme

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Constant, Distribution, Exponential, Gamma, Normal, Rectangular
from budget.quantities.inputs import Correlation, InputQuantity
from budget.report import analyse, without_source
from budget.sampling.sensitivity import shapley_effects, sobol_indices

Correlations = tuple[Correlation, ...]


def model(equation: str, correlations: Correlations = (), /, **inputs: Distribution) -> MeasurementModel:
    quantities = tuple(InputQuantity(symbol, distribution) for symbol, distribution in inputs.items())
    return MeasurementModel("y", "", "", quantities, (), equation, correlations)


ISHIGAMI = model("sin(a) + 7*sin(b)**2 + 0.1*c**4*sin(a)", **dict.fromkeys("abc", Rectangular(-np.pi, np.pi)))


def test_indices_and_intervals_are_those_of_salibs_bootstrap() -> None:
    ours = sobol_indices(ISHIGAMI, base=1024, seed=3)
    problem = {"num_vars": 3, "names": ["a", "b", "c"], "bounds": [[-np.pi, np.pi]] * 3}
    a, b, c = scheme.sample(problem, 1024, calc_second_order=False, seed=3).T
    theirs = salib.analyze(
        problem, ISHIGAMI.evaluate({"a": a, "b": b, "c": c}), calc_second_order=False, num_resamples=2000, seed=1
    )

    assert ours.first == pytest.approx(theirs["S1"], abs=1e-12)
    assert ours.total == pytest.approx(theirs["ST"], abs=1e-12)
    # a bootstrap of 2000 resamples has a standard error of 1.6 %; four of them, and terms of order 1/1024
    assert ours.first_interval[:, 1] - ours.first == pytest.approx(theirs["S1_conf"], rel=0.08)
    assert ours.total_interval[:, 1] - ours.total == pytest.approx(theirs["ST_conf"], rel=0.08)


@pytest.mark.slow
def test_intervals_of_replicates_cover_in_ninety_five_of_a_hundred_repeats() -> None:
    # exact: Ishigami's function (Sobol' and Levitan 1999) with a = 7, b = 0.1; its shares by closed form
    b = 0.1
    variance = 0.5 + 7.0**2 / 8 + b * np.pi**4 / 5 + b**2 * np.pi**8 / 18
    one = 0.5 * (1 + b * np.pi**4 / 5) ** 2
    both = b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    first = np.array([one, 7.0**2 / 8, 0.0]) / variance
    total = np.array([one + both, 7.0**2 / 8, both]) / variance
    repeats = [sobol_indices(ISHIGAMI, base=256, seed=seed, replicates=8) for seed in range(60)]

    held = np.array(
        [
            np.mean([(low <= exact) & (exact <= high) for low, high in rows], axis=0)
            for rows, exact in (
                ([each.first_interval.T for each in repeats], first),
                ([each.total_interval.T for each in repeats], total),
            )
        ]
    )
    assert np.min(held) >= 0.85
    assert 0.92 <= np.mean(held) <= 0.985
    # far narrower than random points of as many evaluations would give
    single = sobol_indices(ISHIGAMI, base=2048, seed=1)
    assert np.median([np.ptp(r.total_interval[1]) for r in repeats]) < 0.5 * np.ptp(single.total_interval[1])


def test_an_independent_library_finds_the_same_indices() -> None:
    ot.RandomGenerator.SetSeed(5)
    function = ot.SymbolicFunction(["a", "b", "c"], ["a * b^2 + c^2"])
    joint = ot.JointDistribution([ot.Normal(2.0, 0.3), ot.Uniform(0.5, 1.5), ot.Exponential(2.0)])
    size = 1 << 14
    design = ot.SobolIndicesExperiment(joint, size).generate()
    theirs = ot.SaltelliSensitivityAlgorithm(design, function(design), size)
    ours = sobol_indices(
        model("a * b**2 + c**2", a=Normal(2.0, 0.3), b=Rectangular(0.5, 1.5), c=Exponential(0.5)), base=1 << 14
    )

    assert ours.first == pytest.approx(np.asarray(theirs.getFirstOrderIndices()), abs=0.03)
    assert ours.total == pytest.approx(np.asarray(theirs.getTotalOrderIndices()), abs=0.03)


@given(st.lists(st.floats(0.2, 3.0), min_size=2, max_size=5))
@settings(max_examples=15, deadline=None)
def test_a_sum_of_independent_quantities_shares_by_their_variances(widths: list[float]) -> None:
    symbols = "abcde"[: len(widths)]
    inputs: dict[str, Distribution] = {s: Normal(1.0, u) for s, u in zip(symbols, widths, strict=True)}
    shares = np.square(widths) / np.sum(np.square(widths))
    found = sobol_indices(model("+".join(symbols), **inputs), base=4096)

    assert found.first == pytest.approx(shares, abs=0.01)
    assert found.total == pytest.approx(shares, abs=0.01)


def test_constants_have_no_index_and_order_does_not_matter() -> None:
    found = sobol_indices(model("a * k + b", k=Constant(3.0), b=Normal(0, 1), a=Normal(0, 1)))

    assert found.symbols == ("b", "a")
    assert found.first == pytest.approx([0.1, 0.9], abs=0.01)


def test_a_note_says_where_single_shares_mislead() -> None:
    assert "acting together" in sobol_indices(model("a * b", a=Normal(0, 1), b=Normal(0, 1))).note
    assert "whole steps" in sobol_indices(model("floor(a) + b", a=Rectangular(0, 9), b=Normal(0, 1))).note
    assert sobol_indices(model("a + b", a=Normal(0, 1), b=Normal(0, 1))).note == ""


def test_correlated_inputs_are_sent_to_shapley_effects() -> None:
    with pytest.raises(BudgetError, match=r"must have independent inputs \(got correlation among a, b\)"):
        sobol_indices(model("a + b", (Correlation(("a", "b"), 0.5),), a=Normal(0, 1), b=Normal(0, 1)))


def closed_form(slopes: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """
    Shapley effects of a linear model of normal inputs by its definition.

    Var(E[Y|X_S]) = βᵀ Σ_·S Σ_SS⁻¹ Σ_S· β (Owen and Prieur 2017, On Shapley value for measuring importance of
    dependent inputs, SIAM/ASA J. Uncertain. Quantif. 5, section 5; formula from memory).
    """
    from itertools import permutations

    count = len(slopes)
    total = slopes @ matrix @ slopes

    def worth(subset: tuple[int, ...]) -> float:
        if not subset:
            return 0.0
        s = list(subset)
        across = matrix[:, s]
        return float(slopes @ across @ np.linalg.solve(matrix[np.ix_(s, s)], across.T @ slopes) / total)

    effects = np.zeros(count)
    orders = list(permutations(range(count)))
    for order in orders:
        for place, index in enumerate(order):
            effects[index] += (worth(order[: place + 1]) - worth(order[:place])) / len(orders)
    return effects


@pytest.mark.parametrize("r", [0.0, 0.5, -0.7, 0.95])
def test_shapley_effects_of_a_linear_normal_model_are_the_closed_form(r: float) -> None:
    slopes, u = np.array([1.0, 2.0, -1.0]), np.array([1.0, 0.5, 0.7])
    matrix = np.array([[1.0, r, 0.0], [r, 1.0, 0.2], [0.0, 0.2, 1.0]]) * np.outer(u, u)
    correlations = (Correlation(("a", "b"), r), Correlation(("b", "c"), 0.2))
    inputs: dict[str, Distribution] = {s: Normal(0.0, float(w)) for s, w in zip("abc", u, strict=True)}
    found = shapley_effects(model("a + 2*b - c", correlations, **inputs), base=1 << 14)

    assert found.effects == pytest.approx(closed_form(slopes, matrix), abs=0.01)


def test_shapley_effects_of_two_inputs_are_known_in_closed_form() -> None:
    # Y = X1 + X2, unit variances, correlation r: each gets one half, whatever r
    m = model("a + b", (Correlation(("a", "b"), 0.8),), a=Normal(0, 1), b=Normal(0, 1))

    assert shapley_effects(m).effects == pytest.approx([0.5, 0.5], abs=0.01)


@given(r=st.floats(-0.9, 0.9), u=st.floats(0.2, 2.0))
@settings(max_examples=12, deadline=None)
def test_shapley_effects_sum_to_one_and_lie_between_first_and_total_without_correlation(r: float, u: float) -> None:
    inputs: dict[str, Distribution] = {"a": Gamma(2.0, 1.0), "b": Normal(1.0, u), "c": Rectangular(0.0, 2.0)}
    joined = shapley_effects(model("a * b + c", (Correlation(("a", "b"), r),), **inputs), base=1024)
    apart = shapley_effects(model("a * b + c", **inputs), base=1024)

    assert np.sum(joined.effects) == pytest.approx(1.0, abs=1e-9)
    assert np.all(apart.first - 0.05 <= apart.effects)
    assert np.all(apart.effects <= apart.total + 0.05)


def test_many_inputs_are_split_along_random_orders() -> None:
    symbols = "abcdefghijkl"
    inputs: dict[str, Distribution] = {s: Normal(0.0, 1.0 + k) for k, s in enumerate(symbols)}
    found = shapley_effects(model("+".join(symbols), (Correlation(("a", "b"), 0.5),), **inputs), base=512)
    variances = np.square(1.0 + np.arange(12))

    assert np.sum(found.effects) == pytest.approx(1.0, abs=1e-9)
    assert found.effects[11] == pytest.approx(144.0 / (np.sum(variances) + 2.0), abs=0.03)


def test_without_a_source_the_uncertainty_falls_by_what_its_share_says() -> None:
    m = model("a + b + c", a=Normal(0, 3), b=Rectangular(-2, 2), c=Normal(0, 1))
    whole = analyse(m)
    left = without_source(m)

    for symbol, share in zip(whole.sobol.symbols, whole.sobol.total, strict=True):  # type: ignore[union-attr]
        expected = whole.simulation.standard_uncertainty * np.sqrt(1.0 - share)
        assert left[symbol] == pytest.approx(expected, rel=0.02)


def test_an_equation_without_spread_has_no_shares() -> None:
    found = sobol_indices(model("0 * a + 3", a=Normal(0, 1)))

    assert (found.first.tolist(), found.total.tolist()) == ([0.0], [0.0])
