"""How each procedure is presented: its steps for teacher and pupils, its equation, what is set, what is a hazard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class RunStep:
    """
    One step of a run.

    Parameters
    ----------
    key : str
        Of its words, which may use any amount of the design by name.
    timed : bool or None
        Only where the marks about each reading are timed, or only where they are not.
    several : bool or None
        Only at several powers, or only at one.
    """

    key: str
    timed: bool | None = None
    several: bool | None = None


@dataclass(frozen=True, kw_only=True)
class Presentation:
    """
    How a procedure is presented.

    Parameters
    ----------
    teacher, student : tuple of RunStep
        Steps between steady boiling and switching off, as the teacher's report and the pupils' sheet say them.
    sets : {"mass_step", "counts", "boiled"}
        What is set of a run: a mass step, a number of counts, or what boils away.
    equation : tuple of (str, str, str)
        How uncorrected readings at one power become L: both sides as text, and the key of the words for it.
    equation_several : tuple of (str, str, str)
        The same at several powers.
    working, working_several : str
        The equation on one line; empty where L is fitted to it.
    result, result_several : str
        Key of the sentence that says how uncorrected readings become L, at one power and at several.
    by_readings : bool
        Whether every reading has a row on the sheet, and not every run.
    shares_tips : bool
        Whether the end of a run is the beginning of the next.
    hazards : tuple of str
        Keys of what it adds to the hazards of the risk assessment.
    """

    teacher: tuple[RunStep, ...]
    student: tuple[RunStep, ...]
    sets: Literal["mass_step", "counts", "boiled"] = "boiled"
    equation: tuple[str, str, str] = ("L", "E / m", "student.specific_latent_heat")
    equation_several: tuple[str, str, str] = ("E", "L * m + W * t", "student.straight_lines")
    working: str = "L = E/m"
    working_several: str = ""
    result: str = "run_sheet.result_quotient"
    result_several: str = ""
    by_readings: bool = False
    shares_tips: bool = False
    hazards: tuple[str, ...] = ()


_FIRST_TIP = (RunStep("run_sheet.first_tip", timed=False), RunStep("run_sheet.first_tip_timed", timed=True))
_SECOND_TIP = RunStep("run_sheet.second_tip_timed", timed=True)
_STUDENT_FIRST_TIP = (RunStep("student.first_tip", timed=False), RunStep("student.first_tip_timed", timed=True))
_STUDENT_SECOND_TIP = (RunStep("student.second_tip", timed=False), RunStep("student.second_tip_timed", timed=True))

PRESENTATIONS: Mapping[str, Presentation] = {
    "fixed-mass-restart": Presentation(
        teacher=(
            *_FIRST_TIP,
            RunStep("run_sheet.heater_and_clock", timed=True),
            RunStep("procedure.fixed-mass-restart.teacher.switch_off"),
            RunStep("procedure.fixed-mass-restart.teacher.second_tip"),
            _SECOND_TIP,
        ),
        student=(
            *_STUDENT_FIRST_TIP,
            RunStep("procedure.fixed-mass-restart.student.heater_and_clock", timed=True),
            RunStep("procedure.fixed-mass-restart.student.switch_off"),
            *_STUDENT_SECOND_TIP,
        ),
        sets="mass_step",
        shares_tips=True,
        hazards=("risk.masses_put_taken",),
    ),
    "fixed-mass-kept-on": Presentation(
        teacher=(
            *_FIRST_TIP,
            RunStep("procedure.fixed-mass-kept-on.teacher.change_masses"),
            RunStep("procedure.fixed-mass-kept-on.teacher.second_tip"),
            _SECOND_TIP,
        ),
        student=(
            *_STUDENT_FIRST_TIP,
            RunStep("procedure.fixed-mass-kept-on.student.change_masses"),
            *_STUDENT_SECOND_TIP,
        ),
        sets="mass_step",
        hazards=("risk.masses_put_taken",),
    ),
    "whole-counts": Presentation(
        teacher=(
            RunStep("procedure.whole-counts.teacher.first_mark"),
            RunStep("procedure.whole-counts.teacher.last_mark"),
            RunStep("procedure.whole-counts.teacher.note"),
        ),
        student=(
            RunStep("procedure.whole-counts.student.first_mark"),
            RunStep("procedure.whole-counts.student.last_mark"),
        ),
        sets="counts",
    ),
    "two-powers": Presentation(
        teacher=(
            RunStep("procedure.two-powers.teacher.each_power"),
            RunStep("procedure.two-powers.teacher.times", timed=True),
            RunStep("procedure.two-powers.teacher.between"),
        ),
        student=(
            RunStep("procedure.two-powers.student.lower_power"),
            RunStep("procedure.two-powers.student.higher_power"),
            RunStep("procedure.two-powers.student.times", timed=True),
        ),
        equation_several=("L", "(E_1 - E_2) / (m_1 - m_2)", "student.two_powers"),
        working_several="L = (E₁ − E₂)/(m₁ − m₂)",
        result_several="procedure.two-powers.result",
    ),
    "series": Presentation(
        teacher=(
            RunStep("procedure.series.teacher.one_power", several=False),
            RunStep("procedure.series.teacher.first_power", several=True),
            RunStep("procedure.series.teacher.each_power", several=True),
        ),
        student=(
            RunStep("procedure.series.student.readings"),
            RunStep("procedure.series.student.each_power", several=True),
        ),
        result="procedure.series.result_one_power",
        result_several="procedure.series.result",
        by_readings=True,
    ),
}
"""Presentation of each procedure by its identifier."""
