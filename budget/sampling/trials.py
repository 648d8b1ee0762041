"""Trials of a simulation: replicates of outcomes, in blocks that threads share, and what has no value among them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.sampling.draws import Draws, Sampler, random_draws
from budget.sampling.quasirandom import BLOCK, LARGEST_EXPONENT, ScrambledNet, scrambled_net

RANDOM_BLOCK = 8192
"""Pseudo-random draws made at a time."""
MOST_INVALID = 1e-3
"""Share of trials without a value above which a simulation is refused."""
_NEEDS: Mapping[str, str] = MappingProxyType(
    {
        "log": "log needs a positive number",
        "log10": "log10 needs a positive number",
        "sqrt": "sqrt needs a number that is not negative",
        "asin": "asin needs a number between -1 and 1",
        "acos": "acos needs a number between -1 and 1",
        "divide": "a divisor must not be zero",
        "reciprocal": "a divisor must not be zero",
        "power": "a fractional power needs a positive number",
    }
)


def fault_of(model: MeasurementModel, draws: Draws) -> str:
    """Say which operation has no value for draws that give none, and through which inputs."""
    program = model.program
    values: dict[str, ArrayLike] = {**model.constants, **draws}
    reach = program.reach
    results = program.all_results(values)
    for index, (name, operands) in enumerate(program.operations):
        if name in ("symbol", "number") or np.all(np.isfinite(results[index])):
            continue
        symbols = reach[operands[-1]] if name in ("divide", "power") else reach[index]
        through = ", ".join(s for s in model.symbols if s in (symbols or reach[index]))
        return f"{_NEEDS.get(name, f'{name} must not overflow')}, not met through {through}"
    return f"every value must be finite, not met through {', '.join(model.uncertain)}"


Replicate = tuple[FloatArray, FloatArray | None]
"""Outcomes, and their weights where they do not all weigh the same."""


class Trials:
    """
    Makes replicates of a simulation, in blocks that threads share; every replicate has a seed of its own.

    It counts what it evaluates, and what of it had no value.
    """

    def __init__(self, model: MeasurementModel, drawing: Sampler, seed: int, pool: Executor | None = None) -> None:
        self.count = 0
        self.invalid = 0
        self.note = ""
        self._model = model
        self._drawing = drawing
        self._seeds = np.random.SeedSequence(seed)
        self._pool = pool

    def fresh_net(self) -> ScrambledNet:
        """Return the largest net with a scramble of its own; its first blocks are smaller nets."""
        generator = np.random.default_rng(self._seeds.spawn(1)[0])
        return scrambled_net(self._drawing.dimension, LARGEST_EXPONENT, generator)

    def of_net(self, net: ScrambledNet, start: int, stop: int) -> Replicate:
        """Return the finite outcomes of some points of a net; ``start`` is a multiple of the size of a block, or 0."""

        def draws(index: int) -> tuple[Draws, FloatArray | None]:
            points = net.block(start // BLOCK + index)[:, : stop - start]
            return self._drawing.draws(points), self._drawing.weights(points)

        return self._run(draws, -(-(stop - start) // BLOCK))

    def batch(self, size: int) -> Replicate:
        """Return the finite outcomes of pseudo-random draws."""
        seeds = self._seeds.spawn(-(-size // RANDOM_BLOCK))

        def draws(index: int) -> tuple[Draws, None]:
            generator = np.random.Generator(np.random.SFC64(seeds[index]))
            return random_draws(self._drawing, generator, min(RANDOM_BLOCK, size - index * RANDOM_BLOCK)), None

        return self._run(draws, len(seeds))

    def _run(self, draws_of: Callable[[int], tuple[Draws, FloatArray | None]], blocks: int) -> Replicate:
        def work(index: int) -> tuple[FloatArray, FloatArray | None, Draws]:
            draws, weights = draws_of(index)
            outcomes = self._model.evaluate_draws(draws)
            good = np.isfinite(outcomes)
            return outcomes, weights, {} if good.all() else {symbol: values[~good] for symbol, values in draws.items()}

        results = map(work, range(blocks)) if self._pool is None else self._pool.map(work, range(blocks))
        return joined([self._valid(*result) for result in results])

    def _valid(self, outcomes: FloatArray, weights: FloatArray | None, faulty: Draws) -> Replicate:
        """Leave out outcomes without a value, say why, and refuse where they are many."""
        self.count += outcomes.size
        if not faulty:
            return outcomes, weights
        good = np.isfinite(outcomes)
        self.invalid += outcomes.size - int(np.count_nonzero(good))
        share = self.invalid / self.count
        fault = fault_of(self._model, faulty)
        self.note = f"no value in {self.invalid} of {self.count} trials ({100.0 * share:.2g} %): {fault}"
        if share > MOST_INVALID and self.invalid > 5:
            raise BudgetError(
                f"equation of {self._model.symbol}: must have a value for the draws of its inputs, but for at most "
                f"1 in 1000 (got {self.note})"
            )
        return outcomes[good], None if weights is None else weights[good]


def joined(parts: Sequence[Replicate]) -> Replicate:
    """Put outcomes, and weights if there are any, one behind another."""
    outcomes = np.concatenate([part for part, _ in parts])
    weights = [weight for _, weight in parts if weight is not None]
    return outcomes, np.concatenate(weights) if weights else None
