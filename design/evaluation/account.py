"""Why is it off? What the readings say of each source if the reference holds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Distribution
from budget.quantities.inputs import InputQuantity
from budget.sampling.quasirandom import uniform_draws
from design.errors import DesignError
from design.evaluation.result import Outcome

Draws = dict[str, FloatArray]

TRIALS = 2**16
"""Draws from the prior knowledge."""
LEAST_EFFECTIVE = 400.0
"""Effective sample size below which no account is given: a standard deviation is then good to 4 %."""
FARTHEST = 5.0
"""Standard uncertainties by which the nearest draw may miss the reference (judgement)."""
CANNOT_TELL = 0.5
"""Size of the posterior correlation from which two sources cannot be told apart (judgement)."""
WIDENED = 2.0
"""Factor on the normal scores of the two sources that matter most."""
SHARES = ("s_splash", "a_A", "e_lead")
"""Sources that are a share of the whole, and are looked for up to 0.9 of it."""
LOSSES = ("W_wall_est", "W_base_est", "W_return_est")
"""Sources that make up the heat loss."""
DRAWN = 4
"""Sources whose densities are kept for a figure: those whose change matters most."""
DRAWN_POINTS = 61
"""Points of a density that is drawn."""
CLASSES = 4096
"""Classes of equal width by which quantiles are looked up."""
_MIDDLES = (np.arange(20_000) + 0.5) / 20_000


@dataclass(frozen=True)
class Account:
    """
    One source before and after the readings.

    Parameters
    ----------
    symbol, quantity, unit : str
        Which.
    prior_mean, prior_uncertainty : float
        Knowledge of the bench. [unit]
    mean, standard_uncertainty, interval
        After the readings, if the reference holds; the interval is probabilistically symmetric. [unit]
    alone : float or None
        What it would have to be if it alone made the difference; None where it cannot. [unit]
    chance : float
        Probability, by the bench's knowledge, of a value as far out as that. [1]
    effect : float
        What its shift from the prior mean to the mean does to the corrected value. [J/kg]
    pushes : float
        What the source at its mean does to the uncorrected value. [J/kg]
    prior_density, density : ndarray, shape (2, points)
        Values and probability density before and after, of the ``DRAWN`` that matter most. [unit, 1/unit]
    """

    symbol: str
    quantity: str
    unit: str
    prior_mean: float
    prior_uncertainty: float
    mean: float
    standard_uncertainty: float
    interval: tuple[float, float]
    alone: float | None
    chance: float
    effect: float
    pushes: float
    prior_density: FloatArray
    density: FloatArray


@dataclass(frozen=True)
class Explanation:
    """
    All sources together.

    Parameters
    ----------
    accounts : tuple of Account
        Largest effect first.
    effective_sample_size : float
        Of the weighted draws.
    indistinguishable : tuple of (str, str, float)
        Pairs of sources that the data cannot tell apart, with their posterior correlation.
    loss, prior_loss : tuple of float
        Mean and standard uncertainty of the whole heat loss after and before the readings. [W]
    """

    accounts: tuple[Account, ...]
    effective_sample_size: float
    indistinguishable: tuple[tuple[str, str, float], ...]
    loss: tuple[float, float]
    prior_loss: tuple[float, float]


class TooFewEffectiveError(DesignError):
    """The readings lie so far outside the bench's knowledge that hardly a draw accounts for them."""

    says = "lies_outside"
    advice = (
        "the readings lie outside what the bench's knowledge allows; look for a slip, or for a loss not "
        "in the bench file"
    )

    def __init__(self, reason: str) -> None:
        super().__init__(f"{reason}: {self.advice}")


class SampleTooSmallError(TooFewEffectiveError):
    """Too few draws were asked for; the readings may well lie within the knowledge."""

    says = "sample_too_small"
    advice = "the sample is too small to account for the readings; ask for more trials, or leave --trials out"


def weighed(likelihood: FloatArray, prior: FloatArray | float = 0.0) -> tuple[FloatArray, float]:
    """
    Weights of draws, which add up to 1, and their effective sample size (Σw)²/Σw².

    Parameters
    ----------
    likelihood, prior : ndarray, shape (trials,)
        Logarithms: -z²/2 by how far each draw misses the reference, and the rest of its weight.

    Raises
    ------
    TooFewEffectiveError
        If that is below ``LEAST_EFFECTIVE``, or no draw comes within ``FARTHEST`` of the reference.
    SampleTooSmallError
        If it is, and ``TRIALS`` draws would do.

    References
    ----------
    .. [1] Kong, Liu and Wong 1994, J. Amer. Statist. Assoc. 89, 278 (effective sample size; from memory).
    """
    logarithm = likelihood + prior
    logarithm = np.where(np.isfinite(logarithm), logarithm, -np.inf)
    highest = float(logarithm.max())
    weight = np.exp(logarithm - highest) if math.isfinite(highest) else np.zeros_like(logarithm)
    effective = float(weight.sum() ** 2 / np.sum(weight**2)) if weight.any() else 0.0
    far = np.nanmax(likelihood) < -0.5 * FARTHEST**2
    if effective < LEAST_EFFECTIVE:
        enough = not far and effective * TRIALS >= LEAST_EFFECTIVE * weight.size
        refused = SampleTooSmallError if enough else TooFewEffectiveError
        raise refused(f"effective sample size {effective:.0f}, below the {LEAST_EFFECTIVE:.0f} needed")
    if far:
        raise TooFewEffectiveError(f"no draw within {FARTHEST:.0f} standard uncertainties of the reference")
    return weight / weight.sum(), effective


def explain(outcome: Outcome, coverage: float, *, trials: int = TRIALS, seed: int = 0) -> Explanation:
    """
    Weigh draws from the prior knowledge by how well each brings the readings to the reference.

    Parameters
    ----------
    outcome : Outcome
        Corrected latent heat from the readings, beside the reference.
    coverage : float
        Coverage probability of the intervals. [1]
    trials, seed : int
        Draws, a power of two, and the seed of the scrambled Sobol' sample.

    Raises
    ------
    TooFewEffectiveError
        If the readings lie outside the knowledge; see `weighed`.

    Notes
    -----
    By Bayes' theorem p(θ | E, L) ∝ p(θ) p(E | θ, L). The energy that would be shown is one to one with L for given θ,
    so p(E | θ, L) = p(f(E, θ) - L) ∂f/∂E. What comes anew with each reading is integrated out as a normal error, which
    keeps the weights even; given θ, its parts are then drawn from their normal distribution conditional on the sum.
    """
    model, reference, scatter = outcome.model, outcome.agreement.reference, outcome.scatter
    spread = math.hypot(outcome.agreement.reference_uncertainty, *scatter.values())
    lasting = [symbol for symbol in model.uncertain if symbol not in scatter]
    widened = sorted(lasting, key=lambda symbol: -abs(outcome.propagation.contributions[symbol]))[:2]
    draws, prior = _draws(model, widened, trials, seed)
    shared = {symbol: draws[symbol] for symbol in lasting}
    values = np.broadcast_to(model.evaluate({**model.estimates, **shared}), (trials,))
    slope = _slope(model, shared, values)
    weight, effective = weighed(-0.5 * ((values - reference) / spread) ** 2, prior + slope)
    draws |= _scatter_draws(outcome, draws, reference - values, seed)
    named = {quantity.symbol: quantity for quantity in model.inputs}
    accounts = [_account(model, named[symbol], draws[symbol], weight, reference, coverage) for symbol in draws]
    order = sorted(range(len(accounts)), key=lambda index: -abs(accounts[index].effect))
    symbols = list(draws)
    shown = [_drawn(accounts[i], named[symbols[i]].distribution, draws[symbols[i]], weight) for i in order[:DRAWN]]
    before = np.exp(prior)
    return Explanation(
        accounts=(*shown, *(accounts[index] for index in order[DRAWN:])),
        effective_sample_size=effective,
        indistinguishable=_indistinguishable(named, draws, weight),
        loss=_loss(draws, weight, model),
        prior_loss=_loss(draws, before / before.sum(), model),
    )


def _draws(model: MeasurementModel, widened: Sequence[str], trials: int, seed: int) -> tuple[Draws, FloatArray]:
    """
    Draws of every uncertain input, and the logarithms of their weights under the prior knowledge.

    The sources that matter most are drawn ``WIDENED`` times as far out, in normal scores, so that readings far out
    in the prior still meet draws.
    """
    points = np.asarray(uniform_draws(len(model.uncertain), trials, seed))
    logarithm = np.zeros(trials)
    draws: Draws = {}
    for index, symbol in enumerate(model.uncertain):
        probabilities = points[:, index]
        if symbol in widened:
            scores = WIDENED * special.ndtri(probabilities)
            logarithm += 0.5 * scores**2 * (WIDENED**-2 - 1.0)
            probabilities = np.clip(special.ndtr(scores), 1e-15, 1.0 - 1e-15)
        draws[symbol] = model.distributions[symbol].ppf(probabilities)
    return draws, logarithm


def _slope(model: MeasurementModel, shared: Mapping[str, FloatArray], values: FloatArray) -> FloatArray:
    """Logarithm of the change of the value with the energy shown."""
    shown = next(symbol for symbol in model.symbols if symbol.startswith("E_shown"))
    step = 1e-6 * model.constants[shown]
    moved = model.evaluate({**model.estimates, **shared, shown: model.constants[shown] + step})
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.abs(moved - values) / step))


def _scatter_draws(outcome: Outcome, draws: Mapping[str, FloatArray], missing: FloatArray, seed: int) -> Draws:
    """
    Draws of what comes anew with each reading, given how much is missing to the reference.

    A draw from the normal prior is moved by its regression on the sum (conditioning by kriging).
    """
    scatter, uncertainty = outcome.scatter, outcome.agreement.reference_uncertainty
    known = {symbol: outcome.model.distributions[symbol] for symbol in scatter}
    total = uncertainty**2 + sum(part**2 for part in scatter.values())
    noise = uncertainty * np.random.default_rng(seed).standard_normal(missing.size)
    scores = {symbol: (draws[symbol] - one.mean) / one.standard_uncertainty for symbol, one in known.items()}
    rest = missing + noise - sum((scatter[symbol] * scores[symbol] for symbol in scatter), np.zeros(missing.size))
    return {
        symbol: one.mean + one.standard_uncertainty * (scores[symbol] + scatter[symbol] / total * rest)
        for symbol, one in known.items()
    }


def _account(
    model: MeasurementModel,
    quantity: InputQuantity,
    drawn: FloatArray,
    weight: FloatArray,
    reference: float,
    coverage: float,
) -> Account:
    prior, at_estimates = quantity.distribution, model.at_estimates()
    mean, spread = moments(drawn, weight)
    low, high = weighted_quantiles(drawn, weight, (0.5 * (1.0 - coverage), 0.5 * (1.0 + coverage)))
    alone = _alone(model, quantity, reference)
    neutral = prior.mean if quantity.neutral is None else quantity.neutral
    return Account(
        symbol=quantity.symbol.removesuffix("_est"),
        quantity=quantity.name,
        unit=quantity.unit,
        prior_mean=prior.mean,
        prior_uncertainty=prior.standard_uncertainty,
        mean=mean,
        standard_uncertainty=spread,
        interval=(low, high),
        alone=alone,
        chance=_chance(prior, alone),
        effect=_at(model, quantity.symbol, mean) - at_estimates,
        pushes=_at(model, quantity.symbol, neutral) - at_estimates,
        prior_density=np.zeros((2, 0)),
        density=np.zeros((2, 0)),
    )


def moments(drawn: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """Mean and standard deviation of weighted draws."""
    mean = float(weight @ drawn)
    return mean, math.sqrt(max(float(weight @ (drawn - mean) ** 2), 0.0))


def _drawn(account: Account, prior: Distribution, drawn: FloatArray, weight: FloatArray) -> Account:
    """Add the densities that a figure shows."""
    even = np.full(_MIDDLES.size, 1.0 / _MIDDLES.size)
    return replace(account, prior_density=_density(prior.ppf(_MIDDLES), even), density=_density(drawn, weight))


def _at(model: MeasurementModel, symbol: str, value: float) -> float:
    return float(model.program.evaluate({**model.estimates, symbol: value}))


def weighted_quantiles(values: FloatArray, weight: FloatArray, wanted: tuple[float, ...]) -> tuple[float, ...]:
    """
    Quantiles of draws, shape (n,), at the probabilities wanted; the weights add up to 1.

    By linear interpolation of the weighted distribution function at its middles. Only the values about each quantile
    are sorted: those of the class that holds it and of its nearest neighbours that are not empty.
    """
    low, high = float(values.min()), float(values.max())
    if not 0.0 < high - low < math.inf:
        return tuple(low for _ in wanted)
    places = ((values - low) * ((CLASSES - 1) / (high - low))).astype(np.intp)
    filled = np.flatnonzero(np.bincount(places, minlength=CLASSES))
    up_to = np.cumsum(np.bincount(places, weights=weight, minlength=CLASSES)[filled])
    found = []
    for probability in wanted:
        held = min(int(np.searchsorted(up_to, probability)), filled.size - 1)
        first, last = max(held - 1, 0), min(held + 1, filled.size - 1)
        near = np.flatnonzero((places >= filled[first]) & (places <= filled[last]))
        near = near[np.argsort(values[near], kind="stable")]
        weights = weight[near]
        middles = (up_to[first - 1] if first else 0.0) + np.cumsum(weights) - 0.5 * weights
        found.append(float(np.interp(probability, middles, values[near])))
    return tuple(found)


def _alone(model: MeasurementModel, quantity: InputQuantity, reference: float) -> float | None:
    """Value at which this source alone, the others as expected, brings the readings to the reference."""
    symbol, prior = quantity.symbol, quantity.distribution
    low, high = prior.support
    reach = 400.0 * prior.standard_uncertainty
    ends = np.array([max(low, prior.mean - reach), min(high, prior.mean + reach)])
    if symbol.removesuffix("_est") in SHARES:
        ends = np.minimum(ends, 0.9)
    grid = np.unique(np.concatenate([prior.mean + (end - prior.mean) * np.linspace(0, 1, 400) ** 2 for end in ends]))
    values = model.evaluate({**model.estimates, symbol: grid}) - reference
    crossings = np.flatnonzero(np.isfinite(values[1:]) & (np.sign(values[1:]) != np.sign(values[:-1])))
    if not crossings.size:
        return None
    place = int(crossings[np.argmin(np.abs(grid[crossings] - prior.mean))])
    before, after = values[place], values[place + 1]
    return float(grid[place] + (grid[place + 1] - grid[place]) * before / (before - after))


def _chance(prior: Distribution, alone: float | None) -> float:
    """Probability of a value at least as far out on that side, by interpolation of the quantiles."""
    if alone is None:
        return 0.0
    grid = np.concatenate([np.geomspace(1e-9, 1e-3, 400), np.linspace(1e-3, 0.5, 2000)[1:]])
    probabilities = np.concatenate([grid, 1.0 - grid[::-1][1:]])
    below = float(np.interp(alone, prior.ppf(probabilities), probabilities, left=0.0, right=1.0))
    return below if alone < prior.mean else 1.0 - below


def _density(values: FloatArray, weight: FloatArray) -> FloatArray:
    """Density of weighted draws between their outer quantiles."""
    low, high = weighted_quantiles(values, weight, (0.002, 0.998))
    edges = np.linspace(low, high, DRAWN_POINTS + 1)
    heights, _ = np.histogram(values, bins=edges, weights=weight)
    return np.stack([0.5 * (edges[1:] + edges[:-1]), heights / max(edges[1] - edges[0], 1e-300)])


def _indistinguishable(
    named: Mapping[str, InputQuantity], draws: Draws, weight: FloatArray
) -> tuple[tuple[str, str, float], ...]:
    names = [named[symbol].name for symbol in draws]
    centred = np.stack([drawn - weight @ drawn for drawn in draws.values()])
    covariance = (centred * weight) @ centred.T
    spread = np.sqrt(np.clip(np.diag(covariance), 1e-300, None))
    matrix = covariance / np.outer(spread, spread)
    bound = zip(*np.nonzero(np.triu(np.abs(matrix) >= CANNOT_TELL, k=1)), strict=True)
    return tuple(sorted(((names[i], names[j], float(matrix[i, j])) for i, j in bound), key=lambda pair: -abs(pair[2])))


def _loss(draws: Draws, weight: FloatArray, model: MeasurementModel) -> tuple[float, float]:
    total = np.zeros(weight.size)
    for symbol in LOSSES:
        total = total + (draws[symbol] if symbol in draws else model.constants.get(symbol, 0.0))
    return moments(total, weight)
