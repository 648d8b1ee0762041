"""A kit with a way of using it, and what orders such branches."""

from __future__ import annotations

from dataclasses import dataclass, replace

from design.kit import Item, Kit, PassingReading
from design.procedures.face import Correction, Procedure, reading_of
from design.setting.situation import Settings


@dataclass(frozen=True)
class Branch:
    """
    A kit with a procedure and a correction, at one setting.

    Parameters
    ----------
    kit, procedure, correction
        What is used, and how.
    settings : Settings
        One row.
    price : float
        Of all that has to be bought.
    minutes : float
        Of the lesson.
    objective : float
        What is made small, on the sample; not a number where it was not sampled. [1]
    """

    kit: Kit
    procedure: Procedure
    correction: Correction
    settings: Settings
    price: float
    minutes: float
    objective: float

    @property
    def reading(self) -> PassingReading:
        """How counts read in passing are read; empty where they are not."""
        return reading_of(self.procedure, self.kit.meter)

    @property
    def order(self) -> tuple[object, ...]:
        """
        Key that sorts branches: objective, then price, minutes, way of working and setting.

        Where all that is equal, what the items are comes before what they are called.
        """
        items = tuple(self.kit.items.values())
        return (
            self.objective,
            self.price,
            self.minutes,
            self.procedure.identifier,
            self.procedure.name,
            self.correction,
            tuple(self.settings.powers[0]),
            float(self.settings.mass[0]),
            float(self.settings.repeats[0]),
            float(self.settings.spare[0]),
            tuple(_nature(item) for item in items),
            tuple(item.name for item in items),
        )


def _nature(item: Item) -> str:
    """What an item is, whatever it is called and however it is come by."""
    return repr(replace(item, name="", note="", price=0.0, owned=0))
