"""The survey: every combination looked at in closed form, share by share, stopped and taken up again at will."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.bench import Bench
from design.search.candidates import procedures_of, vessels_of
from design.search.cells import Cell, look_at
from design.search.combinations import AS_IT_IS, LONGER, RICHER, STRONGER, Columns, Combinations, gathered, ordered
from design.search.estimate import floor_of, slack_of
from design.search.sample import Aim, Sample
from design.search.work import Workforce, carried_out, fingerprint, program_in
from design.setting.hardware import Conditions, conditions_of, hardware_of

RANKED = 20
"""Kits with their ways of working that a share must not lose sight of: as many as the ranking has rows."""
PACKAGES = tuple(Path(__file__).parents[2] / name for name in ("budget", "design"))
"""What the outcome of a share depends on, beside its inputs."""
STAGE = "looking at every combination"
"""Name of this stage of a search."""


@dataclass(frozen=True)
class Survey:
    """
    What was found on a bench.

    Parameters
    ----------
    conditions : Conditions
        The bench that was searched.
    combinations : Combinations
        Numbers, reasons of rejection, and rows worth keeping.
    share : float
        Part of the work that was done: less than 1 where it was stopped. [1]
    reused : float
        Part of the work that an earlier, stopped search had done. [1]
    """

    conditions: Conditions
    combinations: Combinations
    share: float = 1.0
    reused: float = 0.0


def survey(bench: Bench, sample: Sample, aim: Aim, workforce: Workforce, *, progress: Callable[..., None]) -> Survey:
    """
    Look at every combination of a bench; what comes out does not depend on who does it.

    Where the keyboard stops it after something feasible was found, the survey is that of what was finished.

    Raises
    ------
    KeyboardInterrupt
        If it is stopped before that.
    """
    conditions = conditions_of(bench)
    shares = shares_of(conditions, sample, aim)
    tally = Tally()

    def told(number: int, *outcomes: Combinations) -> None:
        for outcome in outcomes:
            tally.add(outcome)
        progress(STAGE, number, len(shares), tally.note)

    search = fingerprint(bench, sample, aim, program_in(*PACKAGES)) if workforce.store else ""
    done = carried_out(look_at_share, shares, workforce, search, told)
    share, reused = (number / max(len(shares), 1) for number in (len(done.outcomes), done.reused))
    found = gathered(done.outcomes.values())
    if done.stopped and not found.feasible:
        raise KeyboardInterrupt
    done.outcomes.clear()  # the rows of a large bench take a quarter of a gigabyte, and are put in order now
    return Survey(conditions, replace(found, columns=ordered(found.columns)), share, reused)


def shares_of(conditions: Conditions, sample: Sample, aim: Aim) -> list[tuple[Cell, ...]]:
    """Divide the search into shares, one for each heater in each vessel as fitted, the same ones whoever does them."""
    bench = conditions.bench
    shares = []
    for (heater, element), use in product(enumerate(bench.heaters), tuple(vessels_of(bench))):
        hardware = hardware_of(conditions, use.vessel, element)
        cells = [
            Cell(conditions, procedure, way, heater, use, hardware, sample, aim)
            for way, procedure in enumerate(procedures_of(bench))
        ]
        shares.append(tuple(cells))
    return shares


def look_at_share(cells: Sequence[Cell]) -> Combinations:
    """Look at every combination of some cells, and keep the rows that may be asked for, in order: to merge is quick."""
    found = gathered(look_at(cell) for cell in cells)
    return replace(found, columns=ordered(thinned(found.columns, cells[0].sample, cells[0].aim)))


def thinned(columns: Columns, sample: Sample, aim: Aim) -> Columns:
    """
    Rows that may be the best of their kit, whatever the way of working, or may stand in the ranking.

    Parameters
    ----------
    columns : Columns
        Rows that may be the best of their kit with their way of working.
    sample, aim : Sample, Aim
        Sample on which the best will be compared, and what is made small.
    """
    if not len(columns):
        return columns
    reach = slack_of(aim, sample) / floor_of(aim, sample)
    kit = _groups(columns.kit)
    way = _groups(np.column_stack([kit, columns.way]))
    keep = np.zeros(len(columns), dtype=bool)
    for mark in (AS_IT_IS, LONGER, STRONGER, RICHER):
        fits = (columns.marks & mark) > 0
        promise = np.where(fits, columns.estimate, np.inf)
        keep |= fits & (promise <= reach * _least_of(promise, kit)[kit])
    promise = np.where((columns.marks & AS_IT_IS) > 0, columns.estimate, np.inf)
    leaders = np.sort(_least_of(promise, way))[:RANKED]
    keep |= np.isfinite(promise) & (promise <= reach * leaders[-1])
    return columns.only(keep)


def _groups(rows: NDArray[np.integer]) -> NDArray[np.intp]:
    """Number of the group of like rows that each row belongs to."""
    shifted = rows - rows.min(axis=0)
    keys = np.ravel_multi_index(tuple(shifted.T), tuple(shifted.max(axis=0) + 1))
    return np.unique(keys, return_inverse=True)[1].ravel()


def _least_of(values: FloatArray, group: NDArray[np.intp]) -> FloatArray:
    """Least value of each group."""
    least = np.full(int(group.max()) + 1, np.inf)
    np.minimum.at(least, group, values)
    return least


@dataclass
class Tally:
    """Combinations looked at so far, and the least error that any of them promises. [1]"""

    looked_at: int = 0
    promise: float = np.inf

    def add(self, outcome: Combinations) -> None:
        """Count what a share has brought."""
        usual = (outcome.columns.marks & AS_IT_IS) > 0
        self.looked_at += outcome.considered
        self.promise = min(self.promise, float(outcome.columns.estimate[usual].min(initial=np.inf)))

    @property
    def note(self) -> str:
        """Both in words."""
        promise = f"; best so far {100.0 * self.promise:.2g} %" if np.isfinite(self.promise) else ""
        return f"{self.looked_at:_} combinations{promise}".replace("_", " ")
