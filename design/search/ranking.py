"""Second pass: the best branches on the full sample, with their sources of error, as rows of the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import Program
from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.sampling.sensitivity import sobol_indices
from design.limits import unsuitables
from design.procedures.face import measurement_model, pace_of
from design.search.branch import Branch
from design.search.candidates import shopping_list
from design.search.plan import RankedDesign, Source
from design.search.sample import Aim, Sample, all_terms, objective_of, program_of, relative_errors, replicate_sizes
from design.setting.hardware import Conditions, hardware_of
from design.setting.situation import Situation, situation_of
from design.setting.terms import InputTerm, at_means

NUMERICAL_REACH = 5.0
"""Standard errors stated as numerical error: two samples differ by more in one case of a hundred (t, 7 degrees)."""
SOBOL_BASE = 512
"""Base sample of the Sobol' indices: their interval is about 0.02 wide, and stated."""


@dataclass(frozen=True)
class Appraisal:
    """
    A branch on the full sample.

    Parameters
    ----------
    branch : Branch
        What was looked at.
    situation : Situation
        At its setting.
    terms : tuple of InputTerm
        Input quantities of its measurement model.
    bias, standard_uncertainty, objective : float
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

    branch: Branch
    situation: Situation
    terms: tuple[InputTerm, ...]
    bias: float
    standard_uncertainty: float
    objective: float
    numerical_error: float
    interval: tuple[float, float]
    shared_error: FloatArray
    scatter_variance: float

    @property
    def order(self) -> tuple[object, ...]:
        """Key that sorts appraisals: objective, then price, minutes and names."""
        return (self.objective, *self.branch.order[1:])


def situation_at(conditions: Conditions, branch: Branch) -> Situation:
    """What a branch asks of its kit at its setting."""
    kit = branch.kit
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    return situation_of(conditions, kit, hardware, branch.settings, pace_of(branch.procedure, branch.correction))


def error_of(conditions: Conditions, branch: Branch, sample: Sample, aim: Aim) -> float:
    """What is made small, for a branch on a sample; relative to the true value. [1]"""
    terms = all_terms(branch.procedure, branch.correction, situation_at(conditions, branch))
    errors = relative_errors(program_of(branch.procedure, branch.correction), terms, sample)
    return float(objective_of(errors, aim)[0])


def appraise(conditions: Conditions, branch: Branch, sample: Sample, aim: Aim) -> Appraisal:
    """Work out the error of a branch on a sample."""
    situation = situation_at(conditions, branch)
    terms = all_terms(branch.procedure, branch.correction, situation)
    program = program_of(branch.procedure, branch.correction)
    errors = relative_errors(program, terms, sample)
    scatter = frozenset(term.symbol for term in terms if term.scatter)
    shared = relative_errors(program, terms, sample, scatter)[0]
    low, high = np.quantile(errors[0], [0.5 * (1.0 - aim.coverage), 0.5 * (1.0 + aim.coverage)])
    return Appraisal(
        branch=branch,
        situation=situation,
        terms=terms,
        bias=float(errors.mean()),
        standard_uncertainty=float(errors.std()),
        objective=float(objective_of(errors, aim)[0]),
        numerical_error=numerical_error(errors[0], aim),
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


def model_of(appraisal: Appraisal) -> MeasurementModel:
    """Measurement model of an appraised branch."""
    branch = appraisal.branch
    return measurement_model(branch.procedure, branch.correction, appraisal.terms, 0)


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


def sources_of(appraisal: Appraisal, seed: int) -> tuple[Source, ...]:
    """Sources of error of an appraised branch, ranked by share, then by size of bias."""
    branch, model = appraisal.branch, model_of(appraisal)
    reference = appraisal.situation.conditions.water.latent_heat
    steps = walk(program_of(branch.procedure, branch.correction), appraisal.terms)
    propagation = propagate(model)
    indices = sobol_indices(model, base=SOBOL_BASE, seed=seed)
    shares = dict(zip(indices.symbols, zip(indices.total, indices.total_interval, strict=True), strict=True))
    sources = []
    for quantity in model.inputs:
        if quantity.neutral is None:
            continue
        share, limits = shares.get(quantity.symbol, (0.0, (0.0, 0.0)))
        bias = steps[quantity.symbol]
        contribution = abs(propagation.contributions.get(quantity.symbol, 0.0)) / reference
        if bias == 0.0 and contribution == 0.0:
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


def ranked(appraisal: Appraisal, best_probability: float, seed: int) -> RankedDesign:
    """Row of the plan for an appraised branch."""
    branch, situation = appraisal.branch, appraisal.situation
    groups = situation.conditions.bench.lesson.groups
    reference = situation.conditions.water.latent_heat
    low, high = appraisal.interval
    _, accepted = unsuitables(branch.kit, situation.conditions, branch.procedure)
    return RankedDesign(
        items={role: item.name for role, item in branch.kit.items.items()},
        buy=shopping_list(branch.kit, groups),
        procedure=branch.procedure.identifier,
        correction=branch.correction,
        powers_W=tuple(float(power) for power in branch.settings.powers[0]),
        mass_kg=float(situation.runs.mass[0]),
        fill_kg=float(situation.levels.fill[0]),
        counts=float(situation.runs.counts[0]),
        repeats=int(branch.settings.repeats[0]),
        price=branch.price,
        minutes=float(situation.total_time[0] / 60.0),
        time_table=tuple((stage, float(times[0] / 60.0)) for stage, times in situation.time_table),
        expected_J_per_kg=reference * (1.0 + appraisal.bias),
        bias_percent=100.0 * appraisal.bias,
        standard_uncertainty_percent=100.0 * appraisal.standard_uncertainty,
        rms_error_percent=100.0 * float(np.hypot(appraisal.bias, appraisal.standard_uncertainty)),
        interval_percent=(100.0 * low, 100.0 * high),
        objective_percent=100.0 * appraisal.objective,
        numerical_error_percent=100.0 * appraisal.numerical_error,
        best_probability=best_probability,
        sources=sources_of(appraisal, seed),
        loss_W=situation.hardware.loss,
        carry_over_share=float(situation.carry_over[0]),
        reading=branch.reading,
        spare_kg=float(branch.settings.spare[0]),
        accepted=tuple((fault.accepted.name, fault.key) for fault in accepted if fault.accepted),
    )
