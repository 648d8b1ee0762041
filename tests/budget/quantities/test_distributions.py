"""Distributions: exact quantiles, moments and the laws of scaling and shifting."""

from __future__ import annotations

import math
from typing import Any

import mpmath
import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from budget.errors import BudgetError
from budget.quantities.distributions import (
    Affine,
    Arcsine,
    Constant,
    CurvilinearTrapezoidal,
    Distribution,
    Exponential,
    Gamma,
    Lognormal,
    Normal,
    Rectangular,
    StudentT,
    Trapezoidal,
    Triangular,
    TruncatedNormal,
    linear,
    scaled,
)
from budget.quantities.shapes import standard_ppf

EVERY: list[Distribution] = [
    Normal(2.0, 0.5),
    StudentT(2.0, 0.5, 7),
    Rectangular(-1.0, 3.0),
    Triangular(-1.0, 3.0),
    Trapezoidal(-1.0, 3.0, 0.4),
    CurvilinearTrapezoidal(-1.0, 3.0, 0.6),
    Arcsine(-1.0, 3.0),
    Lognormal(2.0, 0.8),
    Exponential(1.7),
    Gamma(2.0, 0.9),
    TruncatedNormal(0.4, 1.0, 0.0, 2.5),
    Affine(Gamma(2.0, 0.9), 1.0, -2.0),
]
NAMES = [type(d).__name__ for d in EVERY]
MEASURABLE = [d for d in EVERY if not isinstance(d, StudentT)]

probabilities = st.floats(1e-6, 1.0 - 1e-6)
locations = st.floats(-1e3, 1e3)
factors = st.floats(1e-3, 1e3)
TAILS = np.array([1e-12, 1e-6, 0.001, 0.025, 0.3, 0.5, 0.8, 0.975, 0.999, 1.0 - 1e-6])


def reference(distribution: Distribution) -> Any:  # noqa: C901, PLR0911 one case a family
    """Return scipy's distribution."""
    match distribution:
        case Normal():
            return scipy.stats.norm(2.0, 0.5)
        case StudentT():
            return scipy.stats.t(7, 2.0, 0.5)
        case Rectangular():
            return scipy.stats.uniform(-1.0, 4.0)
        case Triangular():
            return scipy.stats.triang(0.5, -1.0, 4.0)
        case Trapezoidal():
            return scipy.stats.trapezoid(0.3, 0.7, -1.0, 4.0)
        case Arcsine():
            return scipy.stats.arcsine(-1.0, 4.0)
        case Lognormal():
            sigma = math.sqrt(math.log(1.0 + 0.16))
            return scipy.stats.lognorm(sigma, scale=2.0 * math.exp(-0.5 * sigma**2))
        case Exponential():
            return scipy.stats.expon(scale=1.7)
        case Gamma():
            return scipy.stats.gamma((2.0 / 0.9) ** 2, scale=0.81 / 2.0)
        case TruncatedNormal():
            return scipy.stats.truncnorm(-0.4, 2.1, 0.4, 1.0)
    return None


KNOWN_TO_SCIPY = [d for d in EVERY if reference(d) is not None]


@pytest.mark.parametrize("distribution", KNOWN_TO_SCIPY, ids=lambda d: type(d).__name__)
def test_quantiles_and_moments_are_those_of_scipy(distribution: Distribution) -> None:
    theirs = reference(distribution)

    assert distribution.ppf(TAILS) == pytest.approx(theirs.ppf(TAILS), rel=1e-9, abs=1e-11)
    assert distribution.mean == pytest.approx(float(theirs.mean()), rel=1e-9)
    if not isinstance(distribution, StudentT):
        assert distribution.standard_uncertainty == pytest.approx(float(theirs.std()), rel=1e-9)


@pytest.mark.parametrize("u", ["1e-12", "0.001", "0.3", "0.9"])
@pytest.mark.parametrize("ratio", ["0.05", "0.5", "1"])
def test_the_curvilinear_trapezoid_inverts_its_density_in_forty_digits(u: str, ratio: str) -> None:
    # density of JCGM 101:2008, 6.4.3.2: (1/4d)·ln((w + d)/max(|x|, w - d)) for half-width w = 1 and inexactness d
    mpmath.mp.dps = 40
    d = mpmath.mpf(ratio)
    x = mpmath.mpf(float(CurvilinearTrapezoidal(-1.0, 1.0, float(ratio)).ppf(np.array([float(u)]))[0]))

    def density(t: mpmath.mpf) -> mpmath.mpf:
        return mpmath.log((1 + d) / max(abs(t), 1 - d)) / (4 * d)

    points = sorted({-1 - d, *(p for p in (d - 1, 0, 1 - d) if p < x), x})
    below = mpmath.quad(density, points)

    assert float(below) == pytest.approx(float(u), rel=1e-9)


@pytest.mark.parametrize("order", ["0.3", "2.5", "40"])
def test_gamma_quantiles_invert_the_incomplete_gamma_function(order: str) -> None:
    distribution = Gamma(float(order), math.sqrt(float(order)))  # scale 1
    for u in (1e-6, 0.3, 0.999):
        x = float(distribution.ppf(np.array([u]))[0])

        assert float(mpmath.gammainc(mpmath.mpf(order), 0, x, regularized=True)) == pytest.approx(u, rel=1e-9)


@pytest.mark.parametrize("distribution", EVERY, ids=NAMES)
def test_moments_are_those_of_the_quantiles(distribution: Distribution) -> None:
    quantiles = distribution.ppf((np.arange(400_000) + 0.5) / 400_000)
    mean = float(np.mean(quantiles))
    variance = float(np.mean((quantiles - mean) ** 2))
    stated = distribution.standard_uncertainty
    if isinstance(distribution, StudentT):  # JCGM 101:2008, 6.4.9.4: variance scale²·ν/(ν - 2)
        stated *= math.sqrt(distribution.dof / (distribution.dof - 2.0))

    assert distribution.mean == pytest.approx(mean, rel=1e-4, abs=1e-6)
    assert stated == pytest.approx(math.sqrt(variance), rel=2e-3)


@pytest.mark.parametrize("distribution", EVERY, ids=NAMES)
@given(u=st.lists(probabilities, min_size=2, max_size=5))
def test_quantiles_rise_and_stay_within_the_support(distribution: Distribution, u: list[float]) -> None:
    values = distribution.ppf(np.sort(u))
    low, high = distribution.support
    span = max(abs(e) for e in (low, high, 1.0) if math.isfinite(e))

    assert np.all(np.diff(values) >= -1e-12 * span)
    assert np.all((values >= low - 1e-12 * span) & (values <= high + 1e-12 * span))


@pytest.mark.parametrize("distribution", EVERY, ids=NAMES)
@given(u=probabilities, offset=locations, factor=factors, sign=st.sampled_from([-1.0, 1.0]))
def test_scaling_and_shifting_a_quantity_scales_and_shifts_its_quantiles(
    distribution: Distribution, u: float, offset: float, factor: float, sign: float
) -> None:
    moved = linear(distribution, offset, sign * factor)
    point = np.array([u])
    same = distribution.ppf(point if sign > 0.0 else 1.0 - point)
    size = abs(offset) + factor * (10.0 + float(np.max(np.abs(same))))

    assert moved.ppf(point) == pytest.approx(offset + sign * factor * same, abs=1e-9 * size)
    assert moved.mean == pytest.approx(offset + sign * factor * distribution.mean, abs=1e-12 * size)
    assert moved.standard_uncertainty == pytest.approx(factor * distribution.standard_uncertainty, rel=1e-6)
    assert moved.dof == distribution.dof


@pytest.mark.parametrize("distribution", EVERY, ids=NAMES)
@given(u=probabilities)
def test_the_standard_form_gives_the_same_quantiles(distribution: Distribution, u: float) -> None:
    form = distribution.standard_form()
    point = np.array([u])

    assert distribution.ppf(point) == pytest.approx(form.location + form.scale * standard_ppf(form.shape, point))
    assert hash(form.shape) is not None


@pytest.mark.parametrize("distribution", [Normal(1.0, 0.1), Rectangular(0.0, 1.0), Gamma(2.0, 1.0)])
def test_a_scaled_quantity_can_be_shifted(distribution: Distribution) -> None:
    assert linear(scaled(distribution, 3.0), 2.0, 1.0).mean == pytest.approx(2.0 + 3.0 * distribution.mean)


def test_a_far_tail_of_a_truncated_normal_keeps_its_digits() -> None:
    distribution = TruncatedNormal(0.0, 1.0, 12.0, 13.0)
    x = distribution.ppf(np.array([0.5]))[0]
    mpmath.mp.dps = 40
    below = (mpmath.ncdf(-12) - mpmath.ncdf(-mpmath.mpf(float(x)))) / (mpmath.ncdf(-12) - mpmath.ncdf(-13))

    assert float(below) == pytest.approx(0.5, rel=1e-9)


def test_t_has_the_scale_as_its_standard_uncertainty() -> None:
    # JCGM 100:2008, 4.2.3; the distribution's own spread is tested with the moments
    assert StudentT(0.0, 2.0, 5).standard_uncertainty == 2.0


def test_the_limits_of_a_trapezoid_are_a_triangle_and_a_rectangle() -> None:
    u = np.linspace(0.01, 0.99, 33)

    assert Trapezoidal(0.0, 2.0, 0.0).ppf(u) == pytest.approx(Triangular(0.0, 2.0).ppf(u), abs=1e-12)
    assert Trapezoidal(0.0, 2.0, 1.0).ppf(u) == pytest.approx(Rectangular(0.0, 2.0).ppf(u), abs=1e-12)
    assert CurvilinearTrapezoidal(0.0, 2.0, 0.0).ppf(u) == pytest.approx(Rectangular(0.0, 2.0).ppf(u), abs=1e-12)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Normal(math.nan, 1.0), r"normal: estimate must be a finite number \(got nan\)"),
        (lambda: Normal(1.0, -1.0), r"normal: standard_uncertainty must not be negative \(got -1\)"),
        (lambda: StudentT(1.0, 1.0, 0), r"t: degrees_of_freedom must be greater than 0 \(got 0\)"),
        (lambda: Rectangular(2.0, 1.0), r"rectangular: high must not be below low 2 \(got 1\)"),
        (lambda: Trapezoidal(0.0, 1.0, 1.2), r"trapezoidal: top_ratio must lie between 0 and 1 \(got 1.2\)"),
        (
            lambda: CurvilinearTrapezoidal(0.0, 1.0, 0.7),
            r"curvilinear trapezoidal: limit_inexactness must lie between 0 and the half-width 0.5 \(got 0.7\)",
        ),
        (lambda: Lognormal(-1.0, 1.0), r"lognormal: estimate must be greater than 0 \(got -1\)"),
        (lambda: Exponential(0.0), r"exponential: estimate must be greater than 0 \(got 0\)"),
        (lambda: Gamma(1.0, 0.0), r"gamma: standard_uncertainty must be greater than 0 \(got 0\)"),
        (lambda: TruncatedNormal(0.0, 1.0, 2.0, 1.0), r"truncated normal: high must lie above low 2 \(got 1\)"),
        (lambda: TruncatedNormal(0.0, 1.0, 50.0, 60.0), "truncated normal: low and high must leave some"),
        (lambda: Constant(math.inf), r"constant: value must be a finite number \(got inf\)"),
        (lambda: standard_ppf(("cauchy",), TAILS), r"distribution: the shape must be one of .* \(got cauchy\)"),
    ],
)
def test_an_impossible_distribution_is_refused_in_words(make: Any, message: str) -> None:
    with pytest.raises(BudgetError, match=message):
        make()


@pytest.mark.parametrize("distribution", [*EVERY, Constant(1.0)], ids=[*NAMES, "Constant"])
def test_every_distribution_says_what_it_is(distribution: Distribution) -> None:
    assert isinstance(distribution, Distribution)
    assert distribution.describe()
