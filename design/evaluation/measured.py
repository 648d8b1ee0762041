"""The measurement model of readings that were taken: the procedure's own equation, fed with what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from budget.model.equation import compile_program
from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Constant, Distribution, scaled
from budget.quantities.inputs import InputQuantity
from design.errors import DesignError
from design.evaluation.in_use import InUse
from design.evaluation.runs import Contrast, Run, contrast_of
from design.procedures.face import Result
from design.procedures.registry import procedure_named
from design.search.candidates import powers_of
from design.setting.equations import Steps
from design.setting.situation import Settings, Situation, situation_of
from design.setting.terms import InputTerm

SCATTER = ("d_balance", "d_boiling", "d_count", "d_time", "Q_drift")
"""Inputs that come anew with every reading."""
COOLED = ("W_cooled", "(W_cooled_read - d_cooling - Q_vapour * e_cooling) / (1 + e_cooling)")
"""Heat loss by the cooling balance, from what its readings give."""
PER_PAUSE = ("t_pause", "E_restart")
"""Inputs that come with every step between marks."""
SAME_POWER = 0.12
"""Relative difference of power below which runs count as at one power (mains and element drift; judgement)."""


@dataclass(frozen=True)
class Measured:
    """
    Readings of a group with the model that makes a result of them.

    Parameters
    ----------
    levels : tuple of tuple of Run
        Runs at each power, the highest first.
    contrasts : tuple of Contrast
        What the marks of each power say together.
    situation : Situation
        The bench at the powers and mass that were used.
    model : MeasurementModel
        Latent heat by the correction in use.
    uncorrected : MeasurementModel
        Latent heat with nothing taken off.
    """

    levels: tuple[tuple[Run, ...], ...]
    contrasts: tuple[Contrast, ...]
    situation: Situation
    model: MeasurementModel
    uncorrected: MeasurementModel


def rated_power(used: InUse) -> float:
    """Power that the bench states for today, else the heater's highest on the bench's supply. [W]"""
    stated = used.conditions.bench.current.power
    return stated or max(powers_of(used.conditions.bench, used.kit.heater), default=used.kit.heater.power)


def matching(used: InUse, runs: Sequence[Run]) -> InUse:
    """The same with as many powers as the runs have, where the procedure leaves that open (a series)."""
    if used.procedure.identifier != "series":
        return used
    powers = by_power(runs) if all(run.power for run in runs) else [list(runs)]
    procedure = procedure_named("series", len(powers))
    correction = used.correction if used.correction in procedure.corrections else "calculated"
    return replace(used, procedure=procedure, correction=correction)


def measured(used: InUse, runs: Sequence[Run], cooled: float | None = None) -> Measured:
    """
    Build the measurement models of a group's runs.

    Parameters
    ----------
    used : InUse
        Kit, procedure and correction.
    runs : sequence of Run
        All runs of the group.
    cooled : float, optional
        Heat loss by the cooling balance, where the correction takes it. [W]

    Returns
    -------
    Measured

    Raises
    ------
    DesignError
        If the procedure needs several powers and the runs have one.
    """
    for run in runs:
        _must_go_on(run)
    levels = levels_of(used, runs)
    contrasts = tuple(contrast_of(level, steps_of_mass=used.procedure.needs_mass_set) for level in levels)
    if used.procedure.identifier == "two-powers":
        contrasts = equal_times(contrasts)
    situation = _situation(used, contrasts)
    return Measured(
        levels,
        contrasts,
        situation,
        _model(used, levels, contrasts, situation, cooled),
        _model(replace(used, correction="none"), levels, contrasts, situation, None),
    )


def _must_go_on(run: Run) -> None:
    energy, mass, time = run.span
    if energy > 0.0 and mass > 0.0 and (time is None or time > 0.0):
        return
    got = f"{energy / 1e3:.4g} kJ, {1e3 * mass:.4g} g" + ("" if time is None else f", {time:.4g} s")
    raise DesignError(
        f"rows {run.rows[0]} to {run.rows[-1]}: run {run.name} must go on in energy, mass boiled away and time from "
        f"its first to its last mark (got {got})"
    )


def levels_of(used: InUse, runs: Sequence[Run]) -> tuple[tuple[Run, ...], ...]:
    """Runs by power, the highest first; all together where the procedure takes one power."""
    wanted = symbols_of(used.procedure.result("none"))
    if "E_read" in wanted:
        return (tuple(runs),)
    found, expected = by_power(runs), used.procedure.number_of_powers
    if len(found) != expected:
        powers = ", ".join(f"{_power(level[0]):.0f} W" for level in found)
        raise DesignError(
            f"readings: {used.procedure.name} must have runs at {expected} powers, as energy over time shows them "
            f"(got {powers})"
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


def equal_times(contrasts: Sequence[Contrast]) -> tuple[Contrast, ...]:
    """Contrasts scaled to the time of the first: the loss drops out of a difference only over equal times."""
    first = contrasts[0].time
    scaled_ones = []
    for contrast in contrasts:
        ratio = first / contrast.time if first and contrast.time else 1.0
        changed = replace(
            contrast,
            energy=contrast.energy * ratio,
            mass=contrast.mass * ratio,
            time=first,
            scatter=contrast.scatter * ratio,
        )
        scaled_ones.append(changed)
    return tuple(scaled_ones)


def _power(run: Run) -> float:
    if run.power is None:
        raise DesignError(
            f"row {run.rows[0]}: run {run.name} must have times, as this procedure compares powers (got none)"
        )
    return run.power


def symbols_of(result: Result) -> frozenset[str]:
    """Symbols that the equation of a result needs."""
    return needed_by(result.steps, result.equation)


@cache
def needed_by(steps: Steps, equation: str) -> frozenset[str]:
    """Symbols that an equation with its steps needs."""
    return frozenset(compile_program(steps, equation).symbols)


def _situation(used: InUse, contrasts: Sequence[Contrast]) -> Situation:
    rated = rated_power(used)
    powers = [contrast.energy / contrast.time if contrast.time else rated for contrast in contrasts]
    settings = Settings(
        powers=np.array([powers]),
        mass=np.array([max(contrasts[0].mass, 1e-6)]),
        repeats=np.array([float(contrasts[0].runs)]),
    )
    return situation_of(used.conditions, used.kit, used.hardware, settings, used.procedure.pace)


def _model(
    used: InUse,
    levels: Sequence[Sequence[Run]],
    contrasts: Sequence[Contrast],
    situation: Situation,
    cooled: float | None,
) -> MeasurementModel:
    result = used.procedure.result(used.correction)
    steps: list[tuple[str, str]] = []
    inputs: dict[str, InputQuantity] = {}
    terms = {term.symbol: term for term in used.procedure.terms(situation)}
    several = "E_read" not in symbols_of(result)
    for index, (level, contrast) in enumerate(zip(levels, contrasts, strict=True), start=1):
        own = f"_{index}" if several else ""
        tail = own if index > 1 else ""
        steps += _reading_steps(used, level[0], contrast, own, tail)
        inputs |= _reading_inputs(level[0], contrast, terms, tail, rated_power(used))
    inputs |= _shared_inputs(terms, contrasts[0], levels[0][0])
    if cooled is not None:
        steps.append(COOLED)
        inputs["W_cooled_read"] = _constant("W_cooled_read", cooled, "heat loss by the cooling balance", "W")
    wanted = needed_by((*steps, *result.steps), result.equation)
    kept = _kept(tuple(steps), result)
    return MeasurementModel(
        symbol="L",
        name="specific latent heat of vaporisation",
        unit="J/kg",
        inputs=tuple(quantity for symbol, quantity in inputs.items() if symbol in wanted),
        intermediates=(*kept, *result.steps),
        equation=result.equation,
    )


def _kept(steps: Steps, result: Result) -> Steps:
    """Every reading step; those that nothing uses are left out."""
    used = set(symbols_of(result))
    kept = []
    for symbol, text in reversed(steps):
        if symbol in used:
            kept.append((symbol, text))
            used |= needed_by((), text)
    return tuple(reversed(kept))


def _reading_steps(used: InUse, run: Run, contrast: Contrast, own: str, tail: str) -> Steps:
    """
    Energy, time and mass of a run from what was read, each with the error of reading it.

    The readings at power i end in ``_i``; errors of reading at the highest power have plain symbols.
    """
    energy, mass, time = f"E{own}_read", f"m{own}_read", f"t{own}"
    shown = f"E_shown{tail}"
    source = f"{shown} * (1 + e_heater) * (1 + e_supply)**2" if run.source == "nameplate" else shown
    clock = f"t_shown{tail}"
    if contrast.time is None:
        clock = f"{shown} / (P_set * (1 + e_heater) * (1 + e_supply)**2)"
    weighed = f"m_shown{tail} + d_linearity{tail} + d_balance{tail} + d_boiling{tail}"
    if used.procedure.pace.whole_counts:
        counted = f"{source} + Q_drift{tail}"
        weighed += f" + m_shown{tail} / {time} * d_time{tail}"
    else:
        counted = f"{source} + k * d_count{tail} + {shown} / {time} * d_time{tail} + Q_drift{tail}"
    if used.procedure.needs_mass_set:
        weighed = weighed.replace(f"m_shown{tail}", f"m_shown{tail} * (1 + e_mass)", 1)
    return ((time, clock), (energy, counted), (mass, weighed))


def _reading_inputs(
    run: Run, contrast: Contrast, terms: dict[str, InputTerm], tail: str, rated: float
) -> dict[str, InputQuantity]:
    """What was read, as constants, and the errors of reading, sized by the contrast."""
    inputs = {
        f"E_shown{tail}": _constant(f"E_shown{tail}", contrast.energy, "energy shown", "J"),
        f"m_shown{tail}": _constant(f"m_shown{tail}", contrast.mass, "mass boiled away, as indicated", "kg"),
        "P_set": _constant("P_set", rated, "power stated for the heater", "W"),
    }
    if contrast.time is not None:
        inputs[f"t_shown{tail}"] = _constant(f"t_shown{tail}", contrast.time, "time with the heater on", "s")
    for symbol in (*SCATTER, "d_linearity"):
        term = terms.get(f"{symbol}{tail}", terms.get(symbol))
        factor = 1.0 if symbol == "d_linearity" else contrast.scatter
        name = f"{symbol}{tail}"
        if term is None:
            inputs[name] = _constant(name, 0.0, "not read", "")
        else:
            quantity = replace(term, symbol=name).quantity(0)
            inputs[name] = replace(quantity, distribution=scaled(quantity.distribution, factor))
    if run.source == "energy" and run.readings[0][0].numbers:
        inputs["k"] = _constant("k", _display_step(run), "energy of one display step", "J")
    return inputs


def _display_step(run: Run) -> float:
    """Step of a display that shows energy: one in the last digit typed. [J]"""
    return max(
        (row.numbers["energy"].step for mark in run.readings for row in mark if "energy" in row.numbers), default=0.0
    )


def _shared_inputs(terms: dict[str, InputTerm], contrast: Contrast, run: Run) -> dict[str, InputQuantity]:
    """Knowledge of the bench: every term, and under its symbol with ``_est`` what a correction takes off."""
    inputs: dict[str, InputQuantity] = {}
    for symbol, term in terms.items():
        if symbol in SCATTER or symbol in ("d_linearity", "P_set", "m_step", "n"):
            continue
        quantity = term.quantity(0)
        distribution: Distribution = quantity.distribution
        if symbol in PER_PAUSE:
            distribution = scaled(distribution, contrast.pauses)
        if symbol == "e_meter" and run.source == "nameplate":
            distribution = Constant(0.0)
        if symbol == "N":
            distribution = Constant(1.0)
        quantity = replace(quantity, distribution=distribution)
        inputs[symbol] = quantity
        inputs[f"{symbol}_est"] = replace(quantity, symbol=f"{symbol}_est")
    inputs.setdefault("e_mass", _constant("e_mass", 0.0, "masses put on the pan", "1"))
    inputs.setdefault("k", _constant("k", 0.0, "energy of one count", "J"))
    return inputs


def _constant(symbol: str, value: float, name: str, unit: str) -> InputQuantity:
    return InputQuantity(symbol, Constant(value), name, unit, "the readings")
