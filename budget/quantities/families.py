"""Families of distributions: bell-shaped, positive and limited ones."""
# ruff: noqa: D102 - what each method gives is said once, in ``distribution_face``

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.quantities.distribution_face import Family, check_finite, check_not_negative, check_positive
from budget.quantities.quantiles import Shape, StandardForm


@dataclass(frozen=True)
class Normal(Family):
    """A normal distribution; ``degrees_of_freedom`` say how well its standard uncertainty is known."""

    estimate: float
    standard_uncertainty: float
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        check_finite("normal", estimate=self.estimate, standard_uncertainty=self.standard_uncertainty)
        check_not_negative("normal", standard_uncertainty=self.standard_uncertainty)
        check_positive("normal", degrees_of_freedom=self.degrees_of_freedom)

    @property
    def mean(self) -> float:
        return self.estimate

    @property
    def dof(self) -> float:
        return self.degrees_of_freedom

    @property
    def support(self) -> tuple[float, float]:
        return (-math.inf, math.inf)

    def describe(self) -> str:
        known = "" if math.isinf(self.dof) else f", {self.dof:.4g} degrees of freedom"
        return f"normal, standard uncertainty {self.standard_uncertainty:.4g}{known}"

    def standard_form(self) -> StandardForm:
        return StandardForm(("normal",), self.estimate, self.standard_uncertainty)


@dataclass(frozen=True)
class StudentT(Family):
    """
    A scaled and shifted t distribution, JCGM 101, 6.4.9.

    ``standard_uncertainty`` is the scale, s/√n for a mean of readings, as JCGM 100, 4.2.3 has it; the
    distribution's own standard deviation, larger by √(ν/(ν-2)), is ``standard_deviation``.
    """

    estimate: float
    scale: float
    degrees_of_freedom: float

    def __post_init__(self) -> None:
        check_finite("t", estimate=self.estimate, scale=self.scale)
        check_not_negative("t", scale=self.scale)
        check_positive("t", degrees_of_freedom=self.degrees_of_freedom)

    @property
    def mean(self) -> float:
        return self.estimate

    @property
    def standard_uncertainty(self) -> float:
        return self.scale

    @property
    def standard_deviation(self) -> float:
        """Standard deviation of the distribution; infinite up to two degrees of freedom."""
        if self.degrees_of_freedom <= 2.0:
            return math.inf
        if math.isinf(self.degrees_of_freedom):
            return self.scale
        return self.scale * math.sqrt(self.degrees_of_freedom / (self.degrees_of_freedom - 2.0))

    @property
    def dof(self) -> float:
        return self.degrees_of_freedom

    @property
    def support(self) -> tuple[float, float]:
        return (-math.inf, math.inf)

    def describe(self) -> str:
        return f"t with {self.dof:.4g} degrees of freedom, scale {self.scale:.4g}"

    def standard_form(self) -> StandardForm:
        shape: Shape = ("normal",) if math.isinf(self.dof) else ("t", self.dof)
        return StandardForm(shape, self.estimate, self.scale)


@dataclass(frozen=True)
class TruncatedNormal(Family):
    """A normal distribution of given location and scale, cut at two limits; its mean is that of what is left."""

    location: float
    scale: float
    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        check_finite("truncated normal", location=self.location, scale=self.scale)
        check_positive("truncated normal", scale=self.scale)
        if not self.low < self.high:
            raise BudgetError(f"truncated normal: high must lie above low {self.low:g} (got {self.high:g})")
        if min(abs(a) for a in self._cuts) > 30.0 and self._cuts[0] * self._cuts[1] > 0.0:
            raise BudgetError(
                f"truncated normal: low and high must leave some of the distribution, within 30 scales of its "
                f"location (got {self.low:g} and {self.high:g})"
            )

    @property
    def _cuts(self) -> tuple[float, float]:
        return ((self.low - self.location) / self.scale, (self.high - self.location) / self.scale)

    @property
    def _moments(self) -> tuple[float, float]:
        """Mean and variance of the standard normal distribution between the cuts."""
        return _truncated_moments(*self._cuts)

    @property
    def mean(self) -> float:
        return self.location + self.scale * self._moments[0]

    @property
    def standard_uncertainty(self) -> float:
        return self.scale * math.sqrt(self._moments[1])

    @property
    def support(self) -> tuple[float, float]:
        return (self.low, self.high)

    def describe(self) -> str:
        return f"normal cut to {self.low:.4g} … {self.high:.4g}, standard uncertainty {self.standard_uncertainty:.4g}"

    def standard_form(self) -> StandardForm:
        return StandardForm(("truncated normal", *self._cuts), self.location, self.scale)


def _truncated_moments(low: float, high: float) -> tuple[float, float]:
    """Mean and variance of a standard normal variable kept within (low, high), by Gauss-Legendre quadrature."""
    peak = min(max(0.0, low), high)
    start, end = max(low, peak - 39.0), min(high, peak + 39.0)
    if abs(peak) > 1.0:  # the density falls off like exp(-|peak|·x) beyond the nearer cut
        reach = 40.0 / abs(peak)
        start, end = max(start, peak - reach), min(end, peak + reach)
    nodes, weights = _quadrature()
    x = start + 0.5 * (end - start) * (nodes + 1.0)
    density = weights * np.exp(-0.5 * (x - peak) * (x + peak))
    mean = float(np.sum(density * x) / np.sum(density))
    return mean, float(np.sum(density * (x - mean) ** 2) / np.sum(density))


@cache
def _quadrature() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on [-1, 1]: sixteen panels of 24 Gauss-Legendre points."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    centres = (np.arange(16) - 7.5) / 8.0
    return (centres[:, None] + nodes / 16.0).ravel(), np.tile(weights / 16.0, 16)


@dataclass(frozen=True)
class Lognormal(Family):
    """Lognormal; ``estimate`` and ``uncertainty`` are mean and standard deviation of the quantity itself."""

    estimate: float
    uncertainty: float

    def __post_init__(self) -> None:
        check_finite("lognormal", estimate=self.estimate, uncertainty=self.uncertainty)
        check_positive("lognormal", estimate=self.estimate)
        check_not_negative("lognormal", uncertainty=self.uncertainty)

    @property
    def mean(self) -> float:
        return self.estimate

    @property
    def standard_uncertainty(self) -> float:
        return self.uncertainty

    @property
    def support(self) -> tuple[float, float]:
        return (0.0, math.inf)

    def describe(self) -> str:
        return f"lognormal, standard uncertainty {self.uncertainty:.4g}"

    def standard_form(self) -> StandardForm:
        sigma = math.sqrt(math.log1p((self.uncertainty / self.estimate) ** 2))
        return StandardForm(("lognormal", sigma), 0.0, self.estimate)


@dataclass(frozen=True)
class Exponential(Family):
    """Exponential: a quantity that is not negative and of which the estimate alone is known; JCGM 101, 6.4.10."""

    estimate: float

    def __post_init__(self) -> None:
        check_finite("exponential", estimate=self.estimate)
        check_positive("exponential", estimate=self.estimate)

    @property
    def mean(self) -> float:
        return self.estimate

    @property
    def standard_uncertainty(self) -> float:
        return self.estimate

    @property
    def support(self) -> tuple[float, float]:
        return (0.0, math.inf)

    def describe(self) -> str:
        return "exponential"

    def standard_form(self) -> StandardForm:
        return StandardForm(("exponential",), 0.0, self.estimate)


@dataclass(frozen=True)
class Gamma(Family):
    """Gamma distribution by mean and standard deviation; JCGM 101, 6.4.11."""

    estimate: float
    uncertainty: float

    def __post_init__(self) -> None:
        check_finite("gamma", estimate=self.estimate, uncertainty=self.uncertainty)
        check_positive("gamma", estimate=self.estimate, standard_uncertainty=self.uncertainty)

    @property
    def mean(self) -> float:
        return self.estimate

    @property
    def standard_uncertainty(self) -> float:
        return self.uncertainty

    @property
    def support(self) -> tuple[float, float]:
        return (0.0, math.inf)

    def describe(self) -> str:
        return f"gamma, standard uncertainty {self.uncertainty:.4g}"

    def standard_form(self) -> StandardForm:
        order = (self.estimate / self.uncertainty) ** 2
        return StandardForm(("gamma", order), 0.0, self.uncertainty**2 / self.estimate)


@dataclass(frozen=True)
class _Limits(Family):
    """A distribution symmetric between two limits."""

    low: float
    high: float

    def __post_init__(self) -> None:
        check_finite(self._name, low=self.low, high=self.high)
        if self.low > self.high:
            raise BudgetError(f"{self._name}: high must not be below low {self.low:g} (got {self.high:g})")

    @property
    def _name(self) -> str:
        return type(self).__name__.lower()

    @property
    def mean(self) -> float:
        return self.low + 0.5 * (self.high - self.low)

    @property
    def half_width(self) -> float:
        """Half the distance of the limits."""
        return 0.5 * (self.high - self.low)

    @property
    def support(self) -> tuple[float, float]:
        return (self.low, self.high)

    def describe(self) -> str:
        return f"{self._name}, half-width {self.half_width:.4g}"

    def standard_form(self) -> StandardForm:
        return StandardForm((self._name,), self.mean, self.half_width)


@dataclass(frozen=True)
class Rectangular(_Limits):
    """Equally likely anywhere between two limits; JCGM 101, 6.4.2."""

    @property
    def standard_uncertainty(self) -> float:
        return self.half_width / math.sqrt(3.0)


@dataclass(frozen=True)
class Triangular(_Limits):
    """Symmetric triangle between two limits; JCGM 101, 6.4.5."""

    @property
    def standard_uncertainty(self) -> float:
        return self.half_width / math.sqrt(6.0)


@dataclass(frozen=True)
class Arcsine(_Limits):
    """U-shaped, what a quantity cycling between two limits leaves; JCGM 101, 6.4.6."""

    @property
    def standard_uncertainty(self) -> float:
        return self.half_width / math.sqrt(2.0)


@dataclass(frozen=True)
class Trapezoidal(_Limits):
    """Symmetric trapezoid; ``top_ratio`` is top over base, 0 a triangle, 1 a rectangle; JCGM 101, 6.4.4."""

    top_ratio: float

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 0.0 <= self.top_ratio <= 1.0:
            raise BudgetError(f"trapezoidal: top_ratio must lie between 0 and 1 (got {self.top_ratio:g})")

    @property
    def standard_uncertainty(self) -> float:
        return self.half_width * math.sqrt((1.0 + self.top_ratio**2) / 6.0)

    def describe(self) -> str:
        return f"{super().describe()}, top {self.top_ratio:.4g} of the base"

    def standard_form(self) -> StandardForm:
        return StandardForm((self._name, self.top_ratio), self.mean, self.half_width)


@dataclass(frozen=True)
class CurvilinearTrapezoidal(_Limits):
    """Rectangular between limits each known to ± ``limit_inexactness`` only; JCGM 101, 6.4.3."""

    limit_inexactness: float

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 0.0 <= self.limit_inexactness <= self.half_width:
            raise BudgetError(
                f"curvilinear trapezoidal: limit_inexactness must lie between 0 and the half-width "
                f"{self.half_width:g} (got {self.limit_inexactness:g})"
            )

    @property
    def _name(self) -> str:
        return "curvilinear trapezoidal"

    @property
    def standard_uncertainty(self) -> float:
        return math.sqrt(self.half_width**2 / 3.0 + self.limit_inexactness**2 / 9.0)

    @property
    def support(self) -> tuple[float, float]:
        return (self.low - self.limit_inexactness, self.high + self.limit_inexactness)

    def describe(self) -> str:
        return f"{super().describe()}, limits known to {self.limit_inexactness:.4g}"

    def standard_form(self) -> StandardForm:
        ratio = self.limit_inexactness / self.half_width if self.half_width > 0.0 else 0.0
        return StandardForm((self._name, ratio), self.mean, self.half_width)
