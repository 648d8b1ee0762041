"""How far the readings scatter: residuals of lines, repeats and powers, pooled with what was expected."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.propagation import Propagation, coverage_factor
from design.evaluation.runs import Contrast, Run, contrast_of, readings_at_marks
from design.evaluation.straight_lines import straight_line

Kind = Literal["line", "repeats", "powers"]
"""Marks about the line of a run; runs about the others at their power; powers about one latent heat and one loss."""

SCATTER = ("d_balance", "d_drift", "d_boiling", "d_count", "d_time", "Q_drift")
"""Inputs that come anew with every reading."""
AT_A_MARK = ("d_balance", "d_boiling", "d_count", "d_time")
"""Those of them that come anew with every mark of a run."""
PRIOR_DOF = 1
"""
Degrees of freedom of the noise that the bench expects: known to some 70 %, as readings that tell 0.1 to 0.7 g know it.
(JCGM 100:2008, G.4.2: half the inverse square of the relative uncertainty)
"""
LARGEST_NOISE = 0.004
"""Noise of one mark beyond the expected that is no longer thought of before readings show it. [kg] (judgement)"""
UNSEEN_FACTOR = 3.0
"""Multiple of the expected noise for which an uncertainty is given where readings cannot show theirs (judgement)."""
FINEST = 1e-6
"""Least noise of one mark, so that a multiple of it exists. [kg]"""
STEPS = 201
"""Multiples over which the pooled variance is averaged."""
MORE_THAN_EXPECTED = 0.05
"""Probability of as much scatter as this or more, from which it counts as more than expected (common practice)."""


@dataclass(frozen=True)
class Fit:
    """
    What one comparison of readings with each other says of their noise.

    Parameters
    ----------
    kind, power, run : str, int, str
        Which comparison, number of the power (0: all), and name of the run (empty: all).
    chi_square, degrees_of_freedom : float, int
        Squared residuals over their expected variances, and how many of them are free.
    """

    kind: Kind
    power: int
    run: str
    chi_square: float
    degrees_of_freedom: int

    @property
    def chance(self) -> float:
        """Probability of at least that much scatter, if the noise is as expected. [1]"""
        return float(special.chdtrc(self.degrees_of_freedom, self.chi_square))


@dataclass(frozen=True)
class Scatter:
    """
    Noise of the readings: what was expected, pooled with what they show.

    Parameters
    ----------
    fits : tuple of Fit
        Every comparison that the readings allow; none where they cannot show their noise.
    factor : float
        Noise over the expected, at least 1. [1]
    effective_dof : float
        Degrees of freedom of that; infinite where the noise is taken as expected.
    expected_noise : float
        Standard uncertainty expected of one mark at the highest power. [kg]
    """

    fits: tuple[Fit, ...] = ()
    factor: float = 1.0
    effective_dof: float = math.inf
    expected_noise: float = 0.0

    @property
    def seen(self) -> bool:
        """Whether the readings show their noise."""
        return bool(self.fits)

    @property
    def chi_square(self) -> float:
        """Of all comparisons."""
        return sum(fit.chi_square for fit in self.fits)

    @property
    def degrees_of_freedom(self) -> int:
        """Of all comparisons."""
        return sum(fit.degrees_of_freedom for fit in self.fits)

    @property
    def chance(self) -> float:
        """Probability of at least that much scatter, if the noise is as expected. [1]"""
        return float(special.chdtrc(self.degrees_of_freedom, self.chi_square)) if self.fits else 1.0

    @property
    def more_than_expected(self) -> bool:
        """Whether the readings scatter more than the bench lets one expect."""
        return self.chance < MORE_THAN_EXPECTED


def pooled(fits: Sequence[Fit], expected_noise: float) -> Scatter:
    """
    Join what comparisons show of the noise with what was expected: a standard uncertainty of one mark. [kg].

    Notes
    -----
    The variance over the expected one, φ², has before the readings an inverse chi-square distribution with
    ``PRIOR_DOF`` degrees of freedom, kept to what the instruments can do (φ at least 1) and to ``LARGEST_NOISE``;
    after them it has ν₀ + ν, and its sum of squares is ν₀ + χ². Its mean is the pooled variance: scatter that happens
    to be small in few readings does not promise little noise. Where all readings together hide that those of one
    kind scatter more than expected, that kind alone counts.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.4 (pooled estimate of variance), 4.3.4, G.4.2.
    """
    found = [_posterior(fits, expected_noise)] if fits else []
    for kind in ("repeats", "powers"):
        some = [fit for fit in fits if fit.kind == kind]
        if some and Scatter(tuple(some)).more_than_expected:
            found.append(_posterior(some, expected_noise))
    if not found:
        return Scatter(expected_noise=expected_noise)
    largest = max(found, key=lambda one: one.factor)
    return replace(largest, fits=tuple(fits))


def _posterior(fits: Sequence[Fit], expected_noise: float) -> Scatter:
    seen = Scatter(tuple(fits))
    factors = np.geomspace(1.0, math.hypot(1.0, LARGEST_NOISE / max(expected_noise, FINEST)), STEPS)
    dof, squares = PRIOR_DOF + seen.degrees_of_freedom, PRIOR_DOF + seen.chi_square
    logarithm = -dof * np.log(factors) - 0.5 * squares / factors**2
    weight = np.exp(logarithm - logarithm.max())
    mean = float(weight @ factors**2 / weight.sum())
    factor = math.sqrt(max(mean, seen.chi_square / seen.degrees_of_freedom))
    return Scatter(seen.fits, factor, float(dof), expected_noise)


def scatter_of(
    levels: Sequence[Sequence[Run]],
    contrasts: Sequence[Contrast],
    budget: Propagation,
    *,
    loss: float,
    steps_of_mass: bool,
    fitted: FloatArray | None,
) -> Scatter:
    """
    Compare the readings of a group with each other.

    Parameters
    ----------
    levels, contrasts
        Runs at each power, and what their marks say together.
    budget : Propagation
        Of the result with the noise as expected; its sensitivity coefficients turn noise into mass.
    loss : float
        Heat loss that goes with time, where times were read. [W]
    steps_of_mass : bool
        Whether the mass is set and the energy is read.
    fitted : ndarray, shape (3, powers), or None
        Energy [J], mass [kg] and time [s] at each power, where latent heat and loss are fitted to them.
    """
    fits: list[Fit] = []
    for number, (level, contrast) in enumerate(zip(levels, contrasts, strict=True), start=1):
        noise = _Noise(budget, contrast, "" if number == 1 else f"_{number}")
        fits += _lines(level, number, noise, steps_of_mass=steps_of_mass)
        fits += _repeats(level, number, noise, loss, steps_of_mass=steps_of_mass)
    if fitted is not None and len(levels) > 2:
        fits.append(_powers(contrasts, budget, fitted))
    return pooled(fits, _Noise(budget, contrasts[0], "").of_mark)


@dataclass(frozen=True)
class _Noise:
    """Expected noise at one power, as mass."""

    budget: Propagation
    contrast: Contrast
    tail: str

    def of_contrast(self, symbols: Sequence[str] = SCATTER) -> float:
        """Standard uncertainty of the fall of mass that all marks of all runs give. [kg]"""
        parts = (self.budget.contributions.get(f"{symbol}{self.tail}", 0.0) for symbol in symbols)
        slope = self.budget.sensitivity_coefficients.get(f"m_shown{self.tail}", 0.0)
        return math.hypot(*parts) / abs(slope) if slope else 0.0

    @property
    def of_mark(self) -> float:
        """Standard uncertainty of one mark. [kg]"""
        return self.of_contrast(AT_A_MARK) / (math.sqrt(2.0) * self.contrast.scatter)


def _lines(level: Sequence[Run], number: int, noise: _Noise, *, steps_of_mass: bool) -> Iterator[Fit]:
    """Marks of each run about its line of mass against energy, as the set quantity has no error."""
    for run in level:
        if run.mass.size < 3 or noise.of_mark <= 0.0:
            continue
        given, read = (run.mass, run.energy) if steps_of_mass else (run.energy, run.mass)
        marks = readings_at_marks(run)
        line = straight_line(given, read, np.ones(given.size), u_y=1.0 / np.sqrt(marks))
        slope = line.slope if steps_of_mass else 1.0
        yield Fit("line", number, run.name, line.chi_square / (slope * noise.of_mark) ** 2, line.degrees_of_freedom)


def _repeats(level: Sequence[Run], number: int, noise: _Noise, loss: float, *, steps_of_mass: bool) -> Iterator[Fit]:
    """Runs at one power about their common ratio of energy to mass."""
    if len(level) < 2:
        return
    alone = [contrast_of([run], steps_of_mass=steps_of_mass) for run in level]
    energy = np.array([one.energy - loss * (one.time or 0.0) for one in alone])
    mass = np.array([one.mass for one in alone])
    expected = noise.of_contrast() * np.array([one.scatter for one in alone]) / noise.contrast.scatter
    if np.any(expected <= 0.0):
        return
    residual = mass - energy * (mass.sum() / energy.sum())
    yield Fit("repeats", number, "", float(np.sum((residual / expected) ** 2)), len(level) - 1)


def _powers(contrasts: Sequence[Contrast], budget: Propagation, fitted: FloatArray) -> Fit:
    """Powers about one latent heat and one heat loss."""
    tails = ["" if number == 1 else f"_{number}" for number in range(1, len(contrasts) + 1)]
    noise = [_Noise(budget, one, tail).of_contrast() for one, tail in zip(contrasts, tails, strict=True)]
    energy, mass, time = fitted
    line = straight_line(mass, energy, time, u_x=np.array(noise), u_y=0.0)
    return Fit("powers", 0, "", line.chi_square, line.degrees_of_freedom)


def with_noise(budget: Propagation, noise: Mapping[str, float], effective_dof: float) -> Propagation:
    """
    Effective degrees of freedom and what follows from them, where one estimate of the noise holds for several inputs.

    Parameters
    ----------
    budget : Propagation
        With the inputs at their pooled size.
    noise : mapping of str to float
        Contributions of the inputs that the estimate sizes.
    effective_dof : float
        Of the estimate.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1 (Welch-Satterthwaite, the noise as one component).
    """
    share = math.hypot(*noise.values(), 0.0) / budget.standard_uncertainty if budget.standard_uncertainty else 0.0
    fourths = (0.0 if math.isinf(budget.effective_dof) else 1.0 / budget.effective_dof) + share**4 / effective_dof
    dof = 1.0 / fourths if fourths > 0.0 else math.inf
    factor = coverage_factor(budget.coverage, dof)
    expanded = factor * budget.standard_uncertainty
    return replace(
        budget,
        effective_dof=dof,
        coverage_factor=factor,
        expanded_uncertainty=expanded,
        interval=(budget.estimate - expanded, budget.estimate + expanded),
    )


def noise_factors(scatter: Scatter, probabilities: FloatArray) -> FloatArray:
    """
    Draws of the noise over its pooled size, shape (n,): √(ν/χ²) of a scaled and shifted t distribution.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9.
    """
    if math.isinf(scatter.effective_dof):
        return np.ones_like(probabilities)
    return np.asarray(np.sqrt(scatter.effective_dof / special.chdtri(scatter.effective_dof, probabilities)))
