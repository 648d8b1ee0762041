"""Was it boiling? Runs whose boil-off rate still rises, and what the result is without the marks before it settles."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy import special

from budget.errors import BudgetError
from design.chosen import Design
from design.errors import DesignError
from design.evaluation.checks.outlook import CHANCES, FACTORS, Outlook, Traits, furthest, without_mark
from design.evaluation.expected import Windows, mark_uncertainty
from design.evaluation.result import group_result
from design.evaluation.runs import Run
from design.message import Message
from design.sheets.readings import Reading

CHANCE = 0.002
"""Probability of a rate that seems to rise as much in steady boiling, below which it is said (judgement)."""
SETTLED = 0.05
"""Probability above which the marks that are left no longer show a rise (common practice)."""
RISE = 0.03
"""Rise of the rate during a run below which nothing is said: it moves no result by more than others (judgement)."""
FEWEST = 4
"""Marks from which curvature can be told from scatter."""


def rise_of(run: Run, windows: Windows, first: int = 0) -> tuple[float, float]:
    """
    Relative rise of steam per energy from a mark to the last, and the chance of that much in steady boiling.

    Notes
    -----
    Mass is fitted by a parabola in energy. How far marks scatter is as unknown as everywhere: each multiple of the push
    of the boil that is expected counts by its prior, and by how likely the residuals are with it.
    """
    energy, mass = run.energy[first:], run.mass[first:]
    if energy.size < FEWEST or np.any(np.diff(energy) <= 0.0):
        return 0.0, 1.0
    place = (energy - energy[0]) / (energy[-1] - energy[0])
    columns = np.stack([np.ones_like(place), place, place**2], axis=1)
    inverse = np.linalg.inv(columns.T @ columns)
    level, slope, bend = inverse @ columns.T @ mass
    residuals = mass - columns @ np.array([level, slope, bend])
    power = windows.within(run.power)
    scatter = np.array([mark_uncertainty(windows.used, run, power, factor) for factor in FACTORS])
    terms = np.log(CHANCES) - (energy.size - 3) * np.log(scatter) - 0.5 * float(residuals @ residuals) / scatter**2
    weight = np.exp(terms - np.logaddexp.reduce(terms))
    chance = float(weight @ special.ndtr(-bend / (scatter * math.sqrt(inverse[2, 2]))))
    return 2.0 * bend / max(slope, 0.2 * (slope + bend), 1e-12), chance


def rising_marks(run: Run, windows: Windows) -> tuple[float, int] | None:
    """Rise of the rate [1], and how many marks to leave out for a steady rest; None where nothing rises."""
    rise, chance = rise_of(run, windows)
    if chance >= CHANCE or rise < RISE or not run.goes_on_steadily or _one_mark_makes_it(run, windows):
        return None
    for first in range(1, run.mass.size - 2):
        if rise_of(run, windows, first)[1] > SETTLED:
            return rise, first
    return rise, run.mass.size - 3


def _one_mark_makes_it(run: Run, windows: Windows) -> bool:
    """Whether nothing rises without the mark furthest from the line, one after the first."""
    place, _ = furthest(run.energy, run.mass)
    return place > 0 and run.mass.size > FEWEST and rise_of(without_mark(run, place), windows)[1] > SETTLED


def stands_above(traits: Traits, outlook: Outlook) -> float:
    """Chance that a run has as large an E/m as this, by the bench and the other runs."""
    weight = np.exp(outlook.weights - outlook.evidence)
    middle, variance = outlook.value(traits)
    return float(weight @ special.ndtr(-(traits.value - middle) / np.sqrt(variance)))


def not_steady(
    seen: Message, readings: Sequence[Reading], left_out: Sequence[Reading], used: Design, marks: Message
) -> Message:
    """Say what was seen, and, where both can be worked out, the result with all readings and without some."""
    rows = {reading.row for reading in left_out}
    rest = tuple(reading for reading in readings if reading.row not in rows)
    try:
        all_in, without = (group_result(some, used).best.value for some in (tuple(readings), rest))
    except (DesignError, BudgetError):
        return seen
    return Message("try_without", {"seen": seen, "marks": marks, "all": all_in, "without": without})
