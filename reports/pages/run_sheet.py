"""Steps of a run for each procedure, with the numbers of a design filled in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import ENGLISH, N_, Language

if TYPE_CHECKING:
    from budget.model.measurement import MeasurementModel
    from design.search.plan import RankedDesign
    from reports.words.plan import KitWords


@dataclass(frozen=True)
class Amounts:
    """What the steps speak of, as text, and the language that they speak."""

    power: str
    fill: str
    mass: str
    counts: str
    whole_counts: str
    one_count: str
    repeats: str
    names: Mapping[str, str]
    first_power: str
    powers: int
    run_time: str
    timed: bool
    put_on: str
    covered: bool
    say: Language = ENGLISH

    def name(self, role: str) -> str:
        """Name an item of the kit, or its role where the kit has none."""
        found, word = self.names.get(role), wording_items.role(role, self.say)
        return wording_items.named(word, found, self.say) if found else self.say.text("the {role}", role=word)

    def step(self, message: str, **values: str) -> str:
        """Write a step with these amounts; the message may use any of them by name."""
        amounts = {
            "power": self.power,
            "first_power": self.first_power,
            "fill": self.fill,
            "mass": self.mass,
            "one_count": self.one_count,
            "run_time": self.run_time,
        }
        return self.say.text(message, **amounts, **values)


def amounts(design: RankedDesign, words: KitWords, say: Language = ENGLISH) -> Amounts:
    """Write the numbers of a design as text for the steps."""

    def counted(written: str) -> str:
        return wording.counted(design.counts, written, words, say) if words.counts else ""

    return Amounts(
        power=wording.powers(design.powers_W, say),
        fill=wording.mass(design.fill_kg, say),
        mass=wording.mass(design.mass_kg, say),
        counts=counted(say.significant(design.counts, 3)),
        whole_counts=counted(say.fixed(design.counts, 0)),
        one_count=say.text(words.one_count or "reading"),
        repeats=wording.times(design.repeats, say),
        names=design.items,
        first_power=wording.power(min(design.powers_W), say),
        powers=len(design.powers_W),
        run_time=say.minutes(dict(design.time_table).get("runs", 0.0) / (design.repeats * len(design.powers_W))),
        timed=design.reading == "timed",
        put_on=wording_items.put_on(design, say),
        covered="lid" in design.items or "guard" in design.items,
        say=say,
    )


def steps(design: RankedDesign, words: KitWords, say: Language = ENGLISH) -> tuple[str, ...]:
    """List the steps of a lesson with this design."""
    text = amounts(design, words, say)
    middle = PROCEDURE_STEPS.get(design.procedure, _any_procedure)(text)
    return (*_set_up(text), *middle, *_close(text, design))


def reckoning(
    design: RankedDesign, model: MeasurementModel | None, words: KitWords, say: Language = ENGLISH
) -> tuple[str, ...]:
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
    say : Language
        Language of the lines.
    """
    values = (
        {} if model is None else {symbol: float(value) for symbol, value in model.evaluate_all(model.estimates).items()}
    )
    constant = {} if model is None else model.constants
    lines = [say.text(line, step=say.fixed(0.01, 2)) for line in TIMED_PARTS if design.reading == "timed"]
    if words.counts and "k" in constant:
        energy, counts = say.in_unit(constant["k"], "J", 6), say.text(words.counts)
        lines.append(say.text("Energy: E = {energy} × number of {counts}.", energy=energy, counts=counts))
    if design.procedure in RESULTS and len(design.powers_W) > 1:
        return (*lines, say.text(RESULTS[design.procedure]))
    if design.correction == "none" and design.procedure == "series":
        return (*lines, say.text(RESULTS["series at one power"]))
    if design.correction == "none":
        return (*lines, say.text("Result: L = E/m, with the mass m that boiled away. Nothing is corrected."))
    if not {"W_est", "kept_est", "E_est", "E_read"} <= values.keys():
        return tuple(lines)
    if design.correction == "cooling-run":
        lines.append(say.text(COOLING_RESULT, **_cooling_numbers(constant, say)))
    return (
        *lines,
        say.text(
            "Result: L = ({factor} × E − {loss} × t) / ({kept} × m), with the time t with the heater on and the mass m "
            "as it is read.",
            factor=say.fixed(values["E_est"] / values["E_read"], 4),
            loss="W" if design.correction == "cooling-run" else say.in_unit(values["W_est"], "W"),
            kept=say.fixed(values["kept_est"], 4),
        ),
    )


TIMED_PARTS = (
    N_(
        "Part of a count at a reading: f = (t − t₁)/(t₂ − t₁), written to {step}, with the times t of the reading, t₁ "
        "of the mark before it and t₂ of the mark after it."
    ),
    N_(
        "Counts of a run: n = N + f₂ − f₁, with the N whole marks from the mark before its first reading to the mark "
        "before its last, and the parts f₁ and f₂ at the two; where it starts on a mark, f₁ = 0."
    ),
)
"""How times of marks become counts."""
COOLING_RESULT = N_(
    "Loss: from the cooling run, W₀ = (heat given up by water and vessel − heat taken by the vapour)/time, scaled to "
    "the boiling point with the 1.25th power of the temperature above the room; then W = (W₀ − {base})/{wetted} + "
    "{base} + {returned}, for the dry wall that steam keeps hot and the steam that runs back."
)
"""How a cooling run becomes the heat loss."""


def _cooling_numbers(constant: Mapping[str, float], say: Language) -> dict[str, str]:
    """Estimates that the correction by a cooling run takes from knowledge."""
    return {
        "base": say.in_unit(constant["W_base_est"], "W", 2),
        "wetted": say.fixed(1.0 - constant["f_freeboard_est"], 2),
        "returned": say.in_unit(constant["W_return_est"], "W", 2),
    }


def _set_up(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    fitted = (_(PUT_ON, things=text.put_on),) if text.put_on else ()
    steam = (_(STEAM_ASIDE),) if text.covered else ()
    return (
        _(
            "Put {vessel} on {balance}, with an insulating board between them, and fill in {fill} of water. Fix the "
            "heater so that its element is covered past the mark and nothing that does not belong to the vessel "
            "touches it.",
            vessel=text.name("vessel"),
            balance=text.name("balance"),
        ),
        *fitted,
        *steam,
        _(
            "Connect the heater through {meter}. Note the room temperature and, if you can, the air pressure of the "
            "room (not the value reduced to sea level).",
            meter=text.name("meter"),
        ),
        _(
            "Set {first_power}, switch on, and let the water boil steadily for at least two minutes, so that "
            "everything near the steam is hot."
        ),
    )


PUT_ON = N_(
    "Put {things} on the vessel. Nothing of this is taken off or shifted between the first reading and the last, as "
    "the balance carries it; nothing of it touches the heater or its stand."
)
STEAM_ASIDE = N_(
    "Steam comes out at the side of a lid or guard, hot and hardly visible: keep hands and faces away from there."
)


def _fixed_mass_restart(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    pause = (_(HEATER_AND_CLOCK),) if text.timed else ()
    return (
        _to_the_first_tip(text),
        *pause,
        _(
            "Switch off. Take {mass} off the side of the masses (or put them on the side of the vessel), so that the "
            "balance is tilted again. Be quick: the water cools during the pause."
        ),
        _(
            "Switch on again at the same power and go on counting until the balance tips a second time{about}. Note "
            "the count and the time.",
            about=_about(text),
        ),
        *_times_at_the_second_tip(text),
    )


def _fixed_mass_kept_on(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    return (
        _to_the_first_tip(text),
        _(
            "Leave the heater on. Change the masses by {mass}, so that the balance is tilted again, without leaning "
            "over the steam."
        ),
        _(
            "Count until the balance tips a second time{about}. Note the count and the time.",
            about=_about(text),
        ),
        *_times_at_the_second_tip(text),
    )


def _to_the_first_tip(text: Amounts) -> str:
    _ = text.step
    if text.timed:
        return _(
            "Start a stopwatch with lap times. While it boils, place the masses so that the balance is just about to "
            "tip. Take a lap time at every mark of the meter (the moment a {one_count} is complete), when the balance "
            "tips, and at the next mark. Note three of them: t₁ of the mark before the tip, t of the tip, t₂ of the "
            "mark after it. Count whole marks from that of t₁ on."
        )
    return _(
        "While it boils, place the masses so that the balance is just about to tip, and wait until it tips: start "
        "counting at zero, reading the meter as finely as it can be read."
    )


HEATER_AND_CLOCK = N_(
    "Leave the heater on until t₂ is taken. Stop the stopwatch with the heater and start it with the heater again, so "
    "that it shows the time with the heater on."
)


def _times_at_the_second_tip(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    if not text.timed:
        return ()
    return (
        _(
            "Take the same three times about this tip, t₁, t and t₂, with the heater on until the last of them. The "
            "count is that of whole marks from the first t₁ to this one."
        ),
    )


def _whole_counts(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    return (
        _(
            "At a mark of the meter (the moment a {one_count} is complete) read the balance and start counting at "
            "zero. Read between two bumps of the boiling; the balance must show the changing load."
        ),
        _(
            "Count {counts}, and read the balance at the last mark: about {mass} have boiled away. Leave the power as "
            "it is until this reading is written down.",
            counts=text.whole_counts or text.say.text("the energy"),
        ),
        _("Note both readings of the balance, the count and the time."),
    )


def _two_powers(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    times = _(
        "At the end of each run take lap times as well: t₁ of the last mark before it, t of the end, t₂ of the first "
        "mark after it."
    )
    return (
        _(
            "Do one run at each power ({power}) for the same time, about {run_time}, the lowest power first and the "
            "highest last: at a mark of the meter note count, mass and time at the start and at the end of each, with "
            "the heater on."
        ),
        *((times,) if text.timed else ()),
        _("Do not top up between the runs; let it boil steadily for two minutes at the new power before the next."),
    )


def _series(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    if text.powers == 1:
        return (
            _(
                "Leave the heater on at {power}. At equal steps note together: the count, the mass and the time, at "
                "least six times, until {mass} have boiled away."
            ),
        )
    return (
        _(
            "Leave the heater on at {first_power}. At equal steps note together: the count, the mass and the time, at "
            "least six times."
        ),
        _(
            "Do the same at each power ({power}), the lowest first and the highest last, after two minutes of steady "
            "boiling at it, without topping up; at the highest until {mass} have boiled away."
        ),
    )


def _any_procedure(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    return (
        _(
            "Note count, mass and time at the start and at the end, with the heater on at {power} at both, while "
            "{mass} boil away."
        ),
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
        "two-powers": N_(
            "Result: L = (E₁ − E₂)/(m₁ − m₂), with energies and masses of equal times at the two powers. The loss of "
            "heat cancels; droplets thrown out do not."
        ),
        "series": N_(
            "Result: fit E = L·m + W·t to all marks by least squares; the fit gives L and the loss W together."
        ),
        "series at one power": N_(
            "Result: L is the slope of the energy against the mass, by least squares. Nothing is corrected."
        ),
    }
)
"""How the readings of several marks or powers become L."""


def _close(text: Amounts, design: RankedDesign) -> tuple[str, ...]:
    _ = text.step
    last = _("Switch off while the element is still covered, unplug, and let everything cool before you move it.")
    again = _(
        "Do this {repeats} in all, one run after the other: the fill is enough for all of them.", repeats=text.repeats
    )
    repeats = () if design.repeats == 1 else (again,)
    cooling = tuple(_(step) for step in COOLING_STEPS) if design.correction == "cooling-run" else ()
    return (*repeats, *cooling, last)


COOLING_STEPS = (
    N_(
        "Cooling run, straight after the last reading: switch off and leave everything in its place. For about four "
        "minutes note every minute together: time, temperature of the water (to 0.1 °C) and mass (to 0.1 g)."
    ),
)
"""Steps of the correction by a cooling run."""


def _about(text: Amounts) -> str:
    return text.say.text(" (expect about {counts})", counts=text.counts) if text.counts else ""
