"""The face of a procedure: what it reads, how it turns readings into the latent heat, and its input quantities."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, Protocol

from budget.model.equation import compile_program
from budget.model.measurement import MeasurementModel
from design.kit import Meter, PassingReading
from design.physics.evidence import default
from design.setting.equations import Steps
from design.setting.situation import Pace, Situation
from design.setting.terms import InputTerm

Correction = Literal["none", "calculated", "cooling-run"]


@dataclass(frozen=True)
class Result:
    """
    How an observer turns readings into the latent heat.

    Parameters
    ----------
    steps : tuple of (str, str)
        Intermediate steps, in order.
    equation : str
        Latent heat from the readings ``E_read`` [J], ``m_read`` [kg] and ``t`` [s]; at several powers from
        ``E_1_read``, ``m_1_read``, ``t_1`` and so on, highest power first. [J/kg]
    readings : tuple of (str, str)
        Readings that the correction takes beside those of the procedure.
    """

    steps: Steps
    equation: str
    readings: Steps = ()


class Procedure(Protocol):
    """A way of taking readings and turning them into the latent heat; a value, so that it can be a key."""

    def __hash__(self) -> int:
        """Procedures can be keys."""
        return hash((self.identifier, self.number_of_powers))

    @property
    def identifier(self) -> str:
        """Word that bench files and JSON carry."""

    @property
    def corrections(self) -> tuple[Correction, ...]:
        """Corrections that it can use."""
        return ("none", "calculated", "cooling-run")

    @property
    def own_symbols(self) -> tuple[str, ...]:
        """Input quantities that spread and that no other procedure has: each gets a column of the shared sample."""
        return ()

    @property
    def number_of_powers(self) -> int:
        """Powers that a result is taken from."""
        return 1

    @property
    def needs_mass_set(self) -> bool:
        """Whether it puts masses on the pan."""
        return False

    @property
    def needs_display(self) -> bool:
        """Whether the balance must show a number that changes while it is read."""
        return not self.needs_mass_set

    @property
    def reads_in_passing(self) -> bool:
        """Whether the meter is read at times that are not its own, so that the way of reading it matters."""
        return not self.pace.whole_counts

    @property
    def pace(self) -> Pace:
        """How it goes on: pauses, gaps, whole counts."""

    @property
    def cancels(self) -> tuple[str, ...]:
        """Keys of the errors that it cancels."""

    @property
    def keeps(self) -> tuple[str, ...]:
        """Keys of the errors that it does not cancel."""

    def power_sets(self, powers: Sequence[float]) -> tuple[tuple[float, ...], ...]:
        """Rows of ``Settings.powers`` to try, each the highest first, from the powers that a heater can be set to."""
        return tuple((power,) for power in sorted(powers, reverse=True))

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities of the measurement model in every setting."""

    def steps(self) -> Steps:
        """Readings that the bench gives, from its input quantities."""

    def result(self, correction: Correction) -> Result:
        """How the readings become the latent heat."""


def pace_of(procedure: Procedure, correction: Correction) -> Pace:
    """How a procedure goes on with a correction: a cooling run takes time of its own."""
    if correction != "cooling-run":
        return procedure.pace
    return replace(procedure.pace, cooling=default("cooling_run"))


def reading_of(procedure: Procedure, meter: Meter) -> PassingReading:
    """How a procedure reads the counts of a meter in passing; empty where there are none, or marks are waited for."""
    return meter.reads if procedure.reads_in_passing and meter.energy_per_count > 0.0 else ""


def model_steps(procedure: Procedure, correction: Correction) -> Steps:
    """Every step of the measurement model before its equation."""
    result = procedure.result(correction)
    return (*procedure.steps(), *result.readings, *result.steps)


def estimate(
    procedure: Procedure, correction: Correction, readings: Mapping[str, float], known: Mapping[str, float]
) -> float:
    """
    Latent heat from one set of readings. [J/kg].

    The readings are ``E_read`` [J], ``m_read`` [kg] and ``t`` [s], or those of each power, and ``W_cooled`` [W] with a
    cooling run; known are ``b`` and the estimates that the correction uses, by their symbols ending in ``_est``.
    """
    result = procedure.result(correction)
    program = compile_program(result.steps, result.equation)
    values = {symbol: {**known, **readings}[symbol] for symbol in program.symbols}
    return float(program.evaluate(values))


def measurement_model(
    procedure: Procedure, correction: Correction, terms: tuple[InputTerm, ...], index: int
) -> MeasurementModel:
    """Measurement model of one setting, from ``procedure.terms`` with the estimates that the correction needs."""
    result = procedure.result(correction)
    return MeasurementModel(
        symbol="L",
        name="specific latent heat of vaporisation, as reported",
        unit="J/kg",
        inputs=tuple(term.quantity(index) for term in terms),
        intermediates=model_steps(procedure, correction),
        equation=result.equation,
    )
