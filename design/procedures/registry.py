"""The procedures by the words that bench files and JSON carry."""

from __future__ import annotations

from design.errors import DesignError
from design.procedures.face import Procedure
from design.procedures.fixed_mass import FixedMassKeptOn, FixedMassRestart
from design.procedures.whole_counts import WholeCounts

PROCEDURES: tuple[Procedure, ...] = (FixedMassRestart(), FixedMassKeptOn(), WholeCounts())
"""Every procedure, in the order of the reports."""


def procedure_named(identifier: str) -> Procedure:
    """
    Return the procedure with an identifier.

    Raises
    ------
    DesignError
        If there is none.
    """
    for procedure in PROCEDURES:
        if procedure.identifier == identifier:
            return procedure
    known = ", ".join(procedure.identifier for procedure in PROCEDURES)
    raise DesignError(f"procedure: must be one of {known} (got {identifier!r})")
