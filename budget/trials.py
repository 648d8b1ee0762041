"""Running trials in cache-sized blocks, on any number of threads with the same outcome."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from types import TracebackType
from typing import Self, TypeVar

import numpy as np

from budget.control import Control
from budget.domain import find_fault
from budget.draws import Draws, Sampler, random_draws
from budget.errors import BudgetError
from budget.model import MeasurementModel
from budget.quantiles import Array
from budget.quasirandom import ScrambledNet, scrambled_net

T = TypeVar("T")
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
    control : Control, optional
        Control variate to evaluate beside the model on nets.
    """

    def __init__(
        self, model: MeasurementModel, drawing: Sampler, seed: int, workers: int = 1, control: Control | None = None
    ) -> None:
        self.count = 0
        self.invalid = 0
        self.note = ""
        self.control = control
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
        """Yield the finite outcomes of blocks of a net, with the control's two sums in further rows."""

        def work(index: int) -> tuple[Array, Draws]:
            draws = self._drawing.draws(net.block(index))
            outcomes, faulty = self._outcomes(draws)
            rows = [outcomes]
            if self.control is not None:
                rows += [self.control.moments.values(draws), self.control.ranks.values(draws)]
            return np.stack(rows), faulty

        return self._run(work, list(blocks))

    def plain(self, size: int) -> Iterator[Array]:
        """Yield the finite outcomes of pseudo-random draws."""
        seeds = self._seeds.spawn(-(-size // (PLAIN_BLOCKS * PLAIN_BLOCK)))

        def work(number: int) -> tuple[Array, Draws]:
            generator = np.random.Generator(np.random.SFC64(seeds[number]))
            length = min(PLAIN_BLOCKS * PLAIN_BLOCK, size - number * PLAIN_BLOCKS * PLAIN_BLOCK)
            outcomes, faulty = np.empty((1, length)), Draws()
            for start in range(0, length, PLAIN_BLOCK):
                draws = random_draws(self._drawing, generator, min(PLAIN_BLOCK, length - start))
                outcomes[0, start : start + PLAIN_BLOCK], fault = self._outcomes(draws)
                faulty = faulty or fault
            return outcomes, faulty

        return self._run(work, list(range(len(seeds))))

    def _outcomes(self, draws: Draws) -> tuple[Array, Draws]:
        """Return the outcomes, and the draws that have none."""
        outcomes = self._model.evaluate_draws(draws)
        good = np.isfinite(outcomes)
        return outcomes, {} if good.all() else {symbol: values[~good] for symbol, values in draws.items()}

    def _run(self, work: Callable[[T], tuple[Array, Draws]], tasks: list[T]) -> Iterator[Array]:
        results = map(work, tasks) if self._pool is None else self._pool.map(work, tasks)
        for outcomes, faulty in results:
            self.count += outcomes.shape[1]
            yield self._valid(outcomes, faulty) if faulty else outcomes

    def _valid(self, outcomes: Array, faulty: Draws) -> Array:
        """Leave out outcomes without a value, say why, and refuse where they are many."""
        valid = outcomes[:, np.isfinite(outcomes[0])]
        self.invalid += outcomes.shape[1] - valid.shape[1]
        share = self.invalid / self.count
        fault = find_fault(self._model, faulty)
        self.note = f"no value in {self.invalid} of {self.count} trials ({100.0 * share:.2g} %): {fault}"
        if share > MOST_INVALID and self.invalid > 5:
            raise BudgetError(
                f"equation of {self._model.symbol}: must have a value for the draws of its inputs, but for at most "
                f"1 in 1000 (got {self.note})"
            )
        return valid
