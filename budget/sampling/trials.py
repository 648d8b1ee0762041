"""Running trials in cache-sized blocks, on any number of threads with the same outcome."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from types import TracebackType
from typing import Self, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.sampling.control import Control
from budget.sampling.draws import Draws, Sampler, random_draws
from budget.sampling.quasirandom import ScrambledNet, scrambled_net

_NEEDS: Mapping[str, str] = {
    "log": "log needs a positive number",
    "log10": "log10 needs a positive number",
    "sqrt": "sqrt needs a number that is not negative",
    "asin": "asin needs a number between -1 and 1",
    "acos": "acos needs a number between -1 and 1",
    "divide": "a divisor must not be zero",
    "reciprocal": "a divisor must not be zero",
    "power": "a fractional power needs a positive number",
}


@dataclass(frozen=True)
class Fault:
    """Why an equation has no value: the operation's need, and the inputs that reach the operand."""

    need: str
    symbols: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.need}, not met through {', '.join(self.symbols)}"


def find_fault(model: MeasurementModel, draws: Mapping[str, FloatArray]) -> Fault:
    """
    Return the first operation without a value among draws that have none.

    Parameters
    ----------
    model : MeasurementModel
        The model.
    draws : mapping of str to ndarray, shape (n,)
        Draws of the uncertain inputs for which the result is not finite.
    """
    program = model.program
    values: dict[str, ArrayLike] = {**model.constants, **draws}
    reach: list[set[str]] = []
    results = program.all_results(values)
    for index, (name, operands) in enumerate(program.operations):
        load = program.loads[index]
        below = set().union(*(reach[operand] for operand in operands))
        reach.append({load} if name == "symbol" and isinstance(load, str) else below)
        if name in ("symbol", "number") or np.all(np.isfinite(results[index])):
            continue
        symbols = reach[operands[-1]] if name in ("divide", "power") else below
        need = _NEEDS.get(name, f"{name} must not overflow")
        return Fault(need, tuple(s for s in model.symbols if s in (symbols or below)))
    return Fault("every value must be finite", model.uncertain)


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

    def of_net(self, net: ScrambledNet, blocks: Iterable[int]) -> Iterator[FloatArray]:
        """Yield the finite outcomes of blocks of a net, with the control's two sums in further rows."""

        def work(index: int) -> tuple[FloatArray, Draws]:
            draws = self._drawing.draws(net.block(index))
            outcomes, faulty = self._outcomes(draws)
            rows = [outcomes]
            if self.control is not None:
                rows += [self.control.moments.values(draws), self.control.ranks.values(draws)]
            return np.stack(rows), faulty

        return self._run(work, list(blocks))

    def plain(self, size: int) -> Iterator[FloatArray]:
        """Yield the finite outcomes of pseudo-random draws."""
        seeds = self._seeds.spawn(-(-size // (PLAIN_BLOCKS * PLAIN_BLOCK)))

        def work(number: int) -> tuple[FloatArray, Draws]:
            generator = np.random.Generator(np.random.SFC64(seeds[number]))
            length = min(PLAIN_BLOCKS * PLAIN_BLOCK, size - number * PLAIN_BLOCKS * PLAIN_BLOCK)
            outcomes, faulty = np.empty((1, length)), Draws()
            for start in range(0, length, PLAIN_BLOCK):
                draws = random_draws(self._drawing, generator, min(PLAIN_BLOCK, length - start))
                outcomes[0, start : start + PLAIN_BLOCK], fault = self._outcomes(draws)
                faulty = faulty or fault
            return outcomes, faulty

        return self._run(work, list(range(len(seeds))))

    def _outcomes(self, draws: Draws) -> tuple[FloatArray, Draws]:
        """Return the outcomes, and the draws that have none."""
        outcomes = self._model.evaluate_draws(draws)
        good = np.isfinite(outcomes)
        return outcomes, {} if good.all() else {symbol: values[~good] for symbol, values in draws.items()}

    def _run(self, work: Callable[[T], tuple[FloatArray, Draws]], tasks: list[T]) -> Iterator[FloatArray]:
        results = map(work, tasks) if self._pool is None else self._pool.map(work, tasks)
        for outcomes, faulty in results:
            self.count += outcomes.shape[1]
            yield self._valid(outcomes, faulty) if faulty else outcomes

    def _valid(self, outcomes: FloatArray, faulty: Draws) -> FloatArray:
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
