"""Traces of the first few runs: what happened, and whether the books closed all the while."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from design.virtual_run.observer import Seen, count_energy
from design.virtual_run.setup import Setup
from design.virtual_run.state import Ledger, State, mass_error
from design.virtual_run.truth import Truth

FloatArray = NDArray[np.float64]

EVERY = 4
"""Steps between two points of a trace."""


@dataclass(frozen=True)
class Traces:
    """
    Traces of some runs; time of shape (k,), the others of shape (k, traced).

    Time in s, power in W, masses in kg (indicated: as the balance shows it; true: water in the vessel), temperature
    in K, counts (energy over one count's), errors of the books relative to what came in.
    """

    time: FloatArray
    power: FloatArray
    indicated: FloatArray
    true: FloatArray
    temperature: FloatArray
    counts: FloatArray
    energy_error: FloatArray
    mass_error: FloatArray


class Tracer:
    """Collects the traces of the first runs while they are played."""

    def __init__(self, setup: Setup, truth: Truth, traced: int) -> None:
        self._setup = setup
        self._phase = truth.phase[:traced]
        self._traced = traced
        self._rows: list[tuple[FloatArray, ...]] = []

    def add(self, count: int, seen: Seen, power: FloatArray, books: tuple[State, Ledger]) -> None:
        """Add a point, if it is time for one."""
        if self._traced == 0 or count % EVERY:
            return
        setup, (state, ledger) = self._setup, books
        columns = (
            np.full(power.size, seen.time),
            power,
            seen.mass,
            state.water,
            seen.temperature,
            seen.shown_energy / count_energy(setup),
            ledger.energy_error(state, setup),
            mass_error(state, setup),
        )
        self._rows.append(tuple(column[: self._traced].copy() for column in columns))

    def traces(self) -> Traces:
        """Give all points so far."""
        width = self._traced
        table = np.array(self._rows, dtype=np.float64).reshape(len(self._rows), 8, width)
        time, *others = np.moveaxis(table, 1, 0)
        power, indicated, true, temperature, counts, energy_error, fault = others
        clock = time[:, 0] if width else np.zeros(0)
        return Traces(clock, power, indicated, true, temperature, counts + self._phase, energy_error, fault)
