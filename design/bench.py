"""Everything a search starts from, in SI units; ``design.bench_files.reader`` reads it from a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Annotated, Generic, Literal, TypeVar, cast, get_args

from budget.quantities.distributions import Distribution
from design.fields import (
    COMMON_PRACTICE,
    JUDGEMENT,
    SHARE,
    Among,
    Choice,
    Count,
    Listing,
    Nested,
    Number,
    Quantity,
    Text,
    Usual,
)
from design.kit import (
    CURRENT,
    FITTING_ROLES,
    LOSSES,
    MASS_STEP,
    POWER,
    ROLES,
    Balance,
    Fitting,
    Heater,
    Item,
    MassSet,
    Meter,
    Role,
    Vessel,
)
from design.materials import FILL, RIM

AnyItem = TypeVar("AnyItem", bound=Item)
Objective = Literal["rms error", "standard uncertainty", "expanded uncertainty", "worst error", "least regret"]
ReadingRule = Literal["plain", "timed"]
READING_RULES: tuple[ReadingRule, ...] = ("plain", "timed")
"""Rules for counts read in passing: as the meter's ``reads`` says, or with the marks about the reading timed."""
KNOWLEDGE: Mapping[str, Quantity] = MappingProxyType(
    {
        **LOSSES,
        "restart_cooling": Quantity("an energy", "1.2 kJ", "J", "0 J", "10 MJ", help="energy of a restart"),
        "meter_error": Quantity(
            "a share", "-2 %", SHARE, "-50 %", "50 %", plain=True, help="relative error of the energy meter"
        ),
    }
)
"""Quantities that a bench file's ``[knowledge]`` may state, and how they are read."""
REPEATS = Count("a number of runs", "3", 1, 100)


@dataclass(frozen=True)
class Room:
    """The room: station pressure [Pa] and temperature [K]."""

    pressure: Annotated[
        float,
        Quantity(
            "a pressure", "98.2 kPa", "Pa", "50 kPa", "110 kPa", hint=" as read in the room", help="station pressure"
        ),
        Quantity("an altitude", "120 m", "m", "-430 m", "5500 m", keys=("altitude",), help="height above the sea"),
    ]
    temperature: Annotated[float, Quantity("a temperature", "21 degC", "K", "-10 degC", "60 degC", help="of the air")]


@dataclass(frozen=True)
class Supply:
    """The supply: voltage [V], limit of its relative deviation [1], current limit of the circuit [A]."""

    voltage: Annotated[float, Quantity("a voltage", "230 V", "V", "1 V", "500 V", help="of the mains")]
    tolerance: Annotated[
        float,
        Quantity("a share", "6 %", SHARE, "0 %", "30 %", help="limit of the voltage's deviation"),
        Usual("2 % to 10 %", "EN 50160 allows 10 %; 6 % is judgement", 0.06),
    ]
    current_limit: Annotated[float, replace(CURRENT, help="current limit of the circuit")]


@dataclass(frozen=True)
class Lesson:
    """The lesson: length and time for setting up and clearing away [s], number of groups at once."""

    length: Annotated[float, Quantity("a time", "70 min", "s", "1 min", "48 h", help="all of it")]
    handling: Annotated[
        float,
        Quantity("a time", "15 min", "s", "0 min", "24 h", help="time for setting up and clearing away"),
        Usual("10 min to 25 min", COMMON_PRACTICE, 900.0),
    ]
    groups: Annotated[
        int, Count("a number of groups", "1", 1, 1000, help="groups at once"), Usual("1 to 12", COMMON_PRACTICE)
    ] = 1


@dataclass(frozen=True)
class Purse:
    """The purse: a label for the currency, the amount that may be spent, and the part of it that is small change."""

    currency: Annotated[str, Text("a currency", "EUR", help="label of the currency")]
    amount: Annotated[float, Number("an amount of money", "180", 0.0, 1e9, help="what may be spent")]
    margin: Annotated[
        float,
        Quantity("a share", "5 %", SHARE, "0 %", "100 %", help="price differences below this part of it are none"),
        Usual("2 % to 10 %", JUDGEMENT),
    ] = 0.05

    @property
    def difference(self) -> float:
        """Least difference between two prices that counts."""
        return self.margin * self.amount


@dataclass(frozen=True)
class Observer:
    """The observer: standard uncertainty of a timed interval [s], fineness of judging the balance point [kg]."""

    reaction_time: Annotated[
        float,
        Quantity("a time", "0.3 s", "s", "0 s", "10 s", help="standard uncertainty of a timed interval"),
        Usual("0.1 s to 0.5 s", "judgement, above the 0.10 s of an expected signal", 0.3),
    ]
    tipping: Annotated[
        float,
        Quantity("a mass", "0.2 g", "kg", "0 g", "100 g", help="fineness of judging the balance point"),
        Usual("0.1 g to 1 g", JUDGEMENT, 0.0002),
    ]


@dataclass(frozen=True)
class SearchRange:
    """What the search may vary, SI; an empty tuple leaves the choice to the program."""

    powers: Annotated[
        tuple[float, ...],
        Listing('["0.7 kW", "1.4 kW"]', POWER, once=True, help="powers to try on heaters with a control"),
    ] = ()
    masses: Annotated[
        tuple[float, ...], Listing('["0.12 kg", "0.25 kg"]', MASS_STEP, once=True, help="mass steps to try")
    ] = ()
    repeats: Annotated[tuple[int, ...], Listing("[1, 3]", REPEATS, once=True, help="numbers of runs to try")] = ()
    procedures: Annotated[
        tuple[str, ...], Listing('["whole-counts"]', Among("procedures"), once=True, help="procedures to try")
    ] = ()
    corrections: Annotated[
        tuple[str, ...], Listing('["none", "calculated"]', Among("corrections"), once=True, help="corrections to try")
    ] = ()
    readings: Annotated[
        tuple[ReadingRule, ...],
        Listing('["plain", "timed"]', Choice(READING_RULES), once=True, help="rules for counts read in passing"),
    ] = ()
    spare_water: Annotated[
        tuple[float, ...],
        Listing('["0 kg", "0.12 kg"]', Quantity("a mass of water", "0.12 kg", "kg", "0 kg", "100 kg"), once=True,
                help="water beyond what covers the element to the last reading"),
    ] = ()  # fmt: skip
    objective: Annotated[
        Objective, Choice(get_args(Objective), help="what is made small"), Usual("five words", JUDGEMENT)
    ] = "rms error"
    coverage: Annotated[
        float,
        Number("a share", "0.95", 0.5, 0.9999, percent=True, help="coverage probability of stated intervals"),
        Usual("0.5 to 0.9999", "JCGM 100:2008, 6.2 (from memory)", unit="1"),
    ] = 0.95
    margin: Annotated[
        float,
        Quantity("a share", "0.2 %", SHARE, "0 %", "20 %", help="objective values closer than this are equally good"),
        Usual("0.1 % to 1 %", JUDGEMENT),
    ] = 0.002


@dataclass(frozen=True)
class FillLimits:
    """How full a vessel may boil: water, cold, over what it holds brimful [1]; rim over the swollen surface [m]."""

    fill: Annotated[
        float | None,
        FILL,
        Usual("1/2 to 2/3", f"{COMMON_PRACTICE}; half where the surface rises by over a third", "2/3"),
    ] = None
    rim: Annotated[float, RIM, Usual("5 mm to 30 mm", JUDGEMENT)] = 0.010


@dataclass(frozen=True)
class Current:
    """What is done today; ``None`` where the file leaves it to the program. Power in W, mass and fill in kg."""

    items: Annotated[Mapping[Role, str], Nested(help="items in use, by role")] = field(default_factory=dict)
    procedure: Annotated[str | None, Among("procedures", help="procedure of today")] = None
    correction: Annotated[str | None, Among("corrections", help="correction of today")] = None
    power: Annotated[float | None, replace(POWER, help="heating power")] = None
    mass: Annotated[float | None, replace(MASS_STEP, help="mass boiled away in a run")] = None
    repeats: Annotated[int | None, replace(REPEATS, help="number of runs")] = None
    reading: Annotated[ReadingRule | None, Choice(READING_RULES, help="how counts are read in passing")] = None
    fill: Annotated[
        float | None, Quantity("a mass of water", "1.2 kg", "kg", "10 g", "100 kg", help="water at the start")
    ] = None


class _Shelf(Generic[AnyItem]):
    """A shelf of the bench as a read-only attribute, its items of their own kind."""

    def __init__(self, role: Role) -> None:
        self.role = role

    def __get__(self, bench: Bench, owner: type[Bench]) -> tuple[AnyItem, ...]:
        return cast("tuple[AnyItem, ...]", bench.shelves[self.role])


@dataclass(frozen=True, kw_only=True)
class Bench:
    """
    Everything a search starts from.

    Parameters
    ----------
    name, scenario, path : str
        Name of the bench; ``"invented"`` on examples; the file it was read from.
    knowledge : mapping of str to Distribution
        Losses stated in the file: W for ``wall_loss``, ``base_loss`` and ``return_loss``, share for
        ``carry_over``, J for ``restart_cooling``, relative for ``meter_error``.
    shelves : mapping of str to tuple of Item
        Items of every role, in file order; a role left out has an empty shelf.
    """

    name: Annotated[str, Text("a name for the bench", "Upper laboratory")]
    scenario: Annotated[str, Text("a word", "invented", blank=True)] = ""
    path: str
    room: Room
    supply: Supply
    lesson: Lesson
    purse: Purse
    observer: Observer
    search: SearchRange
    current: Current
    limits: FillLimits = field(default_factory=FillLimits)
    knowledge: Mapping[str, Distribution]
    shelves: Mapping[Role, tuple[Item, ...]]

    balances = _Shelf[Balance]("balance")
    meters = _Shelf[Meter]("meter")
    heaters = _Shelf[Heater]("heater")
    vessels = _Shelf[Vessel]("vessel")
    mass_sets = _Shelf[MassSet]("mass_set")

    def __post_init__(self) -> None:
        if not ROLES.keys() >= self.shelves.keys():
            raise TypeError(f"a shelf must be that of a role ({', '.join(ROLES)}), got {', '.join(self.shelves)}")
        object.__setattr__(self, "shelves", {role: self.shelves.get(role, ()) for role in ROLES})

    @property
    def fittings(self) -> tuple[tuple[Fitting, ...], ...]:
        """What may be put on a vessel: the shelves of ``FITTING_ROLES``."""
        return cast("tuple[tuple[Fitting, ...], ...]", tuple(self.shelves[role] for role in FITTING_ROLES))

    def with_shelves(self, **items: tuple[Item, ...]) -> Bench:
        """The bench with other items in the roles named."""
        shelves = cast("Mapping[Role, tuple[Item, ...]]", {**self.shelves, **items})
        return replace(self, shelves=shelves)
