"""The verdict on agreement: given only where no strong slip stands and the uncertainty leaves something to say."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

Verdict = Literal["agrees", "differs", "withheld", "says_nothing"]

TOO_WIDE = 0.10
"""Expanded uncertainty over the reference from which agreement says nothing (judgement: no loss of a bare beaker, no
splash and no slip of a few counts would be noticed any more)."""
STRONG = frozenset(
    {
        "boiling_not_steady", "clock_as_minutes", "counts_run_backwards", "decimal_slip", "digits_transposed",
        "directions_differ", "duplicate_row", "energy_runs_backwards", "energy_too_large", "energy_too_small",
        "heater_off_throughout", "heater_state_differs", "mark_out_of_line", "mass_runs_backwards", "one_count",
        "power_below_nameplate", "power_beyond_nameplate", "power_out_of_line", "run_out_of_line", "runs_backwards",
        "sign_lost", "start_missing", "swapped_cells", "time_runs_backwards", "times_equal", "unit_slip",
    }
)  # fmt: skip
"""Codes of findings that, where they are right, move the result by more than its uncertainty may hold."""


def verdict_of(*, agrees: bool, width: float, codes: Iterable[str]) -> Verdict:
    """
    Say whether a value agrees with the reference, or why nothing is said.

    Parameters
    ----------
    agrees : bool
        By the rule in use: E_n at most 1 in size, or a school's own.
    width : float
        Expanded uncertainty over the reference. [1]
    codes : iterable of str
        Of the findings on the readings; one of ``STRONG`` withholds the verdict.

    Examples
    --------
    >>> verdict_of(agrees=True, width=0.03, codes=[]), verdict_of(agrees=True, width=0.3, codes=["step_too_small"])
    ('agrees', 'says_nothing')
    """
    if not STRONG.isdisjoint(codes):
        return "withheld"
    if agrees:
        return "says_nothing" if width > TOO_WIDE else "agrees"
    return "differs"
