"""What a design may not do, one row a limit: which value must keep to which bound, in words where it does not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray, FloatArray
from design.kit import Item, Kit, Role
from design.message import Message
from design.procedures.face import Procedure
from design.setting.constants import BENCH, FILL_DOUBT, Given, given_of, given_of_items
from design.setting.equations import Values, ratio
from design.setting.hardware import Conditions
from design.setting.situation import Situation

LOSS_MARGIN = 0.5
"""Least power that makes steam over the heat loss: less, and the water does not boil steadily (judgement)."""
LEAST_STEP = 0.010
"""Smallest mass step. [kg] (common practice, no source)"""
TIMED_LEAST = 2.0
"""Least time between two marks of a meter that are timed by hand with a reading between them. [s] (judgement)"""
TOLERANCE = 1e-9
"""Excess that counts as rounding. [1]"""
WAY: tuple[Given[Procedure], ...] = (
    Given("whole", "1", lambda one: one.pace.whole_counts),
    Given("needs_display", "1", lambda one: one.needs_display),
    Given("puts_masses", "1", lambda one: one.needs_mass_set),
)
"""What limits take from a procedure."""


@dataclass(frozen=True)
class Row:
    """
    A limit.

    Parameters
    ----------
    key : str
        Of its words.
    value, bound : str
        What must keep to what, as text of a setting's values. Items come in by the constants that the text names, so
        that a limit is looked at for each balance or meter where it hangs on one, and once where it does not.
    at_least : bool
        From below.
    relative_to : str
        What an excess is relative to; the larger of the two, where it is broken from above the bound, if empty.
    wanted : str
        Figure of the remedy, as text.
    accepted : str
        Role whose item a bench file may want all the same.
    advice : bool
        It binds what is recommended; what is done today is worked out all the same, and the limit named.
    """

    key: str
    value: str
    bound: str
    at_least: bool = False
    relative_to: str = ""
    wanted: str = "0"
    accepted: Role | None = None
    advice: bool = False


END = "_end"
"""Ending of the keys of limits that are looked at where heater, supply and filling are unlucky; they bind what is
recommended."""


def _at_the_end(key: str, value: str, bound: str, *, at_least: bool = False, scale: str = "1") -> Row:
    return Row(f"{key}{END}", value, bound, at_least=at_least, wanted=f"({value}) * {scale}", advice=True)


UNSUITABLE = (
    Row("heater_voltage", "voltage", "heater_voltage", wanted="voltage"),
    Row("meter_voltage", "voltage", "meter_voltage", wanted="voltage"),
    Row("no_marks", "counting", "whole", at_least=True),
    Row("splash_proof", "splash_proof", "1", at_least=True, accepted="balance"),
    Row("stability_filter", "holds_reading", "0", accepted="balance"),
    Row("works_warm", "works_warm", "1", at_least=True, accepted="balance"),
    Row("display", "shows_number", "needs_display", at_least=True),
)
"""What rules an item out, whatever the setting, in the order in which rejections are counted."""
NEEDED_POWER = (
    f"{1.0 + LOSS_MARGIN!r} * (loss + 2 * loss_doubt_plan * {ratio('loss', 'loss_plan')})"
    " / max((1 - heater_tolerance) * (1 - supply_tolerance)**2, 1e-9)"
)
"""Power that boils steadily when loss and power are both unlucky. [W]"""
CIRCUIT = "P_set / voltage * groups"
USUAL_FILL = "(2/3 - 1/6 * min(max(ceil(most_swell - 1/3), 0), 1))"
"""Most water, cold, over the brimful capacity of a vessel in which it is to boil: two thirds, and half where bubbles
lift the surface by more than a third of the water. (common practice, no source)"""
MOST_FILL = f"(fill_stated + (1 - min(ceil(fill_stated), 1)) * {USUAL_FILL})"
"""The same, or what the bench file states."""
FILL = f"{1.0 + FILL_DOUBT!r} * cold_level / height"
LOAD = "vessel_mass + jacket_mass + lid_mass + guard_mass + fill + hung + puts_masses * mass_1"
LIMITS = (
    Row("price", "price", "purse", wanted="price"),
    Row("circuit", CIRCUIT, "current_limit", wanted=CIRCUIT),
    Row("time", "lesson_time", "lesson_length", wanted="lesson_time / 60"),
    Row("steady", "lowest_power", NEEDED_POWER, at_least=True, wanted=NEEDED_POWER),
    Row("stems", "stem_width", "diameter"),
    Row("fill", FILL, MOST_FILL, wanted=f"{1e3 * (1.0 + FILL_DOUBT)!r} * fill / cold_density / {MOST_FILL}",
        advice=True),
    Row("rim", "height - most_crest", "rim", at_least=True, relative_to="height",
        wanted="1000 * (most_crest + rim)", advice=True),
    Row("mass_step", "mass_1", repr(LEAST_STEP), at_least=True, wanted=f"1000 * {LEAST_STEP!r}"),
    Row("meter_current", "current_1", "meter_current", wanted="current_1"),
    Row("meter_power", "P_set", "meter_power", wanted="P_set"),
    Row("meter_start", "lowest_power / voltage", "start_current", at_least=True, wanted="lowest_power / voltage"),
    Row("timing", "step_energy / P_set", f"{TIMED_LEAST!r} * timed", at_least=True),
    Row("balance", LOAD, "balance_capacity", wanted=LOAD),
    _at_the_end("circuit", f"{CIRCUIT} * most_current", "current_limit"),
    _at_the_end("time", "most_time", "lesson_length", scale="1 / 60"),
    _at_the_end("meter_voltage", "voltage * (1 + supply_tolerance)", "meter_voltage"),
    _at_the_end("meter_current", "current_1 * most_current", "meter_current"),
    _at_the_end("meter_power", "P_set * most_power", "meter_power"),
    _at_the_end("meter_start", "lowest_power / voltage * least_current", "start_current", at_least=True),
    _at_the_end("timing", "step_energy / (P_set * most_power)", f"{TIMED_LEAST!r} * timed", at_least=True),
    _at_the_end("balance", f"({LOAD}) + {FILL_DOUBT!r} * fill", "balance_capacity"),
)  # fmt: skip
"""What a setting of a kit may not do, in the order in which rejections are counted."""


@dataclass(frozen=True)
class Limit:
    """
    One limit over a grid of settings.

    Parameters
    ----------
    row : Row
        The limit.
    values : Values
        What the settings ask for.
    currency : str
        Of prices.
    """

    row: Row
    values: Values
    currency: str = ""

    @property
    def key(self) -> str:
        """Key of its words."""
        return self.row.key

    @property
    def excess(self) -> FloatArray:
        """How far it is broken in each setting, relative to what is allowed; at most 0 where it is kept."""
        return excess(self.row, self.values)

    def said(self, index: int = 0) -> Message:
        """What is broken in one setting, with the figure of what would mend it."""
        wanted = np.ravel(self.values[self.row.wanted])
        figure = float(wanted[min(index, wanted.size - 1)])
        return Message(self.key, {"wanted": figure, "currency": self.currency})


@dataclass(frozen=True)
class Unsuitable(Limit):
    """What rules an item out, and the item where the bench file accepts it knowingly."""

    accepted: Item | None = None


@dataclass(frozen=True)
class KitLimit:
    """What the recommended kit would gain if a limit on which it stands allowed ``further`` more: no design to use."""

    limit: str
    further: float
    lowered_percent: float


def _relative(row: Row, values: Values) -> tuple[FloatArray, FloatArray]:
    """How far a limit is broken, relative to what is allowed, and what is allowed; not a number where all is."""
    used, allowed = values[row.value], values[row.bound]
    if row.at_least:
        used, allowed = allowed, used
    relative_to = values[row.relative_to] if row.relative_to else allowed
    with np.errstate(invalid="ignore"):
        return np.asarray((used - allowed) / np.maximum(relative_to, 1e-12)), allowed


def excess(row: Row, values: Values) -> FloatArray:
    """How far a limit is broken, relative to what is allowed; an infinite allowance is never exceeded."""
    found, allowed = _relative(row, values)
    return np.where(np.isinf(allowed), -1.0, found)


def broken(row: Row, values: Values) -> BoolArray:
    """Whether a limit is broken, and not knowingly; as many axes as it hangs on."""
    found = _relative(row, values)[0] > TOLERANCE
    return found & (values[f"{row.accepted}_accepted"] == 0.0) if row.accepted else found


def first_hits(rows: tuple[Row, ...], found: dict[str, BoolArray], shape: tuple[int, ...]) -> Iterator[tuple[str, int]]:
    """Numbers of combinations, by the first limit that each breaks."""
    left = np.ones(shape, dtype=bool)
    for row in rows:
        if found[row.key].any():
            yield row.key, int(np.count_nonzero(left & found[row.key]))
            left &= ~found[row.key]


def limits_of(situation: Situation, procedure: Procedure, price: float) -> tuple[Limit, ...]:
    """
    Every limit on a kit's settings, in the order in which rejections are counted.

    Parameters
    ----------
    situation : Situation
        The kit at many settings.
    procedure : Procedure
        How readings are taken.
    price : float
        Of all that has to be bought, for all groups.
    """
    values = Values({**situation.values, **given_of(WAY, procedure), "price": np.asarray(price)})
    currency = situation.conditions.bench.purse.currency
    return tuple(Limit(row, values, currency) for row in LIMITS)


def unsuitables(kit: Kit, conditions: Conditions, procedure: Procedure) -> tuple[list[Unsuitable], list[Unsuitable]]:
    """Properties that rule a kit out, and those that the bench file accepts knowingly."""
    values = Values({**given_of(BENCH, conditions), **given_of_items(kit.items), **given_of(WAY, procedure)})
    barring, accepted = [], []
    for row in UNSUITABLE:
        if broken(row, values):
            barring.append(Unsuitable(row, values))
        elif row.accepted and excess(row, values) > TOLERANCE:
            accepted.append(Unsuitable(row, values, accepted=kit.items[row.accepted]))
    return barring, accepted


def excesses(limits: tuple[Limit, ...]) -> FloatArray:
    """Excess of every limit in every setting, shape (limits, g)."""
    return np.stack(np.broadcast_arrays(*(np.atleast_1d(limit.excess) for limit in limits)))


def first_broken(limits: tuple[Limit, ...]) -> NDArray[np.intp]:
    """Index of the first limit that each setting breaks; the number of limits where it breaks none."""
    found = excesses(limits) > TOLERANCE
    return np.where(found.any(axis=0), np.argmax(found, axis=0), len(limits))
