"""How sure a choice is: is it still nearly the best whatever a school's losses, droplets, stem and meter are?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.chosen import Design
from design.search.sample import Aim, Sample, drawn, objective_of

LEARNT = (
    "W_wall", "W_base", "W_return", "w_dry", "e_still", "e_stored", "f_freeboard", "s_splash", "ln_drift", "a_A",
    "e_meter", "e_lead",
)  # fmt: skip
"""Inputs that can be measured once in a school: losses, droplets, stem, the meter's own error and the flex."""
LASTING = (*LEARNT, "e_mass")
"""Inputs that stay what they are in one school; whatever else varies comes anew with every lesson."""
SCHOOLS = 256
"""Draws of what can be learnt."""
LESSONS = 128
"""Draws of what comes anew with every lesson, in each school."""
TIE = 1e-9
"""Errors closer than this count as equal. [1]"""


@dataclass(frozen=True)
class Sureness:
    """
    How a design stands among its rivals as what could be learnt varies.

    Parameters
    ----------
    best, near : float
        Probability that its error is the least of all, and that it is within the margin of that. [1]
    regret_percent : float
        Mean of its error less the least one: what keeping it costs.
    """

    best: float
    near: float
    regret_percent: float


def sureness_of(designs: Sequence[Design], sample: Sample, aim: Aim, margin: float) -> tuple[Sureness, ...]:
    """
    Compare designs in many schools, in each of which what could be learnt is what it is.

    Parameters
    ----------
    designs : sequence of Design
        Rivals.
    sample : Sample
        Its seed is that of the draws.
    aim : Aim
        What is made small, in each school over its lessons.
    margin : float
        Difference of errors that counts as none. [1]

    Notes
    -----
    Losses, droplets, stem and the meter's own error are drawn once for a school, the same for all designs; the scatter
    of readings and the luck of a lesson are averaged within. What a design takes off is what its plan takes off.
    """
    objectives = np.stack([objective_of(errors_in_schools(design, sample), aim) for design in designs])
    return tuple(
        Sureness(float(best), float(near), 100.0 * float(regret))
        for best, near, regret in zip(
            best_probabilities(objectives),
            near_best_probabilities(objectives, margin),
            (objectives - objectives.min(axis=0)).mean(axis=1),
            strict=True,
        )
    )


def errors_in_schools(design: Design, sample: Sample) -> FloatArray:
    """Relative error of a design in every lesson of every school, shape (schools, lessons)."""
    schools, lessons = Sample(SCHOOLS, sample.seed), Sample(LESSONS, sample.seed + 1)
    values = {
        term.symbol: np.reshape(drawn(term, schools), (-1, 1)) if term.symbol in LEARNT else drawn(term, lessons)
        for term in design.terms
    }
    errors = design.program.evaluate(values) / design.reference - 1.0
    return np.array(np.broadcast_to(errors, (SCHOOLS, LESSONS)))


def best_probabilities(objectives: FloatArray) -> FloatArray:
    """
    Share of the columns in which each row is the least; equal ones divide it.

    Parameters
    ----------
    objectives : ndarray, shape (designs, n)

    Returns
    -------
    ndarray, shape (designs,)

    Examples
    --------
    >>> best_probabilities(np.array([[0.01, 0.03], [0.02, 0.02]])).tolist()
    [0.5, 0.5]
    """
    best = objectives <= objectives.min(axis=0) + TIE
    return np.asarray((best / best.sum(axis=0)).mean(axis=1))


def near_best_probabilities(objectives: FloatArray, margin: float) -> FloatArray:
    """
    Share of the columns in which each row is within a margin of the least.

    Examples
    --------
    >>> near_best_probabilities(np.array([[0.01, 0.03], [0.02, 0.02]]), 0.01).tolist()
    [1.0, 1.0]
    """
    return np.asarray((objectives <= objectives.min(axis=0) + margin + TIE).mean(axis=1))
