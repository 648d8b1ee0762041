"""Which design is rehearsed: one of a plan's ranking, or what is done today."""

from __future__ import annotations

from design.bench import Bench
from design.errors import DesignError
from design.hardware import Conditions, conditions_of
from design.plan import Plan, RankedDesign
from design.procedures.registry import procedure_named
from design.search.candidates import kit_named, price_of, settings_in
from design.search.screening import Branch
from design.search.today import current_branch


def todays_branch(bench: Bench) -> Branch:
    """
    What is done today, to be rehearsed.

    Raises
    ------
    DesignError
        If it is not stated, not clear, or not feasible.
    """
    branch, reason = current_branch(conditions_of(bench))
    if branch is None:
        raise DesignError(f"{bench.path}: today's way cannot be rehearsed: {reason}")
    return branch


def planned_branch(bench: Bench, plan: Plan, place: int) -> Branch:
    """
    A design of a plan's ranking.

    Parameters
    ----------
    bench : Bench
        Bench that the plan was made of.
    plan : Plan
        With a ranking.
    place : int
        Place in the ranking; 1 is the recommended design.

    Raises
    ------
    DesignError
        If the ranking has no such place.
    """
    if not 1 <= place <= len(plan.ranking):
        raise DesignError(
            f"--design: must be a place in the ranking, from 1 to {len(plan.ranking)} (got {place}); "
            "boiloff plan shows the ranking"
        )
    return branch_of(conditions_of(bench), plan.ranking[place - 1])


def branch_of(conditions: Conditions, design: RankedDesign) -> Branch:
    """Branch of a ranked design, with its items looked up on the shelves."""
    bench = conditions.bench
    kit = kit_named(bench, design.items, design.reading)
    procedure = procedure_named(design.procedure, len(design.powers_W))
    return Branch(
        kit=kit,
        procedure=procedure,
        correction=next(known for known in procedure.corrections if known == design.correction),
        settings=settings_in(design),
        price=price_of(kit, bench.lesson.groups),
        minutes=design.minutes,
        objective=design.objective_percent / 100.0,
    )
