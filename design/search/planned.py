"""What readings were taken with, where a plan says it: the design of a ranking, found again on its bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from design.bench import Bench, Current
from design.chosen import Design
from design.errors import DesignError
from design.kit import Role, kit_from
from design.procedures.face import Correction, Procedure
from design.procedures.registry import procedure_named
from design.search.today import read_as_now
from design.setting.hardware import conditions_of


@dataclass(frozen=True)
class Planned:
    """
    A design as a plan's file states it.

    Parameters
    ----------
    items : mapping of str to str
        Name of the item in each role.
    procedure, correction, reading : str
        Their words; the reading is empty where nothing is read in passing.
    powers : tuple of float
        The highest first. [W]
    mass, fill, spare, steady : float
        Mass step, water at the start and water to spare [kg], and time of steady boiling [s].
    repeats : int
        Runs at each power.
    """

    items: Mapping[Role, str]
    procedure: str
    correction: str
    reading: str
    powers: tuple[float, ...]
    mass: float
    fill: float
    spare: float
    steady: float
    repeats: int


def as_planned(bench: Bench, planned: Planned, correction: str | None = None) -> Design:
    """
    Find the design of a plan on its bench again; it takes the place of what the bench file says of today.

    Parameters
    ----------
    bench, planned
        The bench that was planned for, and the design by its words.
    correction : str, optional
        Correction asked for; left out, that of the plan.

    Raises
    ------
    DesignError
        If the bench has no such item, or the procedure does not know the correction.
    """
    procedure = procedure_named(planned.procedure, len(planned.powers))
    shelved = {role: {item.name: item for item in bench.shelves[role]} for role in planned.items}
    for role, name in planned.items.items():
        if name not in shelved[role]:
            raise DesignError(f'{bench.path}: {role}: has no item "{name}", with which the plan was made')
    taken_off = _known(procedure, correction or planned.correction)
    current = Current(
        items=planned.items,
        procedure=planned.procedure,
        correction=taken_off,
        power=planned.powers[0],
        mass=planned.mass,
        repeats=planned.repeats,
        reading="timed" if planned.reading == "timed" else "plain",
        fill=planned.fill,
    )
    bench = replace(bench, current=current)
    kit = kit_from({role: shelved[role][name] for role, name in planned.items.items()})
    return Design(
        conditions=conditions_of(bench),
        kit=read_as_now(bench, kit, procedure),
        procedure=procedure,
        correction=taken_off,
        powers=planned.powers,
        mass=planned.mass,
        repeats=planned.repeats,
        spare=planned.spare,
        steady=planned.steady,
    )


def _known(procedure: Procedure, asked: str) -> Correction:
    for known in procedure.corrections:
        if known == asked:
            return known
    known_words = ", ".join(procedure.corrections)
    raise DesignError(f"correction: the procedure {procedure.identifier} knows {known_words} (got {asked!r})")
