"""Steps of a run as pupils read them: what to do and what to write down, without what to expect."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from reports.pieces.parts import Given, role_name
from reports.words.languages import N_


def student_steps(given: Given) -> tuple[str, ...]:
    """List the steps of a lesson for pupils: a mass or a count is given where it is set, not where it comes out."""
    middle = _MIDDLE.get(given.design.procedure, _between_marks)(given)
    return (*_opening(given), *middle, *_closing(given))


def powers(given: Given) -> str:
    """Write the power, or the powers in the order of use: the lowest first, while there is most water."""
    return given.say.listed([given.say.power(power) for power in sorted(given.design.powers_W)])


def _opening(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _("Put on eye protection. Keep face and hands out of the steam, and leave plugs and sockets to your teacher."),
        _(
            "Stand the vessel on its board on the balance and fill in {fill} of water. Nothing but the vessel may rest "
            "on the balance; leads hang free.",
            fill=given.say.mass(given.design.fill_kg),
        ),
        *_put_on(given),
        _(
            "Have the set-up checked. The heater is switched on only when it is covered past its mark. Let the water "
            "boil steadily for two minutes at {power}.",
            power=powers(given),
        ),
    )


def _put_on(given: Given) -> tuple[str, ...]:
    say = given.say
    things = [role_name(say, fitting.role) for fitting in given.kit.fittings]
    fitted = say.text(
        "Put on the vessel, and leave there until everything is cool: {things}.", things=say.listed(things)
    )
    steam = say.text(
        "Steam comes out at the side of a lid or guard, hot and hardly visible. Keep your face and your hands away."
    )
    return (*((fitted,) if things else ()), *((steam,) if given.is_covered else ()))


def _fixed_mass_restart(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    mass = given.say.mass(given.design.mass_kg)
    pause = _(
        "The heater stays on until t₂ is taken. Stop the stopwatch when the heater goes off and start it when the "
        "heater goes on again, so that it shows the time with the heater on."
    )
    return (
        _start_at_the_tip(given),
        *((pause,) if given.timed else ()),
        _(
            "Have the heater switched off. Change the masses by {mass} so that the balance is tilted again, and have "
            "the heater switched on again. Be quick: the water cools.",
            mass=mass,
        ),
        _stop_at_the_tip(given),
    )


def _fixed_mass_kept_on(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _start_at_the_tip(given),
        _(
            "Leave the heater on. Change the masses by {mass} so that the balance is tilted again, without leaning "
            "over the steam.",
            mass=given.say.mass(given.design.mass_kg),
        ),
        _stop_at_the_tip(given),
    )


def _start_at_the_tip(given: Given) -> str:
    if given.timed:
        return given.say.text(
            "While it boils, place masses so that the balance is just about to tip. Start a stopwatch with lap times "
            "and take a lap at every mark of the meter, when the balance tips, and at the next mark. Write down the "
            "mark before the tip, t₁, the tip, t, and the mark after it, t₂. From t₁ on count whole marks."
        )
    return given.say.text(
        "While it boils, place masses so that the balance is just about to tip. At the moment it tips, start the clock "
        "and write down what the meter shows."
    )


def _stop_at_the_tip(given: Given) -> str:
    if given.timed:
        return given.say.text(
            "Wait until the balance tips a second time, and take t₁, t and t₂ there as well. Write down how many whole "
            "marks lie between the first t₁ and this one."
        )
    return given.say.text(
        "Wait until the balance tips a second time. At that moment write down the meter and the clock."
    )


def _whole_counts(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _(
            "While it boils, wait for a mark of the meter. At the mark start the clock and write down the balance: "
            "this is count 0. Read between two bumps of the boiling."
        ),
        _(
            "Go on for {counts}. At the last mark write down the balance and the clock, with the heater still on.",
            counts=given.counts(round(given.design.counts)) if given.design.counts else _("the agreed time"),
        ),
    )


def _two_powers(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _(
            "At the lower power, start on a mark of the meter: write down meter, balance and clock together. After "
            "{time} write them down again, with the heater still on.",
            time=given.say.minutes(float(given.situation.runs.time[0]) / 60),
        ),
        _(
            "Set the higher power, let the water boil steadily for two minutes, and do the same for exactly the same "
            "time."
        ),
        *((_(TIMES_AT_THE_END),) if given.timed else ()),
    )


TIMES_AT_THE_END = N_(
    "At the end of either run take lap times with the same stopwatch: of the last mark before the end, t₁, of the end, "
    "t, and of the first mark after it, t₂."
)
"""Where a run starts on a mark and stops between two."""


def _series(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    marks = [
        _(
            "While it boils, start on a mark of the meter and write down meter, balance and clock together. Do so "
            "again at equal steps of the meter, at least six times, with the heater always on."
        )
    ]
    if len(given.design.powers_W) > 1:
        marks.append(
            _("Do the same at each power, the lowest first, after two minutes of steady boiling at that power.")
        )
    return tuple(marks)


def _between_marks(given: Given) -> tuple[str, ...]:
    return (
        given.say.text(
            "While it boils, write down meter, balance and clock together, at the start and at the end, with the "
            "heater on both times."
        ),
    )


_MIDDLE: Mapping[str, Callable[[Given], tuple[str, ...]]] = MappingProxyType(
    {
        "fixed-mass-restart": _fixed_mass_restart,
        "fixed-mass-kept-on": _fixed_mass_kept_on,
        "whole-counts": _whole_counts,
        "two-powers": _two_powers,
        "series": _series,
    }
)


def _closing(given: Given) -> tuple[str, ...]:
    say = given.say
    last = say.text(
        "Have the heater switched off while it is still covered, and unplugged. Leave everything to cool before "
        "anyone moves it."
    )
    cooling = (_cooling_run(given),) if given.design.correction == "cooling-run" else ()
    if given.design.repeats == 1:
        return (*cooling, last)
    again = say.several(
        "Do {number} run in all.",
        "Do {number} runs in all, one after the other without topping up, each from steady boiling.",
        given.design.repeats,
    )
    return (again, *cooling, last)


def _cooling_run(given: Given) -> str:
    return given.say.text(
        "Cooling run, straight after the last reading: have the heater switched off and leave everything in its place. "
        "Every minute, for about four minutes, write down clock, water temperature and balance together."
    )
