"""The walk from the true value to the expected result: what each effect does to the readings, then the correction."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from budget.model.measurement import MeasurementModel
    from design.search.plan import RankedDesign

READINGS = ("E_read", "m_read")
"""Named steps of a measurement model that hold the energy and the mass as they are read."""
SEVERAL = ("E_1_read", "m_1_read")
"""The same at the first of several powers."""


@dataclass(frozen=True)
class Step:
    """One step of the walk, in per cent of the true value; the symbol is empty for a step that is no input."""

    symbol: str
    name: str
    percent: float


def effect_steps(ranked: RankedDesign, model: MeasurementModel | None, say: Language = ENGLISH) -> tuple[Step, ...]:
    """
    List what each effect does to the value that the readings alone give, the largest first.

    For an uncorrected design these are the biases of its sources. For a corrected one they are found from the
    measurement model: E/m as read, at the estimates, with the effects switched on one after the other in the order
    of the inputs.

    Parameters
    ----------
    ranked : RankedDesign
        The design.
    model : MeasurementModel or None
        Its measurement model.
    say : Language
        Language of the names.
    """
    if not ranked.design.corrected or model is None or not _has_readings(model):
        steps = [
            Step(source.symbol, quantity_name(source.quantity, say), source.bias_percent) for source in ranked.sources
        ]
    else:
        steps = _switched_on(model, say)
    return tuple(
        sorted((step for step in steps if step.percent != 0), key=lambda step: (-abs(step.percent), step.symbol))
    )


def walk(ranked: RankedDesign, model: MeasurementModel | None, say: Language = ENGLISH) -> tuple[Step, ...]:
    """
    List the steps from the true value to the expected result, so that they add up to the bias of the design.

    The last step is the correction, or, without one, what the effects do together beyond the sum of the steps.
    """
    steps = effect_steps(ranked, model, say)
    rest = ranked.bias_percent - sum(step.percent for step in steps)
    if not ranked.design.corrected:
        return (*steps, Step("", say.text("walk.curvature"), rest))
    name = say.text("walk.correction", correction=wording.correction(ranked.design.correction, say))
    return (*steps, Step("", name, rest))


def _has_readings(model: MeasurementModel) -> bool:
    named = {symbol for symbol, _ in model.intermediates}
    return named.issuperset(READINGS) or named.issuperset(SEVERAL)


def _switched_on(model: MeasurementModel, say: Language) -> list[Step]:
    effects = [quantity for quantity in model.inputs if quantity.neutral is not None]
    values = dict(model.estimates)
    values.update({quantity.symbol: quantity.neutral for quantity in effects if quantity.neutral is not None})
    true_value = reached = _reading(model, values)
    steps = []
    for quantity in effects:
        values[quantity.symbol] = quantity.distribution.mean
        before, reached = reached, _reading(model, values)
        steps.append(Step(quantity.symbol, quantity_name(quantity.name, say), 100 * (reached - before) / true_value))
    return steps


def _reading(model: MeasurementModel, values: dict[str, float]) -> float:
    """Latent heat from the readings alone: E/m, or what the procedure makes of the readings at several powers."""
    found = {symbol: float(value) for symbol, value in model.evaluate_all(values).items()}
    if "E_read" in found:
        return found["E_read"] / found["m_read"]
    return several_powers({**values, **found})


def several_powers(values: Mapping[str, float]) -> float:
    """
    Latent heat from uncorrected readings at several powers.

    Parameters
    ----------
    values : mapping of str to float
        By symbol: energy ``E_1_read``, mass ``m_1_read`` and time ``t_1`` of each power; where there are weights
        ``weight_1``, L is fitted together with the loss of heat by least squares, else it is the quotient of the
        differences of two powers.

    Returns
    -------
    float
        L. [J/kg]
    """
    powers = [number for number in range(1, 10) if f"E_{number}_read" in values]
    energy, mass, time, weight = (
        [values.get(name.format(number), 1.0) for number in powers]
        for name in ("E_{}_read", "m_{}_read", "t_{}", "weight_{}")
    )
    if "weight_1" not in values:
        return (energy[0] - energy[1]) / (mass[0] - mass[1])
    mm, mt, tt = (_sum(weight, *pair) for pair in ((mass, mass), (mass, time), (time, time)))
    me, te = (_sum(weight, one, energy) for one in (mass, time))
    return (me * tt - te * mt) / (mm * tt - mt * mt)


def _sum(*factors: Sequence[float]) -> float:
    return math.fsum(math.prod(product) for product in zip(*factors, strict=True))
