"""The shelves: what a balance, meter, heater, vessel or mass set is, in SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from budget.quantities.distributions import Distribution

Role = Literal["balance", "meter", "heater", "vessel", "mass_set", "jacket", "lid", "guard"]
Reading = Literal["whole", "tenth", "timed"]
"""
How a count is read in passing: to the nearest turn or pulse; to the nearest tenth of one; or as whole marks of
which the one before and the one after are timed as well, so that the clock tells the part between.
"""
PassingReading = Reading | Literal[""]
"""The same, and empty where no count is read in passing."""
EVERY_GROUP = 10**6
"""Number in the cupboard of an item said to be owned without a number: enough for every group."""


@dataclass(frozen=True, kw_only=True)
class Item:
    """
    What every shelf item says of itself.

    Parameters
    ----------
    name : str
        Name, unique on its shelf.
    price : float
        Price of one, in the purse's currency.
    owned : int
        Number in the cupboard.
    note : str
        Free text, repeated in the report.
    accept_unsuitable : bool
        The reader knows that the item is unsuitable and wants it all the same.
    """

    name: str
    price: float = 0.0
    owned: int = 0
    note: str = ""
    accept_unsuitable: bool = False


@dataclass(frozen=True, kw_only=True)
class Balance(Item):
    """
    A balance that carries the vessel while it boils; masses in kg.

    Parameters
    ----------
    kind : {"beam", "electronic"}
        A beam tips; an electronic balance shows digits.
    resolution : float
        Digit of the display, or the smallest mass that moves the beam. [kg]
    repeatability : float
        Standard deviation of one reading of a steady load. [kg]
    linearity : float
        Limit of the error of a difference of two nearby loads. [kg]
    capacity : float
        Largest load. [kg]
    splash_proof : bool
        Bears drops and steam.
    stability_filter : bool
        Freezes or averages a changing load.
    works_warm : bool
        Works under a hot vessel.
    """

    kind: Literal["beam", "electronic"]
    resolution: float
    repeatability: float
    linearity: float
    capacity: float
    splash_proof: bool
    stability_filter: bool
    works_warm: bool = True


@dataclass(frozen=True, kw_only=True)
class Meter(Item):
    """
    An energy meter.

    Parameters
    ----------
    kind : {"disk", "pulse", "display", "volt-ampere", "joule"}
        How it counts.
    energy_per_count : float
        Energy of one turn, pulse or display step; 0 where nothing is counted. [J]
    reads : {"whole", "tenth", "timed"}
        How a count is read.
    error : Distribution
        Relative error of the energy shown, (shown - true)/true. [1]
    max_voltage, max_current, max_power : float
        Largest it may carry; infinite where not stated. [V, A, W]
    start_current : float
        Current below which it does not count. [A]
    """

    kind: Literal["disk", "pulse", "display", "volt-ampere", "joule"]
    energy_per_count: float
    reads: Reading
    error: Distribution
    max_voltage: float
    max_current: float
    max_power: float
    start_current: float = 0.0

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
    """
    An immersion heater.

    Parameters
    ----------
    power : float
        Power on the nameplate. [W]
    rated_voltage : float
        Voltage it was made for. [V]
    tolerance : float
        Limit of the relative difference between power and nameplate. [1]
    stem_diameter : float
        Diameter of one stem where the water surface cuts it. [m]
    stems : int
        Number of stems the surface cuts.
    minimum_depth : float
        Water needed above the vessel's floor to cover the element. [m]
    held_by : {"stand", "vessel"}
        Who carries it.
    control : {"none", "stepless"} or tuple of float
        Own power only, any power up to its own, or the powers of a stepped controller. [W]
    flex : float
        Length of the flex between meter and element. [m]
    """

    power: float
    rated_voltage: float
    tolerance: float
    stem_diameter: float
    stems: int
    minimum_depth: float
    held_by: Literal["stand", "vessel"]
    control: Literal["none", "stepless"] | tuple[float, ...] = "none"
    flex: float = 0.0


@dataclass(frozen=True)
class Jacket:
    """Lagging round a vessel: thickness [m] (0 for none), conductivity [W/(m K)], outer emissivity [1]."""

    text: str = "none"
    thickness: float = 0.0
    conductivity: float = 0.04
    emissivity: float | None = None


@dataclass(frozen=True, kw_only=True)
class Vessel(Item):
    """
    The boiling vessel.

    Parameters
    ----------
    capacity : float
        Volume it is sold as holding. [m³]
    diameter, height : float
        Inside diameter and inside height. [m]
    mass : float
        Mass when empty. [kg]
    material : str
        Wall material, one of ``design.physics.losses.MATERIALS``.
    jacket : Jacket
        Lagging.
    lid : {"none", "loose"}
        A loose lid with a hole for the heater.
    guard : {"none", "deflector"}
        A deflector catches droplets below the rim.
    knowledge : mapping of str to Distribution
        Losses known for this vessel; the keys are those of ``Bench.knowledge``.
    bare : Vessel or None
        The vessel before something was put on it: what the bench file states of losses holds for that one.
    """

    capacity: float
    diameter: float
    height: float
    mass: float
    material: str
    jacket: Jacket = field(default_factory=Jacket)
    lid: Literal["none", "loose"] = "none"
    guard: Literal["none", "deflector"] = "none"
    knowledge: Mapping[str, Distribution] = field(default_factory=dict)
    bare: Vessel | None = None


@dataclass(frozen=True, kw_only=True)
class Fitting(Item):
    """
    What is put round, on or over a vessel that has none of its kind.

    Parameters
    ----------
    role : {"jacket", "lid", "guard"}
        Its shelf.
    makes : Jacket or str
        What the vessel then has: lagging, a ``"loose"`` lid, a ``"deflector"``.
    mass : float
        What the balance carries of it. [kg]
    fits : tuple of str
        Vessels that it fits, by name; empty for every vessel.
    """

    role: Literal["jacket", "lid", "guard"]
    makes: Jacket | Literal["loose", "deflector"]
    mass: float
    fits: tuple[str, ...] = ()

    def goes_on(self, vessel: Vessel) -> bool:
        """Whether it can be put on a vessel."""
        taken = vessel.jacket != Jacket() if self.role == "jacket" else getattr(vessel, self.role) != "none"
        return not taken and (not self.fits or vessel.name in self.fits)


@dataclass(frozen=True, kw_only=True)
class MassSet(Item):
    """A set of masses: each mass it holds [kg] and the limit of their relative error [1]."""

    steps: tuple[float, ...]
    accuracy: float


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
