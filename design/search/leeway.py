"""What limits the best design, and what each item of the cupboard is worth."""

from __future__ import annotations

from design.kit import ROLES
from design.plan import MovedLimit, OwnedItem
from design.search.candidates import shelf_of
from design.search.ladder import choice_of
from design.search.pool import Found, Pool
from design.search.relaxed import relaxations_of


def moved_limits(pool: Pool, best: Found) -> tuple[MovedLimit, ...]:
    """
    What more time, current or money would bring, limit by limit.

    Parameters
    ----------
    pool : Pool
        Combinations of the bench, with those that a moved limit would allow.
    best : Found
        The best on the bench as it is.

    Returns
    -------
    tuple of MovedLimit
    """
    moved = []
    for relaxation in relaxations_of(pool.conditions.bench):
        wanted = (pool.columns.marks & relaxation.mark) > 0
        found = pool.best(wanted, at_most=best.branch.objective) or best
        lowered = max(best.branch.objective - found.branch.objective, 0.0)
        moved.append(
            MovedLimit(
                relaxation.limit, relaxation.step, relaxation.unit, 100.0 * lowered,
                choice_of(found.branch if lowered > 0.0 else best.branch),
            )
        )  # fmt: skip
    return tuple(moved)


def owned_items(pool: Pool, best: Found) -> tuple[OwnedItem, ...]:
    """What each item of the cupboard is worth: the best design with it, and the best without it."""
    items, used = [], best.branch.kit.items
    for column, role in enumerate(ROLES):
        for place, item in enumerate(shelf_of(pool.conditions.bench, role)):
            if item.owned <= 0:
                continue
            chosen = pool.columns.kit[:, column] == place
            items.append(
                OwnedItem(
                    role=role,
                    name=item.name,
                    used=role in used and used[role].name == item.name,
                    with_percent=_percent(pool.best(pool.usual & chosen)),
                    without_percent=_percent(pool.best(pool.usual & ~chosen)),
                )
            )
    return tuple(items)


def _percent(found: Found | None) -> float | None:
    return None if found is None else 100.0 * found.branch.objective
