"""Running trials in cache-sized blocks, on any number of threads with the same outcome."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from types import TracebackType
from typing import Self, TypeVar

import numpy as np

from budget.domain import find_fault
from budget.draws import Draws, Sampler, random_draws
from budget.errors import BudgetError
from budget.model import MeasurementModel
from budget.outcomes import Outcomes, quantiles
from budget.quantiles import Array
from budget.quasirandom import LARGEST_EXPONENT, ScrambledNet, scrambled_net
from budget.tolerance import numerical_tolerance

T = TypeVar("T")
NETS = 8
"""Nets with independent scrambles: enough to judge the error by their spread."""
PLAIN_BLOCK = 8192
PLAIN_BLOCKS = 16
MOST_INVALID = 1e-3
"""Share of trials without a value above which a simulation is refused."""


class Trials:
    """
    Evaluates a model for draws of its inputs, in blocks.

    Parameters
    ----------
    model : MeasurementModel
        The model.
    drawing : Sampler
        Its uncertain inputs.
    seed : int
        Seed; every net and every run of blocks gets its own child of it.
    workers : int
        Threads.
    """

    def __init__(self, model: MeasurementModel, drawing: Sampler, seed: int, workers: int = 1) -> None:
        self.count = 0
        self.invalid = 0
        self.note = ""
        self._model = model
        self._drawing = drawing
        self._seeds = np.random.SeedSequence(seed)
        self._pool = ThreadPoolExecutor(workers) if workers > 1 else None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def net(self, exponent: int) -> ScrambledNet:
        """Return a fresh net of 2^exponent points."""
        return scrambled_net(self._drawing.dimension, exponent, np.random.default_rng(self._seeds.spawn(1)[0]))

    def of_net(self, net: ScrambledNet, blocks: Iterable[int]) -> Iterator[Array]:
        """Yield the finite outcomes of blocks of a net."""

        def work(index: int) -> tuple[Array, Draws]:
            draws = self._drawing.draws(net.block(index))
            return self._outcomes(draws)

        return self._run(work, list(blocks))

    def plain(self, size: int) -> Iterator[Array]:
        """Yield the finite outcomes of pseudo-random draws."""
        seeds = self._seeds.spawn(-(-size // (PLAIN_BLOCKS * PLAIN_BLOCK)))

        def work(number: int) -> tuple[Array, Draws]:
            generator = np.random.Generator(np.random.SFC64(seeds[number]))
            length = min(PLAIN_BLOCKS * PLAIN_BLOCK, size - number * PLAIN_BLOCKS * PLAIN_BLOCK)
            outcomes, faulty = np.empty(length), Draws()
            for start in range(0, length, PLAIN_BLOCK):
                draws = random_draws(self._drawing, generator, min(PLAIN_BLOCK, length - start))
                outcomes[start : start + PLAIN_BLOCK], fault = self._outcomes(draws)
                faulty = faulty or fault
            return outcomes, faulty

        return self._run(work, list(range(len(seeds))))

    def _outcomes(self, draws: Draws) -> tuple[Array, Draws]:
        """Return the outcomes, and the draws that have none."""
        outcomes = self._model.evaluate(draws)
        bad = ~np.isfinite(outcomes)
        return outcomes, {symbol: values[bad] for symbol, values in draws.items()} if np.any(bad) else {}

    def _run(self, work: Callable[[T], tuple[Array, Draws]], tasks: list[T]) -> Iterator[Array]:
        results = map(work, tasks) if self._pool is None else self._pool.map(work, tasks)
        for outcomes, faulty in results:
            self.count += outcomes.size
            yield self._valid(outcomes, faulty) if faulty else outcomes

    def _valid(self, outcomes: Array, faulty: Draws) -> Array:
        """Leave out outcomes without a value, say why, and refuse where they are many."""
        valid = outcomes[np.isfinite(outcomes)]
        self.invalid += outcomes.size - valid.size
        share = self.invalid / self.count
        fault = find_fault(self._model, faulty)
        self.note = f"no value in {self.invalid} of {self.count} trials ({100.0 * share:.2g} %): {fault}"
        if share > MOST_INVALID and self.invalid > 5:
            raise BudgetError(
                f"equation of {self._model.symbol}: must have a value for the draws of its inputs, but for at most "
                f"1 in 1000 (got {self.note})"
            )
        return valid


class Replicates:
    """
    Outcomes of independent replicates, whose spread tells the error of their mean.

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
        self._pooled = Outcomes()
        self._results: list[Array] = []
        self._growing: list[tuple[ScrambledNet, list[Array]]] = []

    @property
    def count(self) -> int:
        """Number of replicates."""
        return len(self._results)

    def take_batch(self, run: Trials, size: int) -> None:
        """Run one batch of pseudo-random trials."""
        self._finish(list(run.plain(size)))

    def take_plain(self, run: Trials, size: int) -> None:
        """Run pseudo-random trials in at least ten batches."""
        batches = max(10, -(-size // (1 << 17)))
        for number in range(batches):
            self.take_batch(run, size * (number + 1) // batches - size * number // batches)

    def take_nets(self, run: Trials, size: int) -> None:
        """Run as many trials as equal nets, at least eight, hold within a number."""
        exponent = min((size // NETS).bit_length() - 1, LARGEST_EXPONENT)
        for _ in range(size >> exponent):
            net = run.net(exponent)
            self._finish(list(run.of_net(net, range(net.blocks()))))

    def take_more(self, run: Trials) -> None:
        """Begin eight nets, or double them, or when they are full add eight more."""
        if not self._growing and self._results:
            self.take_nets(run, NETS << LARGEST_EXPONENT)
            return
        if not self._growing:
            self._growing = [(run.net(LARGEST_EXPONENT), []) for _ in range(NETS)]
        self._results = []
        for net, blocks in self._growing:
            blocks.extend(run.of_net(net, range(len(blocks), max(2 * len(blocks), 1))))
            self._results.append(self._result(np.concatenate(blocks)))
        if len(self._growing[0][1]) == net.blocks():
            self._close()

    def errors(self) -> tuple[float, float, float, float]:
        """Return the standard errors of estimate, standard uncertainty, and both ends."""
        if len(self._results) < 2:
            return (np.inf, np.inf, np.inf, np.inf)
        spread = np.std(np.array(self._results), axis=0, ddof=1) / np.sqrt(len(self._results))
        estimate, uncertainty, low, high = spread.tolist()
        return (estimate, uncertainty, low, high)

    def stable(self) -> bool:
        """Tell whether twice every standard error is within the numerical tolerance, JCGM 101, 7.9.4."""
        if len(self._results) < 2:
            return False
        uncertainty = float(np.mean([result[1] for result in self._results]))
        return 2.0 * max(self.errors()) <= self.accuracy * numerical_tolerance(uncertainty)

    def pooled(self) -> Outcomes:
        """Return all outcomes together."""
        self._close()
        return self._pooled

    def _close(self) -> None:
        for _, blocks in self._growing:
            for block in blocks:
                self._pooled.add(block)
        self._growing = []

    def _finish(self, blocks: list[Array]) -> None:
        self._results.append(self._result(np.concatenate(blocks)))
        for block in blocks:
            self._pooled.add(block)

    def _result(self, outcomes: Array) -> Array:
        """Return estimate, standard uncertainty and both ends of a replicate."""
        tail = 0.5 * (1.0 - self.coverage)
        ends = quantiles(outcomes, np.array([tail, 1.0 - tail]))
        return np.array([np.mean(outcomes), np.std(outcomes, ddof=1) if outcomes.size > 1 else 0.0, *ends])
