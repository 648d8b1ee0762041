"""Which moments a measurand has: against what is known of t, of quotients and of exponentials."""

from __future__ import annotations

import math

import pytest

from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import (
    Distribution,
    Exponential,
    Lognormal,
    Normal,
    Rectangular,
    StudentT,
    TruncatedNormal,
)
from budget.quantities.inputs import Correlation, InputQuantity
from budget.sampling.tails import tails


def model(equation: str, /, **inputs: Distribution) -> MeasurementModel:
    quantities = tuple(InputQuantity(symbol, distribution) for symbol, distribution in inputs.items())
    return MeasurementModel("y", "", "", quantities, (), equation)


@pytest.mark.parametrize(
    ("found", "order"),
    [
        # |t| with n degrees of freedom has moments below n; its k-th power, and a product, of the smallest n/k
        (model("a", a=StudentT(1, 0.1, 2)), 2.0),
        (model("a + b", a=StudentT(1, 0.1, 1), b=Normal(0, 1)), 1.0),
        (model("a**2", a=StudentT(0, 0.1, 5)), 2.5),
        (model("a * b", a=StudentT(0, 0.1, 3), b=StudentT(0, 1, 4)), 3.0),
        # 1/x^q has moments below 1/q where x has a density at 0
        (model("1 / a", a=Normal(1, 0.3)), 1.0),
        (model("1 / a**2", a=Normal(1, 0.3)), 0.5),
        (model("1 / (a - b)", a=Normal(1, 0.1), b=Normal(0.5, 0.1)), 1.0),
        (model("a / b", a=Normal(0, 1), b=Normal(0, 1)), 1.0),
        (model("1 / a", a=Rectangular(-0.1, 1.9)), 1.0),
        # e^x of an exponential quantity of mean m has moments below 1/m
        (model("exp(a)", a=Exponential(0.4)), 2.5),
    ],
)
def test_the_order_below_which_there_are_moments_is_that_of_theory(found: MeasurementModel, order: float) -> None:
    assert tails(found).order == pytest.approx(order, rel=0.01)
    assert tails(found).reason


@pytest.mark.parametrize(
    "found",
    [
        model("a**4 + exp(b)", a=Normal(0, 1), b=Normal(0, 1)),
        model("1 / a", a=Rectangular(0.1, 1.9)),
        model("1 / a", a=TruncatedNormal(1, 0.5, 0.1)),
        model("a**2 / a", a=Normal(0, 1)),
        model("1 / a", a=Normal(0.45, 0.0058)),
        model("2 * h / t**2", h=Rectangular(0.999, 1.001), t=StudentT(0.45, 0.0058, 12)),
        model("1 / a", a=Lognormal(1, 3)),
    ],
)
def test_moments_are_there_where_no_divisor_reaches_zero_and_no_tail_is_heavy(found: MeasurementModel) -> None:
    assert tails(found).order > 4.0


def test_a_lognormal_quantity_has_all_moments_and_the_exponential_of_a_wide_one_has_none() -> None:
    assert tails(model("a", a=Lognormal(1, 30))).has_variance
    assert not tails(model("exp(a)", a=Lognormal(1, 3))).has_mean


def test_a_bend_that_shows_once_in_a_thousand_million_draws_does_not_count() -> None:
    # the square of t with 4 degrees of freedom has no variance, but a diameter known to 0.2 % bends far less
    assert tails(model("d**2", d=StudentT(374.0, 0.7, 4))).has_variance
    assert not tails(model("d**2", d=StudentT(0.0, 0.7, 4))).has_variance


def test_a_pole_is_found_through_correlated_inputs() -> None:
    quantities = (InputQuantity("a", Normal(1, 0.1)), InputQuantity("b", Normal(0.5, 0.1)))

    def joined(r: float) -> MeasurementModel:
        return MeasurementModel("y", "", "", quantities, (), "1 / (a - b)", (Correlation(("a", "b"), r),))

    # a - b has the standard deviation 0.1·√(2 - 2r): zero is 1/√0.08 = 3.5 of them away, or with r = 0.9, 11
    assert tails(joined(0.0)).order == pytest.approx(1.0, rel=0.01)
    assert tails(joined(0.9)).order == math.inf


def test_the_reason_is_the_number_of_readings_where_they_are_few() -> None:
    found = tails(model("2 * h / t**2", h=Rectangular(0.999, 1.001), t=StudentT(0.45, 0.0058, 2)))

    assert not found.has_mean
    assert found.reason.startswith("t has 2 degrees of freedom")
