"""The procedures by the words that bench files and JSON carry: those that the modules of this folder offer."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from design import procedures
from design.errors import DesignError
from design.procedures.face import Procedure


def _offered() -> tuple[Procedure, ...]:
    """What the modules name as ``OFFERED``, in the order of their ``PLACE``; those that offer none are tools."""
    names = (f"{procedures.__name__}.{module.name}" for module in iter_modules(procedures.__path__))
    modules = [import_module(name) for name in names if name != __name__]
    offering = sorted((module for module in modules if hasattr(module, "OFFERED")), key=lambda module: module.PLACE)
    return tuple(procedure for module in offering for procedure in module.OFFERED)


PROCEDURES: tuple[Procedure, ...] = _offered()
"""Every procedure, in the order of the reports; a series at another number of powers is a procedure of its own."""

USUAL: Procedure = PROCEDURES[0]
"""Procedure taken as usual where the bench file says nothing: it has the first place. (common practice, no source)"""


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
