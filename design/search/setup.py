"""One kit with one way of using it: what a comparison changes one thing at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from budget.arrays import FloatArray
from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Distribution, scaled
from design.kit import Kit
from design.limits import TOLERANCE, excesses, limits_of, unsuitables
from design.procedures.face import Correction, Procedure, measurement_model, pace_of
from design.search.sample import Sample, all_terms, program_of, relative_errors
from design.setting.hardware import Conditions, Hardware, hardware_of
from design.setting.situation import Settings, Situation, situation_of
from design.setting.terms import InputTerm

LOSSES = ("wall_loss", "base_loss", "return_loss")
"""Keys of ``Hardware.knowledge`` that are heat losses."""


@dataclass(frozen=True)
class Setup:
    """
    A kit with a procedure, a correction and a setting.

    Parameters
    ----------
    kit, procedure, correction
        What is used, and how.
    powers : tuple of float
        As many as the procedure takes, the highest first. [W]
    mass : float
        Mass step at the highest power. [kg]
    repeats : int
        Runs at each power.
    spare : float
        Water beyond what covers the element to the last reading. [kg]
    """

    kit: Kit
    procedure: Procedure
    correction: Correction
    powers: tuple[float, ...]
    mass: float
    repeats: int
    spare: float = 0.0

    @property
    def settings(self) -> Settings:
        """The setting as a grid of one row."""
        return Settings(
            np.array([self.powers]), np.array([self.mass]), np.array([float(self.repeats)]), np.array([self.spare])
        )


@dataclass(frozen=True)
class Trial:
    """
    Changes to what is believed about a bench, to see where one method overtakes another.

    Parameters
    ----------
    loss_factor : float
        Factor on every heat loss, its uncertainty included. [1]
    noise_factor : float
        Factor on the unsteadiness of readings at the boil. [1]
    """

    loss_factor: float = 1.0
    noise_factor: float = 1.0


AS_BELIEVED = Trial()
"""Nothing changed."""


def hardware_for(conditions: Conditions, setup: Setup, trial: Trial = AS_BELIEVED) -> Hardware:
    """Work out what vessel and heater of a setup do to each other."""
    hardware = hardware_of(conditions, setup.kit.vessel, setup.kit.heater)
    if trial.loss_factor == 1.0:
        return hardware
    knowledge: dict[str, Distribution] = dict(hardware.knowledge)
    for key in LOSSES:
        knowledge[key] = scaled(knowledge[key], trial.loss_factor)
    return replace(hardware, knowledge=knowledge)


def situation_for(conditions: Conditions, setup: Setup, trial: Trial = AS_BELIEVED) -> Situation:
    """Work out what a setup asks of its kit."""
    hardware = hardware_for(conditions, setup, trial)
    pace = pace_of(setup.procedure, setup.correction)
    return situation_of(conditions, setup.kit, hardware, setup.settings, pace)


def terms_for(situation: Situation, setup: Setup, trial: Trial = AS_BELIEVED) -> tuple[InputTerm, ...]:
    """Input quantities of a setup's measurement model."""
    terms = all_terms(setup.procedure, setup.correction, situation)
    if trial.noise_factor == 1.0:
        return terms
    return tuple(
        replace(term, size=term.size * trial.noise_factor) if term.symbol.startswith("d_boiling") else term
        for term in terms
    )


def errors_of(conditions: Conditions, setup: Setup, sample: Sample, trial: Trial = AS_BELIEVED) -> FloatArray:
    """Relative error of the value that a setup reports, on the shared sample; shape (trials,)."""
    return errors_in(situation_for(conditions, setup, trial), setup, sample, trial)


def errors_in(situation: Situation, setup: Setup, sample: Sample, trial: Trial = AS_BELIEVED) -> FloatArray:
    """The same where the situation is worked out already; shape (trials,)."""
    terms = terms_for(situation, setup, trial)
    return np.asarray(relative_errors(program_of(setup.procedure, setup.correction), terms, sample)[0])


def rms_error(conditions: Conditions, setup: Setup, sample: Sample, trial: Trial = AS_BELIEVED) -> float:
    """Root mean square of the relative error. [1]"""
    return rms(errors_of(conditions, setup, sample, trial))


def rms(errors: FloatArray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(errors))))


def model_for(conditions: Conditions, setup: Setup) -> MeasurementModel:
    """Measurement model of a setup."""
    terms = terms_for(situation_for(conditions, setup), setup)
    return measurement_model(setup.procedure, setup.correction, terms, 0)


def obstacles(situation: Situation, procedure: Procedure) -> tuple[str, ...]:
    """Limits that a setup breaks, money aside, by their keys."""
    limits = limits_of(situation, procedure, price=0.0)
    barred, _ = unsuitables(situation.kit, situation.conditions, procedure)
    excess = excesses(limits)[:, 0]
    broken = [limit.key for limit, much in zip(limits, excess, strict=True) if much > TOLERANCE]
    return tuple(fault.key for fault in barred) + tuple(broken)


def rows_of_readings(situation: Situation, setup: Setup) -> int:
    """Rows of the readings sheet: every mark of every run, and those of a cooling run."""
    cooling = COOLING_ROWS if setup.correction == "cooling-run" else 0
    return int(setup.repeats * (situation.all_runs.marks[0] + 1.0).sum()) + cooling


COOLING_ROWS = 5
"""Readings of a cooling run: one a minute over four minutes."""
