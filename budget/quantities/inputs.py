"""Input quantities of a measurement model and what is known of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict

from budget.errors import BudgetError
from budget.quantities.distributions import (
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
)

Convert = Callable[[object, str], float]
DistributionName = Literal[
    "normal",
    "t",
    "rectangular",
    "triangular",
    "trapezoidal",
    "curvilinear trapezoidal",
    "arcsine",
    "lognormal",
    "exponential",
    "gamma",
    "truncated normal",
]


@dataclass(frozen=True)
class InputQuantity:
    """
    An input quantity of a measurement model.

    Parameters
    ----------
    symbol : str
        Name in the equation.
    distribution : Distribution
        What is known of it.
    name, unit, source : str
        What it is, its unit, and where the knowledge comes from.
    neutral : float, optional
        Value at which the effect it stands for is absent.
    scatter : bool
        True where it varies from run to run, so that repeats average it.
    evaluation : {"", "A", "B"}
        How its uncertainty was evaluated (JCGM 100, 4.2 and 4.3); left out, A for a t distribution, and else B.
    coverage_factor : float, optional
        That with which its uncertainty was stated, on a certificate.
    certificate, calibration_date : str
        Which certificate says so, and of when (EA-4/02).
    """

    symbol: str
    distribution: Distribution
    name: str = ""
    unit: str = ""
    source: str = ""
    neutral: float | None = None
    scatter: bool = False
    evaluation: str = ""
    coverage_factor: float | None = None
    certificate: str = ""
    calibration_date: str = ""

    @property
    def evaluation_type(self) -> str:
        """A or B; nothing for a quantity without uncertainty."""
        if self.distribution.standard_uncertainty == 0.0:
            return ""
        return self.evaluation or ("A" if isinstance(self.distribution, StudentT) else "B")

    @property
    def divisor(self) -> float | None:
        """What a stated limit, or expanded uncertainty, is divided by to give the standard uncertainty."""
        distribution = self.distribution
        if distribution.standard_uncertainty == 0.0:
            return None
        half_width = getattr(distribution, "half_width", None)
        return self.coverage_factor or (half_width / distribution.standard_uncertainty if half_width else 1.0)


@dataclass(frozen=True)
class Correlation:
    """Correlation coefficient between two input quantities, JCGM 100, 5.2.2."""

    between: tuple[str, str]
    coefficient: float


def type_a(readings: Sequence[float]) -> StudentT:
    """
    Evaluate at least two repeated readings: mean, s/√n and n - 1 degrees of freedom; JCGM 100, 4.2; JCGM 101, 6.4.9.

    Examples
    --------
    >>> type_a([8.0, 10.0, 12.0, 10.0, 10.0])
    StudentT(estimate=10.0, scale=0.6324555320336759, degrees_of_freedom=4)
    """
    values = np.asarray(readings, dtype=float)
    if values.ndim != 1 or values.size < 2:
        raise BudgetError(f"readings: must be at least two numbers (got {values.size})")
    if not np.all(np.isfinite(values)):
        raise BudgetError("readings: must be finite numbers (got one that is not)")
    scale = float(np.std(values, ddof=1)) / math.sqrt(values.size)
    return StudentT(float(np.mean(values)), scale, values.size - 1)


def _refuse_truth(value: object) -> object:
    if isinstance(value, bool):
        raise ValueError("must be a number, not true or false")  # noqa: TRY004 pydantic takes ValueError only
    return value


Value = Annotated[float | int | str, BeforeValidator(_refuse_truth)]


class DistributionSpec(BaseModel):
    """
    What a file says of a quantity: a distribution with its parameters, readings, or a value.

    Values may be numbers or text with a unit; ``build`` is told how to convert them.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    distribution: DistributionName | None = None
    estimate: Value | None = None
    standard_uncertainty: Value | None = None
    expanded_uncertainty: Value | None = None
    coverage_factor: Value | None = None
    dof: Value | None = None
    half_width: Value | None = None
    low: Value | None = None
    high: Value | None = None
    top_ratio: Value | None = None
    limit_inexactness: Value | None = None
    readings: tuple[Value, ...] | list[Value] | None = None
    value: Value | None = None

    def build(self, convert: Convert) -> Distribution:
        """
        Return the distribution; ``convert`` (value, key) turns what the file says under a key into a number.

        Raises
        ------
        BudgetError
            If keys are missing or do not belong to the distribution, or a value is out of its range.
        """
        given = {key for key in _PARAMETERS if getattr(self, key) is not None}
        kind = self._kind(given)
        choices, build = _FAMILIES[kind]
        if given in choices or (kind == "normal" and given - {"dof"} in choices):
            return build({key: self._number(key, convert) for key in given})
        raise BudgetError(self._fault(kind, given))

    def _kind(self, given: set[str]) -> str:
        if self.distribution is not None:
            return self.distribution
        for kind in ("readings", "value"):
            if kind in given:
                return kind
        raise BudgetError(f"distribution: must be one of {', '.join(_FAMILIES)} (got none)")

    def _number(self, key: str, convert: Convert) -> Any:
        value = getattr(self, key)
        if key == "readings":
            return [convert(reading, key) for reading in value]
        return plain_number(value, key) if key in _NUMBERS else convert(value, key)

    @staticmethod
    def _fault(kind: str, given: set[str]) -> str:
        choices = " or ".join(" + ".join(sorted(keys, key=_PARAMETERS.index)) for keys in _FAMILIES[kind][0])
        optional = " (dof where known)" if kind == "normal" else ""
        said = ", ".join(sorted(given, key=_PARAMETERS.index)) or "nothing"
        return f"{kind}: must be given by {choices}{optional} (got {said})"


def plain_number(value: object, key: str) -> float:
    """Return a number without a unit; refuse text that is none."""
    if isinstance(value, str):
        text = value.strip().replace("−", "-").replace(",", ".")
        try:
            return float(text)
        except ValueError:
            raise BudgetError(f"{key}: must be a number (got {value!r})") from None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BudgetError(f"{key}: must be a number (got {value!r})")
    return float(value)


_NUMBERS = ("dof", "top_ratio", "coverage_factor")
"""Parameters without a unit."""
_PARAMETERS = (
    "estimate", "standard_uncertainty", "expanded_uncertainty", "coverage_factor", "half_width", "low",
    "high", "top_ratio", "limit_inexactness", "dof", "readings", "value",
)  # fmt: skip
_LIMITS = [{"low", "high"}, {"estimate", "half_width"}]
_SPREAD = [{"estimate", "standard_uncertainty"}]
_CERTIFIED = [{"estimate", "expanded_uncertainty", "coverage_factor"}]


def _spread(numbers: dict[str, Any]) -> float:
    if "coverage_factor" not in numbers:
        return float(numbers["standard_uncertainty"])
    if not numbers["coverage_factor"] > 0.0:
        raise BudgetError(f"coverage_factor: must be greater than 0 (got {numbers['coverage_factor']:g})")
    return float(numbers["expanded_uncertainty"] / numbers["coverage_factor"])


def _limits(numbers: dict[str, Any]) -> tuple[float, float]:
    if "half_width" not in numbers:
        return numbers["low"], numbers["high"]
    half_width = numbers["half_width"]
    if not half_width >= 0.0:
        raise BudgetError(f"half_width: must not be negative (got {half_width:g})")
    return numbers["estimate"] - half_width, numbers["estimate"] + half_width


_FAMILIES: dict[str, tuple[list[set[str]], Callable[[dict[str, Any]], Distribution]]] = {
    "normal": (_SPREAD + _CERTIFIED, lambda n: Normal(n["estimate"], _spread(n), n.get("dof", math.inf))),
    "t": ([{*_SPREAD[0], "dof"}], lambda n: StudentT(n["estimate"], n["standard_uncertainty"], n["dof"])),
    "rectangular": (_LIMITS, lambda n: Rectangular(*_limits(n))),
    "triangular": (_LIMITS, lambda n: Triangular(*_limits(n))),
    "trapezoidal": (
        [keys | {"top_ratio"} for keys in _LIMITS],
        lambda n: Trapezoidal(*_limits(n), n["top_ratio"]),
    ),
    "curvilinear trapezoidal": (
        [keys | {"limit_inexactness"} for keys in _LIMITS],
        lambda n: CurvilinearTrapezoidal(*_limits(n), n["limit_inexactness"]),
    ),
    "arcsine": (_LIMITS, lambda n: Arcsine(*_limits(n))),
    "lognormal": (_SPREAD, lambda n: Lognormal(n["estimate"], n["standard_uncertainty"])),
    "exponential": ([{"estimate"}], lambda n: Exponential(n["estimate"])),
    "gamma": (_SPREAD, lambda n: Gamma(n["estimate"], n["standard_uncertainty"])),
    "truncated normal": (
        [_SPREAD[0] | cuts for cuts in ({"low", "high"}, {"low"}, {"high"})],
        lambda n: TruncatedNormal(
            n["estimate"], n["standard_uncertainty"], n.get("low", -math.inf), n.get("high", math.inf)
        ),
    ),
    "readings": ([{"readings"}], lambda n: type_a(n["readings"])),
    "value": ([{"value"}], lambda n: Constant(n["value"])),
}
"""What a file may give of each family, and what is made of it."""
