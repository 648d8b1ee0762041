"""The walk from the true value to the expected result: what each effect does to the readings, then the correction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.sentences import CORRECTIONS, WALK

if TYPE_CHECKING:
    from budget.model import MeasurementModel
    from design.plan import RankedDesign

READINGS = ("E_read", "m_read")
"""Named steps of a measurement model that hold the energy and the mass as they are read."""


@dataclass(frozen=True)
class Step:
    """One step of the walk, in per cent of the true value; the symbol is empty for a step that is no input."""

    symbol: str
    name: str
    percent: float


def effect_steps(design: RankedDesign, model: MeasurementModel | None) -> tuple[Step, ...]:
    """
    List what each effect does to the value that the readings alone give, the largest first.

    For an uncorrected design these are the biases of its sources. For a corrected one they are found from the
    measurement model: E/m as read, at the estimates, with the effects switched on one after the other in the order
    of the inputs.

    Parameters
    ----------
    design : RankedDesign
        The design.
    model : MeasurementModel or None
        Its measurement model.
    """
    if design.correction == "none" or model is None or not _has_readings(model):
        steps = [Step(source.symbol, source.quantity, source.bias_percent) for source in design.sources]
    else:
        steps = _switched_on(model)
    return tuple(
        sorted((step for step in steps if step.percent != 0), key=lambda step: (-abs(step.percent), step.symbol))
    )


def walk(design: RankedDesign, model: MeasurementModel | None) -> tuple[Step, ...]:
    """
    List the steps from the true value to the expected result, so that they add up to the bias of the design.

    The last step is the correction, or, without one, what the effects do together beyond the sum of the steps.
    """
    steps = effect_steps(design, model)
    rest = design.bias_percent - sum(step.percent for step in steps)
    if design.correction == "none":
        return (*steps, Step("", WALK["curvature"], rest))
    name = WALK["correction"].format(correction=CORRECTIONS.get(design.correction, design.correction))
    return (*steps, Step("", name, rest))


def _has_readings(model: MeasurementModel) -> bool:
    named = {symbol for symbol, _ in model.intermediates}
    return named.issuperset(READINGS)


def _switched_on(model: MeasurementModel) -> list[Step]:
    effects = [quantity for quantity in model.inputs if quantity.neutral is not None]
    values = dict(model.estimates)
    values.update({quantity.symbol: quantity.neutral for quantity in effects if quantity.neutral is not None})
    true_value = reached = _reading(model, values)
    steps = []
    for quantity in effects:
        values[quantity.symbol] = quantity.distribution.mean
        before, reached = reached, _reading(model, values)
        steps.append(Step(quantity.symbol, quantity.name, 100 * (reached - before) / true_value))
    return steps


def _reading(model: MeasurementModel, values: dict[str, float]) -> float:
    energy, mass = (float(model.evaluate_all(values)[name]) for name in READINGS)
    return energy / mass
