"""Probability distributions of input quantities, each an exact inverse distribution function (JCGM 101, 6.4)."""

# ruff: noqa: D102 - Distribution says once what each of these answers

from __future__ import annotations

from dataclasses import dataclass, replace

from budget.quantities.distribution_face import Distribution, Family, check_finite
from budget.quantities.families import (
    Arcsine,
    CurvilinearTrapezoidal,
    Exponential,
    Gamma,
    Lognormal,
    Normal,
    Rectangular,
    StudentT,
    Trapezoidal,
    Triangular,
    TruncatedNormal,
)
from budget.quantities.quantiles import REVERSED, StandardForm, standard_ppf

__all__ = [
    "Affine",
    "Arcsine",
    "Constant",
    "CurvilinearTrapezoidal",
    "Distribution",
    "Exponential",
    "Gamma",
    "Lognormal",
    "Normal",
    "Rectangular",
    "StandardForm",
    "StudentT",
    "Trapezoidal",
    "Triangular",
    "TruncatedNormal",
    "linear",
    "scaled",
    "shifted",
    "standard_ppf",
]


@dataclass(frozen=True)
class Constant(Family):
    """A quantity without uncertainty."""

    value: float

    def __post_init__(self) -> None:
        check_finite("constant", value=self.value)

    @property
    def mean(self) -> float:
        return self.value

    @property
    def standard_uncertainty(self) -> float:
        return 0.0

    @property
    def support(self) -> tuple[float, float]:
        return (self.value, self.value)

    def describe(self) -> str:
        return "constant"

    def standard_form(self) -> StandardForm:
        return StandardForm(("constant",), self.value, 0.0)


@dataclass(frozen=True)
class Affine(Family):
    """``offset`` + ``factor`` × another quantity."""

    base: Distribution
    offset: float
    factor: float

    @property
    def mean(self) -> float:
        return self.offset + self.factor * self.base.mean

    @property
    def standard_uncertainty(self) -> float:
        return abs(self.factor) * self.base.standard_uncertainty

    @property
    def dof(self) -> float:
        return self.base.dof

    @property
    def support(self) -> tuple[float, float]:
        ends = [self.offset + self.factor * end if self.factor else self.offset for end in self.base.support]
        return (min(ends), max(ends))

    def describe(self) -> str:
        return f"{self.base.describe()}, times {self.factor:.4g} plus {self.offset:.4g}"

    def standard_form(self) -> StandardForm:
        form = self.base.standard_form()
        location = self.offset + self.factor * form.location
        if self.factor >= 0.0:
            return StandardForm(form.shape, location, self.factor * form.scale)
        shape = form.shape[1:] if form.shape[0] == REVERSED else (REVERSED, *form.shape)
        return StandardForm(shape, location, -self.factor * form.scale)


def linear(distribution: Distribution, offset: float, factor: float) -> Distribution:  # noqa: PLR0911 one a family
    """
    Return the distribution of ``offset`` + ``factor`` × X, in the same family where that is closed.

    Examples
    --------
    >>> linear(Rectangular(1.0, 3.0), 0.0, -2.0)
    Rectangular(low=-6.0, high=-2.0)
    """
    if offset == 0.0 and factor == 1.0:
        return distribution
    match distribution:
        case Constant(value=value):
            return Constant(offset + factor * value)
        case Lognormal(estimate=x, uncertainty=u) if offset == 0.0 and factor > 0.0:
            return Lognormal(factor * x, factor * u)
        case Normal(estimate=x, standard_uncertainty=u):
            return replace(distribution, estimate=offset + factor * x, standard_uncertainty=abs(factor) * u)
        case StudentT(estimate=x, scale=u):
            return replace(distribution, estimate=offset + factor * x, scale=abs(factor) * u)
        case CurvilinearTrapezoidal(limit_inexactness=d):
            low, high = sorted(offset + factor * end for end in (distribution.low, distribution.high))
            return CurvilinearTrapezoidal(low, high, min(abs(factor) * d, 0.5 * (high - low)))
        case Rectangular() | Triangular() | Arcsine() | Trapezoidal():
            low, high = sorted(offset + factor * end for end in (distribution.low, distribution.high))
            return replace(distribution, low=low, high=high)
        case Affine(base=base, offset=inner, factor=slope):
            return linear(base, offset + factor * inner, factor * slope)
        case _:
            return Affine(distribution, offset, factor)


def scaled(distribution: Distribution, factor: float) -> Distribution:
    """Return the distribution of ``factor`` × X."""
    return linear(distribution, 0.0, factor)


def shifted(distribution: Distribution, offset: float) -> Distribution:
    """Return the distribution of ``offset`` + X."""
    return linear(distribution, offset, 1.0)
