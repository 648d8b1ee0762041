"""The measurement model of readings that were taken: the procedure's own equation, fed with what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import compile_program
from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import Constant, linear, scaled
from budget.quantities.inputs import InputQuantity
from design.chosen import Design
from design.errors import DesignError
from design.evaluation.runs import Contrast, Run, contrast_of
from design.evaluation.scatter import SCATTER, Scatter, pooled, scatter_of
from design.procedures.registry import procedure_named, variants_of
from design.search.candidates import powers_of
from design.setting.equations import Steps
from design.setting.situation import Settings, Situation, situation_of
from design.setting.terms import InputTerm

LINEARITY = "d_linearity"
"""Error of the balance's scale: anew with every run, and the same for all its marks."""
OF_THE_PLAN = ("P_set", "m_step", "n")
"""Inputs that say what is intended, where readings say what was done."""
COOLED = ("W_cooled", "(W_cooled_read - d_cooling - Q_vapour * e_cooling) / (1 + e_cooling)")
"""Heat loss by the cooling balance, from what its readings give."""
PER_PAUSE = ("t_pause", "E_restart")
"""Inputs that come with every step between marks."""
ANEW = {*SCATTER, LINEARITY, *(f"{symbol}_est" for symbol in PER_PAUSE)}
"""Inputs that come anew with every group's readings; at the lower powers their symbols end in ``_i``."""
SAME_POWER = 0.12
"""Relative difference of power below which runs count as at one power (mains and element drift; judgement)."""


@dataclass(frozen=True)
class Measured:
    """
    Readings of a group with the model that makes a result of them.

    Parameters
    ----------
    used : Design
        Kit, procedure and correction.
    levels : tuple of tuple of Run
        Runs at each power, the highest first.
    contrasts : tuple of Contrast
        What the marks of each power say together.
    situation : Situation
        The bench at the powers and mass that were used.
    model : MeasurementModel
        Latent heat by the correction in use.
    scatter : Scatter
        Noise of the readings, by which the model's is widened.
    """

    used: Design
    levels: tuple[tuple[Run, ...], ...]
    contrasts: tuple[Contrast, ...]
    situation: Situation
    model: MeasurementModel
    scatter: Scatter

    @cached_property
    def uncorrected(self) -> MeasurementModel:
        """Latent heat with nothing taken off."""
        model = _model(self.used.uncorrected, self.levels, self.contrasts, self.situation, None)
        return _noisier(model, self.scatter.factor)

    @property
    def loss(self) -> float:
        """Heat loss that the correction takes off; at several powers, what energy, mass and time leave. [W]"""
        steps = self._steps
        if "W_est" in steps:
            return steps["W_est"]
        if self.by_powers is None:
            return 0.0
        energy, mass, time = self.by_powers.sum(axis=1)
        return float((energy - steps["L"] * mass) / time)

    @property
    def by_powers(self) -> FloatArray | None:
        """Energy [J], mass [kg] and time [s] as corrected at each power, shape (3, powers); None at one power."""
        steps = self._steps
        suffix = "est" if "E_1_est" in steps else "read"
        if len(self.levels) < 2 or f"E_1_{suffix}" not in steps:
            return None
        names = (f"E_{{}}_{suffix}", f"m_{{}}_{suffix}", "t_{}")
        return np.array([[steps[name.format(index)] for index in range(1, len(self.levels) + 1)] for name in names])

    @cached_property
    def _steps(self) -> dict[str, float]:
        return {symbol: float(value) for symbol, value in self.model.evaluate_all(self.model.estimates).items()}


def rated_power(used: Design) -> float:
    """Power that the bench states for today, else the heater's highest on the bench's supply. [W]"""
    stated = used.conditions.bench.current.power
    return stated or max(powers_of(used.conditions.bench, used.kit.heater), default=used.kit.heater.power)


def unnumbered(symbol: str) -> str:
    """Write a symbol without the number of its power."""
    head, _, number = symbol.rpartition("_")
    return head if number.isdigit() else symbol


def matching(used: Design, runs: Sequence[Run]) -> Design:
    """The same with as many powers as the runs have, where the procedure leaves that open."""
    if len(variants_of(used.procedure)) < 2:
        return used
    number = len(by_power(runs)) if all(run.power for run in runs) else 1
    procedure = procedure_named(used.procedure.identifier, number)
    correction = used.correction if used.correction in procedure.corrections else "calculated"
    return replace(used, procedure=procedure, correction=correction)


def measured(used: Design, runs: Sequence[Run], cooled: float | None = None) -> Measured:
    """
    Build the measurement models of a group's runs.

    Parameters
    ----------
    used, runs
        Kit, procedure and correction, and all runs of the group.
    cooled : float, optional
        Heat loss by the cooling balance, where the correction takes it. [W]

    Raises
    ------
    DesignError
        If a run does not go on, or the procedure needs several powers and the runs have one.
    """
    for run in runs:
        _must_go_on(run)
    wanted = _symbols(used)
    levels = _levels(used, runs) if "E_read" not in wanted else (tuple(runs),)
    contrasts = tuple(contrast_of(level, steps_of_mass=used.procedure.needs_mass_set) for level in levels)
    if "t_1" not in wanted:
        contrasts = _equal_times(contrasts)
    situation = _situation(used, contrasts)
    model = _model(used, levels, contrasts, situation, cooled)
    expected = Measured(used, levels, contrasts, situation, model, pooled((), 0.0))
    scatter = scatter_of(
        levels,
        contrasts,
        propagate(expected.model),
        loss=expected.loss,
        steps_of_mass=used.procedure.needs_mass_set,
        fitted=expected.by_powers,
    )
    return replace(expected, model=_noisier(expected.model, scatter.factor), scatter=scatter)


def _noisier(model: MeasurementModel, factor: float) -> MeasurementModel:
    """The model with the noise of its readings wider by a factor."""
    return replace(
        model,
        inputs=tuple(
            replace(one, distribution=linear(one.distribution, (1.0 - factor) * one.distribution.mean, factor))
            if unnumbered(one.symbol) in SCATTER and factor != 1.0
            else one
            for one in model.inputs
        ),
    )


def _must_go_on(run: Run) -> None:
    if run.goes_on:
        return
    energy, mass, time = run.span
    got = f"{energy / 1e3:.4g} kJ, {1e3 * mass:.4g} g" + ("" if time is None else f", {time:.4g} s")
    raise DesignError(
        f"rows {run.rows[0]} to {run.rows[-1]}: run {run.name} must go on in energy, mass boiled away and time from "
        f"its first to its last mark (got {got})"
    )


def _levels(used: Design, runs: Sequence[Run]) -> tuple[tuple[Run, ...], ...]:
    """Runs by power, the highest first, as many powers as the procedure takes."""
    found, expected = by_power(runs), used.procedure.number_of_powers
    if len(found) != expected:
        powers = ", ".join(f"{_power(level[0]):.0f} W" for level in found)
        raise DesignError(
            f"readings: {used.procedure.identifier} must have runs at {expected} powers, as energy over time "
            f"shows them (got {powers})"
        )
    return tuple(tuple(level) for level in found)


def by_power(runs: Sequence[Run]) -> list[list[Run]]:
    """Runs by power, the highest first; runs within ``SAME_POWER`` of the first of a power belong to it."""
    found: list[list[Run]] = []
    for run in sorted(runs, key=lambda run: -_power(run)):
        if found and _power(run) > (1.0 - SAME_POWER) * _power(found[-1][0]):
            found[-1].append(run)
        else:
            found.append([run])
    return found


def _power(run: Run) -> float:
    if run.power is None:
        raise DesignError(
            f"row {run.rows[0]}: run {run.name} must have times, as this procedure compares powers (got none)"
        )
    return run.power


def _equal_times(contrasts: Sequence[Contrast]) -> tuple[Contrast, ...]:
    """Contrasts over the time of the first: without times in the equation, the loss drops out over equal ones only."""
    first = contrasts[0].time
    ratios = [first / one.time if first and one.time else 1.0 for one in contrasts]
    return tuple(
        replace(one, energy=ratio * one.energy, mass=ratio * one.mass, time=first, scatter=ratio * one.scatter)
        for one, ratio in zip(contrasts, ratios, strict=True)
    )


def _symbols(used: Design) -> frozenset[str]:
    """Symbols that the uncorrected equation needs."""
    result = used.procedure.result("none")
    return symbols_used(result.steps, result.equation)


@cache
def symbols_used(steps: Steps, equation: str) -> frozenset[str]:
    """Symbols that an equation with its steps needs."""
    return frozenset(compile_program(steps, equation).symbols)


def _situation(used: Design, contrasts: Sequence[Contrast]) -> Situation:
    settings = Settings(
        powers=np.array([[contrast.power or rated_power(used) for contrast in contrasts]]),
        mass=np.array([max(contrasts[0].mass, 1e-6)]),
        repeats=np.array([float(contrasts[0].runs)]),
    )
    return situation_of(used.conditions, used.kit, used.hardware, settings, used.procedure.pace)


def _model(
    used: Design,
    levels: Sequence[Sequence[Run]],
    contrasts: Sequence[Contrast],
    situation: Situation,
    cooled: float | None,
) -> MeasurementModel:
    result = used.procedure.result(used.correction)
    terms = {term.symbol: term for term in used.procedure.terms(situation)}
    steps: list[tuple[str, str]] = []
    inputs: list[InputQuantity] = []
    for index, (level, contrast) in enumerate(zip(levels, contrasts, strict=True), start=1):
        own = "" if "E_read" in _symbols(used) else f"_{index}"
        tail = own if index > 1 else ""
        steps += _reading_steps(used, level[0], contrast, own, tail)
        inputs += _reading_inputs(level[0], contrast, terms, tail, rated_power(used))
    inputs += _shared_inputs(terms, contrasts[0], levels[0][0])
    if cooled is not None:
        steps.append(COOLED)
        inputs.append(_constant("W_cooled_read", cooled, "cooled_loss", "W"))
    kept = steps_used(steps, symbols_used(result.steps, result.equation))
    wanted = symbols_used((*kept, *result.steps), result.equation)
    return MeasurementModel(
        symbol="L",
        name="specific latent heat of vaporisation",
        unit="J/kg",
        inputs=tuple({quantity.symbol: quantity for quantity in inputs if quantity.symbol in wanted}.values()),
        intermediates=(*kept, *result.steps),
        equation=result.equation,
    )


def steps_used(steps: Sequence[tuple[str, str]], wanted: frozenset[str]) -> Steps:
    """Steps that lead to some symbols, in order."""
    kept: Steps = ()
    for symbol, text in reversed(steps):
        if symbol in wanted:
            kept = ((symbol, text), *kept)
            wanted |= symbols_used((), text)
    return kept


def _reading_steps(used: Design, run: Run, contrast: Contrast, own: str, tail: str) -> Steps:
    """
    Energy, time and mass of a run from what was read, each with the error of reading it.

    The readings at power i end in ``_i``; errors of reading at the highest power have plain symbols.
    """
    procedure, shown, fall, time = used.procedure, f"E_shown{tail}", f"m_shown{tail}", f"t{own}"
    rated = "(1 + e_heater) * (1 + e_supply)**2"
    clock = f"{shown} / (P_set * {rated})" if contrast.time is None else f"t_shown{tail}"
    counted = f"{shown} * {rated}" if run.source == "nameplate" else shown
    weighed = f"{fall} * (1 + e_mass)" if procedure.needs_mass_set else fall
    weighed += f" + d_linearity{tail} + d_balance{tail} + d_drift{tail} * drifting{tail} + d_boiling{tail}"
    if procedure.pace.whole_counts:
        weighed += f" + {fall} / {time} * d_time{tail}"
    else:
        counted += f" + k * d_count{tail} + {shown} / {time} * d_time{tail}"
    return ((time, clock), (f"E{own}_read", f"{counted} + Q_drift{tail}"), (f"m{own}_read", weighed))


def _reading_inputs(
    run: Run, contrast: Contrast, terms: dict[str, InputTerm], tail: str, rated: float
) -> list[InputQuantity]:
    """What was read, as constants, and the errors of reading, sized by the contrast."""
    inputs = [
        _constant(f"E_shown{tail}", contrast.energy, "energy_shown", "J"),
        _constant(f"m_shown{tail}", contrast.mass, "mass_shown", "kg"),
        _constant("P_set", rated, "power_stated", "W"),
    ]
    if contrast.time is not None:
        inputs.append(_constant(f"t_shown{tail}", contrast.time, "heater_time", "s"))
    for symbol in (*SCATTER, LINEARITY):
        name = f"{symbol}{tail}"
        term = terms.get(name, terms.get(symbol))
        if term is None:
            inputs.append(_constant(name, 0.0, "not_read", ""))
            continue
        quantity = replace(term, symbol=name).quantity(0)
        factor = 1.0 if symbol == LINEARITY else contrast.scatter
        inputs.append(replace(quantity, distribution=scaled(quantity.distribution, factor)))
    if run.source == "energy":
        inputs.append(_constant("k", run.division("energy"), "display_step", "J"))
    return inputs


def _shared_inputs(terms: dict[str, InputTerm], contrast: Contrast, run: Run) -> list[InputQuantity]:
    """Knowledge of the bench: every term, and under its symbol with ``_est`` what a correction takes off."""
    inputs = []
    for symbol, term in terms.items():
        if symbol in (*SCATTER, LINEARITY, *OF_THE_PLAN):
            continue
        quantity = term.quantity(0)
        if symbol in PER_PAUSE:
            quantity = replace(quantity, distribution=scaled(quantity.distribution, contrast.pauses))
        if symbol == "e_meter" and run.source == "nameplate":
            quantity = replace(quantity, distribution=Constant(0.0))
        if symbol == "N":
            quantity = replace(quantity, distribution=Constant(1.0))
        inputs += [quantity, replace(quantity, symbol=f"{symbol}_est")]
    known = {quantity.symbol for quantity in inputs}
    absent = (("e_mass", "masses", "1"), ("k", "count_energy", "J"))
    return inputs + [_constant(symbol, 0.0, name, unit) for symbol, name, unit in absent if symbol not in known]


def _constant(symbol: str, value: float, name: str, unit: str) -> InputQuantity:
    return InputQuantity(symbol, Constant(value), name, unit, "readings")
