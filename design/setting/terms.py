"""Input quantities of many settings at once: one shape of knowledge, sized for each setting."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import Constant, Distribution, scaled
from budget.quantities.inputs import InputQuantity
from design.physics.evidence import Evidence, evidence
from design.setting.equations import Values

ONE = np.ones(())
"""Size of what is the same in every setting."""
EXACTLY_ONE = Constant(1.0)
"""Base of what is known exactly: its size says it all."""


@dataclass(frozen=True)
class InputTerm:
    """
    An input quantity of a measurement model, for a whole grid of settings.

    Parameters
    ----------
    symbol, name, unit : str
        As in the measurement model; the name is the key of its words, with the number of a power of its own or
        ``corrected``, where a correction stands for it, after a solidus.
    base : Distribution
        Knowledge common to all settings, before it is sized.
    size : ndarray, shape (g,) or ()
        Factor on ``base`` in each setting.
    source : str
        Where the knowledge comes from.
    neutral : float or None
        Value at which the quantity has no effect; None for what is set, not suffered.
    scatter : bool
        True where repeats average it.
    text : str
        Size as text of a setting's values; empty where it is the same in every setting.
    taken_off : str
        The same for what a correction takes off, where that may be another.
    """

    symbol: str
    name: str
    unit: str
    base: Distribution
    size: FloatArray
    source: str = ""
    neutral: float | None = None
    scatter: bool = False
    text: str = ""
    taken_off: str = ""

    def sized(self, values: Values, text: str, taken_off: str = "") -> InputTerm:
        """The input with a size that a text of the setting's values gives."""
        return InputTerm(
            self.symbol, self.name, self.unit, self.base, values[text], self.source, self.neutral, self.scatter,
            text, taken_off,
        )  # fmt: skip

    def quantity(self, index: int) -> InputQuantity:
        """Input quantity of one setting."""
        size = (
            float(np.broadcast_to(self.size, (index + 1,))[index]) if self.size.ndim == 0 else float(self.size[index])
        )
        return InputQuantity(
            symbol=self.symbol,
            distribution=scaled(self.base, size),
            name=self.name,
            unit=self.unit,
            source=self.source,
            neutral=self.neutral,
            scatter=self.scatter,
        )


def chosen(values: Values, symbol: str, name: str, unit: str, text: str) -> InputTerm:
    """Input that follows from the setting, as a text says."""
    return InputTerm(symbol, name, unit, EXACTLY_ONE, values[text], text=text)


def setting(symbol: str, name: str, unit: str, values: FloatArray | float) -> InputTerm:
    """Input known so well that it counts as a constant."""
    return InputTerm(symbol, name, unit, EXACTLY_ONE, np.asarray(values, dtype=np.float64))


@lru_cache(maxsize=4096)
def _constant(mean: float) -> Constant:
    return Constant(mean)


def estimate_of(term: InputTerm) -> InputTerm:
    """Constant by which a correction stands for a term: its expected value."""
    name, base = f"{term.name}/corrected", _constant(term.base.mean)
    return InputTerm(f"{term.symbol}_est", name, term.unit, base, term.size, text=term.taken_off or term.text)


def at_means(terms: Iterable[InputTerm]) -> dict[str, FloatArray]:
    """Expected value of every term in every setting."""
    return {term.symbol: term.base.mean * term.size for term in terms}


@cache
def default_distribution(key: str) -> Distribution:
    """
    Distribution of a row of the evidence table.

    Raises
    ------
    KeyError
        If no row has that key.
    """
    from budget.quantities.distributions import Lognormal, Normal, Rectangular

    row: Evidence = evidence(key)
    if row.family == "normal":
        return Normal(row.value, row.spread)
    if row.family == "lognormal":
        return Lognormal(row.value, row.spread)
    if row.family == "rectangular":
        return Rectangular(row.value - row.spread, row.value + row.spread)
    return Constant(row.value)
