"""The kit that the readings were taken with, and how they were taken."""

from __future__ import annotations

from dataclasses import dataclass

from design.bench import Bench
from design.errors import DesignError
from design.kit import Item, Kit, Role, kit_from
from design.procedures.face import Correction, Procedure
from design.procedures.registry import procedure_named
from design.search.today import USUAL_PROCEDURE, read_as_now, roles_in_use
from design.setting.hardware import Conditions, Hardware, conditions_of, hardware_of


@dataclass(frozen=True)
class InUse:
    """
    What the readings were taken with.

    Parameters
    ----------
    conditions, kit, hardware, procedure
        The bench, the items in use, what vessel and heater do to each other, and the procedure.
    correction : str
        What the result is corrected for.
    """

    conditions: Conditions
    kit: Kit
    hardware: Hardware
    procedure: Procedure
    correction: Correction

    @property
    def reference(self) -> float:
        """Latent heat at the pressure of the room. [J/kg]"""
        return self.conditions.water.latent_heat


def in_use(bench: Bench, correction: str | None = None) -> InUse:
    """
    Find kit, procedure and correction of the readings in a bench.

    Parameters
    ----------
    bench : Bench
        Its ``[current]`` says what is in use; an item not named there is the one that is owned.
    correction : str, optional
        Correction asked for. Left out, it is the one that ``[current]`` names; where that is ``none`` or not
        stated, the calculated losses are taken off all the same, as a recognised systematic effect is to be
        corrected for (JCGM 100:2008, 3.2.4); the uncorrected value stands beside it.

    Returns
    -------
    InUse

    Raises
    ------
    DesignError
        If an item in use is not clear, or the procedure does not know the correction.
    """
    procedure = procedure_named(bench.current.procedure or USUAL_PROCEDURE)
    kit = _kit(bench, procedure)
    conditions = conditions_of(bench)
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    return InUse(conditions, kit, hardware, procedure, _correction(bench, procedure, correction))


def _correction(bench: Bench, procedure: Procedure, asked: str | None) -> Correction:
    stated = bench.current.correction
    wanted = asked or (stated if stated not in (None, "none") else "calculated")
    for known in procedure.corrections:
        if known == wanted:
            return known
    if asked is None and stated in (None, "none"):
        return procedure.corrections[0]
    known_words = ", ".join(procedure.corrections)
    raise DesignError(
        f"{bench.path}: current.correction: the procedure {procedure.identifier} knows {known_words} (got {wanted!r})"
    )


def _kit(bench: Bench, procedure: Procedure) -> Kit:
    chosen = {role: _item(bench, role) for role in roles_in_use(bench, procedure)}
    return read_as_now(bench, kit_from(chosen), procedure)


def _item(bench: Bench, role: Role) -> Item:
    """Item named as in use, else the only one owned, else the only one on the shelf."""
    shelf = bench.shelves[role]
    name = bench.current.items.get(role)
    word = role.replace("_", " ")
    if name is not None:
        for item in shelf:
            if item.name == name:
                return item
        raise DesignError(f'{bench.path}: current.items.{role}: must name an item of the shelf (got "{name}")')
    for choice in ([item for item in shelf if item.owned > 0], list(shelf)):
        if len(choice) == 1:
            return choice[0]
    raise DesignError(
        f"{bench.path}: current.items: must say which {word} the readings were taken with "
        f'(got none, and {len(shelf)} on the shelf); write items = {{ {role} = "{shelf[0].name if shelf else "..."}" }}'
    )
