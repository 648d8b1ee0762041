"""Independent replicates of a simulation: their mean, and from their spread its error."""

from __future__ import annotations

import numpy as np

from budget.arrays import FloatArray
from budget.sampling.control import Control, corrected_results
from budget.sampling.outcomes import Outcomes, inverted, numerical_tolerance, quantiles, shortest_interval
from budget.sampling.quasirandom import LARGEST_EXPONENT, ScrambledNet
from budget.sampling.trials import PLAIN_BLOCK, PLAIN_BLOCKS, Trials

NETS = 8
"""Nets with independent scrambles: enough to judge the error by their spread."""
FEWEST_CONTROLLED = 512
"""Points of a net from which its figures are corrected by the control variate."""


class Replicates:
    """
    Outcomes of independent replicates.

    Parameters
    ----------
    coverage : float
        Coverage probability of the interval whose ends are watched.
    accuracy : float
        Part of the numerical tolerance to reach.
    """

    def __init__(self, coverage: float, accuracy: float = 1.0) -> None:
        self.coverage = coverage
        self.accuracy = accuracy
        self.outcomes = Outcomes()
        self._results: list[FloatArray] = []
        self._weights: list[FloatArray] = []
        self._growing: list[tuple[ScrambledNet, list[FloatArray]]] = []
        self._control: Control | None = None
        self._own_errors: FloatArray | None = None
        self._below: FloatArray = np.zeros(0)

    @property
    def count(self) -> int:
        """Number of replicates."""
        return len(self._results)

    def take_batch(self, run: Trials, size: int) -> None:
        """Run one batch of pseudo-random trials."""
        self._finish(list(run.plain(size)))

    def take_plain(self, run: Trials, size: int) -> None:
        """Run pseudo-random trials; their error follows from their own spread."""
        self._own_errors = None
        while size > 0:
            part = min(size, PLAIN_BLOCKS * PLAIN_BLOCK)
            for block in run.plain(part):
                self.outcomes.add(block[0])
            size -= part

    def take_nets(self, run: Trials, size: int) -> None:
        """Run as many trials as equal nets, at least eight, hold within a number."""
        exponent = min((size // NETS).bit_length() - 1, LARGEST_EXPONENT)
        self._use(run.control if 1 << exponent >= FEWEST_CONTROLLED else None)
        for _ in range(size >> exponent):
            net = run.net(exponent)
            self._finish(list(run.of_net(net, range(net.blocks()))))

    def take_more(self, run: Trials) -> None:
        """Begin eight nets, or double them, or when they are full add eight more."""
        if not self._growing and self._results:
            self.take_nets(run, NETS << LARGEST_EXPONENT)
            return
        if not self._growing:
            self._use(run.control)
            self._growing = [(run.net(LARGEST_EXPONENT), []) for _ in range(NETS)]
        self._results, self._weights = [], []
        for net, blocks in self._growing:
            blocks.extend(run.of_net(net, range(len(blocks), max(2 * len(blocks), 1))))
            self._judge(np.concatenate(blocks, axis=1))
        if len(self._growing[0][1]) == self._growing[0][0].blocks():
            self._close()

    def results(self) -> tuple[FloatArray, FloatArray]:
        """Return estimate, standard uncertainty and both ends, and their standard errors, each of shape (4,)."""
        self._close()
        if not self._results:
            plain = [self.outcomes.mean, self.outcomes.standard_deviation, *self.symmetric_interval()]
            return np.array(plain), self._errors()
        all_results = np.array(self._results)
        means = np.mean(all_results, axis=0)
        if self._control is None:
            means[:2] = self.outcomes.mean, self.outcomes.standard_deviation
        else:
            means[1] = np.sqrt(np.mean(all_results[:, 1] ** 2))
        means[2:] = self.symmetric_interval()
        return means, self._errors()

    def stable(self) -> bool:
        """Tell whether twice every standard error is within the numerical tolerance, JCGM 101, 7.9.4."""
        if not self._results and not self.outcomes.count:
            return False
        deviations = [result[1] for result in self._results] or [self.outcomes.standard_deviation]
        allowed = self.accuracy * numerical_tolerance(float(np.mean(deviations)))
        return bool(2.0 * np.max(self._errors()) <= allowed)

    def symmetric_interval(self) -> tuple[float, float]:
        """Return the probabilistically symmetric coverage interval, JCGM 101, 7.7.2."""
        tail = 0.5 * (1.0 - self.coverage)
        low, high = inverted(*self._tails(), np.array([tail, 1.0 - tail]))
        return float(low), float(high)

    def shortest_interval(self) -> tuple[float, float]:
        """Return the shortest coverage interval, JCGM 101, 7.7.4."""
        return shortest_interval(*self._tails(), self.coverage)

    def _tails(self) -> tuple[FloatArray, FloatArray]:
        """Return the distribution function of both tails, corrected by the control variate."""
        self._close()
        values, probabilities = self.outcomes.distribution(1.0 - self.coverage)
        if self._control is None:
            return values, probabilities
        levels = self._control.levels
        off = np.cumsum(self._below)[:-1] / np.sum(self._below) - levels
        low, high = np.mean(self._weights, axis=0)
        off *= np.where(levels < 0.5, low, high)
        shift = np.interp(probabilities, np.concatenate([[0.0], levels, [1.0]]), np.concatenate([[0.0], off, [0.0]]))
        return values, np.maximum.accumulate(probabilities - shift)

    def _use(self, control: Control | None) -> None:
        self._control = control
        if control is not None and not self._below.size:
            self._below = np.zeros(control.levels.size + 1)

    def _errors(self) -> FloatArray:
        if not self._results:
            if self._own_errors is None:
                self._own_errors = self.outcomes.sampling_errors(self.coverage)
            return self._own_errors
        if len(self._results) < 2:
            return np.full(4, np.inf)
        return np.asarray(np.std(np.array(self._results), axis=0, ddof=1) / np.sqrt(len(self._results)))

    def _close(self) -> None:
        for _, blocks in self._growing:
            for block in blocks:
                self._add(block)
        self._growing = []

    def _finish(self, blocks: list[FloatArray]) -> None:
        self._judge(np.concatenate(blocks, axis=1))
        for block in blocks:
            self._add(block)

    def _add(self, block: FloatArray) -> None:
        self.outcomes.add(block[0])
        if self._control is not None:
            places = np.searchsorted(self._control.quantiles, block[2], side="left")
            self._below += np.bincount(places, minlength=self._below.size)

    def _judge(self, block: FloatArray) -> None:
        """Work out a replicate's estimate, standard uncertainty and both ends."""
        if self._control is not None:
            result, weights = corrected_results(block, self._control, self.coverage)
            self._weights.append(weights)
        else:
            tail = 0.5 * (1.0 - self.coverage)
            outcomes = block[0]
            deviation = float(np.std(outcomes, ddof=1)) if outcomes.size > 1 else 0.0
            ends = quantiles(outcomes, np.array([tail, 1.0 - tail]))
            result = np.array([float(np.mean(outcomes)), deviation, *ends])
        self._results.append(result)


def control_levels(coverage: float) -> FloatArray:
    """Return the probabilities in both tails at which a control variate is compared with its exact distribution."""
    tail = 0.5 * (1.0 - coverage)
    lower = np.unique(np.concatenate([np.linspace(0.0, min(2.0 * tail, 0.5), 42)[1:-1], [tail]]))
    return np.concatenate([lower, 1.0 - lower[::-1]])
