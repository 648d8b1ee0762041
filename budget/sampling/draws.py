"""Draws of the input quantities of a model, correlated where it says so."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.model.measurement import MeasurementModel
from budget.quantities.correlation import correlation_matrix, groups, square_root
from budget.quantities.shapes import Shape, StandardForm, standard_isf, standard_ppf

Draws: TypeAlias = dict[str, FloatArray]


@dataclass(frozen=True)
class Sampler:
    """
    How points of the unit cube become draws of the uncertain inputs of a model.

    Correlated inputs go through normal scores z = C·Φ⁻¹(u): exactly multivariate normal where the inputs are
    normal (JCGM 101, 6.4.8), a Gaussian copula with that coefficient between other marginals.

    Input k takes coordinate k of a point; ``correlated`` are sets of inputs with the root of their correlation matrix.
    ``stretched`` inputs are drawn more often in their tails and weigh less there (importance sampling): the variance of
    a quantity with heavy tails comes of draws that are rare otherwise.
    """

    symbols: tuple[str, ...]
    forms: tuple[StandardForm, ...]
    correlated: tuple[tuple[tuple[int, ...], FloatArray], ...]
    stretched: frozenset[int] = frozenset()

    @property
    def dimension(self) -> int:
        """Number of uncertain inputs."""
        return len(self.symbols)

    def draws(self, points: FloatArray) -> Draws:
        """Return draws by inverse distribution functions, from points of the open unit cube, shape (dimension, n)."""
        drawn: Draws = {}
        for indices, root in self.correlated:
            scores = root @ special.ndtri(points[list(indices)])
            for index, score in zip(indices, scores, strict=True):
                drawn[self.symbols[index]] = from_scores(self.forms[index], score)
        for index, (symbol, form) in enumerate(zip(self.symbols, self.forms, strict=True)):
            if symbol not in drawn:
                row = points[index]
                values = _stretched(form.shape, row) if index in self.stretched else standard_ppf(form.shape, row)
                values *= form.scale
                values += form.location
                drawn[symbol] = values
        return drawn

    def weights(self, points: FloatArray) -> FloatArray | None:
        """Return the weights of draws, or None where all weigh the same."""
        if not self.stretched:
            return None
        rows = points[sorted(self.stretched)]
        return np.asarray(np.prod(30.0 * (rows * (1.0 - rows)) ** 2, axis=0), dtype=float)

    def stretching(self, heavy: Sequence[str]) -> Sampler:
        """Return the sampler that stretches the first few of the independent inputs with heavy tails."""
        joined = {index for indices, _ in self.correlated for index in indices}
        places = [self.symbols.index(symbol) for symbol in heavy]
        return replace(self, stretched=frozenset([place for place in places if place not in joined][:MOST_STRETCHED]))

    def scores_to_draws(self, scores: FloatArray) -> Draws:
        """Return draws from independent standard normal scores, shape (dimension, n)."""
        joined = scores.copy()
        for indices, root in self.correlated:
            joined[list(indices)] = root @ scores[list(indices)]
        return {s: from_scores(form, row) for s, form, row in zip(self.symbols, self.forms, joined, strict=True)}


MOST_STRETCHED = 4
"""Inputs that are stretched at most: with each the weights differ more, and the bulk is known less well."""


def _stretched(shape: Shape, points: FloatArray) -> FloatArray:
    """Return quantiles at probabilities 10v³ - 15v⁴ + 6v⁵, in the upper half from above so that none is lost."""
    upper = points > 0.5
    near = np.where(upper, 1.0 - points, points)
    probabilities = near**3 * (10.0 + near * (6.0 * near - 15.0))
    return np.where(upper, standard_isf(shape, probabilities), standard_ppf(shape, probabilities))


def sampler(model: MeasurementModel) -> Sampler:
    """Return the sampler of a model; refuse a correlation matrix that is not positive semi-definite."""
    symbols = model.uncertain
    matrix = correlation_matrix(symbols, model.correlations)
    correlated = tuple(
        (tuple(group), square_root(matrix[np.ix_(group, group)])) for group in groups(matrix) if len(group) > 1
    )
    forms = tuple(model.distributions[symbol].standard_form() for symbol in symbols)
    return Sampler(symbols, forms, correlated)


def from_scores(form: StandardForm, scores: FloatArray) -> FloatArray:
    """Turn standard normal scores into draws of a distribution."""
    name, *parameters = form.shape
    if name == "normal":
        return form.location + form.scale * scores
    if name == "lognormal":
        sigma = float(parameters[0])
        return form.location + form.scale * np.exp(sigma * scores - 0.5 * sigma**2)
    points = np.clip(special.ndtr(scores), 1e-300, 1.0 - 2.0**-53)
    return form.location + form.scale * standard_ppf(form.shape, points)


def random_draws(drawing: Sampler, generator: np.random.Generator, count: int) -> Draws:
    """Return pseudo-random draws, each by the generator's own method where it has one (cheaper than inversion)."""
    drawn: Draws = {}
    for indices, root in drawing.correlated:
        scores = root @ generator.standard_normal((len(indices), count))
        for index, score in zip(indices, scores, strict=True):
            drawn[drawing.symbols[index]] = from_scores(drawing.forms[index], score)
    for symbol, form in zip(drawing.symbols, drawing.forms, strict=True):
        if symbol not in drawn:
            drawn[symbol] = _native(form, generator, count)
    return drawn


def _native(form: StandardForm, generator: np.random.Generator, count: int) -> FloatArray:
    """Draw from a distribution; the rectangular one takes one scaling from the unit interval instead of two."""
    name, *parameters = form.shape
    location, scale = form.location, form.scale
    if name == "rectangular":
        values = generator.random(count)
        location, scale = location - scale, 2.0 * scale
    elif name == "lognormal":
        values = generator.standard_normal(count)
        sigma = float(parameters[0])
        values *= sigma
        values += np.log(scale) - 0.5 * sigma**2
        values, scale = np.exp(values, out=values), 1.0
    elif name in _OWN_METHODS:
        values = _OWN_METHODS[str(name)](generator, count, *parameters)
    else:
        points = generator.random(count)
        points += 2.0**-54  # never exactly 0
        values = standard_ppf(form.shape, points)
    if scale != 1.0:
        values *= scale
    if location != 0.0:
        values += location
    return values


_OWN_METHODS: Mapping[str, Callable[..., FloatArray]] = MappingProxyType(
    {
        "normal": lambda generator, count: generator.standard_normal(count),
        "t": lambda generator, count, dof: generator.standard_t(dof, count),
        "exponential": lambda generator, count: generator.standard_exponential(count),
        "gamma": lambda generator, count, order: generator.standard_gamma(order, count),
        "triangular": lambda generator, count: generator.random(count) - generator.random(count),  # JCGM 101, 6.4.5.3
    }
)
