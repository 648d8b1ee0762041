"""Distributions of quantities that cannot be negative."""

# ruff: noqa: D102 - Distribution says once what each of these answers

from __future__ import annotations

import math
from dataclasses import dataclass

from budget.distribution_face import Family, check_finite, check_not_negative, check_positive
from budget.quantiles import StandardForm


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
