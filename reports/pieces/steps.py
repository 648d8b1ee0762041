"""Steps of a run as pupils read them: what to do and what to write down, without what to expect."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from reports.pieces.parts import Given, role_name


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
        _("student.put_eye_protection"),
        _(
            "student.stand_vessel_board",
            fill=given.say.mass(given.design.fill_kg),
        ),
        *_put_on(given),
        _(
            "student.have_set_up",
            power=powers(given),
        ),
    )


def _put_on(given: Given) -> tuple[str, ...]:
    say = given.say
    things = [role_name(say, fitting.role) for fitting in given.kit.fittings]
    fitted = say.text("student.put_vessel_leave", things=say.listed(things))
    steam = say.text("student.steam_comes_out")
    return (*((fitted,) if things else ()), *((steam,) if given.is_covered else ()))


def _fixed_mass_restart(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    mass = given.say.mass(given.design.mass_kg)
    pause = _("procedure.fixed-mass-restart.student.heater_stays_until")
    return (
        _start_at_the_tip(given),
        *((pause,) if given.timed else ()),
        _(
            "procedure.fixed-mass-restart.student.have_heater_switched",
            mass=mass,
        ),
        _stop_at_the_tip(given),
    )


def _fixed_mass_kept_on(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _start_at_the_tip(given),
        _(
            "procedure.fixed-mass-kept-on.student.leave_heater_change",
            mass=given.say.mass(given.design.mass_kg),
        ),
        _stop_at_the_tip(given),
    )


def _start_at_the_tip(given: Given) -> str:
    if given.timed:
        return given.say.text("student.while_boils_place_masses_balance")
    return given.say.text("student.while_boils_place")


def _stop_at_the_tip(given: Given) -> str:
    if given.timed:
        return given.say.text("student.wait_until_balance_tips_second")
    return given.say.text("student.wait_until_balance")


def _whole_counts(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _("procedure.whole-counts.student.while_boils_wait"),
        _(
            "procedure.whole-counts.student.go_last_mark",
            counts=given.counts(round(given.design.counts))
            if given.design.counts
            else _("procedure.whole-counts.student.agreed_time"),
        ),
    )


def _two_powers(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    return (
        _(
            "procedure.two-powers.student.lower_power_start",
            time=given.say.minutes(float(given.situation.runs.time[0]) / 60),
        ),
        _("procedure.two-powers.student.set_higher_power"),
        *((_(TIMES_AT_THE_END),) if given.timed else ()),
    )


TIMES_AT_THE_END = "student.end_either_run"
"""Where a run starts on a mark and stops between two."""


def _series(given: Given) -> tuple[str, ...]:
    _ = given.say.text
    marks = [_("procedure.series.student.while_boils_start")]
    if len(given.design.powers_W) > 1:
        marks.append(_("procedure.series.student.do_same_each_power"))
    return tuple(marks)


def _between_marks(given: Given) -> tuple[str, ...]:
    return (given.say.text("student.while_boils_write"),)


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
    last = say.text("student.have_heater_switched")
    cooling = (_cooling_run(given),) if given.design.correction == "cooling-run" else ()
    if given.design.repeats == 1:
        return (*cooling, last)
    again = say.several(
        "student.do_run_all",
        given.design.repeats,
    )
    return (again, *cooling, last)


def _cooling_run(given: Given) -> str:
    return given.say.text("student.cooling_run_straight")
