"""The face of a procedure: what it reads, how it turns readings into the latent heat, and its input quantities."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from budget.equation import compile_program
from budget.model import MeasurementModel
from design.situation import Pace, Situation
from design.terms import InputTerm

Correction = Literal["none", "calculated"]
Steps = tuple[tuple[str, str], ...]
"""Named intermediate steps of a measurement model, each with its equation text."""


@dataclass(frozen=True)
class Result:
    """
    How an observer turns readings into the latent heat.

    Parameters
    ----------
    steps : tuple of (str, str)
        Intermediate steps, in order.
    equation : str
        Latent heat from the readings ``E_read`` [J], ``m_read`` [kg] and ``t`` [s]. [J/kg]
    """

    steps: Steps
    equation: str


class Procedure(Protocol):
    """A way of taking readings and turning them into the latent heat."""

    def __hash__(self) -> int:
        """Procedures are values: they can be keys."""

    @property
    def identifier(self) -> str:
        """Word that bench files and JSON carry."""

    @property
    def name(self) -> str:
        """Name in reports."""

    @property
    def corrections(self) -> tuple[Correction, ...]:
        """Corrections that it can use."""

    @property
    def needs_mass_set(self) -> bool:
        """Whether it puts masses on the pan."""

    @property
    def needs_display(self) -> bool:
        """Whether the balance must show a number that changes while it is read."""

    @property
    def pace(self) -> Pace:
        """How it goes on: pauses, gaps, whole counts."""

    @property
    def cancels(self) -> tuple[str, ...]:
        """Errors that it cancels, in words."""

    @property
    def readings(self) -> tuple[str, ...]:
        """Columns of a readings sheet that it needs."""

    def terms(self, situation: Situation) -> tuple[InputTerm, ...]:
        """Input quantities of the measurement model in every setting."""

    def steps(self) -> Steps:
        """Readings that the bench gives, from its input quantities."""

    def result(self, correction: Correction) -> Result:
        """How the readings become the latent heat."""


def estimate(
    procedure: Procedure, correction: Correction, readings: Mapping[str, float], known: Mapping[str, float]
) -> float:
    """
    Latent heat from one set of readings.

    Parameters
    ----------
    procedure : Procedure
        How the readings were taken.
    correction : {"none", "calculated"}
        What is corrected for.
    readings : mapping of str to float
        ``E_read`` [J], ``m_read`` [kg] and ``t`` [s].
    known : mapping of str to float
        Estimates that the correction uses, by their symbols ending in ``_est``, and ``b``.

    Returns
    -------
    float
        Latent heat. [J/kg]

    Raises
    ------
    budget.errors.BudgetError
        If a symbol of the equation is missing.
    """
    result = procedure.result(correction)
    program = compile_program(result.steps, result.equation)
    values = {symbol: {**known, **readings}[symbol] for symbol in program.symbols}
    return float(program.evaluate(values))


def measurement_model(
    procedure: Procedure, correction: Correction, terms: tuple[InputTerm, ...], index: int
) -> MeasurementModel:
    """
    Measurement model of one setting: the latent heat that will be reported, from all that acts on it.

    Parameters
    ----------
    procedure : Procedure
        How the readings are taken.
    correction : {"none", "calculated"}
        What is corrected for.
    terms : tuple of InputTerm
        From ``procedure.terms``, with the estimates that the correction needs.
    index : int
        Setting.

    Returns
    -------
    MeasurementModel
    """
    result = procedure.result(correction)
    return MeasurementModel(
        symbol="L",
        name="specific latent heat of vaporisation, as reported",
        unit="J/kg",
        inputs=tuple(term.quantity(index) for term in terms),
        intermediates=procedure.steps() + result.steps,
        equation=result.equation,
    )
