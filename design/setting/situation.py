"""One kit at many settings: mass, counts, fill, level, time and carry-over, before any error is thought of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.kit import ROLES, Item, Kit, Role
from design.physics.evidence import default
from design.setting.constants import (
    BENCH,
    FILL_STEP,
    HARDWARE,
    ITEMS,
    Given,
    given_of,
    given_of_item,
    given_of_items,
    given_of_shelves,
)
from design.setting.equations import STAGES, Form, Values, evaluated, numbered, over, steps_of
from design.setting.hardware import Conditions, Hardware
from design.setting.terms import InputTerm, setting


@dataclass(frozen=True)
class Settings:
    """
    What is dialled in, one row a setting.

    Powers (g, p), highest first [W], mass step [kg], runs, spare water [kg], boiling before the first reading [s]. The
    water is filled in to whole multiples of ``fill_step``, or just so where that is 0. [kg]
    """

    powers: FloatArray
    mass: FloatArray
    repeats: FloatArray
    spare: FloatArray = field(default_factory=lambda: np.zeros(()))
    steady: FloatArray = field(default_factory=lambda: np.asarray(default("steady_time")))
    fill_step: float = FILL_STEP

    def __post_init__(self) -> None:
        """Give every setting its own spare water and time of settling."""
        for name in ("spare", "steady"):
            object.__setattr__(self, name, np.broadcast_to(getattr(self, name), self.mass.shape))

    def only(self, rows: NDArray[np.intp] | slice) -> Settings:
        """Some of the settings."""
        spare, steady = self.spare[rows], self.steady[rows]
        return Settings(self.powers[rows], self.mass[rows], self.repeats[rows], spare, steady, self.fill_step)


@dataclass(frozen=True)
class Pace:
    """
    How a procedure goes on.

    Runs may end on a mark of the meter, so that the mass step is rounded to ``whole_counts``. Times: heater off in each
    run (``pause``), heater on between two runs (``gap``), least between two marks of a run (``mark_interval``, 0 where
    only start and end are read), a heater-off run after the last reading (``cooling``). [s]
    """

    whole_counts: bool
    pause: float
    gap: float
    mark_interval: float = 0.0
    cooling: float = 0.0


PACE: tuple[Given[Pace], ...] = (
    Given("pause", "s", lambda one: one.pause),
    Given("gap", "s", lambda one: one.gap),
    Given("mark_interval", "s", lambda one: one.mark_interval),
    Given("cooling", "s", lambda one: one.cooling),
)
"""What the text takes from a pace."""
DIALLED: tuple[Given[Settings], ...] = (
    Given("mass", "kg", lambda one: one.mass),
    Given("N", "1", lambda one: one.repeats),
    Given("spare", "kg", lambda one: one.spare),
    Given("fill_step", "kg", lambda one: one.fill_step),
    Given("steady", "s", lambda one: one.steady),
)
"""What the text takes from the settings, beside the powers."""


@dataclass(frozen=True)
class Runs:
    """
    One run in each setting, at one power or at each; arrays of shape (g,) or (g, p).

    Indicated fall of ``mass`` [kg], expected ``counts`` [1] and ``count_energy`` [J], both 0 where the meter counts
    nothing, equal steps between the readings (``marks``), ``time`` with the heater on [s], share of the power lost in
    the flex (``lead``) and power that makes steam (``steaming``) [W].
    """

    mass: FloatArray
    counts: FloatArray
    count_energy: FloatArray
    marks: FloatArray
    time: FloatArray
    lead: FloatArray
    steaming: FloatArray

    def at(self, column: int) -> Runs:
        """Runs at one of the powers, from runs at each."""
        return Runs(**{one.name: getattr(self, one.name)[:, column] for one in fields(self)})


@dataclass(frozen=True)
class Levels:
    """
    Water in each setting; arrays of shape (g,).

    Water at the start, on average during the runs, and at the last reading [kg]; height to the rim as the boil begins
    and at the last reading [m]; time to reach the boil, infinite where the heater is too weak [s]; ``highest`` and
    ``lowest`` are heights to the rim at the first and the last reading at each power, shape (g, p) [m].
    """

    fill: FloatArray
    mean: FloatArray
    left: FloatArray
    first_freeboard: FloatArray
    last_freeboard: FloatArray
    warm_up: FloatArray
    highest: FloatArray
    lowest: FloatArray


@dataclass(frozen=True)
class Situation:
    """
    A kit at many settings; what it asks for is in ``values``, by the symbols of ``design.setting.equations``.

    Values broadcast to (g,), or to (balances, meters, g) where a situation stands for many kits.
    """

    conditions: Conditions
    kit: Kit
    hardware: Hardware
    settings: Settings
    pace: Pace
    values: Values

    @property
    def form(self) -> Form:
        """Which equations hold."""
        return form_of(self.settings, self.pace)

    @property
    def runs(self) -> Runs:
        """One run at the highest power."""
        return self.all_runs.at(0)

    @property
    def all_runs(self) -> Runs:
        """One run at each power."""
        mass = self._at_powers("mass")
        return Runs(
            mass=mass,
            counts=self._at_powers("counts"),
            count_energy=self._at_powers("count_energy"),
            marks=self._at_powers("marks") if self.form.series else np.ones_like(mass),
            time=self._at_powers("time"),
            lead=self._at_powers("lead_share"),
            steaming=self._at_powers("steam_power"),
        )

    @property
    def levels(self) -> Levels:
        """Water, and heights to the rim."""
        return Levels(
            fill=self._each("fill"),
            mean=self._each("mean_water"),
            left=self._each("least_water"),
            first_freeboard=self._each("freeboard"),
            last_freeboard=self._each("lowest_1"),
            warm_up=self._each("warm_up"),
            highest=self._at_powers("highest"),
            lowest=self._at_powers("lowest"),
        )

    @property
    def carry_over(self) -> FloatArray:
        """Expected share thrown out as droplets at the highest power. [1]"""
        return self._each("thrown_1")

    @property
    def carry_over_scale(self) -> FloatArray:
        """Factor from the share at 1 kW and 50 mm to this setting. [1]"""
        return self._each(over("thrown_1", "carry_over_plan"))

    @property
    def time_table(self) -> tuple[tuple[str, FloatArray], ...]:
        """Stages of the lesson and their times. [s]"""
        return tuple(
            (stage, self._each(symbol)) for stage, symbol in STAGES if symbol != "cooling" or self.pace.cooling > 0.0
        )

    @property
    def total_time(self) -> FloatArray:
        """Length of lesson that each setting takes. [s]"""
        return self._each("lesson_time")

    def with_kit(self, kit: Kit) -> Situation:
        """The same settings of another kit with the same heater and vessel."""
        items, own = kit.items, self.kit.items
        constants: dict[str, FloatArray] = {}
        for role in ROLES:
            if items.get(role) is not own.get(role):
                constants |= given_of_item(role, items.get(role))
        return replace(self, kit=kit, values=self.values.changed(self.form, constants))

    def with_pace(self, pace: Pace) -> Situation:
        """The same settings at another pace, which may differ in its times."""
        return replace(self, pace=pace, values=self.values.changed(self.form, given_of(PACE, pace)))

    def over(self, shelves: Mapping[Role, Sequence[Item | None]], set_of: NDArray[np.intp]) -> Situation:
        """The same settings of every kit of some shelves, see ``given_of_shelves``."""
        return replace(self, values=self.values.changed(self.form, given_of_shelves(shelves, set_of)))

    def _each(self, text: str) -> FloatArray:
        value = self.values[text]
        return value if value.ndim else np.broadcast_to(value, self.settings.mass.shape)

    def _at_powers(self, symbol: str) -> FloatArray:
        powers = self.settings.powers.shape[1]
        return np.stack([self._each(f"{symbol}_{number}") for number in range(1, powers + 1)], axis=1)


def form_of(settings: Settings, pace: Pace) -> Form:
    """Which equations hold for settings at a pace."""
    return Form(settings.powers.shape[1], pace.whole_counts, pace.mark_interval > 0.0)


def situation_of(conditions: Conditions, kit: Kit, hardware: Hardware, settings: Settings, pace: Pace) -> Situation:
    """Work out what each setting asks of the kit."""
    powers = {numbered("P_set", place + 1): column for place, column in enumerate(settings.powers.T)}
    constants = Values(
        {
            **given_of(BENCH, conditions),
            **given_of(HARDWARE, hardware),
            **given_of(PACE, pace),
            **given_of(DIALLED, settings),
            **given_of_items(kit.items),
            **powers,
        }
    )
    values = evaluated(steps_of(form_of(settings, pace)), constants)
    return Situation(conditions, kit, hardware, settings, pace, values)


def constants_in(situation: Situation) -> tuple[InputTerm, ...]:
    """What is dialled in, what the bench knows, and what the kit is, each as a constant of a model."""
    tables: tuple[tuple[Given[Any], ...], ...] = (DIALLED, BENCH, HARDWARE, *ITEMS.values(), PACE)
    named = [(one.symbol, one.name, one.unit) for table in tables for one in table]
    powers = range(1, situation.settings.powers.shape[1] + 1)
    named += [(numbered("P_set", number), "power_set", "W") for number in powers]
    return tuple(setting(symbol, name, unit, situation.values[symbol]) for symbol, name, unit in named)
