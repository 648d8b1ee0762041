"""The shelves: what a balance, meter, heater, vessel or mass set is, in SI units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Annotated, Any, Literal, NamedTuple

from budget.quantities.distributions import Distribution
from design.fields import (
    COMMON_PRACTICE,
    JUDGEMENT,
    SHARE,
    Choice,
    Count,
    Flag,
    Listing,
    MassAccuracy,
    Nested,
    Number,
    Owned,
    PowerSettings,
    Quantity,
    Text,
    Usual,
)
from design.materials import FILL, RIM, WALL, Jacket, JacketText

Role = Literal["balance", "meter", "heater", "vessel", "mass_set", "jacket", "lid", "guard"]
Reading = Literal["whole", "tenth", "timed"]
"""
How a count is read in passing: to the nearest turn or pulse; to the nearest tenth of one; or as whole marks of
which the one before and the one after are timed as well, so that the clock tells the part between.
"""
PassingReading = Reading | Literal[""]
"""The same, and empty where no count is read in passing."""
POWER = Quantity("a power", "1.4 kW", "W", "1 W", "20 kW")
VOLTAGE = Quantity("a voltage", "230 V", "V", "1 V", "1000 V")
CURRENT = Quantity("a current", "13 A", "A", "0.1 A", "200 A")
MASS_STEP = Quantity("a mass", "120 g", "kg", "0.1 g", "10 kg")
READING = Quantity("a mass", "0.1 g", "kg", "0 g", "100 g")
LAGGING = JacketText(help="lagging: none, foil, or a thickness and a material")
LOSSES: Mapping[str, Quantity] = MappingProxyType(
    {
        "wall_loss": Quantity("a power", "28 W", "W", "0 W", "5 kW", help="heat loss of wall and water at boiling"),
        "base_loss": Quantity("a power", "28 W", "W", "0 W", "5 kW", help="heat loss through the base at boiling"),
        "return_loss": Quantity("a power", "28 W", "W", "0 W", "5 kW", help="heat given off by steam that runs back"),
        "carry_over": Quantity(
            "a share", "0.02 %", SHARE, "0 %", "50 %", plain=True, help="carry-over at 1 kW and 50 mm of freeboard"
        ),
    }
)
"""What may be known of a vessel, and how it is read."""


@dataclass(frozen=True, kw_only=True)
class Item:
    """What every shelf item says of itself; its price is in the purse's currency."""

    name: Annotated[str, Text("a name", "Beam balance", help="name, unique on its shelf")]
    price: Annotated[
        float,
        Number("a price", "45", 0.0, 1e7, help="price of one, in the purse's currency"),
        Usual("0 or more", "stated by the bench file's form", unit="purse"),
    ] = 0.0
    owned: Annotated[
        int, Owned(help="number in the cupboard"), Usual("0 or more", "stated by the bench file's form")
    ] = 0
    note: Annotated[str, Text("a note", "on the top shelf", blank=True, help="free text, repeated in the report")] = ""
    accept_unsuitable: Annotated[bool, Flag(help="known to be unsuitable, and wanted all the same")] = False


@dataclass(frozen=True, kw_only=True)
class Balance(Item):
    """A balance that carries the vessel while it boils; masses in kg."""

    kind: Annotated[
        Literal["beam", "electronic"],
        Choice(("beam", "electronic"), help="a beam tips, an electronic balance shows digits"),
    ]
    resolution: Annotated[
        float,
        Quantity("a mass", "0.1 g", "kg", "0.01 mg", "100 g", help="digit of the display, or least mass that tips it"),
    ]
    repeatability: Annotated[
        float,
        replace(READING, help="standard deviation of one reading of a steady load"),
        Usual("0.3 to 1", COMMON_PRACTICE, 0.5, "beam", per="resolution", order=3),
        Usual("0.5 to 2", COMMON_PRACTICE, 1.0, "electronic", per="resolution", order=3),
    ]
    linearity: Annotated[
        float,
        replace(READING, help="limit of the error of a difference of two nearby loads"),
        Usual("0 to 1", COMMON_PRACTICE, 0.0, "beam", per="resolution", order=3),
        Usual("1 to 3", COMMON_PRACTICE, 1.0, "electronic", per="resolution", order=3),
    ]
    capacity: Annotated[float, Quantity("a mass", "2.1 kg", "kg", "10 g", "200 kg", help="largest load")]
    splash_proof: Annotated[
        bool,
        Flag(help="bears drops and steam"),
        Usual("yes or no", COMMON_PRACTICE, True, "beam"),
        Usual("yes or no", COMMON_PRACTICE, False, "electronic", order=1),
    ]
    stability_filter: Annotated[
        bool,
        Flag(help="freezes or averages a changing load"),
        Usual("yes or no", COMMON_PRACTICE, False, "beam"),
        Usual("yes or no", COMMON_PRACTICE, True, "electronic", order=1),
    ]
    works_warm: Annotated[bool, Flag(help="works under a hot vessel"), Usual("yes or no", COMMON_PRACTICE, order=2)] = (
        True
    )


@dataclass(frozen=True, kw_only=True)
class Meter(Item):
    """An energy meter; energy of one count in J, 0 where nothing is counted; limits infinite where not stated."""

    kind: Annotated[
        Literal["disk", "pulse", "display", "volt-ampere", "joule"],
        Choice(("disk", "pulse", "display", "volt-ampere", "joule"), help="how it counts"),
    ]
    energy_per_count: Annotated[
        float,
        Quantity("a meter constant", "375 rev/kWh", "count/J", "0.01 count/kWh", "1e10 count/kWh", keys=("constant",),
                 help="turns or pulses for the energy"),
        Quantity("an energy", "0.01 kWh", "J", "0.1 mJ", "100 kWh", keys=("step",),
                 help="energy of one step of the display", hint=" for the smallest step of a display"),
    ]  # fmt: skip
    reads: Annotated[
        Reading,
        Choice(("whole", "tenth"), help="how a count is read in passing"),
        Usual("whole or tenth", COMMON_PRACTICE),
    ] = "whole"
    error: Annotated[
        Distribution,
        Quantity("a share", "2 %", SHARE, "0 %", "50 %", keys=("accuracy",), help="limit of the relative error of the "
                 "energy shown, (shown - true)/true"),
        Usual("1 % to 2.5 %", "IEC 62053-11, class 2 (from a summary)", 0.02, "disk"),
        Usual("0.5 % to 2 %", "IEC 62053-21, class 1 (from memory)", 0.01, "pulse"),
        Usual("1 % to 5 %", COMMON_PRACTICE, 0.02, "joule"),
        Usual("1 % to 3 %", COMMON_PRACTICE, 0.015, "volt-ampere"),
        Usual("-25 % to -1 %", "judgement after Liikkanen & Nieminen, HIIT Technical Report 2009-1: plug-in meters "
              "mostly read low", -0.08, "display", "error.low"),
        Usual("1 % to 5 %", "judgement after the same report", 0.02, "display", "error.high"),
    ]  # fmt: skip
    max_voltage: Annotated[
        float, replace(VOLTAGE, help="largest voltage it may carry"), Usual("as marked", "no limit stated")
    ] = math.inf
    max_current: Annotated[
        float, replace(CURRENT, help="largest current it may carry"), Usual("as marked", "no limit stated")
    ] = math.inf
    max_power: Annotated[
        float, replace(POWER, help="largest power it may carry"), Usual("as marked", "no limit stated")
    ] = math.inf
    start_current: Annotated[
        float,
        Quantity("a current", "20 mA", "A", "0 A", "10 A", help="current below which it does not count"),
        Usual("0 A to 0.05 A", "far below any heater's current"),
    ] = 0.0

    @property
    def fineness(self) -> float:
        """Smallest part of a count that is written down. [1]"""
        return 10.0**-self.digits

    @property
    def digits(self) -> int:
        """Decimals of a count as it is written down."""
        return {"whole": 0, "tenth": 1, "timed": 2}[self.reads]


@dataclass(frozen=True, kw_only=True)
class Heater(Item):
    """An immersion heater; lengths in m, powers in W."""

    power: Annotated[float, replace(POWER, help="power on the nameplate")]
    rated_voltage: Annotated[
        float, Quantity("a voltage", "230 V", "V", "1 V", "500 V", keys=("at",), help="voltage it was made for")
    ]
    tolerance: Annotated[
        float,
        Quantity("a share", "5 %", SHARE, "0 %", "50 %", help="limit of the difference between power and nameplate"),
        Usual("5 % to 10 %", "IEC 60335-1, 10.1 (from memory): +5 %, -10 %"),
    ] = 0.05
    stem_diameter: Annotated[
        float,
        Quantity("a length", "8 mm", "m", "0.5 mm", "100 mm", help="diameter of one stem where the surface cuts it"),
        Usual("6.5 mm to 14 mm", COMMON_PRACTICE),
    ] = 0.008
    stems: Annotated[
        int,
        Count("a number of stems", "2", 1, 20, help="number of stems the surface cuts"),
        Usual("1 to 4", COMMON_PRACTICE),
    ] = 2
    minimum_depth: Annotated[
        float,
        Quantity(
            "a length", "60 mm", "m", "0 mm", "1 m", help="water above the vessel's floor that covers the element"
        ),
        Usual("30 mm to 120 mm", COMMON_PRACTICE),
    ] = 0.06
    held_by: Annotated[
        Literal["stand", "vessel"],
        Choice(("stand", "vessel"), help="who carries it"),
        Usual("stand or vessel", COMMON_PRACTICE),
    ] = "stand"
    control: Annotated[
        Literal["none", "stepless"] | tuple[float, ...],
        PowerSettings(POWER, help="own power only, any power up to its own, or the powers of a stepped controller"),
        Usual("none, stepless or powers", COMMON_PRACTICE),
    ] = "none"
    flex: Annotated[
        float,
        Quantity("a length", "2 m", "m", "0 m", "100 m", help="length of the flex between meter and element"),
        Usual("0.5 m to 3 m", COMMON_PRACTICE),
    ] = 1.0


@dataclass(frozen=True, kw_only=True)
class Vessel(Item):
    """
    The boiling vessel; inside lengths in m, volume in m³, mass in kg.

    ``bare`` is the vessel before something was put on it: what the bench file states of losses holds for that one.
    """

    capacity: Annotated[
        float, Quantity("a volume", "1.4 L", "m^3", "20 mL", "100 L", help="volume it is sold as holding")
    ]
    diameter: Annotated[float, Quantity("a length", "112 mm", "m", "10 mm", "1 m", help="inside diameter")]
    height: Annotated[
        float,
        Quantity("a length", "160 mm", "m", "10 mm", "2 m", help="inside height"),
        Usual("1.05 to 1.3", COMMON_PRACTICE, 1.12, name="brim", unit="height over that of the nominal mark"),
    ]
    mass: Annotated[float, Quantity("a mass", "0.45 kg", "kg", "1 g", "50 kg", help="mass when empty", optional=True)]
    material: Annotated[str, WALL, Usual("six materials", COMMON_PRACTICE, order=-1)] = "glass"
    jacket: Annotated[Jacket, LAGGING, Usual("none, foil or thickness and material", COMMON_PRACTICE, "none")] = field(
        default_factory=Jacket
    )
    lid: Annotated[
        Literal["none", "loose"],
        Choice(("none", "loose"), help="a loose lid has a hole for the heater"),
        Usual("none or loose", COMMON_PRACTICE),
    ] = "none"
    guard: Annotated[
        Literal["none", "deflector"],
        Choice(("none", "deflector"), help="a deflector catches droplets below the rim"),
        Usual("none or deflector", COMMON_PRACTICE),
    ] = "none"
    fill: Annotated[float | None, replace(FILL, optional=True)] = None
    rim: Annotated[float | None, replace(RIM, optional=True)] = None
    knowledge: Annotated[
        Mapping[str, Distribution], Nested(keys=tuple(LOSSES), help="losses known for this vessel")
    ] = field(default_factory=dict)
    bare: Vessel | None = None


@dataclass(frozen=True, kw_only=True)
class Fitting(Item):
    """
    What is put round, on or over a vessel that has none of its kind; mass in kg.

    ``makes`` is what the vessel then has: lagging, a ``"loose"`` lid, a ``"deflector"``.
    """

    role: Literal["jacket", "lid", "guard"]
    makes: Annotated[
        Jacket | Literal["loose", "deflector"],
        replace(LAGGING, role="jacket", keys=("lagging",)),
        Choice(("loose",), role="lid", keys=("kind",), help="with a hole for the heater"),
        Choice(("deflector",), role="guard", keys=("kind",), help="catches droplets below the rim"),
        Usual("loose", COMMON_PRACTICE, "loose", "lid"),
        Usual("deflector", COMMON_PRACTICE, "deflector", "guard"),
    ]
    mass: Annotated[
        float,
        Quantity("a mass", "60 g", "kg", "0 g", "10 kg", help="what the balance carries of it"),
        Usual("0.05 kg to 0.4 kg", JUDGEMENT, 0.1, "jacket"),
        Usual("0.02 kg to 0.2 kg", JUDGEMENT, 0.05, "lid"),
        Usual("0.02 kg to 0.2 kg", JUDGEMENT, 0.05, "guard"),
    ]
    fits: Annotated[
        tuple[str, ...],
        Listing('["Tall beaker"]', Text("a name", "Beam balance"), help="vessels that it fits; none for every vessel"),
    ] = ()

    def goes_on(self, vessel: Vessel) -> bool:
        """Whether it can be put on a vessel."""
        taken = vessel.jacket != Jacket() if self.role == "jacket" else getattr(vessel, self.role) != "none"
        return not taken and (not self.fits or vessel.name in self.fits)


@dataclass(frozen=True, kw_only=True)
class MassSet(Item):
    """A set of masses: each mass it holds [kg] and the limit of their relative error [1]."""

    steps: Annotated[tuple[float, ...], Listing('["0.05 kg", "0.12 kg"]', MASS_STEP, help="each mass it holds")]
    accuracy: Annotated[
        float,
        MassAccuracy(help="limit of the error, as a share or of each mass"),
        Usual("0.05 % to 2 %", "slotted school masses: " + COMMON_PRACTICE, unit="1"),
    ] = 0.005


class Part(NamedTuple):
    """What plays a role in a kit: of which kind it is, and which kits have one."""

    kind: type[Item]
    had_by: Literal["every kit", "some procedures", "fitted vessels"]


ROLES: Mapping[Role, Part] = MappingProxyType(
    {
        "balance": Part(Balance, "every kit"),
        "meter": Part(Meter, "every kit"),
        "heater": Part(Heater, "every kit"),
        "vessel": Part(Vessel, "every kit"),
        "mass_set": Part(MassSet, "some procedures"),
        "jacket": Part(Fitting, "fitted vessels"),
        "lid": Part(Fitting, "fitted vessels"),
        "guard": Part(Fitting, "fitted vessels"),
    }
)
"""Every role with what plays it, in the order of the shelves."""
FITTING_ROLES: tuple[Role, ...] = tuple(role for role, part in ROLES.items() if part.had_by == "fitted vessels")
"""What a vessel may be fitted with; a kit does without where the bench offers none or none helps."""


def needed_roles(*, mass_set: bool) -> tuple[Role, ...]:
    """Roles without which there is no kit; a mass set's where the procedure needs one."""
    return tuple(
        role
        for role, part in ROLES.items()
        if part.had_by == "every kit" or (mass_set and part.had_by == "some procedures")
    )


@dataclass(frozen=True)
class Kit:
    """
    One item from each shelf; no mass set where the procedure needs none, fittings as wanted.

    The vessel is as fitted: ``fitted`` makes it so.
    """

    balance: Balance
    meter: Meter
    heater: Heater
    vessel: Vessel
    mass_set: MassSet | None = None
    fittings: tuple[Fitting, ...] = ()

    @property
    def items(self) -> dict[Role, Item]:
        """The items by role."""
        needed = needed_roles(mass_set=self.mass_set is not None)
        return {role: getattr(self, role) for role in needed} | {item.role: item for item in self.fittings}

    def read(self, reading: Reading) -> Kit:
        """The kit with its counts read in another way."""
        return replace(self, meter=replace(self.meter, reads=reading))

    @property
    def vessel_mass(self) -> float:
        """Mass of the empty vessel with all that is put on it. [kg]"""
        return self.vessel.mass + sum(fitting.mass for fitting in self.fittings)


def fitted(vessel: Vessel, fittings: tuple[Fitting, ...]) -> Vessel:
    """The vessel with what is put on it."""
    if not fittings:
        return vessel
    worn = {fitting.role: fitting.makes for fitting in fittings}
    return replace(vessel, bare=vessel, **worn)  # type: ignore[arg-type]


def kit_from(chosen: Mapping[Role, Item]) -> Kit:
    """
    Kit of one item in each role, the vessel fitted with what is chosen for it.

    Raises
    ------
    TypeError
        If an item is not of the kind of its role.
    """
    if not all(isinstance(item, ROLES[role].kind) for role, item in chosen.items()):
        raise TypeError("each item must stand on the shelf of its own kind")
    needed: dict[str, Any] = {role: chosen[role] for role in needed_roles(mass_set="mass_set" in chosen)}
    fittings: Any = tuple(chosen[role] for role in FITTING_ROLES if role in chosen)
    return Kit(**needed | {"vessel": fitted(needed["vessel"], fittings)}, fittings=fittings)
