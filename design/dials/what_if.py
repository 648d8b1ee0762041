"""What if power, mass, losses, meter or repeats were others: a design as one model with dials and limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from budget.model.equation import compile_program
from budget.model.measurement import MeasurementModel
from design.chosen import Design
from design.limits import LIMITS, WAY, Row
from design.procedures.face import Procedure, model_steps
from design.procedures.several_powers import LARGEST_RATIO
from design.setting.constants import given_of
from design.setting.equations import Steps, Values, hangs_on, numbered, steps_of
from design.setting.situation import Situation, constants_in
from design.setting.terms import EXACTLY_ONE, ONE, InputTerm, setting

DialKind = Literal["power", "mass", "loss", "carry_over", "step_energy", "repeats"]
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
    turned = _dials(situation)
    limits, bounds, allowances = _limits(situation, procedure, turned)
    inputs: list[InputTerm] = [*constants_in(situation), *bounds]
    steps = list(steps_of(situation.form))
    if not situation.values["counting"]:
        steps = [step for step in steps if not step[0].startswith("counts_")]
    steps += limits
    known = {term.symbol for term in inputs} | {symbol for symbol, _ in steps}
    for term in terms:
        if term.symbol in known:
            continue
        if term.text and term.base == EXACTLY_ONE:
            steps.append((term.symbol, term.text))
        elif term.text:
            inputs.append(replace(term, symbol=OWN + term.symbol, size=ONE))
            steps.append((term.symbol, f"{OWN}{term.symbol} * ({term.text})"))
        else:
            inputs.append(term)
    steps += model_steps(procedure, design.correction)
    model = _model(inputs, tuple(steps), procedure.result(design.correction).equation)
    dials = tuple(_followed(dial, model) for dial in turned if dial.symbol in model.symbols)
    return WhatIf(model, dials, allowances, _partners(model), situation.pace.whole_counts)


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


def _limits(
    situation: Situation, procedure: Procedure, dials: tuple[Dial, ...]
) -> tuple[Steps, tuple[InputTerm, ...], tuple[Allowance, ...]]:
    """Limits that a dial can cross: steps, constants, and which step must keep to which."""
    bounds = tuple(setting(one.symbol, one.name, one.unit, float(one.of(procedure))) for one in WAY)
    values = Values({**situation.values, **given_of(WAY, procedure)})
    moved = [dial.symbol for dial in dials]
    rows = [row for row in LIMITS if hangs_on(situation.form, row.value, moved) and 0.0 < values[row.bound] < np.inf]
    if situation.form.powers > 1:
        rows.append(Row("apart", "lowest_power", f"{LARGEST_RATIO!r} * P_set"))
    steps: list[tuple[str, str]] = []
    allowances = []
    for row in rows:
        names = (f"reached_{row.key}", f"bound_{row.key}")
        steps += zip(names, (row.value, row.bound), strict=True)
        allowances.append(Allowance(row.key, *names, row.at_least))
    return tuple(steps), bounds, tuple(allowances)
