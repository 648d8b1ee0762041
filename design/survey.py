"""The survey: every combination looked at in closed form, share by share, stopped and taken up again at will."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from importlib.metadata import version
from itertools import product

import numpy as np

from design.bench import Bench
from design.candidates import procedures_of
from design.cells import Cell, look_at
from design.combinations import Combinations, gathered, packed, unpacked
from design.expectation import Aim, Sample
from design.hardware import Conditions, conditions_of
from design.relaxed import AS_IT_IS
from design.store import Store, fingerprint
from design.work import Workforce, in_order

CELLS = 12
"""Cells in one share of the work: few enough to lose little when stopped, many enough to be worth sending."""
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


def survey(
    bench: Bench,
    sample: Sample,
    aim: Aim,
    workforce: Workforce,
    *,
    store: Store | None = None,
    progress: Callable[..., None],
) -> Survey:
    """
    Look at every combination of a bench.

    Parameters
    ----------
    bench : Bench
        The bench.
    sample, aim : Sample, Aim
        Sample on which the best will be compared, and what is made small.
    workforce : Workforce
        Who does it; what comes out does not depend on it.
    store : Store, optional
        Where finished shares are kept, and looked for.
    progress : callable (stage, done, total, note)
        Told how far it has come.

    Returns
    -------
    Survey
        Of what was finished, where the keyboard stops it after something feasible was found.

    Raises
    ------
    KeyboardInterrupt
        If it is stopped before that.
    """
    conditions = conditions_of(bench)
    shares = shares_of(conditions, sample, aim)
    search = fingerprint(bench, sample, aim, version("boiloff")) if store else ""
    done = {place: unpacked(outcome) for place, outcome in store.finished(search).items()} if store else {}
    reused, left = len(done), [place for place in range(len(shares)) if place not in done]
    progress(STAGE, len(done), len(shares), _note(done))
    try:
        with closing(in_order(look_at_share, [shares[place] for place in left], workforce)) as outcomes:
            for place, outcome in zip(left, outcomes, strict=True):
                done[place] = outcome
                if store:
                    store.keep(search, place, packed(outcome))
                progress(STAGE, len(done), len(shares), _note(done))
    except KeyboardInterrupt:
        if store:
            store.write()
        if not any(outcome.feasible for outcome in done.values()):
            raise
    found = gathered(done[place] for place in sorted(done))
    return Survey(conditions, found, len(done) / max(len(shares), 1), reused / max(len(shares), 1))


def shares_of(conditions: Conditions, sample: Sample, aim: Aim) -> list[tuple[Cell, ...]]:
    """Divide the search into shares, the same ones whoever does them."""
    bench = conditions.bench
    cells = [
        Cell(conditions, procedure, way, heater, vessel, sample, aim)
        for (way, procedure), heater, vessel in product(
            enumerate(procedures_of(bench)), range(len(bench.heaters)), range(len(bench.vessels))
        )
    ]
    return [tuple(cells[start : start + CELLS]) for start in range(0, len(cells), CELLS)]


def look_at_share(cells: Sequence[Cell]) -> Combinations:
    """Look at every combination of some cells."""
    return gathered(look_at(cell) for cell in cells)


def _note(done: dict[int, Combinations]) -> str:
    """Combinations looked at so far, and the least error that any of them promises."""
    looked_at = sum(outcome.considered for outcome in done.values())
    best = min((_least(outcome) for outcome in done.values()), default=np.inf)
    promise = f"; best so far {100.0 * best:.2g} %" if np.isfinite(best) else ""
    return f"{looked_at:_} combinations{promise}".replace("_", " ")


def _least(outcome: Combinations) -> float:
    usual = (outcome.columns.marks & AS_IT_IS) > 0
    return float(outcome.columns.estimate[usual].min(initial=np.inf))
