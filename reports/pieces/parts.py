"""Parts that pieces are made of: tables of text that is already written, and names of roles, stages and procedures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from design.bench import Bench
from design.chosen import Design
from design.search.plan import Plan, RankedDesign
from design.search.sample import Sample, errors_of
from reports.rendering import Origin
from reports.words import items as wording_items
from reports.words.languages import Language
from reports.words.procedures import PRESENTATIONS, Presentation

BLANK = ""
"""Cell to be written into by hand."""


@dataclass(frozen=True)
class TextTable:
    """A table whose cells are text: columns of numbers are set to the right, empty cells may be to be written into."""

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    writing: bool = False

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.headings):
                raise ValueError(f"table {self.caption!r}: {len(row)} cells under {len(self.headings)} headings")


def sentence_start(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]


RANGE_TRIALS = 2048
"""Size of the sample for the interval of the uncorrected value."""


@dataclass(frozen=True, kw_only=True)
class PieceBasis:
    """What a piece is made of; the mark tells sheets of one plan from those of another."""

    plan: Plan
    ranked: RankedDesign
    bench: Bench
    say: Language
    origin: Origin
    mark: str

    @property
    def design(self) -> Design:
        """What is used, and how."""
        return self.ranked.design

    @property
    def groups(self) -> int:
        """Groups that work at once."""
        return self.bench.lesson.groups

    @property
    def is_fixed_mass(self) -> bool:
        """Whether a mass step is put on and the balance tips."""
        return self.design.procedure.needs_mass_set

    @property
    def presented(self) -> Presentation:
        """How its procedure is presented."""
        return PRESENTATIONS[self.design.procedure.identifier]

    @property
    def timed(self) -> bool:
        """Whether the marks of the meter about each reading are timed."""
        return self.design.reading == "timed"

    @property
    def has_more(self) -> bool:
        """Whether the pieces tell of more than usual, and are set closer: things put on the vessel, or timed marks."""
        return self.timed or bool(self.design.kit.fittings)

    @property
    def mark_interval(self) -> float:
        """Time from one mark of the meter to the next at the highest power. [s]"""
        return self.design.kit.meter.energy_per_count / max(self.design.powers)

    @property
    def current(self) -> float:
        """Current of one set at its highest power. [A]"""
        return max(self.design.powers) / self.bench.supply.voltage

    @cached_property
    def uncorrected_range(self) -> tuple[float, float]:
        """Interval of the value that the readings alone give, at the coverage of the plan. [J/kg]"""
        errors = errors_of(self.design.uncorrected, Sample(RANGE_TRIALS, self.plan.seed))
        tail = 0.5 * (1.0 - self.plan.coverage)
        low, high = np.quantile(errors, [tail, 1.0 - tail])
        return self.plan.latent_heat * (1.0 + float(low)), self.plan.latent_heat * (1.0 + float(high))

    @property
    def counts_heading(self) -> str:
        """What the meter counts, as the heading of a column."""
        return self.say.name("meter", self.design.kit.meter.kind, "heading")

    def counts(self, number: float) -> str:
        """Write a number of what the meter counts, in the language's plural."""
        return self.say.several(f"meter.{self.design.kit.meter.kind}.number", number)

    def role(self, role: str) -> str:
        """Name a role."""
        return wording_items.role(role, self.say)

    def texts(self, *keys: str) -> tuple[str, ...]:
        """Words of keys."""
        return tuple(self.say.text(key) for key in keys)

    def grid(
        self, caption: str, headings: Iterable[str], rows: Iterable[Sequence[str]], numbers: Iterable[int] = (),
        *, writing: bool = False,
    ) -> TextTable:  # fmt: skip
        """Make a table with caption and headings by their keys."""
        cells = tuple(tuple(row) for row in rows)
        return TextTable(self.say.text(caption), self.texts(*headings), cells, frozenset(numbers), writing)


def given_for(plan: Plan, bench: Bench, say: Language, origin: Origin, mark: str) -> PieceBasis:
    """Put together what the pieces of a plan are made of; ValueError where it recommends nothing."""
    if plan.recommended is None:
        raise ValueError("printed pieces need a recommended design (got a plan without one)")
    return PieceBasis(plan=plan, ranked=plan.recommended, bench=bench, say=say, origin=origin, mark=mark)
