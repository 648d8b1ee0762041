"""What every distribution answers, and the checks they share."""

# ruff: noqa: D102 - Distribution says once what each of these answers

from __future__ import annotations

import math
from typing import Protocol, runtime_checkable

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.quantities.quantiles import StandardForm, standard_ppf


@runtime_checkable
class Distribution(Protocol):
    """What every distribution answers; the quantity's own unit throughout."""

    @property
    def mean(self) -> float:
        """Expectation, the estimate."""

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty as JCGM 100 takes it; for a t distribution its scale."""

    @property
    def dof(self) -> float:
        """Degrees of freedom; infinite where the uncertainty is taken as known."""

    @property
    def support(self) -> tuple[float, float]:
        """Lowest and highest possible value."""

    def ppf(self, u: FloatArray) -> FloatArray:
        """Quantiles at probabilities u in (0, 1)."""

    def describe(self) -> str:
        """Say the distribution in plain words."""

    def standard_form(self) -> StandardForm:
        """Return location, scale and standard shape."""


class Family:
    """Shared answers: quantiles from the standard form, infinite degrees of freedom."""

    def standard_form(self) -> StandardForm:
        raise TypeError(type(self).__name__)

    @property
    def dof(self) -> float:
        return math.inf

    def ppf(self, u: FloatArray) -> FloatArray:
        form = self.standard_form()
        return form.location + form.scale * standard_ppf(form.shape, np.asarray(u, dtype=float))


def check_finite(name: str, **values: float) -> None:
    """Refuse a parameter that is not a finite number."""
    for key, value in values.items():
        if not math.isfinite(value):
            raise BudgetError(f"{name}: {key} must be a finite number (got {value})")


def check_positive(name: str, **values: float) -> None:
    """Refuse a parameter that is not greater than 0."""
    for key, value in values.items():
        if not value > 0.0:
            raise BudgetError(f"{name}: {key} must be greater than 0 (got {value:g})")


def check_not_negative(name: str, **values: float) -> None:
    """Refuse a parameter below 0."""
    for key, value in values.items():
        if not value >= 0.0:
            raise BudgetError(f"{name}: {key} must not be negative (got {value:g})")
