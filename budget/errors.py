"""What goes wrong in a budget, said so that a reader can mend it."""

from __future__ import annotations


class BudgetError(ValueError):
    """
    A budget that cannot be computed as stated.

    The message is one sentence, "where: what must be … (got …)"; several faults of one file are joined by
    line breaks.
    """
