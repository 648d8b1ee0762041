"""What to expect of many settings at once: the error of the reported value on one shared sample."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist
from typing import cast

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from budget.model.equation import Program
from budget.quantities.distributions import Constant, Distribution
from budget.quantities.shapes import standard_ppf
from budget.sampling.quasirandom import uniform_draws
from design.bench import Objective
from design.chosen import Design
from design.procedures.registry import PROCEDURES
from design.setting.terms import InputTerm

COLUMNS = (
    "W_wall", "e_meter", "s_splash", "d_count", "d_boiling", "d_balance", "t_pause", "W_return", "W_base",
    "a_A", "Q_drift", "d_linearity", "e_mass", "e_lead", "e_supply", "e_heater", "d_time", "E_restart",
    "d_boiling_2", "d_balance_2", "d_count_2", "d_linearity_2", "w_dry", "e_cooling", "f_freeboard", "d_cooling",
    "Q_drift_2", "d_time_2", "d_boiling_3", "d_balance_3", "d_linearity_3", "Q_drift_3", "d_time_3",
    "ln_drift", "e_still", "e_stored", "d_drift", "d_drift_2", "d_drift_3",
    *dict.fromkeys(symbol for procedure in PROCEDURES for symbol in procedure.own_symbols),
)  # fmt: skip
"""
Column of the shared sample that each input quantity draws from, in every design: those that procedures share, then
those of one procedure alone.
"""
REPLICATES = 8
"""Independently scrambled nets of a sample."""
LEAST_NET = 128
"""Points of the smallest net that is worth scrambling by itself."""
CHUNK = 16_384
"""Numbers worked on at once: an array of that size stays in the second-level cache."""


@dataclass(frozen=True)
class Aim:
    """
    What the search makes small, and the coverage probability it is stated for.

    The design of least regret is chosen among the best by rms error.
    """

    objective: Objective
    coverage: float


@dataclass(frozen=True)
class Sample:
    """Size and seed of the shared sample: scrambled Sobol' nets, independent of each other."""

    trials: int
    seed: int


@lru_cache(maxsize=1024)
def standard_draws(symbol: str, shape: tuple[str | float, ...], sample: Sample) -> FloatArray:
    """
    Draws of one input quantity in the standard form of its family, the same for all designs.

    Parameters
    ----------
    symbol : str
        Input quantity, one of ``COLUMNS``.
    shape : tuple
        Shape of its family, ``budget.quantities.distributions.StandardForm.shape``.
    sample : Sample
        Size and seed of the scrambled Sobol' sample.

    Returns
    -------
    ndarray, shape (trials,)
    """
    draws = standard_ppf(shape, _uniform(sample)[:, COLUMNS.index(symbol)])
    draws.setflags(write=False)
    return draws


@lru_cache(maxsize=4)
def _uniform(sample: Sample) -> FloatArray:
    """Points of the unit cube, one independently scrambled net after another; shape (trials, columns)."""
    sizes = replicate_sizes(sample.trials)
    seeds = np.random.SeedSequence(sample.seed).generate_state(len(sizes))
    points = np.empty((len(COLUMNS), sample.trials))
    start = 0
    for size, seed in zip(sizes, seeds, strict=True):
        points[:, start : start + size] = uniform_draws(len(COLUMNS), size, int(seed)).T
        start += size
    return points.T


def replicate_sizes(trials: int) -> tuple[int, ...]:
    """
    Sizes of the independently scrambled nets that a sample is made of: their scatter tells the numerical error.

    Examples
    --------
    >>> replicate_sizes(8192)
    (1024, 1024, 1024, 1024, 1024, 1024, 1024, 1024)
    >>> replicate_sizes(512)
    (512,)
    """
    if trials < REPLICATES * LEAST_NET or trials % REPLICATES:
        return (trials,)
    return (trials // REPLICATES,) * REPLICATES


def relative_errors(
    program: Program, terms: Sequence[InputTerm], sample: Sample, frozen: frozenset[str] = frozenset()
) -> FloatArray:
    """
    Relative error of the reported latent heat in every setting and trial.

    Parameters
    ----------
    program : Program
        Compiled measurement model.
    terms : sequence of InputTerm
        Its input quantities.
    sample : Sample
        Size and seed of the shared sample.
    frozen : frozenset of str
        Input quantities kept at their expected values.

    Returns
    -------
    ndarray, shape (g, trials)
        (reported - true)/true. [1]
    """
    settings = max(term.size.size for term in terms)
    values = {term.symbol: drawn(term, sample, settings, frozen=term.symbol in frozen) for term in terms}
    reference = next(term for term in terms if term.symbol == "L_ref")
    errors = np.multiply(program.evaluate(values), 1.0 / np.ravel(reference.size)[0])
    errors -= 1.0
    return np.broadcast_to(errors, (settings, sample.trials))


def drawn(term: InputTerm, sample: Sample, settings: int = 1, *, frozen: bool = False) -> FloatArray:
    """Draws of an input quantity, shape (settings, trials) or (trials,); plain numbers where it does not vary."""
    single = term.size.ndim == 0 or settings == 1
    size = term.size.ravel()[0] if single else term.size.reshape(-1, 1)
    if frozen or isinstance(term.base, Constant):
        return np.asarray(size * term.base.mean)
    if term.size.ndim == 0:
        return _transformed(term.symbol, cast("Hashable", term.base), float(size), sample)
    form = term.base.standard_form()
    draws = np.multiply(size * form.scale, standard_draws(term.symbol, form.shape, sample))
    return draws if form.location == 0.0 else np.add(draws, size * form.location, out=draws)


@lru_cache(maxsize=512)
def _transformed(symbol: str, base: Hashable, size: float, sample: Sample) -> FloatArray:
    """Draws of what does not change with the setting: worked out once for all designs that share it."""
    form = cast("Distribution", base).standard_form()
    draws = size * form.location + (size * form.scale) * standard_draws(symbol, form.shape, sample)
    draws.setflags(write=False)
    return draws


def objective_of(errors: FloatArray, aim: Aim) -> FloatArray:
    """
    What the search makes small, in every setting.

    Parameters
    ----------
    errors : ndarray, shape (g, n)
        Relative errors.
    aim : Aim
        Objective and coverage probability.

    Returns
    -------
    ndarray, shape (g,)
        Relative to the true value. [1]
    """
    if aim.objective == "worst error":
        return np.asarray(np.quantile(np.abs(errors), aim.coverage, axis=1))
    # einsum, as the dot product of long vectors is shared out among threads: they cost more than they save, and their
    # number would change the last digits
    square = np.array([np.einsum("i,i->", row, row) for row in errors]) / errors.shape[1]
    if aim.objective in ("rms error", "least regret"):
        return np.asarray(np.sqrt(square))
    spread = np.sqrt(np.maximum(square - errors.mean(axis=1) ** 2, 0.0))
    if aim.objective == "standard uncertainty":
        return np.asarray(spread)
    if aim.objective == "expanded uncertainty":
        return np.asarray(spread * NormalDist().inv_cdf(0.5 + 0.5 * aim.coverage))
    raise ValueError(f"objective: must be one of those a bench file may name (got {aim.objective!r})")


def rows(terms: Sequence[InputTerm], chosen: NDArray[np.intp]) -> tuple[InputTerm, ...]:
    """The same input quantities for some of the settings."""
    return tuple(replace(term, size=term.size[chosen]) if term.size.ndim == 1 else term for term in terms)


def errors_of(design: Design, sample: Sample, frozen: frozenset[str] = frozenset()) -> FloatArray:
    """Relative error of the value that a design reports, on the shared sample; shape (trials,)."""
    return np.asarray(relative_errors(design.program, design.terms, sample, frozen)[0])


def objective_at(design: Design, sample: Sample, aim: Aim) -> float:
    """What is made small, for a design on a sample; relative to the true value. [1]"""
    return float(objective_of(errors_of(design, sample)[None], aim)[0])


def rms(errors: FloatArray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(errors))))


def screen(program: Program, terms: Sequence[InputTerm], settings: int, sample: Sample, aim: Aim) -> FloatArray:
    """Objective in every setting, worked out in chunks that stay in cache; shape (settings,)."""
    step = max(CHUNK // sample.trials, 1)
    objective = np.empty(settings)
    for start in range(0, settings, step):
        chosen = np.arange(start, min(start + step, settings))
        errors = relative_errors(program, rows(terms, chosen), sample)
        objective[chosen] = objective_of(errors, aim)
    return objective
