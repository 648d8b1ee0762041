"""Everything a search starts from, in SI units; ``design.bench_files.reader`` reads it from a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Generic, Literal, TypeVar, cast

from budget.quantities.distributions import Distribution
from design.kit import FITTING_ROLES, ROLES, Balance, Fitting, Heater, Item, MassSet, Meter, Role, Vessel

AnyItem = TypeVar("AnyItem", bound=Item)
Objective = Literal["rms error", "standard uncertainty", "expanded uncertainty", "worst error"]
ReadingRule = Literal["plain", "timed"]
READING_RULES: tuple[ReadingRule, ...] = ("plain", "timed")
"""Rules for counts read in passing: as the meter's ``reads`` says, or with the marks about the reading timed."""
KNOWLEDGE_KEYS = ("wall_loss", "base_loss", "return_loss", "carry_over", "restart_cooling", "meter_error")
"""Quantities that a bench file's ``[knowledge]`` (and, but for the last two, a vessel) may state."""


@dataclass(frozen=True)
class Room:
    """The room: station pressure [Pa] and temperature [K]."""

    pressure: float
    temperature: float


@dataclass(frozen=True)
class Supply:
    """The supply: voltage [V], limit of its relative deviation [1], current limit of the circuit [A]."""

    voltage: float
    tolerance: float
    current_limit: float


@dataclass(frozen=True)
class Lesson:
    """The lesson: length and time for setting up and clearing away [s], number of groups at once."""

    length: float
    handling: float
    groups: int = 1


@dataclass(frozen=True)
class Purse:
    """The purse: a label for the currency and the amount that may be spent."""

    currency: str
    amount: float


@dataclass(frozen=True)
class Observer:
    """The observer: standard uncertainty of a timed interval [s], fineness of judging the balance point [kg]."""

    reaction_time: float
    tipping: float


@dataclass(frozen=True)
class SearchRange:
    """
    What the search may vary; an empty tuple leaves the choice to the program.

    Parameters
    ----------
    powers : tuple of float
        Powers to try on heaters with a control. [W]
    masses : tuple of float
        Mass steps to try. [kg]
    repeats : tuple of int
        Numbers of runs to try.
    procedures, corrections : tuple of str
        Identifiers of ``design.procedures``.
    readings : tuple of str
        Rules for counts read in passing, of ``READING_RULES``.
    spare_water : tuple of float
        Water beyond what covers the element to the last reading. [kg]
    objective : str
        What is made small.
    coverage : float
        Coverage probability of stated intervals. [1]
    margin : float
        Objective values closer than this count as equally good. [1, relative to the true value]
    """

    powers: tuple[float, ...] = ()
    masses: tuple[float, ...] = ()
    repeats: tuple[int, ...] = ()
    procedures: tuple[str, ...] = ()
    corrections: tuple[str, ...] = ()
    readings: tuple[ReadingRule, ...] = ()
    spare_water: tuple[float, ...] = ()
    objective: Objective = "rms error"
    coverage: float = 0.95
    margin: float = 0.002


@dataclass(frozen=True)
class Current:
    """What is done today; ``None`` where the file leaves it to the program. Power in W, mass and fill in kg."""

    items: Mapping[Role, str] = field(default_factory=dict)
    procedure: str | None = None
    correction: str | None = None
    power: float | None = None
    mass: float | None = None
    repeats: int | None = None
    reading: ReadingRule | None = None
    fill: float | None = None


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

    name: str
    scenario: str
    path: str
    room: Room
    supply: Supply
    lesson: Lesson
    purse: Purse
    observer: Observer
    search: SearchRange
    current: Current
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
