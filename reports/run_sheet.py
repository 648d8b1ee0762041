"""Steps of a run for each procedure, with the numbers of a design filled in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports import rounding, wording

if TYPE_CHECKING:
    from budget.model import MeasurementModel
    from design.plan import RankedDesign
    from reports.wording import KitWords


@dataclass(frozen=True)
class Amounts:
    """What the steps speak of, as text."""

    power: str
    fill: str
    mass: str
    counts: str
    whole_counts: str
    one_count: str
    repeats: str
    names: Mapping[str, str]

    def name(self, role: str) -> str:
        """Name an item of the kit, or its role where the kit has none."""
        found = self.names.get(role)
        return f"the {wording.role(role)} “{found}”" if found else f"the {wording.role(role)}"


def amounts(design: RankedDesign, words: KitWords) -> Amounts:
    """Write the numbers of a design as text for the steps."""
    return Amounts(
        power=wording.powers(design.powers_W),
        fill=wording.mass(design.fill_kg),
        mass=wording.mass(design.mass_kg),
        counts=f"{rounding.significant(design.counts, 3)} {words.counts}" if words.counts else "",
        whole_counts=f"{rounding.fixed(design.counts, 0)} {words.counts}" if words.counts else "",
        one_count=words.one_count or "reading",
        repeats=wording.times(design.repeats),
        names=design.items,
    )


def steps(design: RankedDesign, words: KitWords) -> tuple[str, ...]:
    """List the steps of a lesson with this design."""
    text = amounts(design, words)
    middle = PROCEDURE_STEPS.get(design.procedure, _any_procedure)(text)
    return (*_set_up(text), *middle, *_close(text, design))


def reckoning(design: RankedDesign, model: MeasurementModel | None, words: KitWords) -> tuple[str, ...]:
    """
    Say how the readings become L, with the numbers of the correction filled in.

    Parameters
    ----------
    design : RankedDesign
        The design.
    model : MeasurementModel or None
        Its measurement model; the steps ``W_est``, ``kept_est``, ``E_est`` and ``E_read`` hold the correction.
    words : KitWords
        What the meter counts.
    """
    values = (
        {} if model is None else {symbol: float(value) for symbol, value in model.evaluate_all(model.estimates).items()}
    )
    constant = {} if model is None else model.constants
    lines = []
    if words.counts and "k" in constant:
        energy = rounding.in_unit(constant["k"], "J", 6)
        lines.append(f"Energy: E = {energy} × number of {words.counts}.")
    if design.procedure in RESULTS and len(design.powers_W) > 1:
        return (*lines, RESULTS[design.procedure])
    if design.correction == "none" and design.procedure == "series":
        return (*lines, RESULTS["series at one power"])
    if design.correction == "none":
        return (*lines, "Result: L = E/m, with the mass m that boiled away. Nothing is corrected.")
    if not {"W_est", "kept_est", "E_est", "E_read"} <= values.keys():
        return tuple(lines)
    factor = rounding.fixed(values["E_est"] / values["E_read"], 4)
    loss = "W" if design.correction == "cooling-run" else rounding.in_unit(values["W_est"], "W")
    kept = rounding.fixed(values["kept_est"], 4)
    if design.correction == "cooling-run":
        lines.append(COOLING_RESULT.format(**_cooling_numbers(constant)))
    return (
        *lines,
        f"Result: L = ({factor} × E − {loss} × t) / ({kept} × m), with the time t with the heater on and the mass m "
        "as it is read.",
    )


COOLING_RESULT = (
    "Loss: from the cooling run, W₀ = (heat given up by water and vessel − heat taken by the vapour)/time, scaled to "
    "the boiling point with the 1.25th power of the temperature above the room; then W = (W₀ − {base})/{wetted} + "
    "{base} + {returned}, for the dry wall that steam keeps hot and the steam that runs back."
)
"""How a cooling run becomes the heat loss."""


def _cooling_numbers(constant: Mapping[str, float]) -> dict[str, str]:
    """Estimates that the correction by a cooling run takes from knowledge."""
    return {
        "base": rounding.in_unit(constant["W_base_est"], "W", 2),
        "wetted": rounding.fixed(1.0 - constant["f_freeboard_est"], 2),
        "returned": rounding.in_unit(constant["W_return_est"], "W", 2),
    }


def _set_up(text: Amounts) -> tuple[str, ...]:
    return (
        f"Put {text.name('vessel')} on {text.name('balance')}, with an insulating board between them, and fill in "
        f"{text.fill} of water. Fix the heater so that its element is covered past the mark and nothing that does "
        "not belong to the vessel touches it.",
        f"Connect the heater through {text.name('meter')}. Note the room temperature and, if you can, the air "
        "pressure of the room (not the value reduced to sea level).",
        f"Set {text.power}, switch on, and let the water boil steadily for at least two minutes, so that everything "
        "near the steam is hot.",
    )


def _fixed_mass_restart(text: Amounts) -> tuple[str, ...]:
    return (
        f"While it boils, place the masses so that the balance is just about to tip, and wait until it tips: start "
        f"counting at {_from_mark(text)}.",
        f"Switch off. Take {text.mass} off the side of the masses (or put them on the side of the vessel), so that "
        "the balance is tilted again. Be quick: the water cools during the pause.",
        f"Switch on again at the same power and go on counting until the balance tips a second time"
        f"{_about(text)}. Note the count and the time.",
    )


def _fixed_mass_kept_on(text: Amounts) -> tuple[str, ...]:
    return (
        f"While it boils, place the masses so that the balance is just about to tip, and wait until it tips: start "
        f"counting at {_from_mark(text)}.",
        f"Leave the heater on. Change the masses by {text.mass}, so that the balance is tilted again, without "
        "leaning over the steam.",
        f"Count until the balance tips a second time{_about(text)}. Note the count and the time.",
    )


def _whole_counts(text: Amounts) -> tuple[str, ...]:
    return (
        f"At a mark of the meter (the moment a {text.one_count} is complete) read the balance and start counting at "
        "zero. Read between two bumps of the boiling; the balance must show the changing load.",
        f"Count {text.whole_counts or 'the energy'}, and read the balance at the last mark: about {text.mass} have "
        "boiled away. Leave the power as it is until this reading is written down.",
        "Note both readings of the balance, the count and the time.",
    )


def _two_powers(text: Amounts) -> tuple[str, ...]:
    return (
        f"Do one run at each power ({text.power}) for the same time, the lowest power first and the highest last: at a "
        "mark of the meter note count, mass and time at the start and at the end of each, with the heater on.",
        "Do not top up between the runs; let it boil steadily for two minutes at the new power before the next.",
    )


def _series(text: Amounts) -> tuple[str, ...]:
    return (
        f"Leave the heater on at {text.power}. At equal steps note together: the count, the mass and the time, at "
        f"least six times, until {text.mass} have boiled away.",
        "Where there are several powers, do the same at each, the lowest first and the highest last, without topping "
        "up.",
    )


def _any_procedure(text: Amounts) -> tuple[str, ...]:
    return (
        f"Note count, mass and time at the start and at the end, with the heater on at {text.power} at both, while "
        f"{text.mass} boil away.",
    )


PROCEDURE_STEPS: Mapping[str, Callable[[Amounts], tuple[str, ...]]] = MappingProxyType(
    {
        "fixed-mass-restart": _fixed_mass_restart,
        "fixed-mass-kept-on": _fixed_mass_kept_on,
        "whole-counts": _whole_counts,
        "two-powers": _two_powers,
        "series": _series,
    }
)
"""Steps between steady boiling and switching off, by procedure."""


RESULTS: Mapping[str, str] = MappingProxyType(
    {
        "two-powers": "Result: L = (E₁ − E₂)/(m₁ − m₂), with energies and masses of equal times at the two powers. The "
        "loss of heat cancels; droplets thrown out do not.",
        "series": "Result: fit E = L·m + W·t to all marks by least squares; the fit gives L and the loss W together.",
        "series at one power": "Result: L is the slope of the energy against the mass, by least squares. Nothing is "
        "corrected.",
    }
)
"""How the readings of several marks or powers become L."""


def _close(text: Amounts, design: RankedDesign) -> tuple[str, ...]:
    last = "Switch off while the element is still covered, unplug, and let everything cool before you move it."
    again = f"Do this {text.repeats} in all, one run after the other: the fill is enough for all of them."
    repeats = () if design.repeats == 1 else (again,)
    cooling = COOLING_STEPS if design.correction == "cooling-run" else ()
    return (*repeats, *cooling, last)


COOLING_STEPS = (
    "Cooling run, straight after the last reading: switch off and leave everything in its place. For about four "
    "minutes note every minute together: time, temperature of the water (to 0.1 °C) and mass (to 0.1 g).",
)
"""Steps of the correction by a cooling run."""


def _from_mark(text: Amounts) -> str:
    return f"zero, and note where within one {text.one_count} the meter stands"


def _about(text: Amounts) -> str:
    return f" (expect about {text.counts})" if text.counts else ""
