"""Second pass: the best designs set finely, on the full sample, with their sources of error, as rows of the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import Program
from budget.propagation import propagate
from budget.sampling.sensitivity import sobol_indices
from design.chosen import Design
from design.kit import MassSet
from design.limits import TOLERANCE
from design.search.candidates import masses_of, power_step, powers_of, steps_within
from design.search.plan import RankedDesign, Source, Tried
from design.search.sample import Aim, Sample, errors_of, objective_at, objective_of, replicate_sizes
from design.search.sureness import Sureness
from design.setting.terms import InputTerm, at_means

Chosen = TypeVar("Chosen", bound=Tried)

NUMERICAL_REACH = 5.0
"""Standard errors stated as numerical error: two samples differ by more in one case of a hundred (t, 7 degrees)."""
SOBOL_BASE = 512
"""Base sample of the Sobol' indices: their interval is about 0.02 wide, and stated."""
ROUNDED_AWAY = 1e-13
"""Relative error below which a step of the walk is rounding, and no source."""


@dataclass(frozen=True)
class Appraisal(Tried):
    """
    A design on the full sample.

    Parameters
    ----------
    bias, standard_uncertainty : float
        Of the relative error. [1]
    numerical_error : float
        Of the objective, because the sample is finite. [1]
    interval : tuple of float
        Probabilistically symmetric coverage interval of the relative error. [1]
    shared_error : ndarray, shape (trials,)
        Relative error with the scatter of single runs left out.
    scatter_variance : float
        Variance of the relative error that the scatter of single runs adds. [1]
    """

    bias: float
    standard_uncertainty: float
    numerical_error: float
    interval: tuple[float, float]
    shared_error: FloatArray
    scatter_variance: float


MASS_STEP = 5e-3
"""Step to which a refined mass is rounded: finer ones cannot be read off in time. [kg]"""
SPARE_STEP = 0.05
"""Spare water that is tried first: more is looked for only where this much helps. [kg]"""
LONGEST_STEADY, STEADY_STEP = 900.0, 60.0
"""Longest time of settling that is tried, and its step. [s]"""
ROUNDS = 2
"""Times that mass and power are refined in turn."""
EVALUATIONS = 14
"""Most evaluations in refining one of them."""
LEAST_GAIN = 1e-3
"""Part of the error by which a refined setting must be better to be taken."""


def refined(found: Tried, sample: Sample, aim: Aim) -> Design:
    """
    Refine what a design lets one set finely, other settings as they are.

    Parameters
    ----------
    found : Tried
        The best point of the coarse grid.
    sample, aim : Sample, Aim
        Sample on which combinations are compared, and what is made small.

    Returns
    -------
    Design
        The same where nothing can be set finely, where the bench file says what to try, or where nothing is gained.
    """
    kit, bench = found.design.kit, found.design.conditions.bench
    fine_mass = kit.mass_set is None and not bench.search.masses
    fine_power = kit.heater.control == "stepless" and not bench.search.powers
    best, on = found, (sample, aim)
    for _ in range(ROUNDS if fine_mass and fine_power else 1):
        if fine_mass:
            mass = best.design.mass
            best = _along(best, on, ("mass", 0.6 * mass, 1.5 * mass, MASS_STEP))
        if fine_power:
            power, full = best.design.powers[0], max(powers_of(bench, kit.heater))
            best = _along(best, on, ("power", 0.8 * power, min(1.25 * power, full), power_step(full)))
    if not bench.search.masses and kit.mass_set is not None:
        best = _among_sums(best, kit.mass_set, on)
    if not bench.search.spare_water:
        best = _fuller(best, on)
    if best.design.hardware.jacket_loss > 0.0:
        best = _along(best, on, ("steady", best.design.steady, LONGEST_STEADY, STEADY_STEP))
    return best.design if best.objective < (1.0 - LEAST_GAIN) * found.objective else found.design


def _among_sums(found: Tried, mass_set: MassSet, on: tuple[Sample, Aim]) -> Tried:
    """Best among the mass steps that the mass set makes up between the neighbours on the coarse grid."""
    mass, grid = found.design.mass, masses_of(found.design.conditions.bench, mass_set)
    low = max((tried for tried in grid if tried < mass), default=mass)
    high = min((tried for tried in grid if tried > mass), default=mass)
    between = [step for step in steps_within(mass_set) if low < step < high and step != mass]
    tried = [_tried(_with(found.design, "mass", step), *on) for step in between]
    return min([found, *tried], key=lambda candidate: candidate.order)


def _fuller(found: Tried, on: tuple[Sample, Aim]) -> Tried:
    """Best with more water than the runs need, where a little more helps at all."""
    design = found.design
    if _tried(_with(design, "spare", SPARE_STEP), *on).objective >= found.objective:
        return found
    most = design.kit.vessel.capacity * design.conditions.water.liquid_density
    return _along(found, on, ("spare", 0.0, most, SPARE_STEP / 5.0))


def _along(found: Tried, on: tuple[Sample, Aim], line: tuple[str, float, float, float]) -> Tried:
    """Best along one setting, rounded to what can be dialled in."""
    from scipy.optimize import minimize_scalar

    name, low, high, step = line
    low, high = np.ceil(low / step) * step, np.floor(high / step) * step
    if high - low < step:
        return found
    known: dict[float, Tried] = {}

    def value(setting: float) -> float:
        rounded = round(round(setting / step) * step, 9)
        if rounded not in known:
            known[rounded] = _tried(_with(found.design, name, rounded), *on)
        return known[rounded].objective

    minimize_scalar(value, bounds=(low, high), method="bounded", options={"maxiter": EVALUATIONS, "xatol": step})
    best = min(known.values(), key=lambda candidate: candidate.order)
    return best if best.objective < found.objective else found


def _with(design: Design, name: str, value: float) -> Design:
    if name == "power":
        step = power_step(max(powers_of(design.conditions.bench, design.kit.heater)))
        others = (round(power * value / design.powers[0] / step) * step for power in design.powers[1:])
        return replace(design, powers=(value, *others))
    changed: dict[str, Any] = {name: value}
    return replace(design, **changed)


def _tried(design: Design, sample: Sample, aim: Aim) -> Tried:
    """The design with its error; with one that grows with the excess where it breaks a limit."""
    if design.excess > TOLERANCE:
        return Tried(design, 10.0 + design.excess)
    return Tried(design, objective_at(design, sample, aim))


def appraise(design: Design, sample: Sample, aim: Aim) -> Appraisal:
    """Work out the error of a design on a sample."""
    errors = errors_of(design, sample)
    shared = errors_of(design, sample, frozenset(term.symbol for term in design.terms if term.scatter))
    low, high = np.quantile(errors, [0.5 * (1.0 - aim.coverage), 0.5 * (1.0 + aim.coverage)])
    return Appraisal(
        design=design,
        objective=float(objective_of(errors[None], aim)[0]),
        bias=float(errors.mean()),
        standard_uncertainty=float(errors.std()),
        numerical_error=numerical_error(errors, aim),
        interval=(float(low), float(high)),
        shared_error=shared,
        scatter_variance=max(float(errors.var() - shared.var()), 0.0),
    )


def numerical_error(errors: FloatArray, aim: Aim) -> float:
    """
    How far the objective may be off because the sample is finite.

    Parameters
    ----------
    errors : ndarray, shape (trials,)
        Relative errors in the order of the sample.
    aim : Aim
        What is made small.

    Returns
    -------
    float
        ``NUMERICAL_REACH`` standard errors of the mean over the independently scrambled nets of the sample; all of
        the objective where there is but one. [1]
    """
    sizes = replicate_sizes(errors.size)
    if len(sizes) == 1:
        return float(objective_of(errors[None], aim)[0])
    parts = objective_of(errors.reshape(len(sizes), -1), aim)
    return float(NUMERICAL_REACH * parts.std(ddof=1) / np.sqrt(len(sizes)))


def roomiest(found: Sequence[Chosen], first: Chosen, margin: float) -> Chosen:
    """
    The design with the most headroom among those that are as good as the first.

    Parameters
    ----------
    found : sequence of Tried
        Designs in order.
    first : Tried
        The one that error or price alone would choose.
    margin : float
        How much larger the error may be. [1]

    Returns
    -------
    Tried
        Of equal headroom the first in order; none that is dearer by the purse's margin or more.
    """
    most = first.design.price + first.design.conditions.bench.purse.difference
    equal = [one for one in found if one.objective <= first.objective + margin and one.design.price < most]
    return max(equal, key=lambda one: one.design.headroom, default=first)


def walk(program: Program, terms: Sequence[InputTerm]) -> Mapping[str, float]:
    """
    Steps from the true to the expected value, one source after another.

    Parameters
    ----------
    program : Program
        Compiled measurement model.
    terms : sequence of InputTerm
        Input quantities of one setting.

    Returns
    -------
    mapping of str to float
        Relative step of each source, in the order of the terms; a source and what stands for it in the correction
        are switched on together. The steps add up to the error at the expected values. [1]
    """
    means = {symbol: float(np.squeeze(value)) for symbol, value in at_means(terms).items()}
    neutral = {term.symbol: term.neutral for term in terms if term.neutral is not None}
    values = dict(means)
    for symbol, value in neutral.items():
        values[symbol] = value
        if f"{symbol}_est" in values:
            values[f"{symbol}_est"] = value
    reached, steps = float(program.evaluate(values)), {}
    for symbol in neutral:
        for key in (symbol, f"{symbol}_est"):
            if key in values:
                values[key] = means[key]
        value = float(program.evaluate(values))
        steps[symbol] = (value - reached) / means["L_ref"]
        reached = value
    return steps


def sources_of(design: Design, seed: int) -> tuple[Source, ...]:
    """Sources of error of a design, ranked by share, then by size of bias."""
    model, steps = design.model, walk(design.program, design.terms)
    propagation = propagate(model)
    indices = sobol_indices(model, base=SOBOL_BASE, seed=seed)
    shares = dict(zip(indices.symbols, zip(indices.total, indices.total_interval, strict=True), strict=True))
    sources = []
    for quantity in model.inputs:
        if quantity.neutral is None:
            continue
        share, limits = shares.get(quantity.symbol, (0.0, (0.0, 0.0)))
        bias = steps[quantity.symbol]
        contribution = abs(propagation.contributions.get(quantity.symbol, 0.0)) / design.reference
        if abs(bias) < ROUNDED_AWAY and contribution == 0.0 and share == 0.0:
            continue
        sources.append(
            Source(
                quantity=quantity.name,
                symbol=quantity.symbol,
                bias_percent=100.0 * bias,
                standard_uncertainty_percent=100.0 * contribution,
                share=_within_one(share),
                share_interval=(_within_one(limits[0]), _within_one(limits[1])),
                estimate=quantity.distribution.mean,
                standard_uncertainty=quantity.distribution.standard_uncertainty,
                unit=quantity.unit,
                distribution=quantity.distribution.describe(),
                evidence=quantity.source,
                sensitivity_coefficient=propagation.sensitivity_coefficients.get(quantity.symbol, 0.0),
                scatter=quantity.scatter,
            )
        )
    return tuple(sorted(sources, key=lambda source: (-source.share, -abs(source.bias_percent), source.symbol)))


def _within_one(share: float) -> float:
    return min(max(float(share), 0.0), 1.0)


def ranked(appraisal: Appraisal, sure: Sureness | None, seed: int) -> RankedDesign:
    """Row of the plan for an appraised design; how sure it is, where it was one of the rivals."""
    low, high = appraisal.interval
    return RankedDesign(
        design=appraisal.design.settled,
        expected_J_per_kg=appraisal.design.reference * (1.0 + appraisal.bias),
        bias_percent=100.0 * appraisal.bias,
        standard_uncertainty_percent=100.0 * appraisal.standard_uncertainty,
        rms_error_percent=100.0 * float(np.hypot(appraisal.bias, appraisal.standard_uncertainty)),
        interval_percent=(100.0 * low, 100.0 * high),
        objective_percent=appraisal.objective_percent,
        numerical_error_percent=100.0 * appraisal.numerical_error,
        best_probability=sure.best if sure else 0.0,
        within_margin_probability=sure.near if sure else 0.0,
        regret_percent=sure.regret_percent if sure else 0.0,
        sources=sources_of(appraisal.design, seed),
    )
