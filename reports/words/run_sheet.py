"""Steps of a run and how its readings become L, with the numbers of a design filled in: for teachers and for pupils."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from design.kit import FITTING_ROLES
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.procedures import PRESENTATIONS, RunStep

if TYPE_CHECKING:
    from budget.model.measurement import MeasurementModel
    from design.chosen import Design
    from reports.words.plan import KitWords


def fill_words(design: Design, say: Language = ENGLISH) -> dict[str, str]:
    """Write the water of a design and where it stands, in whole millimetres over the floor and below the rim."""
    rim = design.kit.vessel.height
    found = {
        "mass": say.mass(design.fill),
        "volume": say.in_unit(1000 * design.fill / design.conditions.cold_density, "L"),
    }
    for name, level in (
        ("cold", "cold_level"), ("with", "cold_level_with"), ("boiling", "boiling_level"), ("crest", "crest"),
    ):  # fmt: skip
        stands = design.level(level)
        found[name] = say.in_unit(round(1000 * stands), "mm")
        found[f"{name}_below"] = say.in_unit(round(1000 * (rim - stands)), "mm")
    return found


def steps(design: Design, words: KitWords, say: Language = ENGLISH) -> tuple[str, ...]:
    """List the steps of a lesson with this design."""
    _, amounts = say.text, _amounts(design, words, say)
    put_on = wording_items.put_on(design, say)
    set_up = (
        _("run_sheet.set_up", **amounts) + _("run_sheet.fill_line", **fill_words(design, say)),
        *((_("run_sheet.put_on", things=put_on),) if put_on else ()),
        *((_("run_sheet.steam_aside"),) if design.is_covered else ()),
        _("run_sheet.connect", **amounts),
        _("run_sheet.boil", **amounts),
        _("run_sheet.take_out"),
    )
    close = (
        *((_("run_sheet.repeat", repeats=wording.times(design.repeats, say)),) if design.repeats > 1 else ()),
        *((_("run_sheet.cooling_run"),) if design.has_cooling_run else ()),
        _("run_sheet.switch_off"),
    )
    return (*set_up, *_said(PRESENTATIONS[design.procedure.identifier].teacher, design, amounts, say), *close)


def student_steps(design: Design, words: KitWords, say: Language = ENGLISH) -> tuple[str, ...]:
    """List the steps for pupils: a mass or a count is given where it is set, not where it comes out."""
    _, amounts = say.text, _amounts(design, words, say)
    things = [wording_items.role(role, say) for role in FITTING_ROLES if role in design.items]
    set_up = (
        _("student.eye_protection"),
        _("student.set_up_vessel", fill=amounts["fill"]) + _("run_sheet.fill_line", **fill_words(design, say)),
        *((_("student.put_on", things=say.listed(things)),) if things else ()),
        *((_("student.steam_aside"),) if design.is_covered else ()),
        _("student.boil", power=amounts["power"], settling=amounts["settling"]),
        _("student.take_out"),
    )
    close = (
        *((say.several("student.repeat", design.repeats),) if design.repeats > 1 else ()),
        *((_("student.cooling"),) if design.has_cooling_run else ()),
        _("student.switch_off"),
    )
    return (*set_up, *_said(PRESENTATIONS[design.procedure.identifier].student, design, amounts, say), *close)


def reckoning(
    design: Design, model: MeasurementModel | None, words: KitWords, say: Language = ENGLISH
) -> tuple[str, ...]:
    """
    Say how the readings become L, with the numbers of the correction filled in.

    Parameters
    ----------
    design : Design
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
    constant, presented = {} if model is None else model.constants, PRESENTATIONS[design.procedure.identifier]
    lines = []
    if design.reading == "timed":
        lines += [say.text("run_sheet.part_of_count", step=say.fixed(0.01, 2)), say.text("run_sheet.counts_of_run")]
    if words.counter and "k" in constant:
        energy, counts = say.in_unit(constant["k"], "J", 6), say.text(f"meter.{words.counter}.many")
        lines.append(say.text("run_sheet.energy", energy=energy, counts=counts))
    if len(design.powers) > 1:
        return (*lines, say.text(presented.result_several))
    if not design.corrected:
        return (*lines, say.text(presented.result))
    if not {"W_est", "kept_est", "E_est", "E_read"} <= values.keys():
        return tuple(lines)
    if design.has_cooling_run:
        lines.append(say.text("run_sheet.cooling_result", **_cooling_numbers(constant, say)))
    return (
        *lines,
        say.text(
            "run_sheet.result_corrected",
            factor=say.fixed(values["E_est"] / values["E_read"], 4),
            loss="W" if design.has_cooling_run else say.in_unit(values["W_est"], "W"),
            kept=say.fixed(values["kept_est"], 4),
        ),
    )


def _cooling_numbers(constant: Mapping[str, float], say: Language) -> dict[str, str]:
    """Estimates that the correction by a cooling run takes from knowledge."""
    return {
        "base": say.in_unit(constant["W_base_est"], "W", 2),
        "wetted": say.fixed(1.0 - constant["f_freeboard_est"], 2),
        "returned": say.in_unit(constant["W_return_est"], "W", 2),
    }


def _amounts(design: Design, words: KitWords, say: Language) -> dict[str, str]:
    """Numbers of a design as text and names of its items, by the names that steps use."""

    def counted(written: str) -> str:
        return wording.counted(design.counts, written, words, say) if words.counter and design.counts else ""

    about, whole = counted(say.significant(design.counts, 3)), counted(say.fixed(design.counts, 0))
    return {
        **wording_items.by_role(design, say),
        "power": wording.powers(design.powers, say),
        "first_power": wording.power(min(design.powers), say),
        "fill": wording.mass(design.fill, say),
        "mass": wording.mass(design.mass, say),
        "about": say.text("run_sheet.expect_about", counts=about) if about else "",
        "whole_counts": whole or say.text("run_sheet.the_energy"),
        "agreed_counts": whole or say.text("student.agreed_time"),
        "one_count": say.text(f"meter.{words.counter}.one" if words.counter else "run_sheet.reading"),
        "settling": say.minutes(design.steady / 60.0),
        "run_time": say.minutes(dict(design.time_table).get("runs", 0.0) / (design.repeats * len(design.powers))),
    }


def _said(steps: tuple[RunStep, ...], design: Design, amounts: Mapping[str, str], say: Language) -> tuple[str, ...]:
    """Say the steps that belong to a design."""
    timed, several = design.reading == "timed", len(design.powers) > 1
    return tuple(
        say.text(step.key, **amounts)
        for step in steps
        if step.timed in (None, timed) and step.several in (None, several)
    )
