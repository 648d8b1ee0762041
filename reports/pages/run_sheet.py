"""Steps of a run for each procedure, with the numbers of a design filled in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language

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
        return wording_items.named(word, found, self.say) if found else self.say.text("run_sheet.role", role=word)

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
        return wording.counted(design.counts, written, words, say) if words.counter else ""

    return Amounts(
        power=wording.powers(design.powers_W, say),
        fill=wording.mass(design.fill_kg, say),
        mass=wording.mass(design.mass_kg, say),
        counts=counted(say.significant(design.counts, 3)),
        whole_counts=counted(say.fixed(design.counts, 0)),
        one_count=say.text(f"meter.{words.counter}.one" if words.counter else "run_sheet.reading"),
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
    if words.counter and "k" in constant:
        energy, counts = say.in_unit(constant["k"], "J", 6), say.text(f"meter.{words.counter}.many")
        lines.append(say.text("run_sheet.energy_e_number", energy=energy, counts=counts))
    if design.procedure in RESULTS and len(design.powers_W) > 1:
        return (*lines, say.text(RESULTS[design.procedure]))
    if design.correction == "none" and design.procedure == "series":
        return (*lines, say.text(RESULTS["series at one power"]))
    if design.correction == "none":
        return (*lines, say.text("run_sheet.result_l_e_m"))
    if not {"W_est", "kept_est", "E_est", "E_read"} <= values.keys():
        return tuple(lines)
    if design.correction == "cooling-run":
        lines.append(say.text(COOLING_RESULT, **_cooling_numbers(constant, say)))
    return (
        *lines,
        say.text(
            "run_sheet.result_l_e",
            factor=say.fixed(values["E_est"] / values["E_read"], 4),
            loss="W" if design.correction == "cooling-run" else say.in_unit(values["W_est"], "W"),
            kept=say.fixed(values["kept_est"], 4),
        ),
    )


TIMED_PARTS = (
    "run_sheet.part_count_reading",
    "run_sheet.counts_run_n",
)
"""How times of marks become counts."""
COOLING_RESULT = "run_sheet.loss_cooling_run"
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
            "run_sheet.put_insulating_board",
            vessel=text.name("vessel"),
            balance=text.name("balance"),
        ),
        *fitted,
        *steam,
        _(
            "run_sheet.connect_heater_through",
            meter=text.name("meter"),
        ),
        _("run_sheet.set_switch_let"),
    )


PUT_ON = "run_sheet.put_vessel_nothing"
STEAM_ASIDE = "run_sheet.steam_comes_out"


def _fixed_mass_restart(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    pause = (_(HEATER_AND_CLOCK),) if text.timed else ()
    return (
        _to_the_first_tip(text),
        *pause,
        _("procedure.fixed-mass-restart.teacher.switch_off_take"),
        _(
            "procedure.fixed-mass-restart.teacher.switch_again_same",
            about=_about(text),
        ),
        *_times_at_the_second_tip(text),
    )


def _fixed_mass_kept_on(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    return (
        _to_the_first_tip(text),
        _("procedure.fixed-mass-kept-on.teacher.leave_heater_change"),
        _(
            "procedure.fixed-mass-kept-on.teacher.count_until_balance",
            about=_about(text),
        ),
        *_times_at_the_second_tip(text),
    )


def _to_the_first_tip(text: Amounts) -> str:
    _ = text.step
    if text.timed:
        return _("run_sheet.start_stopwatch_lap")
    return _("run_sheet.while_boils_place")


HEATER_AND_CLOCK = "run_sheet.leave_heater_until"


def _times_at_the_second_tip(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    if not text.timed:
        return ()
    return (_("run_sheet.take_same_three"),)


def _whole_counts(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    return (
        _("procedure.whole-counts.teacher.mark_meter_moment"),
        _(
            "procedure.whole-counts.teacher.count_read_balance",
            counts=text.whole_counts or text.say.text("procedure.whole-counts.teacher.energy"),
        ),
        _("procedure.whole-counts.teacher.note_both_readings"),
    )


def _two_powers(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    times = _("procedure.two-powers.teacher.end_each_run")
    return (
        _("procedure.two-powers.teacher.do_one_run"),
        *((times,) if text.timed else ()),
        _("procedure.two-powers.teacher.do_not_top"),
    )


def _series(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    if text.powers == 1:
        return (_("procedure.series.teacher.leave_heater_equal_steps_note"),)
    return (
        _("procedure.series.teacher.leave_heater_equal"),
        _("procedure.series.teacher.do_same_each_power"),
    )


def _any_procedure(text: Amounts) -> tuple[str, ...]:
    _ = text.step
    return (_("run_sheet.note_count_mass"),)


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
        "two-powers": "procedure.two-powers.teacher.result_l_e1",
        "series": "procedure.series.teacher.result_fit_e",
        "series at one power": "procedure.series.teacher.result_l_slope",
    }
)
"""How the readings of several marks or powers become L."""


def _close(text: Amounts, design: RankedDesign) -> tuple[str, ...]:
    _ = text.step
    last = _("run_sheet.switch_off_while_element")
    again = _("run_sheet.do_all_one_run", repeats=text.repeats)
    repeats = () if design.repeats == 1 else (again,)
    cooling = tuple(_(step) for step in COOLING_STEPS) if design.correction == "cooling-run" else ()
    return (*repeats, *cooling, last)


COOLING_STEPS = ("run_sheet.cooling_run_straight",)
"""Steps of the correction by a cooling run."""


def _about(text: Amounts) -> str:
    return text.say.text("run_sheet.expect_about", counts=text.counts) if text.counts else ""
