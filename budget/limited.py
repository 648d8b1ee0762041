"""Symmetric distributions between two limits."""

# ruff: noqa: D102 - Distribution says once what each of these answers

from __future__ import annotations

import math
from dataclasses import dataclass

from budget.distribution_face import Family, check_finite
from budget.errors import BudgetError
from budget.quantiles import StandardForm


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
