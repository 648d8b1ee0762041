"""What if power, mass, losses, meter or repeats were others: a design as one model with dials and limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from budget.model.equation import compile_program
from budget.model.measurement import MeasurementModel
from design.chosen import Design
from design.dials.equations import (
    count_energy_text,
    counts_energy,
    setting_constants,
    setting_steps,
    settling_text,
    thrown_taken_off_text,
)
from design.limits import BOIL_OVER_SHARE, LEAST_STEP, LOSS_MARGIN, TIMED_LEAST
from design.physics.evidence import default, evidence
from design.procedures.face import Procedure, Steps, model_steps
from design.procedures.several_powers import LARGEST_RATIO, numbered
from design.procedures.shared import reading_uncertainty
from design.setting.situation import Situation
from design.setting.terms import InputTerm, setting

DialKind = Literal["power", "mass", "loss", "carry_over", "step_energy", "repeats"]
LEAST_VARIANCE = 1e-18
"""Least variance of a fitted fall of mass, so that a weight exists. [kg²]"""
OWN = "x_"
"""Beginning of the symbol of an input before it is sized for the setting."""


@dataclass(frozen=True)
class Dial:
    """
    One number that a reader may change.

    Parameters
    ----------
    kind : str
        What it is.
    symbol : str
        Constant of the model that it sets. In SI units.
    value, low, high : float
        As planned, and the range.
    steps : {"even", "ratio", "whole"}
        Even steps, equal ratios (a scale of logarithms) or whole numbers.
    follower : str
        Constant that a correction takes off in its place; empty where there is none.
    """

    kind: DialKind
    symbol: str
    value: float
    low: float
    high: float
    steps: Literal["even", "ratio", "whole"] = "even"
    follower: str = ""


@dataclass(frozen=True)
class Allowance:
    """A limit: which step of the model must keep to which, from above or, with ``at_least``, from below."""

    key: str
    value: str
    bound: str
    at_least: bool = False


@dataclass(frozen=True)
class WhatIf:
    """
    A design whose settings are constants of its measurement model.

    Parameters
    ----------
    model : MeasurementModel
        Reported latent heat; the setting's equations come before those of the procedure.
    dials : tuple of Dial
        Constants that a reader may change.
    allowances : tuple of Allowance
        Limits, as steps of the model.
    partners : mapping of str to str
        Constant by which the correction stands for an input quantity, by the symbol of that.
    whole_counts : bool
        Whether runs end on a mark of the meter.
    """

    model: MeasurementModel
    dials: tuple[Dial, ...]
    allowances: tuple[Allowance, ...]
    partners: Mapping[str, str]
    whole_counts: bool


def what_if(design: Design) -> WhatIf:
    """Make the model with dials of a design."""
    situation, procedure, terms = design.situation, design.procedure, design.terms
    set_by, sized_by = _settings_text(situation, procedure), _sizes_text(situation, procedure)
    limits, bounds, allowances = _limits(situation, procedure)
    inputs: list[InputTerm] = [*setting_constants(situation), *bounds]
    sizes: list[tuple[str, str]] = []
    for term in terms:
        if term.symbol in set_by:
            sizes.append((term.symbol, set_by[term.symbol]))
        elif term.symbol in sized_by:
            inputs.append(_own(term, terms))
            sizes.append((term.symbol, f"{OWN}{term.symbol} * ({sized_by[term.symbol]})"))
        elif term.symbol not in {known.symbol for known in inputs}:
            inputs.append(term)
    steps = (*setting_steps(situation, procedure), *limits, *sizes, *model_steps(procedure, design.correction))
    equation = procedure.result(design.correction).equation
    model = _model(inputs, steps, equation)
    dials = tuple(dial for dial in _dials(situation) if dial.symbol in model.symbols)
    followed = tuple(_followed(dial, model) for dial in dials)
    return WhatIf(model, followed, allowances, _partners(model), situation.pace.whole_counts)


def _model(inputs: list[InputTerm], steps: Steps, equation: str) -> MeasurementModel:
    """Model of the inputs that its text uses."""
    used = compile_program(steps, equation).symbols
    return MeasurementModel(
        symbol="L",
        name="specific latent heat of vaporisation, as reported",
        unit="J/kg",
        inputs=tuple(term.quantity(0) for term in inputs if term.symbol in used),
        intermediates=steps,
        equation=equation,
    )


def _own(term: InputTerm, terms: tuple[InputTerm, ...]) -> InputTerm:
    """An input quantity before it is sized; for a correction's constant that of the quantity it stands for."""
    symbol = OWN + term.symbol
    if not term.symbol.endswith("_est"):
        return replace(term, symbol=symbol, size=np.ones(()))
    of = next(other for other in terms if f"{other.symbol}_est" == term.symbol)
    return setting(symbol, term.name, term.unit, of.base.mean)


def _settings_text(situation: Situation, procedure: Procedure) -> dict[str, str]:
    """Text of the inputs that are set, where it follows from the dials."""
    powers = procedure.number_of_powers
    text = {"P_ref": "P_set", "m_step": "mass_1", "t": "time_1", "steep": "1"}
    if situation.pace.whole_counts or counts_energy(situation):
        text["k"] = count_energy_text(situation, 1)
    flex = situation.kit.heater.flex > 0.0
    thrown = situation.hardware.knowledge["carry_over"].mean > 0.0
    if thrown:
        text["steep"] = "thrown_1 / (carry_over * law_1)"
        text |= settling_text() if powers == 1 else {}
    for number in range(1, powers + 1):
        power = numbered("P_set", number)
        text[numbered("n", number)] = f"counts_{number}"
        if situation.pace.whole_counts:
            text[numbered("k", number)] = count_energy_text(situation, number)
            text[numbered("fitted", number)] = _fitted(number)
        text[f"lead_{number}"] = f"lead_share_{number} / lead_share_1" if flex else "1"
        text[f"splash_{number}"] = f"thrown_{number} / thrown_1" if thrown else "1"
        text[f"cubes_{number}"] = f"law_{number} / law_1" if thrown else "1"
        text[f"dry_{number}"] = f"1 - {power} / P_set"
        text[f"weight_{number}"] = f"({_variance(situation, 1)}) / ({_variance(situation, number)})"
    return text


def _fitted(number: int) -> str:
    """Scatter of a fitted fall of mass over that of its two ends, as ``design.procedures.series.fitted_share``."""
    return f"sqrt(6 * marks_{number} / ((marks_{number} + 1) * (marks_{number} + 2)))"


def _variance(situation: Situation, number: int) -> str:
    """Variance of the fitted fall of mass at a power, for the weights of a fit."""
    observer = situation.conditions.bench.observer
    reading = float(np.sqrt(2.0)) * reading_uncertainty(situation.kit.balance, observer.tipping)
    noise = f"({evidence('boiling_noise').spread!r} * {_noise(number)})**2"
    timing = f"(mass_{number} / max(time_{number}, 1e-9) * {float(observer.reaction_time)!r})**2"
    return f"max(({_fitted(number)})**2 * ({noise} + {reading!r}**2 + {timing}), {LEAST_VARIANCE!r})"


def _noise(number: int) -> str:
    """Boiling noise of a difference of two readings at a power, over that of one below 1 kW."""
    return f"(sqrt(2) * max({numbered('P_set', number)} / 1000, 1)**{default('boiling_noise_exponent')!r})"


def _sizes_text(situation: Situation, procedure: Procedure) -> dict[str, str]:
    """Size of the inputs whose knowledge grows with the setting."""
    text = {"e_lead": "lead_share_1", "e_lead_est": "lead_share_1"}
    for number in range(1, procedure.number_of_powers + 1):
        text[numbered("Q_drift", number)] = "mean_water * specific_heat"
        text[numbered("d_boiling", number)] = _noise(number)
        if procedure.reads_in_passing and situation.kit.meter.reads == "timed":
            text[numbered("d_count", number)] = _clock(situation, procedure, number)
    if situation.hardware.loss > 0.0:
        for symbol in ("W_wall", "W_base", "W_return"):
            text |= {symbol: "loss / loss_plan", f"{symbol}_est": "loss_taken_off / loss_plan"}
    if situation.hardware.knowledge["carry_over"].mean > 0.0:
        text |= {
            "s_splash": "thrown_1 / carry_over_plan",
            "s_splash_est": f"({thrown_taken_off_text()}) / carry_over_plan",
        }
    return text


def _clock(situation: Situation, procedure: Procedure, number: int) -> str:
    """Size of what the clock misses of a count, where marks are timed: it goes with the rate of counting."""
    timed = next(term for term in procedure.terms(situation) if term.symbol == "d_count")
    per_rate = float(timed.size[0] * situation.kit.meter.energy_per_count / situation.settings.power[0])
    return f"{per_rate!r} * {numbered('P_set', number)} / step_energy"


def _dials(situation: Situation) -> tuple[Dial, ...]:
    hardware, settings = situation.hardware, situation.settings
    powers, mass, repeats = settings.powers[0], float(settings.mass[0]), float(settings.repeats[0])
    share, step = hardware.knowledge["carry_over"].mean, situation.kit.meter.energy_per_count
    dials = [
        Dial("power", numbered("P_set", place + 1), float(power), _round(0.25 * power), _round(2.0 * power))
        for place, power in enumerate(powers)
    ]
    dials.append(Dial("mass", "mass", mass, _round(min(0.02, 0.5 * mass)), _round(2.5 * mass)))
    if hardware.loss > 0.0:
        dials.append(
            Dial("loss", "loss", hardware.loss, 0.0, _round(max(60.0, 3.0 * hardware.loss)), "even", "loss_taken_off")
        )
    if share > 0.0:
        ends = (_round(0.1 * share), _round(min(10.0 * share, 0.3)))
        dials.append(Dial("carry_over", "carry_over", share, *ends, "ratio", "carry_over_taken_off"))
    if step > 0.0:
        dials.append(Dial("step_energy", "step_energy", step, _round(step / 20.0), _round(step * 20.0), "ratio"))
    dials.append(Dial("repeats", "N", repeats, 1.0, max(10.0, repeats), "whole"))
    return tuple(dials)


def _round(value: float) -> float:
    """End of a range, to two significant digits."""
    return float(f"{value:.2g}")


def _followed(dial: Dial, model: MeasurementModel) -> Dial:
    """The dial without its follower where nothing is corrected."""
    return dial if dial.follower in model.symbols else replace(dial, follower="")


def _partners(model: MeasurementModel) -> dict[str, str]:
    return {symbol: f"{symbol}_est" for symbol in model.symbols if f"{symbol}_est" in model.symbols}


def _limits(situation: Situation, procedure: Procedure) -> tuple[Steps, tuple[InputTerm, ...], tuple[Allowance, ...]]:
    """Limits of ``design.limits`` that a dial can cross: steps, bounds, and which must keep to which."""
    bench, kit = situation.conditions.bench, situation.kit
    powers = procedure.number_of_powers
    unlucky = (1.0 - kit.heater.tolerance) * (1.0 - bench.supply.tolerance) ** 2
    doubt = " * loss / loss_plan" if situation.hardware.loss > 0.0 else ""
    steps: Steps = (
        ("circuit_current", "current_1 * groups"),
        ("lowest_power", numbered("P_set", powers)),
        ("needed_power", f"{1.0 + LOSS_MARGIN!r} * (loss + 2 * loss_doubt_plan{doubt}) / unlucky"),
        ("volume", "(fill + displaced) / density"),
        ("load", f"vessel_mass + fill{' + mass_1' if procedure.needs_mass_set else ''}"),
    )
    if kit.meter.reads == "timed":
        steps += (("mark_spacing", "step_energy / P_set"),)
    hung = default("vessel_heater_mass") if kit.heater.held_by == "vessel" else 0.0
    bounds = (
        setting("groups", "groups at once", "1", bench.lesson.groups),
        setting("unlucky", "least power over that dialled in", "1", max(unlucky, 1e-9)),
        setting("vessel_mass", "vessel and what hangs on it", "kg", kit.vessel_mass + hung),
    )
    allowed = [
        ("time", "lesson_time", False, bench.lesson.length),
        ("circuit", "circuit_current", False, bench.supply.current_limit),
        ("volume", "volume", False, kit.vessel.capacity),
        ("freeboard", "freeboard", True, default("least_freeboard")),
        ("boil_over", "thrown_1", False, BOIL_OVER_SHARE),
        ("balance", "load", False, kit.balance.capacity),
        ("mass_step", "mass_1", True, LEAST_STEP),
        ("meter_current", "current_1", False, kit.meter.max_current),
        ("meter_power", "P_set", False, kit.meter.max_power),
        ("meter_start", f"current_{powers}", True, kit.meter.start_current),
        ("timing", "mark_spacing", True, TIMED_LEAST if kit.meter.reads == "timed" else 0.0),
    ]
    stated = [row for row in allowed if 0.0 < row[3] < np.inf]
    steps += tuple((f"bound_{key}", repr(float(bound))) for key, _, _, bound in stated)
    allowances = [Allowance(key, value, f"bound_{key}", least) for key, value, least, _ in stated]
    allowances.append(Allowance("steady", "lowest_power", "needed_power", at_least=True))
    if powers > 1:
        steps += (("largest_second", f"{LARGEST_RATIO!r} * P_set"),)
        allowances.append(Allowance("apart", "lowest_power", "largest_second"))
    return steps, bounds, tuple(allowances)
