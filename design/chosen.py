"""A design: a kit with one way of using it on a bench, and all that follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from budget.model.equation import Program, compile_program
from budget.model.measurement import MeasurementModel
from design.kit import Item, Kit, PassingReading
from design.limits import TOLERANCE, Limit, Row, excesses, limits_of, unsuitables
from design.physics.evidence import default
from design.procedures.face import Correction, Procedure, measurement_model, model_steps, pace_of, reading_of
from design.procedures.shared import with_estimates
from design.setting.constants import FILL_STEP
from design.setting.equations import hangs_on, numbered
from design.setting.hardware import Conditions, Hardware, hardware_of
from design.setting.situation import Settings, Situation, situation_of
from design.setting.terms import InputTerm

Purchase = tuple[str, str, int, float]
"""Role, name, number and price of all, of an item that has to be bought for all groups."""


SET = frozenset({"mass", "N", "spare", "steady", *(numbered("P_set", number) for number in (1, 2, 3))})
"""Symbols of what is set."""
NEAR = 0.02
"""Part of a limit by which a design that stands on it keeps it at most. [1]"""


@dataclass(frozen=True)
class Design:
    """
    A kit with a procedure, a correction and a setting on a bench: the one object that rooms and reports pass on.

    What follows from it is worked out when it is first asked for, and not sent to other processes. Designs are equal
    where kit, way and setting are, on whichever bench.

    Parameters
    ----------
    conditions : Conditions
        The bench, and water at the boil in its room.
    kit : Kit
        The items, the vessel as fitted, the meter with the rule by which its counts are read.
    procedure, correction
        How readings are taken, and what the result is corrected for.
    powers : tuple of float
        As many as the procedure takes, the highest first. [W]
    mass : float
        Mass step at the highest power. [kg]
    repeats : int
        Runs at each power.
    spare : float
        Water beyond what covers the element to the last reading. [kg]
    steady : float
        Time of boiling before the first reading at a power. [s]
    fill_step : float
        Step to which the water is rounded up; 0 where the fill is stated. [kg]
    """

    conditions: Conditions = field(compare=False)
    kit: Kit
    procedure: Procedure
    correction: Correction
    powers: tuple[float, ...]
    mass: float
    repeats: int = 1
    spare: float = 0.0
    steady: float = default("steady_time")
    fill_step: float = FILL_STEP

    def __hash__(self) -> int:
        """Designs are values; benches and vessels hold mappings, so that they go by their names here."""
        names = tuple(item.name for item in self.kit.items.values())
        return hash(
            (names, self.procedure, self.correction, self.powers, self.mass, self.repeats, self.spare, self.steady)
        )

    def __getstate__(self) -> dict[str, Any]:
        """Leave out what follows: it is worked out where it is wanted."""
        return {each.name: getattr(self, each.name) for each in fields(self)}

    @property
    def settings(self) -> Settings:
        """The setting as a grid of one row."""
        return Settings(
            np.array([self.powers]),
            np.array([self.mass]),
            np.array([float(self.repeats)]),
            np.array([self.spare]),
            np.array([self.steady]),
            self.fill_step,
        )

    @cached_property
    def hardware(self) -> Hardware:
        """What vessel and heater do to each other."""
        return hardware_of(self.conditions, self.kit.vessel, self.kit.heater)

    @cached_property
    def situation(self) -> Situation:
        """What the setting asks of the kit."""
        return self.situation_at(self.settings)

    def situation_at(self, settings: Settings, hardware: Hardware | None = None) -> Situation:
        """What other settings would ask of the kit, perhaps with other losses."""
        pace = pace_of(self.procedure, self.correction)
        return situation_of(self.conditions, self.kit, hardware or self.hardware, settings, pace)

    @cached_property
    def terms(self) -> tuple[InputTerm, ...]:
        """Input quantities of the measurement model."""
        return all_terms(self.procedure, self.correction, self.situation)

    @property
    def program(self) -> Program:
        """Compiled measurement model."""
        return program_of(self.procedure, self.correction)

    @property
    def model(self) -> MeasurementModel:
        """Measurement model: the latent heat that will be reported, from all that acts on it."""
        return measurement_model(self.procedure, self.correction, self.terms, 0)

    @property
    def reference(self) -> float:
        """Latent heat at the pressure of the room. [J/kg]"""
        return self.conditions.water.latent_heat

    @cached_property
    def reading(self) -> PassingReading:
        """How counts read in passing are read; empty where they are not."""
        return reading_of(self.procedure, self.kit.meter)

    @property
    def corrected(self) -> bool:
        """Whether something is taken off what the readings alone give."""
        return self.correction != "none"

    @property
    def has_cooling_run(self) -> bool:
        """Whether the loss is taken from a cooling run."""
        return self.correction == "cooling-run"

    @cached_property
    def uncorrected(self) -> Design:
        """The same, with nothing taken off."""
        return replace(self, correction="none")

    @property
    def is_covered(self) -> bool:
        """Whether a lid or a guard is over the vessel, so that steam comes out at its side."""
        return self.kit.vessel.lid != "none" or self.kit.vessel.guard != "none"

    @property
    def items(self) -> Mapping[str, str]:
        """Name of the item in each role."""
        return {role: item.name for role, item in self.kit.items.items()}

    @cached_property
    def price(self) -> float:
        """Of all that has to be bought, for all groups, in the purse's currency."""
        return price_of(self.kit, self.conditions.bench.lesson.groups)

    @cached_property
    def buy(self) -> tuple[Purchase, ...]:
        """What has to be bought for all groups."""
        groups = self.conditions.bench.lesson.groups
        rows = [(role, item, number_to_buy(item, groups)) for role, item in self.kit.items.items()]
        return tuple((str(role), item.name, number, item.price * number) for role, item, number in rows if number > 0)

    @cached_property
    def minutes(self) -> float:
        """Length of lesson that it takes."""
        return float(self.situation.total_time[0] / 60.0)

    @cached_property
    def time_table(self) -> tuple[tuple[str, float], ...]:
        """Stages of the lesson and their minutes."""
        return tuple((stage, float(times[0] / 60.0)) for stage, times in self.situation.time_table)

    @cached_property
    def fill(self) -> float:
        """Water at the start. [kg]"""
        return float(self.situation.levels.fill[0])

    @cached_property
    def counts(self) -> float:
        """Expected meter counts of one run; 0 where the meter does not count."""
        return float(self.situation.runs.counts[0])

    @cached_property
    def loss(self) -> float:
        """Expected heat loss at the boil. [W]"""
        return self.hardware.loss

    @cached_property
    def carry_over(self) -> float:
        """Expected share of the lost mass that is thrown out as droplets. [1]"""
        return float(self.situation.carry_over[0])

    @property
    def settled(self) -> Design:
        """The same, with the mass step that comes of it where runs end on a mark of the meter."""
        whole = self.situation.pace.whole_counts
        return replace(self, mass=float(self.situation.runs.mass[0])) if whole else self

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit on kit and setting, in the order in which rejections are counted."""
        return limits_of(self.situation, self.procedure, self.price)

    @cached_property
    def _excesses(self) -> tuple[tuple[Row, float], ...]:
        found = excesses(self.limits)[:, 0]
        return tuple((limit.row, float(by)) for limit, by in zip(self.limits, found, strict=True))

    @property
    def excess(self) -> float:
        """How far the limit that it breaks most is broken, relative to what is allowed; at most 0 within all. [1]"""
        return max(by for _, by in self._excesses)

    @property
    def obstacles(self) -> tuple[str, ...]:
        """Keys of the limits that stand in its way, money and advice aside."""
        barred, _ = unsuitables(self.kit, self.conditions, self.procedure)
        return tuple(fault.key for fault in barred) + self._broken(advice=False)

    @property
    def against_advice(self) -> tuple[str, ...]:
        """Keys of the limits that bind what is recommended, and that it breaks; with too little water ``covered``."""
        return self._broken(advice=True) + (("covered",) if self.spare < -TOLERANCE else ())

    def _broken(self, *, advice: bool) -> tuple[str, ...]:
        return tuple(
            row.key for row, by in self._excesses if by > TOLERANCE and row.advice == advice and row.value != "price"
        )

    @property
    def headroom(self) -> float:
        """Least distance to any limit that hangs on the setting, relative to what is allowed. [1]"""
        form = self.situation.form
        return -max(by for row, by in self._excesses if hangs_on(form, row.value, SET))

    @property
    def stands_on(self) -> tuple[str, ...]:
        """Keys of the limits that it keeps by less than ``NEAR``, or breaks."""
        return tuple(row.key for row, by in self._excesses if by > -NEAR)

    def level(self, which: str) -> float:
        """
        Height of the water over the vessel's floor. [m].

        ``"cold_level"`` as it is filled in, ``"cold_level_with"`` with the heater in, ``"boiling_level"`` the mean
        surface to expect as the boil begins, ``"crest"`` the highest that bursts are expected to reach.
        """
        return float(np.ravel(self.situation.values[which])[0])

    @cached_property
    def accepted(self) -> tuple[tuple[str, str], ...]:
        """Items with properties that the bench file accepts knowingly, and the keys of those limits."""
        _, accepted = unsuitables(self.kit, self.conditions, self.procedure)
        return tuple((fault.accepted.name, fault.key) for fault in accepted if fault.accepted)

    @property
    def order(self) -> tuple[object, ...]:
        """
        Key that sorts equally good designs: price, minutes, way of working, setting, then the items.

        Where all that is equal, what the items are comes before what they are called.
        """
        items = tuple(self.kit.items.values())
        return (
            self.price,
            self.minutes,
            self.procedure.identifier,
            self.procedure.number_of_powers,
            self.correction,
            self.powers,
            self.mass,
            float(self.repeats),
            self.spare,
            self.steady,
            tuple(_nature(item) for item in items),
            tuple(item.name for item in items),
        )


def _nature(item: Item) -> str:
    """What an item is, whatever it is called and however it is come by."""
    return repr(replace(item, name="", note="", price=0.0, owned=0))


@lru_cache(maxsize=64)
def program_of(procedure: Procedure, correction: Correction) -> Program:
    """Compile the measurement model of a procedure."""
    return compile_program(model_steps(procedure, correction), procedure.result(correction).equation)


def all_terms(procedure: Procedure, correction: Correction, situation: Situation) -> tuple[InputTerm, ...]:
    """Input quantities that the measurement model of a procedure uses, with the estimates of a correction."""
    used = program_of(procedure, correction).symbols
    return tuple(term for term in with_estimates(procedure.terms(situation)) if term.symbol in used)


def number_to_buy(item: Item, groups: int) -> int:
    """How many of an item are missing from the cupboard."""
    return max(groups - item.owned, 0)


def price_of(kit: Kit, groups: int) -> float:
    """Price of all that has to be bought, for all groups, in the purse's currency."""
    return float(sum(item.price * number_to_buy(item, groups) for item in kit.items.values()))
