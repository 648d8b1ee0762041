"""What nobody measures: default knowledge of losses and of the bench, one row a quantity, with its evidence."""

from __future__ import annotations

from design.physics.evidence_losses import ROWS as LOSSES
from design.physics.evidence_practice import ROWS as PRACTICE
from design.physics.evidence_row import Evidence

__all__ = ["ROWS", "Evidence", "default", "evidence"]

ROWS: tuple[Evidence, ...] = (*LOSSES, *PRACTICE)
"""Every row."""
_BY_KEY = {row.key: row for row in ROWS}


def evidence(key: str) -> Evidence:
    """
    Row of the table by its key.

    Raises
    ------
    KeyError
        If no row has that key.
    """
    return _BY_KEY[key]


def default(key: str) -> float:
    """Best estimate of a row. [its unit]"""
    return evidence(key).value
