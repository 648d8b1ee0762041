"""Tables of a bench file as pydantic models: which keys there are and what each may hold."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, InstanceOf, model_validator

from design.bench import READING_RULES, Objective, ReadingRule
from design.bench_files.defaults import JacketText, MaterialText
from design.bench_files.fields import SHARE, Choice, Count, Flag, Listing, Number, Owned, Quantity, Text, refuse
from design.kit import Jacket
from design.procedures.face import Correction as CorrectionName
from design.procedures.registry import PROCEDURES

CORRECTIONS: tuple[str, ...] = get_args(CorrectionName)
"""Identifiers of the corrections."""

HEATING_POWER = Quantity("a power", "W", "1.4 kW", "1 W", "20 kW")
MASS_STEP = Quantity("a mass", "kg", "120 g", "0.1 g", "10 kg")


@dataclass(frozen=True)
class MassAccuracy:
    """Limit of error of a mass set: relative [1] or of each mass [kg]; the other is ``None``."""

    relative: float | None = None
    absolute: float | None = None


@dataclass(frozen=True)
class MassAccuracyText:
    """A share such as "0.5 %", or a mass such as "0.2 g" that holds for each mass."""

    right: str = 'write a share such as "0.5 %", or the limit of each mass such as "0.2 g"'

    def __call__(self, value: Any) -> MassAccuracy:
        """Read a value, or refuse it."""
        if isinstance(value, str) and value.strip().endswith("g"):
            absolute = Quantity("a mass", "kg", "0.2 g", "0 g", "1 kg")(value)
            return MassAccuracy(absolute=absolute)
        if isinstance(value, str):
            return MassAccuracy(relative=Quantity("a share", SHARE, "0.5 %", "0 %", "20 %")(value))
        raise refuse("must be a share or a mass in quotes", self.right)


@dataclass(frozen=True)
class ControlText:
    """``"none"``, ``"stepless"``, or the list of powers of a stepped controller."""

    right: str = 'write "none", "stepless" or a list of powers such as ["0.5 kW", "1 kW"]'

    def __call__(self, value: Any) -> str | tuple[float, ...]:
        """Read a value, or refuse it."""
        if isinstance(value, str):
            word = value.strip().casefold()
            if word in {"none", "stepless"}:
                return word
            raise refuse("is not a control known here", self.right)
        if not isinstance(value, list) or not value:
            raise refuse("must be a word or a list of powers", self.right)
        return tuple(HEATING_POWER(power) for power in value)


def _quantity(what: str, unit: str, example: str, low: str, high: str) -> BeforeValidator:
    return BeforeValidator(Quantity(what, unit, example, low, high))


Share = Annotated[float, _quantity("a share", SHARE, "2 %", "0 %", "100 %")]
HeatingPower = Annotated[float, BeforeValidator(HEATING_POWER)]
MassStep = Annotated[float, BeforeValidator(MASS_STEP)]
Voltage = Annotated[float, _quantity("a voltage", "V", "230 V", "1 V", "1000 V")]
Current = Annotated[float, _quantity("a current", "A", "13 A", "0.1 A", "200 A")]
Reading = Annotated[float, _quantity("a mass", "kg", "0.1 g", "0 g", "100 g")]
YesNo = Annotated[bool, BeforeValidator(Flag())]
Name = Annotated[str, BeforeValidator(Text("a name", "Beam balance"))]
Procedure = Annotated[
    str, BeforeValidator(Choice(tuple(dict.fromkeys(procedure.identifier for procedure in PROCEDURES))))
]
Correction = Annotated[str, BeforeValidator(Choice(CORRECTIONS))]
Repeats = Annotated[int, BeforeValidator(Count("a number of runs", "3", 1, 100))]
ReadingWord = Annotated[ReadingRule, BeforeValidator(Choice(READING_RULES))]
Spare = Annotated[float, _quantity("a mass of water", "kg", "0.12 kg", "0 kg", "100 kg")]
LossTable = Any


class Table(BaseModel):
    """A table of the file; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class HeadTable(Table):
    """What stands before the first table."""

    name: Annotated[str, BeforeValidator(Text("a name for the bench", "Upper laboratory"))]
    scenario: Annotated[str, BeforeValidator(Text("a word", "invented", blank=True))] = ""


class RoomTable(Table):
    """``[room]``."""

    temperature: Annotated[float, _quantity("a temperature", "K", "21 degC", "-10 degC", "60 degC")]
    altitude: Annotated[float | None, _quantity("an altitude", "m", "120 m", "-430 m", "5500 m")] = None
    pressure: Annotated[float | None, _quantity("a pressure", "Pa", "98.2 kPa", "50 kPa", "110 kPa")] = None


class SupplyTable(Table):
    """``[supply]``."""

    voltage: Annotated[float, _quantity("a voltage", "V", "230 V", "1 V", "500 V")]
    current_limit: Current
    tolerance: Annotated[float | None, _quantity("a share", SHARE, "6 %", "0 %", "30 %")] = None


class LessonTable(Table):
    """``[lesson]``."""

    length: Annotated[float, _quantity("a time", "s", "70 min", "1 min", "48 h")]
    handling: Annotated[float | None, _quantity("a time", "s", "15 min", "0 min", "24 h")] = None
    groups: Annotated[int | None, BeforeValidator(Count("a number of groups", "1", 1, 1000))] = None

    @model_validator(mode="after")
    def _handling_leaves_time(self) -> LessonTable:
        if self.handling is not None and self.handling >= self.length:
            raise refuse(
                "handling leaves no time of the lesson",
                "make handling shorter than length",
                ("handling", "length"),
            )
        return self


class PurseTable(Table):
    """``[purse]``."""

    currency: Annotated[str, BeforeValidator(Text("a currency", "EUR"))]
    amount: Annotated[float, BeforeValidator(Number("an amount of money", "180", 0.0, 1e9))]


class ObserverTable(Table):
    """``[observer]``."""

    reaction_time: Annotated[float | None, _quantity("a time", "s", "0.3 s", "0 s", "10 s")] = None
    tipping: Annotated[float | None, _quantity("a mass", "kg", "0.2 g", "0 g", "100 g")] = None


class SearchTable(Table):
    """``[search]``."""

    powers: Annotated[tuple[HeatingPower, ...], BeforeValidator(Listing('["0.7 kW", "1.4 kW"]'))] = ()
    masses: Annotated[tuple[MassStep, ...], BeforeValidator(Listing('["0.12 kg", "0.25 kg"]'))] = ()
    repeats: Annotated[tuple[Repeats, ...], BeforeValidator(Listing("[1, 3]"))] = ()
    procedures: Annotated[tuple[Procedure, ...], BeforeValidator(Listing('["whole-counts"]'))] = ()
    corrections: Annotated[tuple[Correction, ...], BeforeValidator(Listing('["none", "calculated"]'))] = ()
    readings: Annotated[tuple[ReadingWord, ...], BeforeValidator(Listing('["plain", "timed"]'))] = ()
    spare_water: Annotated[tuple[Spare, ...], BeforeValidator(Listing('["0 kg", "0.12 kg"]'))] = ()
    objective: Annotated[
        Objective | None,
        BeforeValidator(Choice(("rms error", "standard uncertainty", "expanded uncertainty", "worst error"))),
    ] = None
    coverage: Annotated[float | None, BeforeValidator(Number("a share", "0.95", 0.5, 0.9999, percent=True))] = None
    margin: Annotated[float | None, _quantity("a share", SHARE, "0.2 %", "0 %", "20 %")] = None


class RoleTable(Table):
    """A name for each role: ``items`` of ``[current]``, and ``[shelves]``."""

    balance: Name | None = None
    meter: Name | None = None
    heater: Name | None = None
    vessel: Name | None = None
    mass_set: Name | None = None
    jacket: Name | None = None
    lid: Name | None = None
    guard: Name | None = None


class CurrentTable(Table):
    """``[current]``."""

    items: Any = None
    procedure: Procedure | None = None
    correction: Correction | None = None
    power: HeatingPower | None = None
    mass: MassStep | None = None
    repeats: Repeats | None = None
    reading: ReadingWord | None = None
    fill: Annotated[float | None, _quantity("a mass of water", "kg", "1.2 kg", "10 g", "100 kg")] = None


class ItemTable(Table):
    """What every shelf item may say."""

    name: Name
    price: Annotated[float | None, BeforeValidator(Number("a price", "45", 0.0, 1e7))] = None
    owned: Annotated[int | None, BeforeValidator(Owned())] = None
    note: Annotated[str, BeforeValidator(Text("a note", "on the top shelf", blank=True))] = ""
    accept_unsuitable: YesNo = False


class BalanceTable(ItemTable):
    """``[[balance]]``."""

    kind: Annotated[Literal["beam", "electronic"], BeforeValidator(Choice(("beam", "electronic")))]
    resolution: Annotated[float, _quantity("a mass", "kg", "0.1 g", "0.01 mg", "100 g")]
    capacity: Annotated[float, _quantity("a mass", "kg", "2.1 kg", "10 g", "200 kg")]
    repeatability: Reading | None = None
    linearity: Reading | None = None
    splash_proof: YesNo | None = None
    stability_filter: YesNo | None = None
    works_warm: YesNo | None = None

    @model_validator(mode="after")
    def _capacity_above_resolution(self) -> BalanceTable:
        if self.resolution >= self.capacity:
            raise refuse(
                "resolution is not finer than capacity",
                "check the units of resolution and capacity",
                ("resolution", "capacity"),
            )
        return self


class MeterTable(ItemTable):
    """``[[meter]]``."""

    kind: Annotated[
        Literal["disk", "pulse", "display", "volt-ampere", "joule"],
        BeforeValidator(Choice(("disk", "pulse", "display", "volt-ampere", "joule"))),
    ]
    constant: Annotated[
        float | None,
        _quantity("a meter constant", "count/J", "375 rev/kWh", "0.01 count/kWh", "1e10 count/kWh"),
    ] = None
    step: Annotated[float | None, _quantity("an energy", "J", "0.01 kWh", "0.1 mJ", "100 kWh")] = None
    reads: Annotated[Literal["whole", "tenth"] | None, BeforeValidator(Choice(("whole", "tenth")))] = None
    accuracy: Annotated[float | None, _quantity("a share", SHARE, "2 %", "0 %", "50 %")] = None
    max_voltage: Voltage | None = None
    max_current: Current | None = None
    max_power: HeatingPower | None = None
    start_current: Annotated[float | None, _quantity("a current", "A", "20 mA", "0 A", "10 A")] = None


class HeaterTable(ItemTable):
    """``[[heater]]``."""

    power: HeatingPower
    at: Annotated[float, _quantity("a voltage", "V", "230 V", "1 V", "500 V")]
    tolerance: Annotated[float | None, _quantity("a share", SHARE, "5 %", "0 %", "50 %")] = None
    stem_diameter: Annotated[float | None, _quantity("a length", "m", "8 mm", "0.5 mm", "100 mm")] = None
    stems: Annotated[int | None, BeforeValidator(Count("a number of stems", "2", 1, 20))] = None
    minimum_depth: Annotated[float | None, _quantity("a length", "m", "60 mm", "0 mm", "1 m")] = None
    held_by: Annotated[Literal["stand", "vessel"] | None, BeforeValidator(Choice(("stand", "vessel")))] = None
    control: Annotated[str | tuple[float, ...] | None, BeforeValidator(ControlText())] = None
    flex: Annotated[float | None, _quantity("a length", "m", "2 m", "0 m", "100 m")] = None

    @model_validator(mode="after")
    def _controller_stays_below_the_nameplate(self) -> HeaterTable:
        if isinstance(self.control, tuple) and max(self.control) > self.power * (1 + 1e-9):
            raise refuse(
                "control has a power above the heater's own",
                "a controller can only lower the power: leave the larger powers out",
                ("control", "power"),
            )
        return self


class VesselTable(ItemTable):
    """``[[vessel]]``."""

    capacity: Annotated[float, _quantity("a volume", "m^3", "1.4 L", "20 mL", "100 L")]
    diameter: Annotated[float, _quantity("a length", "m", "112 mm", "10 mm", "1 m")]
    height: Annotated[float | None, _quantity("a length", "m", "160 mm", "10 mm", "2 m")] = None
    mass: Annotated[float | None, _quantity("a mass", "kg", "0.45 kg", "1 g", "50 kg")] = None
    material: Annotated[str | None, BeforeValidator(MaterialText())] = None
    jacket: Annotated[InstanceOf[Jacket] | None, BeforeValidator(JacketText())] = None
    lid: Annotated[Literal["none", "loose"] | None, BeforeValidator(Choice(("none", "loose")))] = None
    guard: Annotated[Literal["none", "deflector"] | None, BeforeValidator(Choice(("none", "deflector")))] = None
    wall_loss: LossTable = None
    base_loss: LossTable = None
    return_loss: LossTable = None
    carry_over: LossTable = None

    @property
    def mark(self) -> float:
        """Height of the water at the stated capacity, in metres."""
        return self.capacity / (math.pi * self.diameter**2 / 4)

    @model_validator(mode="after")
    def _capacity_fits_the_vessel(self) -> VesselTable:
        if self.height is not None and self.mark > 1.05 * self.height:
            brim = 1e3 * self.capacity * self.height / self.mark
            raise refuse(
                f"capacity is more than diameter and height hold, {brim:.3g} L",
                "check the three and their units: diameter and height are inside",
                ("capacity", "diameter", "height"),
            )
        if not 0.01 <= self.mark <= 2.0:
            raise refuse(
                f"capacity and diameter make the water {self.mark:.3g} m deep",
                "check both and their units",
                ("capacity", "diameter"),
            )
        return self


class MassSetTable(ItemTable):
    """``[[mass_set]]``."""

    steps: Annotated[tuple[MassStep, ...], BeforeValidator(Listing('["0.05 kg", "0.12 kg"]'))]
    accuracy: Annotated[InstanceOf[MassAccuracy] | None, BeforeValidator(MassAccuracyText())] = None


class FittingTable(ItemTable):
    """What every fitting of a vessel may say."""

    mass: Annotated[float | None, _quantity("a mass", "kg", "60 g", "0 g", "10 kg")] = None
    fits: Annotated[tuple[Name, ...], BeforeValidator(Listing('["Tall beaker"]'))] = ()


class JacketTable(FittingTable):
    """``[[jacket]]``."""

    lagging: Annotated[InstanceOf[Jacket], BeforeValidator(JacketText())]

    @model_validator(mode="after")
    def _lagging_is_something(self) -> JacketTable:
        if self.lagging == Jacket():
            raise refuse(
                "lagging is none", 'say what it is, such as "cork 10 mm", or leave the jacket out', ("lagging",)
            )
        return self


class LidTable(FittingTable):
    """``[[lid]]``."""

    kind: Annotated[Literal["loose"] | None, BeforeValidator(Choice(("loose",)))] = None


class GuardTable(FittingTable):
    """``[[guard]]``."""

    kind: Annotated[Literal["deflector"] | None, BeforeValidator(Choice(("deflector",)))] = None
