"""Why is it off? What the readings say of each source if the reference holds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import Distribution
from budget.sampling.quasirandom import uniform_draws
from design.errors import DesignError
from design.evaluation.classroom import is_scatter

Draws = dict[str, FloatArray]

TRIALS = 2**16
"""Draws from the prior knowledge."""
LEAST_EFFECTIVE = 400.0
"""Effective sample size below which no account is given: a standard deviation is then good to 4 %."""
CANNOT_TELL = 0.5
"""Size of the posterior correlation from which two sources cannot be told apart (judgement)."""
WIDENED = 2.0
"""Factor on the normal scores of the two sources that matter most."""
_MIDDLES = (np.arange(20_000) + 0.5) / 20_000
DRAWN = 4
"""Sources whose densities are kept for a figure: those whose change matters most."""
DRAWN_POINTS = 61
"""Points of a density that is drawn."""


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
    mean, standard_uncertainty : float
        After the readings, if the reference holds. [unit]
    interval : tuple of float
        Probabilistically symmetric interval after the readings. [unit]
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
    trials : int
        Draws made.
    indistinguishable : tuple of (str, str, float)
        Pairs of sources that the data cannot tell apart, with their posterior correlation.
    loss : tuple of float
        Mean and standard uncertainty of the whole heat loss after the readings. [W]
    prior_loss : tuple of float
        The same before the readings. [W]
    """

    accounts: tuple[Account, ...]
    effective_sample_size: float
    trials: int
    indistinguishable: tuple[tuple[str, str, float], ...]
    loss: tuple[float, float]
    prior_loss: tuple[float, float]


class TooFewEffectiveError(DesignError):
    """
    The readings lie so far outside the bench's knowledge that hardly a draw accounts for them.

    Parameters
    ----------
    effective_sample_size : float
        What was reached.
    """

    def __init__(self, effective_sample_size: float) -> None:
        super().__init__(
            f"effective sample size {effective_sample_size:.0f}, below the {LEAST_EFFECTIVE:.0f} needed: the readings "
            "lie outside what the bench's knowledge allows; look for a slip, or for a loss not in the bench file"
        )
        self.effective_sample_size = effective_sample_size


def explain(
    model: MeasurementModel,
    reference: float,
    reference_uncertainty: float,
    coverage: float,
    *,
    trials: int = TRIALS,
    seed: int = 0,
) -> Explanation:
    """
    Weigh draws from the prior knowledge by how well each brings the readings to the reference.

    Parameters
    ----------
    model : MeasurementModel
        Corrected latent heat from the readings.
    reference, reference_uncertainty : float
        Latent heat at room pressure and its standard uncertainty. [J/kg]
    coverage : float
        Coverage probability of the intervals. [1]
    trials : int
        Draws, a power of two.
    seed : int
        Seed of the scrambled Sobol' sample.

    Returns
    -------
    Explanation

    Raises
    ------
    TooFewEffectiveError
        If the effective sample size (Σw)²/Σw² is below ``LEAST_EFFECTIVE``.

    Notes
    -----
    By Bayes' theorem p(θ | E, L) ∝ p(θ) p(E | θ, L). The energy that would be shown is one to one with L for given θ,
    so p(E | θ, L) = p(f(E, θ) - L) ∂f/∂E. What comes anew with each reading is integrated out as a normal error, which
    keeps the weights even; given θ, its parts are then drawn from their normal distribution conditional on the sum.

    References
    ----------
    .. [1] Kong, Liu and Wong 1994, J. Amer. Statist. Assoc. 89, 278 (effective sample size; from memory).
    """
    propagation = propagate(model)
    scatter = {
        symbol: contribution
        for symbol, contribution in propagation.contributions.items()
        if is_scatter(symbol) and symbol in model.uncertain
    }
    spread = math.hypot(reference_uncertainty, *scatter.values())
    sizes = {s: abs(c) for s, c in propagation.contributions.items() if s in model.uncertain and s not in scatter}
    widened = sorted(sizes, key=lambda symbol: -sizes[symbol])[:2]
    draws, prior = _draws(model, widened, trials, seed)
    shared = {symbol: draws[symbol] for symbol in draws if symbol not in scatter}
    values = np.broadcast_to(model.evaluate({**model.estimates, **shared}), (trials,))
    weight = prior * _weights(model, shared, values, reference, spread)
    effective = float(weight.sum() ** 2 / np.sum(weight**2)) if weight.any() else 0.0
    if effective < LEAST_EFFECTIVE:
        raise TooFewEffectiveError(effective)
    draws |= _scatter_draws(model, scatter, draws, reference - values, (reference_uncertainty, seed))
    weight = weight / weight.sum()
    accounts = [_account(model, symbol, draws[symbol], weight, reference, coverage) for symbol in draws]
    accounts.sort(key=lambda account: -abs(account.effect))
    shown = [_drawn(account, model, draws, weight) for account in accounts[:DRAWN]]
    return Explanation(
        accounts=(*shown, *accounts[DRAWN:]),
        effective_sample_size=effective,
        trials=trials,
        indistinguishable=_indistinguishable(model, draws, weight),
        loss=_loss(draws, weight, model),
        prior_loss=_loss(draws, prior, model),
    )


def _draws(model: MeasurementModel, widened: Sequence[str], trials: int, seed: int) -> tuple[Draws, FloatArray]:
    """
    Draws of every uncertain input, and their weights under the prior knowledge.

    The sources that matter most are drawn ``WIDENED`` times as far out, in normal scores, so that readings far out
    in the prior still meet draws.
    """
    symbols = model.uncertain
    points = np.asarray(uniform_draws(len(symbols), trials, seed))
    logarithm = np.zeros(trials)
    draws: Draws = {}
    for index, symbol in enumerate(symbols):
        probabilities = points[:, index]
        if symbol in widened:
            scores = WIDENED * special.ndtri(probabilities)
            logarithm += 0.5 * scores**2 * (WIDENED**-2 - 1.0)
            probabilities = np.clip(special.ndtr(scores), 1e-15, 1.0 - 1e-15)
        draws[symbol] = model.distributions[symbol].ppf(probabilities)
    weight = np.exp(logarithm)
    return draws, weight / weight.sum()


def _weights(
    model: MeasurementModel, shared: Mapping[str, FloatArray], values: FloatArray, reference: float, spread: float
) -> FloatArray:
    score = (values - reference) / spread
    weight = np.exp(-0.5 * score**2)
    shown = next(symbol for symbol in model.symbols if symbol.startswith("E_shown"))
    step = 1e-6 * model.constants[shown]
    moved = model.evaluate({**model.estimates, **shared, shown: model.constants[shown] + step})
    slope = np.abs(moved - values) / step
    return np.where(np.isfinite(weight), weight * slope, 0.0)


def _scatter_draws(
    model: MeasurementModel,
    scatter: Mapping[str, float],
    draws: Mapping[str, FloatArray],
    missing: FloatArray,
    reference: tuple[float, int],
) -> dict[str, FloatArray]:
    """
    Draws of what comes anew with each reading, given how much is missing to the reference.

    A draw from the normal prior is moved by its regression on the sum (conditioning by kriging).
    """
    uncertainty, seed = reference
    total = uncertainty**2 + sum(part**2 for part in scatter.values())
    noise = uncertainty * np.random.default_rng(seed).standard_normal(missing.size)
    standard = {}
    for symbol in scatter:
        distribution = model.distributions[symbol]
        standard[symbol] = (draws[symbol] - distribution.mean) / distribution.standard_uncertainty
    rest = missing + noise - sum((scatter[symbol] * standard[symbol] for symbol in scatter), np.zeros(missing.size))
    moved = {}
    for symbol, part in scatter.items():
        distribution = model.distributions[symbol]
        score = standard[symbol] + part / total * rest
        moved[symbol] = distribution.mean + distribution.standard_uncertainty * score
    return moved


def _account(
    model: MeasurementModel,
    symbol: str,
    drawn: FloatArray,
    weight: FloatArray,
    reference: float,
    coverage: float,
) -> Account:
    quantity = next(one for one in model.inputs if one.symbol == symbol)
    prior = quantity.distribution
    mean = float(weight @ drawn)
    spread = math.sqrt(max(float(weight @ (drawn - mean) ** 2), 0.0))
    low, high = weighted_quantiles(drawn, weight, (0.5 * (1.0 - coverage), 0.5 * (1.0 + coverage)))
    alone = _alone(model, symbol, prior, reference)
    at_estimates = model.at_estimates()
    neutral = float(prior.mean if quantity.neutral is None else quantity.neutral)
    return Account(
        symbol=symbol.removesuffix("_est"),
        quantity=quantity.name,
        unit=quantity.unit,
        prior_mean=prior.mean,
        prior_uncertainty=prior.standard_uncertainty,
        mean=mean,
        standard_uncertainty=spread,
        interval=(low, high),
        alone=alone,
        chance=_chance(prior, alone),
        effect=_at(model, symbol, mean) - at_estimates,
        pushes=_at(model, symbol, neutral) - at_estimates,
        prior_density=np.zeros((2, 0)),
        density=np.zeros((2, 0)),
    )


def _drawn(account: Account, model: MeasurementModel, draws: Mapping[str, FloatArray], weight: FloatArray) -> Account:
    """Add the densities that a figure shows."""
    symbol = account.symbol if account.symbol in draws else f"{account.symbol}_est"
    prior = model.distributions[symbol]
    even = np.full(_MIDDLES.size, 1.0 / _MIDDLES.size)
    return replace(account, prior_density=_density(prior.ppf(_MIDDLES), even), density=_density(draws[symbol], weight))


def _at(model: MeasurementModel, symbol: str, value: float) -> float:
    return float(model.program.evaluate({**model.estimates, symbol: value}))


def weighted_quantiles(values: FloatArray, weight: FloatArray, wanted: tuple[float, ...]) -> tuple[float, ...]:
    """
    Quantiles of weighted draws.

    Parameters
    ----------
    values, weight : ndarray, shape (n,)
        Draws, and their weights, which add up to 1.
    wanted : tuple of float
        Probabilities. [1]

    Returns
    -------
    tuple of float
        By linear interpolation of the weighted distribution function at its middles.
    """
    order = np.argsort(values, kind="stable")
    weights = weight[order]
    middles = np.cumsum(weights) - 0.5 * weights
    return tuple(float(value) for value in np.interp(wanted, middles, values[order]))


def _alone(model: MeasurementModel, symbol: str, prior: Distribution, reference: float) -> float | None:
    """Value at which this source alone, the others as expected, brings the readings to the reference."""
    low, high = prior.support
    reach = 400.0 * prior.standard_uncertainty
    ends = np.array([max(low, prior.mean - reach), min(high, prior.mean + reach)])
    if symbol.removesuffix("_est") in ("s_splash", "a_A", "e_lead"):
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
    """Probability of a value at least as far out on that side, by bisection on the quantiles."""
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
    model: MeasurementModel, draws: Mapping[str, FloatArray], weight: FloatArray
) -> tuple[tuple[str, str, float], ...]:
    names = {quantity.symbol: quantity.name for quantity in model.inputs}
    symbols = list(draws)
    centred = np.stack([draws[symbol] - weight @ draws[symbol] for symbol in symbols])
    covariance = (centred * weight) @ centred.T
    spread = np.sqrt(np.clip(np.diag(covariance), 1e-300, None))
    matrix = covariance / np.outer(spread, spread)
    pairs = [
        (names[symbols[i]], names[symbols[j]], float(matrix[i, j]))
        for i in range(len(symbols))
        for j in range(i + 1, len(symbols))
        if abs(matrix[i, j]) >= CANNOT_TELL
    ]
    return tuple(sorted(pairs, key=lambda pair: -abs(pair[2])))


def _loss(draws: Mapping[str, FloatArray], weight: FloatArray, model: MeasurementModel) -> tuple[float, float]:
    total = np.zeros(weight.size)
    for name in ("W_wall", "W_base", "W_return"):
        symbol = f"{name}_est"
        total = total + (draws[symbol] if symbol in draws else model.constants.get(symbol, 0.0))
    mean = float(weight @ total)
    return mean, math.sqrt(max(float(weight @ (total - mean) ** 2), 0.0))
