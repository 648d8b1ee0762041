"""The working of a result, step by step, as it can be done again by hand: readings, corrections, uncertainty budget."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import compile_program
from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Constant, Distribution, Rectangular, Triangular
from budget.quantities.inputs import InputQuantity
from design.evaluation.result import GroupResult, Outcome
from design.evaluation.runs import Run, contrast_of
from design.evaluation.simplified import names_in, simplified
from design.setting.equations import Steps

ESTIMATE = "_est"
SHOWN: Mapping[str, str] = {"kept": "kappa", "kept_off": "kappa_0"}
"""Letters for symbols that are words in the code."""
LEAST_SHARE = 0.05
"""Contributions below this part of the standard uncertainty are put together in one line."""
MOST_LINES = 9
UNCORRECTED = "L_0"

PlusMinus = Literal["exact", "limit", "triangular", "standard"]
"""What stands behind ±: nothing, a limit with equal or triangular chances inside, a standard uncertainty."""


@dataclass(frozen=True)
class WorkingInput:
    """
    What is put in: its symbol as it is shown, what it is called, unit, value, and what its ± is.

    ``stated`` is the limit or the standard uncertainty, ``divisor`` what makes the second of the first.
    """

    symbol: str
    name: str
    unit: str
    value: float
    kind: PlusMinus
    stated: float
    divisor: float


@dataclass(frozen=True)
class WorkingStep:
    """
    One step: its symbol, equation and value [SI].

    ``summed`` are the two columns of the table of marks that are multiplied, less the mean of the first, and summed up;
    the equation is then empty.
    """

    symbol: str
    text: str
    value: float
    summed: tuple[str, str] | None = None


@dataclass(frozen=True)
class WorkingLine:
    """One line of the budget: the input, its sensitivity coefficient and its contribution. [J/kg]"""

    given: WorkingInput
    sensitivity: float
    contribution: float


@dataclass(frozen=True)
class Working:
    """
    The working of one group.

    Parameters
    ----------
    given : tuple of WorkingInput
        What the steps take beside readings.
    readings : dict of str to float
        Readings that the steps take, by symbol. [SI]
    steps : tuple of WorkingStep
        In order; ``L_0`` is the uncorrected value, ``L`` the result.
    lines, others : tuple of WorkingLine, float
        The budget, largest contribution first, and all smaller ones together. [J/kg]
    outcome : Outcome
        What it leads to.
    corrected : bool
        Whether anything is taken off.
    """

    given: tuple[WorkingInput, ...]
    readings: dict[str, float]
    steps: tuple[WorkingStep, ...]
    lines: tuple[WorkingLine, ...]
    others: float
    outcome: Outcome
    corrected: bool

    @property
    def uncorrected(self) -> float:
        """With nothing taken off. [J/kg]"""
        return next(step.value for step in self.steps if step.symbol in {UNCORRECTED, "L"})

    @property
    def correction(self) -> float:
        """What the correction adds. [J/kg]"""
        return self.steps[-1].value - self.uncorrected


def working_of(result: GroupResult) -> Working:
    """Put the working of a group together."""
    measured = result.measured
    first, readings = reading_steps(result)
    names = shown_names(measured.model, measured.uncorrected) | {
        f"t_shown_{index}": "t_1" for index in _over_other_times(result)
    }
    twice = _worked_twice(measured.uncorrected, measured.model) if result.corrected else ()
    plain_names = names | {symbol: f"{names[symbol]}_0" for symbol in twice}
    plain = _model_steps(measured.uncorrected, plain_names, UNCORRECTED if result.corrected else "L")
    taken_off = _model_steps(measured.model, names, "L") if result.corrected else ()
    known = {names[quantity.symbol]: quantity for quantity in (*measured.model.inputs, *measured.uncorrected.inputs)}
    values = {symbol: quantity.distribution.mean for symbol, quantity in known.items()} | readings
    steps = list(first)
    for step in first:
        values[step.symbol] = step.value
    for symbol, text in dict.fromkeys((*plain, *taken_off)):
        values[symbol] = value_of(text, values)
        steps.append(WorkingStep(symbol, text, values[symbol]))
    made = {step.symbol for step in steps} | readings.keys()
    wanted = dict.fromkeys(name for step in steps if step.text for name in sorted(names_in(step.text)))
    given = tuple(_given(symbol, known[symbol]) for symbol in wanted if symbol not in made)
    lines, others = _budget(result.best, names)
    return Working(given, readings, tuple(steps), lines, others, result.best, result.corrected)


def value_of(text: str, values: Mapping[str, float]) -> float:
    """Value of an equation."""
    program = compile_program((), text)
    return float(program.evaluate({symbol: values[symbol] for symbol in program.symbols}))


def shown_names(*models: MeasurementModel) -> dict[str, str]:
    """Names of symbols as they are shown: readings bare, what stands for a quantity like it, corrected ones with c."""
    symbols = dict.fromkeys(
        symbol
        for model in models
        for symbol in (*(quantity.symbol for quantity in model.inputs), *(step for step, _ in model.intermediates), "L")
    )
    several = any(symbol.endswith("_shown_2") for symbol in symbols)
    names = {symbol: _bare(symbol, several=several) for symbol in symbols}
    taken = {name for symbol, name in names.items() if "_shown" in symbol}
    return {
        symbol: f"{name}_c" if symbol.endswith(ESTIMATE) and name in taken else SHOWN.get(name, name)
        for symbol, name in names.items()
    }


def _bare(symbol: str, *, several: bool) -> str:
    if "_shown" in symbol:
        head, _, number = symbol.partition("_shown")
        return f"{head}{number or ('_1' if several else '')}"
    return symbol.removesuffix(ESTIMATE)


def _model_steps(model: MeasurementModel, names: Mapping[str, str], result: str) -> Steps:
    nought = frozenset(quantity.symbol for quantity in model.inputs if quantity.distribution.mean == 0.0)
    steps = simplified((*model.intermediates, (result, model.equation)), nought, names)
    return tuple(step for step in steps if step[1] != step[0])


def _worked_twice(plain: MeasurementModel, corrected: MeasurementModel) -> tuple[str, ...]:
    """Steps that stand in both models with another equation."""
    own = dict(corrected.intermediates)
    return tuple(symbol for symbol, text in plain.intermediates if own.get(symbol, text) != text)


def _given(symbol: str, quantity: InputQuantity) -> WorkingInput:
    kind, stated, divisor = plus_minus(quantity.distribution)
    return WorkingInput(symbol, quantity.name, quantity.unit, quantity.distribution.mean, kind, stated, divisor)


def plus_minus(distribution: Distribution) -> tuple[PlusMinus, float, float]:
    """What is said behind ±, its size, and the divisor that makes a standard uncertainty of it."""
    if isinstance(distribution, Constant) or distribution.standard_uncertainty == 0.0:
        return "exact", 0.0, 1.0
    if isinstance(distribution, Rectangular):
        return "limit", distribution.half_width, math.sqrt(3.0)
    if isinstance(distribution, Triangular):
        return "triangular", distribution.half_width, math.sqrt(6.0)
    return "standard", distribution.standard_uncertainty, 1.0


def _budget(outcome: Outcome, names: Mapping[str, str]) -> tuple[tuple[WorkingLine, ...], float]:
    propagation = outcome.propagation
    size = {symbol: abs(part) for symbol, part in propagation.contributions.items() if part != 0.0}
    ranked = sorted(size, key=lambda symbol: -size[symbol])
    least = LEAST_SHARE * propagation.standard_uncertainty
    shown = [symbol for symbol in ranked if size[symbol] >= least][:MOST_LINES]
    inputs = {quantity.symbol: quantity for quantity in outcome.model.inputs}
    lines = tuple(
        WorkingLine(
            _given(names[symbol], inputs[symbol]),
            propagation.sensitivity_coefficients[symbol],
            propagation.contributions[symbol],
        )
        for symbol in shown
    )
    return lines, math.hypot(*(size[symbol] for symbol in ranked if symbol not in shown), 0.0)


def reading_steps(result: GroupResult) -> tuple[tuple[WorkingStep, ...], dict[str, float]]:
    """Steps from the marks of every run to energy, mass and time at each power, and the readings that they take."""
    measured = result.measured
    by_mass = result.used.procedure.needs_mass_set
    several = len(measured.levels) > 1
    steps: list[WorkingStep] = []
    readings: dict[str, float] = {}
    for index, level in enumerate(measured.levels, start=1):
        own = f"_{index}" if several else ""
        scaled = index in _over_other_times(result)
        tails = [f"{own}_{number}" if len(level) > 1 else own + ("_raw" if scaled else "")
                 for number in range(1, len(level) + 1)]  # fmt: skip
        for run, tail in zip(level, tails, strict=True):
            found, typed = _run_steps(run, tail, by_mass=by_mass)
            steps += found
            readings |= typed
        steps += _level_steps(tails, own, (steps, readings), scaled=scaled)
    return tuple(steps), readings


def _over_other_times(result: GroupResult) -> frozenset[int]:
    """Numbers of the powers whose energy and mass are taken over the time of the first."""
    by_mass = result.used.procedure.needs_mass_set
    found = []
    for index, (level, contrast) in enumerate(
        zip(result.measured.levels, result.measured.contrasts, strict=True), start=1
    ):
        own = contrast_of(level, steps_of_mass=by_mass).time
        if own is not None and contrast.time is not None and not math.isclose(own, contrast.time):
            found.append(index)
    return frozenset(found)


def run_symbols(result: GroupResult) -> dict[str, str]:
    """Tail of the symbols of each run, by its name."""
    several = len(result.measured.levels) > 1
    tails = {}
    for index, level in enumerate(result.measured.levels, start=1):
        own = f"_{index}" if several else ""
        for number, run in enumerate(level, start=1):
            tails[run.name] = f"{own}_{number}" if len(level) > 1 else own
    return tails


def columns_of(run: Run) -> dict[str, FloatArray]:
    """Energy, mass and time at each mark, by their letters. [SI]"""
    return {"E": run.energy, "m": run.mass} | ({} if run.time is None else {"t": np.asarray(run.time)})


def _run_steps(run: Run, tail: str, *, by_mass: bool) -> tuple[list[WorkingStep], dict[str, float]]:
    columns = columns_of(run)
    if run.mass.size == 2:
        return [], {f"{letter}{tail}": clean(float(column[-1])) for letter, column in columns.items()}
    lead = "m" if by_mass else "E"
    x = columns[lead]
    centred = x - x.mean()
    readings = {f"{lead}{tail}": clean(float(x[-1] - x[0]))}
    square = f"S_{lead}{lead}{tail}"
    steps = [WorkingStep(square, "", float(centred @ x), (lead, lead))]
    for letter, column in columns.items():
        if letter != lead:
            mixed = f"S_{lead}{letter}{tail}"
            value = float(centred @ column)
            steps.append(WorkingStep(mixed, "", value, (lead, letter)))
            text = f"{lead}{tail} * {mixed} / {square}"
            steps.append(WorkingStep(f"{letter}{tail}", text, readings[f"{lead}{tail}"] * value / steps[0].value))
    return steps, readings


def _level_steps(
    tails: Sequence[str], own: str, found: tuple[Sequence[WorkingStep], Mapping[str, float]], *, scaled: bool
) -> list[WorkingStep]:
    """Mean over the runs of a power, and the same over the time of the first where the loss is to drop out."""
    steps, readings = found
    values = {**readings, **{step.symbol: step.value for step in steps}}
    made: list[WorkingStep] = []
    letters = [letter for letter in "Emt" if f"{letter}{tails[0]}" in values]
    middle = f"{own}_raw" if scaled else own
    if len(tails) > 1:
        for letter in letters:
            text = f"({' + '.join(f'{letter}{tail}' for tail in tails)}) / {len(tails)}"
            values[f"{letter}{middle}"] = value_of(text, values)
            made.append(WorkingStep(f"{letter}{middle}", text, values[f"{letter}{middle}"]))
    if scaled:
        for letter in ("E", "m"):
            text = f"{letter}{middle} * t_1 / t{middle}"
            made.append(WorkingStep(f"{letter}{own}", text, value_of(text, values)))
    return made


def clean(value: float) -> float:
    """Take off what rounding in the computer leaves behind the twelfth digit."""
    return float(f"{value:.12g}")
