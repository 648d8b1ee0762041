"""The law of propagation: limits, laws, and independent references."""

from __future__ import annotations

import math

import numpy as np
import pytest
import uncertainties
from hypothesis import example, given
from hypothesis import strategies as st
from uncertainties import umath

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.propagation import coverage_factor, propagate
from budget.quantities.correlation import correlation_matrix, square_root
from budget.quantities.distributions import Constant, Distribution, Normal, Rectangular, StudentT
from budget.quantities.inputs import Correlation, InputQuantity, type_a

small = st.floats(0.001, 0.2)
values = st.floats(0.5, 3.0)
coefficients = st.floats(-1.0, 1.0)

Correlations = tuple[Correlation, ...]


def model(equation: str, correlations: Correlations = (), /, **inputs: Distribution) -> MeasurementModel:
    quantities = tuple(InputQuantity(symbol, distribution) for symbol, distribution in inputs.items())
    return MeasurementModel("y", "", "", quantities, (), equation, correlations)


@given(a=values, b=values, ua=small, ub=small, r=coefficients)
def test_first_order_agrees_with_an_independent_library(a: float, b: float, ua: float, ub: float, r: float) -> None:
    covariance = [[ua**2, r * ua * ub], [r * ua * ub, ub**2]]
    x, y = uncertainties.correlated_values([a, b], covariance)
    theirs = umath.exp(-x) * y**2 / (1 + x) + umath.log(y)
    ours = propagate(
        model("exp(-a) * b**2 / (1 + a) + log(b)", (Correlation(("a", "b"), r),), a=Normal(a, ua), b=Normal(b, ub))
    )

    assert ours.estimate == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-6, abs=1e-9)


@given(a=values, b=values, u=small, factor=st.floats(0.01, 100.0))
def test_scaling_every_uncertainty_scales_the_first_order_result(a: float, b: float, u: float, factor: float) -> None:
    once = propagate(model("a * b", a=Normal(a, u), b=Normal(b, 2 * u)))
    scaled = propagate(model("a * b", a=Normal(a, factor * u), b=Normal(b, 2 * factor * u)))

    assert scaled.standard_uncertainty == pytest.approx(factor * once.standard_uncertainty, rel=1e-12)
    assert scaled.variance_shares == pytest.approx(once.variance_shares, rel=1e-9)


@given(ua=small, ub=small)
def test_correlation_of_plus_and_minus_one_adds_and_subtracts(ua: float, ub: float) -> None:
    def uncertainty(r: float) -> float:
        found = propagate(model("a + b", (Correlation(("a", "b"), r),), a=Normal(1, ua), b=Normal(1, ub)))
        return found.standard_uncertainty

    assert uncertainty(1.0) == pytest.approx(ua + ub, rel=1e-9)
    assert uncertainty(-1.0) == pytest.approx(abs(ua - ub), rel=1e-6, abs=1e-8)
    assert uncertainty(0.0) == pytest.approx(math.hypot(ua, ub), rel=1e-12)


@given(st.permutations(["a", "b", "c"]), small, small)
def test_the_order_of_the_inputs_does_not_matter(order: list[str], u: float, v: float) -> None:
    inputs: dict[str, Distribution] = {
        "a": Normal(1.0, u, 5),
        "b": Rectangular(1.0, 1.0 + v),
        "c": StudentT(2.0, u * v, 3),
    }
    one = propagate(model("a * b / c", **inputs), order=2)
    other = propagate(model("a * b / c", **{symbol: inputs[symbol] for symbol in order}), order=2)

    assert other.standard_uncertainty == pytest.approx(one.standard_uncertainty, rel=1e-12)
    assert other.effective_dof == pytest.approx(one.effective_dof, rel=1e-9)


@given(u=small, v=small, r=st.floats(-0.95, 0.95), x=values)
def test_second_order_is_exact_for_a_quadratic_of_normal_inputs(u: float, v: float, r: float, x: float) -> None:
    # variance of a² + a·b for jointly normal a, b: gᵀΣg + ½ tr((HΣ)²), with H constant
    covariance = np.array([[u**2, r * u * v], [r * u * v, v**2]])
    gradient, hessian = np.array([2 * x + 1.5, x]), np.array([[2.0, 1.0], [1.0, 0.0]])
    expected = gradient @ covariance @ gradient + 0.5 * np.trace(hessian @ covariance @ hessian @ covariance)
    correlation = (Correlation(("a", "b"), r),)
    found = propagate(model("a**2 + a*b", correlation, a=Normal(x, u), b=Normal(1.5, v)), order=2)

    assert found.standard_uncertainty**2 == pytest.approx(float(expected), rel=1e-9)


def test_second_order_has_the_third_derivatives_of_the_note() -> None:
    # JCGM 100:2008, 5.1.2 note: Σᵢ Σⱼ [½ fᵢⱼ² + fᵢ fᵢⱼⱼ] uᵢ² uⱼ², here for f = exp(a)·b by hand
    ua, ub, a, b = 0.1, 0.2, 0.5, 2.0
    e = math.exp(a)
    first = (e * b * ua) ** 2 + (e * ub) ** 2
    own = (0.5 * (e * b) ** 2 + e * b * e * b) * ua**4
    mixed = 2 * 0.5 * e**2 * ua**2 * ub**2 + (e * b * 0 + e * e) * ua**2 * ub**2
    found = propagate(model("exp(a) * b", a=Normal(a, ua), b=Normal(b, ub)), order=2)

    assert found.standard_uncertainty**2 == pytest.approx(first + own + mixed, rel=1e-12)


def test_type_a_inputs_alone_keep_their_degrees_of_freedom() -> None:
    readings = [10.1, 10.4, 9.9, 10.2, 10.3]
    found = propagate(model("2 * a", a=type_a(readings)))

    assert found.effective_dof == pytest.approx(4.0)
    assert found.standard_uncertainty == pytest.approx(2.0 * np.std(readings, ddof=1) / math.sqrt(5))
    assert found.coverage_factor == pytest.approx(2.776, abs=5e-4)  # JCGM 100:2008, Table G.2, t95(4) = 2.78


@given(ua=small, ub=small, nu=st.integers(1, 50), nv=st.integers(1, 50))
def test_effective_degrees_of_freedom_lie_between_the_fewest_and_their_sum(
    ua: float, ub: float, nu: int, nv: int
) -> None:
    found = propagate(model("a - b", a=Normal(1, ua, nu), b=Normal(1, ub, nv)))

    assert min(nu, nv) * (1 - 1e-9) <= found.effective_dof <= (nu + nv) * (1 + 1e-9)


@given(st.floats(0.5, 0.989), small)
def test_a_higher_coverage_gives_a_wider_interval_around_the_narrower(p: float, u: float) -> None:
    narrow, wide = (propagate(model("a**2", a=Normal(2.0, u, 6)), coverage).interval for coverage in (p, p + 0.01))

    assert wide[0] < narrow[0] < narrow[1] < wide[1]


def test_shares_sum_to_one_with_correlation_too() -> None:
    correlations = (Correlation(("a", "b"), 0.6), Correlation(("b", "c"), -0.3))
    found = propagate(model("a * b + c", correlations, a=Normal(1, 0.1), b=Normal(2, 0.1), c=Normal(0, 0.3)))

    assert sum(found.variance_shares.values()) == pytest.approx(1.0)


def test_a_constant_has_a_sensitivity_and_no_contribution() -> None:
    found = propagate(model("a * k", a=Normal(2, 0.1), k=Constant(3.0)))

    assert found.sensitivity_coefficients["k"] == pytest.approx(2.0)
    assert found.contributions["k"] == 0.0


def test_without_uncertainty_nothing_is_divided_by_zero() -> None:
    found = propagate(model("a * k", a=Constant(2.0), k=Constant(3.0)))

    assert (found.standard_uncertainty, found.effective_dof) == (0.0, math.inf)
    assert found.interval == (6.0, 6.0)


def test_a_step_is_met_by_a_difference_that_tells_its_error() -> None:
    # common practice, no source: over ± u = ± 10 the floor of a climbs 20, so its coefficient is one
    found = propagate(model("floor(a)", a=Normal(100.0, 10.0)))

    assert found.sensitivity_coefficients["a"] == pytest.approx(1.0)
    assert found.derivatives.differences["a"] == pytest.approx(0.0, abs=0.11)


def test_a_kink_at_the_estimate_is_met_by_a_difference() -> None:
    found = propagate(model("abs(a) + a", a=Normal(0.0, 0.1)))

    assert found.sensitivity_coefficients["a"] == pytest.approx(1.0)
    assert "a" in found.derivatives.differences


def test_an_impossible_set_of_correlations_names_the_pair() -> None:
    correlations = [Correlation(("a", "b"), 0.9), Correlation(("b", "c"), 0.9), Correlation(("a", "c"), -0.9)]
    message = (
        r"correlation between (a and c|b and c|a and b): coefficient must lie between .* not positive semi-definite"
    )

    with pytest.raises(BudgetError, match=message):
        propagate(model("a + b + c", tuple(correlations), a=Normal(0, 1), b=Normal(0, 1), c=Normal(0, 1)))


@given(st.lists(st.lists(st.floats(-1, 1), min_size=3, max_size=3), min_size=4, max_size=4))
@example([[1.0, 0.0, 0.0], [0.75, -7.860100962006835e-08, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
def test_the_root_of_a_correlation_matrix_gives_it_back_even_when_singular(rows: list[list[float]]) -> None:
    vectors = np.array(rows) + 1e-3
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    vectors = np.where(lengths > 1e-6, vectors / np.maximum(lengths, 1e-6), [[1.0, 0.0, 0.0]])
    matrix = vectors @ vectors.T  # rank 3 of 4: semi-definite
    root = square_root(matrix)

    assert root @ root.T == pytest.approx(matrix, abs=1e-12)


def test_the_matrix_leaves_out_pairs_with_constants() -> None:
    matrix = correlation_matrix(["a", "b"], [Correlation(("a", "b"), 0.2), Correlation(("a", "z"), 0.9)])

    assert matrix.tolist() == [[1.0, 0.2], [0.2, 1.0]]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"coverage": 1.0}, r"coverage: must lie between 0 and 1, such as 0.95 \(got 1\)"),
        ({"order": 3}, r"order: must be 1 or 2 \(got 3\)"),
    ],
)
def test_an_argument_out_of_range_is_refused(arguments: dict[str, float], message: str) -> None:
    with pytest.raises(BudgetError, match=message):
        propagate(model("a", a=Normal(0, 1)), **arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize("size", [1e200, 1e-200])
def test_quantities_whose_squares_leave_the_range_of_numbers_are_refused(size: float) -> None:
    with pytest.raises(BudgetError, match=r"contributions c·u between 1e-60 and 1e\+60; choose a larger or smaller"):
        propagate(model("a * b", a=Normal(size, 0.01 * size), b=Normal(1.0, 0.01)))


def test_an_uncertainty_lost_in_the_digits_of_its_value_is_refused() -> None:
    with pytest.raises(BudgetError, match=r"take a round value off first \(got 0.001 in 1e\+15\)"):
        propagate(model("a + b", a=Normal(1e15, 1e-3), b=Normal(0.0, 1e-3)))


def test_a_power_too_steep_to_differentiate_is_refused_without_a_warning() -> None:
    with pytest.raises(BudgetError, match="must have a value within one standard uncertainty"):
        propagate(model("a**a**a**a**a**(0 * a + 1) + b", a=Normal(2.0, 2.1), b=Normal(1.0, 0.1)))


def test_an_equation_without_a_value_at_the_estimates_is_refused() -> None:
    with pytest.raises(BudgetError, match="equation of y: must have a value"):
        propagate(model("log(a)", a=Normal(-1.0, 0.1)))


@pytest.mark.parametrize(
    ("faulty", "message"),
    [
        (lambda: model("a + c", a=Normal(0, 1)), "equation: c must be an input or an earlier intermediate"),
        (lambda: model("a", a=Normal(0, 1), b=Normal(0, 1)), "input b: must be used in an equation"),
        (lambda: model("a", (Correlation(("a", "z"), 0.5),), a=Normal(0, 1)), "must name inputs"),
        (lambda: model("a*b", (Correlation(("a", "b"), 1.5),), a=Normal(0, 1), b=Normal(0, 1)), "between -1 and 1"),
        (lambda: model("a", (Correlation(("a", "a"), 0.5),), a=Normal(0, 1)), "must name two inputs .got a twice."),
    ],
)
def test_a_model_that_does_not_hang_together_is_refused(faulty: object, message: str) -> None:
    with pytest.raises(BudgetError, match=message):
        faulty()  # type: ignore[operator]


def test_the_measurand_cannot_be_its_own_input() -> None:
    with pytest.raises(BudgetError, match="y: the measurand must have a symbol of its own"):
        model("y + a", y=Normal(3.0, 0.1), a=Normal(2.0, 0.1))


def test_a_step_may_use_only_what_stands_before_it() -> None:
    with pytest.raises(BudgetError, match="w must be an input or an earlier intermediate"):
        MeasurementModel("y", "", "", (InputQuantity("a", Normal(1, 1)),), (("v", "w * 2"), ("w", "a")), "v + w")


def test_few_degrees_of_freedom_need_a_large_factor() -> None:
    # JCGM 100:2008, Table G.2: t95(1) = 12.71; below one degree nothing is rounded away
    assert coverage_factor(0.95, 1.0) == pytest.approx(12.71, abs=0.005)
    assert coverage_factor(0.95, 0.5) > coverage_factor(0.95, 1.0)


@pytest.mark.parametrize(("one", "other"), [(4.0, 4.0), (4.0, 9.0), (4.0, math.inf)])
def test_effective_degrees_of_freedom_do_not_jump_where_a_coefficient_becomes_zero(one: float, other: float) -> None:
    def found(r: float) -> float:
        pair = (Correlation(("a", "b"), r),)
        return propagate(model("a + b", pair, a=StudentT(1, 0.3, one), b=StudentT(1, 0.4, other))).effective_dof

    assert found(1e-6) == pytest.approx(found(0.0), rel=1e-4)
    assert found(-1e-6) == pytest.approx(found(0.0), rel=1e-4)
    if one != other:
        # no coefficient: Welch and Satterthwaite by hand, 0.5^4/(0.3^4/4 + 0.4^4/other)
        assert found(0.0) == pytest.approx(0.5**4 / (0.3**4 / one + 0.4**4 / other))


@pytest.mark.parametrize("r", [-0.9, -0.3, 0.0, 0.6, 1.0])
def test_paired_readings_have_the_degrees_of_freedom_of_one_of_them(r: float) -> None:
    # JCGM 100:2008, H.2.3: n - 1 of the pairs
    pair = (Correlation(("a", "b"), r),)

    assert propagate(model("a + b", pair, a=StudentT(1, 0.3, 4), b=StudentT(1, 0.5, 4))).effective_dof == pytest.approx(
        4
    )


def test_inputs_that_are_wholly_alike_lie_between_their_degrees_of_freedom() -> None:
    pair = (Correlation(("a", "b"), 1.0),)

    found = propagate(model("a + b", pair, a=StudentT(1, 0.3, 4), b=StudentT(1, 0.3, 9))).effective_dof
    assert 4.0 < found < 9.0
