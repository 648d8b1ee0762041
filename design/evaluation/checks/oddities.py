"""What is odd about a run, in the order of how far it lies from what is expected of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from design.evaluation.checks.outlook import Outlook, Traits, furthest
from design.evaluation.expected import Windows, count_step, mark_uncertainty
from design.evaluation.runs import Run
from design.message import Message
from design.sheets.readings import Reading

SURE = 6.0
"""Standard uncertainties from which a deviation is odd beside a larger one (judgement)."""
NOTABLE = 2.0
"""Standard uncertainties below which a deviation is not what makes a run odd (judgement)."""


@dataclass(frozen=True)
class Oddity:
    """What is odd, where it is best looked for, and how far from expected. [standard uncertainties]"""

    code: str
    seen: Message
    reading: Reading
    quantity: str
    size: float


def oddities(
    run: Run, traits: Traits | None, outlook: Outlook, others: Sequence[Run], windows: Windows
) -> tuple[Oddity, ...]:
    """Everything odd about a run, the oddest first."""
    last = run.readings[-1][-1]
    if traits is None or not traits.goes_on:
        key = "not_steadily" if run.goes_on else "not_on_from_mark_to_mark"
        whole = Oddity("runs_backwards", Message(key), last, "", math.inf)
        return (whole, *(one for one in _of_marks(run, windows, 1.0) if one.size > SURE))
    (value, of_value), (power, of_power) = outlook.expected(traits)
    found = [_of_value(run, others, windows, (traits.value - value) / of_value, last)]
    if not math.isnan(traits.power) and math.isfinite(of_power):
        found.append(_of_power(run, others, windows, (traits.power - power) / of_power, last))
    weight = np.exp(outlook.weights - outlook.evidence)
    found += _of_marks(run, windows, float(weight @ outlook.scatter(traits)))
    notable = [one for one in found if abs(one.size) > NOTABLE] or [max(found, key=lambda one: abs(one.size))]
    first, *more = sorted(notable, key=lambda one: -abs(one.size))
    return (first, *(one for one in more if abs(one.size) > SURE))


def _of_value(run: Run, others: Sequence[Run], windows: Windows, size: float, last: Reading) -> Oddity:
    energy, mass, _ = run.span
    value, expected = energy / mass, windows.value(run.power)
    spread = math.hypot(expected.of_loss, expected.of_others)
    if others and abs(math.log(value / expected.value)) < 3.0 * spread:
        elsewhere = median(other.span[0] / other.span[1] for other in others)
        seen = Message("run_out_of_line", {"value": value, "others": elsewhere})
        return Oddity("run_out_of_line", seen, last, "", size)
    code = "energy_too_small" if size < 0.0 else "energy_too_large"
    seen = Message(code, {"value": value, "mass": mass, "expected": expected.value})
    return Oddity(code, seen, last, "", size)


def _of_power(run: Run, others: Sequence[Run], windows: Windows, size: float, last: Reading) -> Oddity:
    power, (low, high) = run.power or math.nan, windows.power
    powers = [other.power for other in others if other.power]
    if powers and low < power < high:
        seen = Message("power_out_of_line", {"power": power, "others": median(powers)})
        return Oddity("power_out_of_line", seen, last, "", size)
    code = "power_below_nameplate" if size < 0.0 else "power_beyond_nameplate"
    seen = Message("power_beyond_nameplate", {"power": power, "nameplate": windows.used.kit.heater.power})
    return Oddity(code, seen, last, "", size)


def _of_marks(run: Run, windows: Windows, factor: float) -> Iterator[Oddity]:
    """Marks that leave the line of mass against energy, or of time against energy."""
    if run.mass.size < 4:
        return
    used, power = windows.used, windows.within(run.power)
    place, by = furthest(run.energy, run.mass)
    size = by / (factor * mark_uncertainty(used, run, power))
    seen = Message("mass_out_of_line", {"mark": _name(run, place), "mass": by})
    yield Oddity("mark_out_of_line", seen, run.readings[place][0], "mass", size)
    if run.time is not None:
        place, late = furthest(run.energy, run.time)
        size = late / math.hypot(0.3 * count_step(used, run) / power, 0.5)
        seen = Message("time_out_of_line", {"mark": _name(run, place), "time": late})
        yield Oddity("mark_out_of_line", seen, run.readings[place][0], "time", size)


def _name(run: Run, place: int) -> str:
    """Name of a mark as the sheet has it; its number without one."""
    return run.readings[place][0].mark or str(place + 1)
