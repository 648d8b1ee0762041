"""Everything a search starts from, in SI units; ``design.bench_files.reader`` reads it from a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from budget.quantities.distributions import Distribution
from design.kit import Balance, Fitting, Heater, MassSet, Meter, Role, Vessel

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
    balances, meters, heaters, vessels, mass_sets, jackets, lids, guards : tuple
        The shelves, in file order; the last three may be empty.
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
    balances: tuple[Balance, ...]
    meters: tuple[Meter, ...]
    heaters: tuple[Heater, ...]
    vessels: tuple[Vessel, ...]
    mass_sets: tuple[MassSet, ...]
    jackets: tuple[Fitting, ...] = ()
    lids: tuple[Fitting, ...] = ()
    guards: tuple[Fitting, ...] = ()
