"""Probability distributions of input quantities (JCGM 101, 6.4)."""

# ruff: noqa: D102 - Distribution says once what each of these answers

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import ClassVar

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.quantities.shapes import REVERSED, Shape, StandardForm, standard_moments, standard_ppf


@dataclass(frozen=True)
class Distribution(ABC):
    """
    What every distribution answers, from its standard form; the quantity's own unit throughout.

    A family adds its parameters, its standard form and its words.
    """

    name: ClassVar[str]
    positive: ClassVar[tuple[str, ...]] = ()
    """Parameters that must be greater than 0."""
    not_negative: ClassVar[tuple[str, ...]] = ()
    unbounded: ClassVar[tuple[str, ...]] = ()
    """Parameters that may be infinite."""
    said: ClassVar[str] = "standard uncertainty {0.standard_uncertainty:.4g}"
    """What ``describe`` says after the name."""

    def __post_init__(self) -> None:
        for key, value in vars(self).items():
            if isinstance(value, float | int) and not math.isfinite(value) and key not in self.unbounded:
                raise BudgetError(f"{self.name}: {key} must be a finite number (got {value})")
        for key in self.positive:
            if not getattr(self, key) > 0.0:
                raise BudgetError(f"{self.name}: {key} must be greater than 0 (got {getattr(self, key):g})")
        for key in self.not_negative:
            if not getattr(self, key) >= 0.0:
                raise BudgetError(f"{self.name}: {key} must not be negative (got {getattr(self, key):g})")

    @abstractmethod
    def standard_form(self) -> StandardForm:
        """Return location, scale and standard shape."""

    @cached_property
    def mean(self) -> float:
        """Expectation, the estimate."""
        form = self.standard_form()
        return form.location + form.scale * standard_moments(form.shape).mean

    @cached_property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty as JCGM 100 takes it; for a t distribution its scale."""
        form = self.standard_form()
        return form.scale * standard_moments(form.shape).deviation

    @property
    def dof(self) -> float:
        """Degrees of freedom; infinite where the uncertainty is taken as known."""
        return math.inf

    @property
    def support(self) -> tuple[float, float]:
        """Lowest and highest possible value."""
        form, ends = self.standard_form(), standard_moments(self.standard_form().shape)
        low, high = (form.location + form.scale * end if form.scale else form.location for end in (ends.low, ends.high))
        return low, high

    def ppf(self, u: FloatArray) -> FloatArray:
        """Quantiles at probabilities u in (0, 1)."""
        form = self.standard_form()
        return form.location + form.scale * standard_ppf(form.shape, np.asarray(u, dtype=float))

    def describe(self) -> str:
        """Say the distribution in plain words."""
        return ", ".join(filter(None, (self.name, self.said.format(self))))


@dataclass(frozen=True)
class Constant(Distribution):
    """A quantity without uncertainty."""

    value: float
    name, said = "constant", ""

    def standard_form(self) -> StandardForm:
        return StandardForm(("constant",), self.value, 0.0)


@dataclass(frozen=True)
class Normal(Distribution):
    """A normal distribution; ``degrees_of_freedom`` say how well its standard uncertainty is known."""

    estimate: float
    standard_uncertainty: float = field()
    degrees_of_freedom: float = math.inf
    name = "normal"
    positive, not_negative, unbounded = ("degrees_of_freedom",), ("standard_uncertainty",), ("degrees_of_freedom",)

    @property
    def dof(self) -> float:
        return self.degrees_of_freedom

    def describe(self) -> str:
        known = "" if math.isinf(self.dof) else f", {self.dof:.4g} degrees of freedom"
        return super().describe() + known

    def standard_form(self) -> StandardForm:
        return StandardForm(("normal",), self.estimate, self.standard_uncertainty)


@dataclass(frozen=True)
class StudentT(Distribution):
    """A scaled and shifted t distribution, JCGM 101, 6.4.9; its scale is s/√n for a mean of readings."""

    estimate: float
    scale: float
    degrees_of_freedom: float
    name = "t"
    positive, not_negative, unbounded = ("degrees_of_freedom",), ("scale",), ("degrees_of_freedom",)

    @property
    def dof(self) -> float:
        return self.degrees_of_freedom

    def describe(self) -> str:
        return f"t with {self.dof:.4g} degrees of freedom, scale {self.scale:.4g}"

    def standard_form(self) -> StandardForm:
        shape: Shape = ("normal",) if math.isinf(self.dof) else ("t", self.dof)
        return StandardForm(shape, self.estimate, self.scale)


@dataclass(frozen=True)
class TruncatedNormal(Distribution):
    """A normal distribution of given location and scale, cut at two limits; its mean is that of what is left."""

    location: float
    scale: float
    low: float = -math.inf
    high: float = math.inf
    name = "truncated normal"
    positive, unbounded = ("scale",), ("low", "high")

    def __post_init__(self) -> None:
        super().__post_init__()
        if not self.low < self.high:
            raise BudgetError(f"truncated normal: high must lie above low {self.low:g} (got {self.high:g})")
        below, above = self._cuts
        if min(abs(below), abs(above)) > 30.0 and below * above > 0.0:
            raise BudgetError(
                f"truncated normal: low and high must leave some of the distribution, within 30 scales of its "
                f"location (got {self.low:g} and {self.high:g})"
            )

    @property
    def _cuts(self) -> tuple[float, float]:
        return ((self.low - self.location) / self.scale, (self.high - self.location) / self.scale)

    def describe(self) -> str:
        return f"normal cut to {self.low:.4g} … {self.high:.4g}, standard uncertainty {self.standard_uncertainty:.4g}"

    def standard_form(self) -> StandardForm:
        return StandardForm(("truncated normal", *self._cuts), self.location, self.scale)


@dataclass(frozen=True)
class Lognormal(Distribution):
    """Lognormal; ``estimate`` and ``uncertainty`` are mean and standard deviation of the quantity itself."""

    estimate: float
    uncertainty: float
    name = "lognormal"
    positive, not_negative = ("estimate",), ("uncertainty",)

    def standard_form(self) -> StandardForm:
        sigma = math.sqrt(math.log1p((self.uncertainty / self.estimate) ** 2))
        return StandardForm(("lognormal", sigma), 0.0, self.estimate)


@dataclass(frozen=True)
class Exponential(Distribution):
    """Exponential: a quantity that is not negative and of which the estimate alone is known; JCGM 101, 6.4.10."""

    estimate: float
    name, said = "exponential", ""
    positive = ("estimate",)

    def standard_form(self) -> StandardForm:
        return StandardForm(("exponential",), 0.0, self.estimate)


@dataclass(frozen=True)
class Gamma(Distribution):
    """Gamma distribution by mean and standard deviation; JCGM 101, 6.4.11."""

    estimate: float
    standard_uncertainty: float = field()
    name = "gamma"
    positive = ("estimate", "standard_uncertainty")

    def standard_form(self) -> StandardForm:
        order = (self.estimate / self.standard_uncertainty) ** 2
        return StandardForm(("gamma", order), 0.0, self.standard_uncertainty**2 / self.estimate)


@dataclass(frozen=True)
class _Limited(Distribution):
    """A distribution symmetric between two limits."""

    low: float
    high: float
    said = "half-width {0.half_width:.4g}"

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.low > self.high:
            raise BudgetError(f"{self.name}: high must not be below low {self.low:g} (got {self.high:g})")

    @property
    def half_width(self) -> float:
        """Half the distance of the limits."""
        return 0.5 * (self.high - self.low)

    def standard_form(self) -> StandardForm:
        return StandardForm((self.name,), self.low + self.half_width, self.half_width)


@dataclass(frozen=True)
class Rectangular(_Limited):
    """Equally likely anywhere between two limits; JCGM 101, 6.4.2."""

    name = "rectangular"


@dataclass(frozen=True)
class Triangular(_Limited):
    """Symmetric triangle between two limits; JCGM 101, 6.4.5."""

    name = "triangular"


@dataclass(frozen=True)
class Arcsine(_Limited):
    """U-shaped, what a quantity cycling between two limits leaves; JCGM 101, 6.4.6."""

    name = "arcsine"


@dataclass(frozen=True)
class Trapezoidal(_Limited):
    """Symmetric trapezoid; ``top_ratio`` is top over base, 0 a triangle, 1 a rectangle; JCGM 101, 6.4.4."""

    top_ratio: float
    name, said = "trapezoidal", _Limited.said + ", top {0.top_ratio:.4g} of the base"

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 0.0 <= self.top_ratio <= 1.0:
            raise BudgetError(f"trapezoidal: top_ratio must lie between 0 and 1 (got {self.top_ratio:g})")

    def standard_form(self) -> StandardForm:
        return StandardForm((self.name, self.top_ratio), self.low + self.half_width, self.half_width)


@dataclass(frozen=True)
class CurvilinearTrapezoidal(_Limited):
    """Rectangular between limits each known to ± ``limit_inexactness`` only; JCGM 101, 6.4.3."""

    limit_inexactness: float
    name, said = "curvilinear trapezoidal", _Limited.said + ", limits known to {0.limit_inexactness:.4g}"

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 0.0 <= self.limit_inexactness <= self.half_width:
            raise BudgetError(
                f"curvilinear trapezoidal: limit_inexactness must lie between 0 and the half-width "
                f"{self.half_width:g} (got {self.limit_inexactness:g})"
            )

    def standard_form(self) -> StandardForm:
        ratio = self.limit_inexactness / self.half_width if self.half_width > 0.0 else 0.0
        return StandardForm((self.name, ratio), self.low + self.half_width, self.half_width)


@dataclass(frozen=True)
class Affine(Distribution):
    """``offset`` + ``factor`` × another quantity."""

    base: Distribution
    offset: float
    factor: float

    @property
    def dof(self) -> float:
        return self.base.dof

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
        case _Limited():
            low, high = sorted(offset + factor * end for end in (distribution.low, distribution.high))
            return replace(distribution, low=low, high=high)
        case Affine(base=base, offset=inner, factor=slope):
            return linear(base, offset + factor * inner, factor * slope)
        case _:
            return Affine(distribution, offset, factor)


def scaled(distribution: Distribution, factor: float) -> Distribution:
    """Return the distribution of ``factor`` × X."""
    return linear(distribution, 0.0, factor)
