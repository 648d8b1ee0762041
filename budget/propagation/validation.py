"""Whether the law of propagation may be trusted for a model: the comparison of JCGM 101, clause 8."""

from __future__ import annotations

from dataclasses import dataclass

from budget.propagation.propagation import Propagation
from budget.sampling.montecarlo import Simulation
from budget.sampling.outcomes import numerical_tolerance


@dataclass(frozen=True)
class Validation:
    """
    Comparison of propagation and simulation.

    Parameters
    ----------
    valid : bool
        True where both end points differ by no more than the tolerance.
    tolerance : float
        Half a unit in the second significant digit of the standard uncertainty, JCGM 101, 8.1.3.
    differences : tuple of float
        Absolute differences of the low and the high end point.
    """

    valid: bool
    tolerance: float
    differences: tuple[float, float]

    def sentence(self) -> str:
        """Say the outcome."""
        low, high = self.differences
        verdict = "agree" if self.valid else "do not agree"
        return (
            f"Propagation and simulation {verdict}: their interval ends differ by {low:.2g} and {high:.2g}, where "
            f"{self.tolerance:.2g} is allowed{'' if self.valid else '; take the simulation'}."
        )


def validate(propagation: Propagation, simulation: Simulation, digits: int = 2) -> Validation:
    """
    Compare the end points of the two 100p % intervals.

    Parameters
    ----------
    propagation : Propagation
        By the law of propagation.
    simulation : Simulation
        By simulation; the probabilistically symmetric interval is compared.
    digits : int
        Significant digits of the standard uncertainty that matter.

    References
    ----------
    .. [1] JCGM 101:2008, 8.1.
    """
    tolerance = numerical_tolerance(propagation.standard_uncertainty, digits)
    low, high = (abs(a - b) for a, b in zip(propagation.interval, simulation.interval_symmetric, strict=True))
    return Validation(max(low, high) <= tolerance, tolerance, (low, high))
