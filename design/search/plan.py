"""What a search answers: designs with their error and its sources, and the plan made of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from budget.model.measurement import MeasurementModel
from design.chosen import Design, Purchase
from design.limits import KitLimit
from design.message import Message
from design.search.robustness import Robustness
from design.search.sureness import LASTING


@dataclass(frozen=True)
class Source:
    """
    One error source of a design, in per cent of the true value where not said otherwise.

    Parameters
    ----------
    quantity, symbol : str
        Key of its name, and symbol in the measurement model.
    bias_percent : float
        Step of the walk from the true to the expected value that this source makes.
    standard_uncertainty_percent : float
        Size of its contribution c·u to the standard uncertainty.
    share : float
        Total-order Sobol' index. [1]
    share_interval : tuple of float
        Half-width-symmetric 95 % interval of the share. [1]
    estimate, standard_uncertainty : float
        Of the input quantity, in its own unit.
    unit, distribution, evidence : str
        Unit; distribution in words; where the knowledge comes from.
    sensitivity_coefficient : float
        Derivative of the reported latent heat. [J/kg per unit of the input]
    scatter : bool
        True where repeats average it.
    """

    quantity: str
    symbol: str
    bias_percent: float
    standard_uncertainty_percent: float
    share: float
    share_interval: tuple[float, float]
    estimate: float
    standard_uncertainty: float
    unit: str
    distribution: str
    evidence: str
    sensitivity_coefficient: float
    scatter: bool


@dataclass(frozen=True)
class Tried:
    """A design with what the search makes small, on the shared sample. [1]"""

    design: Design
    objective: float

    @property
    def objective_percent(self) -> float:
        """What is made small. [%]"""
        return 100.0 * self.objective

    @property
    def order(self) -> tuple[object, ...]:
        """Key that sorts: what is made small, then what sorts equally good designs."""
        return (self.objective, *self.design.order)


@dataclass(frozen=True, kw_only=True)
class RankedDesign:
    """
    One design with what to expect of it: a row of the plan.

    Parameters
    ----------
    design : Design
        What is used, and how.
    expected_J_per_kg, bias_percent, standard_uncertainty_percent, rms_error_percent : float
        Of the reported latent heat.
    interval_percent : tuple of float
        Interval of the error at the coverage asked.
    objective_percent : float
        What the search made small.
    best_probability : float
        Probability that its error is the least as what could be learnt varies.
    sources : tuple of Source
        Ranked by share.
    numerical_error_percent : float
        How far ``objective_percent`` may be off because the sample is finite.
    within_margin_probability : float
        Probability that its error is within the margin of the least one as what could be learnt varies.
    regret_percent : float
        Its error less the least one, on average as what could be learnt varies.
    """

    design: Design
    expected_J_per_kg: float  # noqa: N815 - key of the JSON file
    bias_percent: float
    standard_uncertainty_percent: float
    rms_error_percent: float
    interval_percent: tuple[float, float]
    objective_percent: float
    best_probability: float
    sources: tuple[Source, ...]
    numerical_error_percent: float = 0.0
    within_margin_probability: float = 0.0
    regret_percent: float = 0.0

    @property
    def lesson_percent(self) -> float:
        """Standard uncertainty from lesson to lesson in one school."""
        anew = (one.standard_uncertainty_percent for one in self.sources if one.symbol not in LASTING)
        return math.hypot(*anew, 0.0)


@dataclass(frozen=True)
class ErrorMap:
    """
    Error of the recommended kit over power, shape (p,), and mass, shape (m,).

    ``objective_percent`` is what the search made small, shape (m, p); ``limit`` the first limit that each setting
    breaks, by its key, empty where it is feasible.
    """

    powers_W: np.ndarray  # noqa: N815
    masses_kg: np.ndarray
    objective_percent: np.ndarray
    limit: np.ndarray


@dataclass(frozen=True)
class NearMiss:
    """A design that breaks few limits: what it is, the limits with what would mend each, and a vessel that would do."""

    items: tuple[str, ...]
    procedure: str
    powers_W: tuple[float, ...]  # noqa: N815
    mass_kg: float
    repeats: int
    limits: tuple[Message, ...]
    vessel: Message | None = None


@dataclass(frozen=True)
class Rung:
    """
    One purchase of the ladder, for all groups, and the best design with all that is owned or bought by then.

    ``bought`` is one item, or several where one alone would not help. ``price`` is of this purchase, ``spent`` of all
    up to it. ``lowered_percent`` is all of what the search makes small where nothing could be done before.
    """

    bought: tuple[Purchase, ...]
    price: float
    spent: float
    lowered_percent: float
    choice: Tried


@dataclass(frozen=True)
class Ladder:
    """
    What to buy next, one purchase at a time.

    Parameters
    ----------
    today_percent : float or None
        Error of what is done today.
    start : Tried or None
        The best with what is in the cupboard; None where that is not enough for any design.
    rungs : tuple of Rung
        Purchases in order, each the one that lowers the error most per unit of money.
    ends : {"nothing helps", "purse is empty"}
        Why there is no further purchase; nothing helps where nothing within the purse or a little more would.
    """

    today_percent: float | None
    start: Tried | None
    rungs: tuple[Rung, ...]
    ends: str


@dataclass(frozen=True)
class MovedLimit:
    """What moving one limit by a step would bring: the fall of the error, and the best design then."""

    limit: str
    step: float
    unit: str
    lowered_percent: float
    choice: Tried


@dataclass(frozen=True)
class OwnedItem:
    """
    What an item of the cupboard is worth.

    Whether the recommended design uses it, and the error of the best design that uses it and of the best that does
    not; None where there is none.
    """

    role: str
    name: str
    used: bool
    with_percent: float | None
    without_percent: float | None


@dataclass(frozen=True)
class Trial:
    """What a trial before the purchase lowers the error by, and the probability that the best is then chosen."""

    trial: str
    choosing_percent: float
    correcting_percent: float
    best_probability: float


@dataclass(frozen=True)
class Answers:
    """
    What a plan answers beside the ranking.

    Parameters
    ----------
    ladder : Ladder
        What to buy next.
    limits, of_kit : tuple of MovedLimit, of KitLimit
        What more time, current or money would bring; what other limits would on which the recommended design stands.
    owned : tuple of OwnedItem
        What each item of the cupboard is worth.
    tied : tuple of int
        Rows of the ranking that cannot be told apart from its first, which is among them.
    trials : tuple of Trial
        Trials that would tell them apart, the most valuable first.
    robustness : Robustness or None
        The plan where assumptions are otherwise.
    discarded, sampled : int
        Feasible combinations that the closed form ruled out, and those that had to be sampled.
    """

    ladder: Ladder
    limits: tuple[MovedLimit, ...]
    owned: tuple[OwnedItem, ...]
    tied: tuple[int, ...]
    trials: tuple[Trial, ...]
    discarded: int
    sampled: int
    of_kit: tuple[KitLimit, ...] = ()
    robustness: Robustness | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """
    The answer to a bench.

    Parameters
    ----------
    pressure, boiling_point, latent_heat : float
        Reference at room pressure. [Pa, °C, J/kg]
    considered, feasible : int
        Numbers of combinations.
    rejected : mapping of str to int
        Combinations by the key of the first limit each breaks.
    recommended, current : RankedDesign or None
        The best, and today's kit in the usual way.
    cheapest : RankedDesign or None
        The cheapest within the margin of the best.
    ranking, frontier : tuple of RankedDesign
        Best first (one row a kit, procedure and correction); cheapest first.
    error_map : ErrorMap or None
        Over mass and power for the recommended kit.
    model, current_model : MeasurementModel or None
        Measurement models of the recommended and of the current design.
    near_misses : tuple of NearMiss
        Filled where nothing is feasible.
    cautions : tuple of Message
        What the reader must know, safety first.
    answers : Answers or None
        Ladder, limits, ties; None where nothing is feasible.
    searched_share : float
        Part of the search that was done: less than 1 where it was stopped. [1]
    reused_share : float
        Part of it that an earlier, stopped search had done; nothing in the answer depends on it. [1]
    """

    bench_name: str
    scenario: str
    seed: int
    trials: int
    coverage: float
    currency: str
    groups: int
    lesson_minutes: float
    objective: str
    margin_percent: float
    pressure: float
    boiling_point: float
    latent_heat: float
    considered: int
    feasible: int
    rejected: Mapping[str, int]
    recommended: RankedDesign | None
    current: RankedDesign | None
    cheapest: RankedDesign | None
    ranking: tuple[RankedDesign, ...]
    frontier: tuple[RankedDesign, ...]
    error_map: ErrorMap | None
    model: MeasurementModel | None
    current_model: MeasurementModel | None
    near_misses: tuple[NearMiss, ...]
    cautions: tuple[Message, ...]
    answers: Answers | None = None
    searched_share: float = 1.0
    reused_share: float = 0.0
