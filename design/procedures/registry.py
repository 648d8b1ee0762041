"""The procedures by the words that bench files and JSON carry."""

from __future__ import annotations

from design.errors import DesignError
from design.procedures.face import Procedure
from design.procedures.fixed_mass import FixedMassKeptOn, FixedMassRestart
from design.procedures.series import Series
from design.procedures.two_powers import TwoPowers
from design.procedures.whole_counts import WholeCounts

PROCEDURES: tuple[Procedure, ...] = (
    FixedMassRestart(),
    FixedMassKeptOn(),
    WholeCounts(),
    TwoPowers(),
    Series(1),
    Series(2),
    Series(3),
)
"""Every procedure, in the order of the reports; a series at another number of powers is a procedure of its own."""


def procedure_named(identifier: str, number_of_powers: int | None = None) -> Procedure:
    """
    Return the procedure with an identifier.

    Parameters
    ----------
    identifier : str
        As bench files and JSON carry it.
    number_of_powers : int, optional
        Powers it is run at, where the identifier leaves that open; the fewest if left out.

    Raises
    ------
    DesignError
        If there is none.
    """
    for procedure in PROCEDURES:
        if procedure.identifier == identifier and number_of_powers in (None, procedure.number_of_powers):
            return procedure
    known = ", ".join(dict.fromkeys(procedure.identifier for procedure in PROCEDURES))
    raise DesignError(f"procedure: must be one of {known} (got {identifier!r})")


def variants_of(procedure: Procedure) -> tuple[Procedure, ...]:
    """Procedures that share an identifier: one alone, or one for each number of powers where that is left open."""
    return tuple(one for one in PROCEDURES if one.identifier == procedure.identifier)
