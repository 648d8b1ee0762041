"""Proof that one design of a pair is the better one as often as the search says: campaigns on the virtual bench."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from budget.arrays import FloatArray
from budget.quantities.distributions import Lognormal
from design import chosen
from design.bench import FillLimits
from design.kit import Balance, Kit, Vessel
from design.limits import TOLERANCE, excesses
from design.materials import Jacket
from design.procedures.face import Correction
from design.procedures.registry import procedure_named
from design.rehearsal.behaviour import Truth, draw_truth
from design.rehearsal.campaign import reported_latent_heat
from design.rehearsal.playing import play_on
from design.rehearsal.script import script_of
from design.rehearsal.state import apparatus_of
from design.rehearsal.tally import written
from design.search.information import mean_squares
from design.search.ranking import Appraisal, appraise
from design.search.sample import Aim, Sample
from design.search.sureness import best_probabilities
from design.setting.hardware import conditions_of
from tests.published.test_coverage import BARE, BEAM, BENCH, MASSES, PULSE, STRONG

CAMPAIGNS = 1200
"""Truths of what the designs share: the share of campaigns that a design wins is known to 0.014 or better."""
RUNS = 6
"""
Runs of each design in a campaign, each with scatter of its own.

So few do: the mean of the squared errors has the right expected value whatever their number, and its noise turns
campaigns round both ways. By how much that moves the share won follows from the budget's own draws (``as_seen``),
before anything is played, and is less than ``NOISE`` for these pairs. For the same time at the bench many truths with
few runs say more than few truths with many.
"""
NOISE = 0.02
"""Most by which judging a campaign by ``RUNS`` runs may move the share that a design of these pairs wins. [1]"""
REACH = 3.0
"""Binomial standard errors within which the share of campaigns must lie: chance alone breaks it once in 370 pairs."""
SEED = 12
DISPLAY = replace(BEAM, name="display", kind="electronic", repeatability=3e-4, linearity=4e-4)
HIGH = replace(BARE, name="high", height=0.24)
LAGGED = replace(BARE, name="lagged", height=0.205, jacket=Jacket("12 mm felt", 0.012, 0.04))
HIGHEST = replace(LAGGED, name="highest", height=0.285)
HIGHER = replace(BARE, name="higher", height=0.26)
STATED = replace(
    BENCH,
    knowledge={"carry_over": Lognormal(0.002, 0.003)},
    limits=FillLimits(rim=-0.02),
    supply=replace(BENCH.supply, current_limit=16.0),
)
"""The bench, with droplets enough to matter from vessels that do not boil over as the heater is stated."""


@dataclass(frozen=True)
class Design:
    """One design: all have the same meter and the same stepless heater, hence the same errors of both."""

    procedure: str
    correction: Correction
    balance: Balance
    vessel: Vessel
    power: float
    mass: float
    repeats: int = 1


DESIGNS = {
    "lagged, 1.4 kW, uncorrected": Design("whole-counts", "none", DISPLAY, LAGGED, 1400.0, 0.25),
    "bare, 1.9 kW, corrected": Design("fixed-mass-kept-on", "calculated", BEAM, HIGH, 1900.0, 0.11, 2),
    "lagged, 0.7 kW, corrected": Design("whole-counts", "calculated", DISPLAY, LAGGED, 700.0, 0.12),
    "highest, 2.7 kW, corrected": Design("fixed-mass-kept-on", "calculated", BEAM, HIGHEST, 2700.0, 0.25),
    "higher, 2.3 kW, corrected": Design("fixed-mass-kept-on", "calculated", BEAM, HIGHER, 2300.0, 0.25),
}
FIRST = "lagged, 1.4 kW, uncorrected"
PAIRS = tuple((FIRST, name) for name in DESIGNS if name != FIRST)
"""
Near each other in rms error, for different reasons: the first is off by a heat loss that is small but not corrected
for; the others by what is not known of a large loss at high power, of a small one at low power, and of droplets.
"""
OF_THE_VESSEL = ("wall_loss", "base_loss", "return_loss", "carry_over")
"""What is calculated of each vessel and true by a factor that all vessels share."""


@cache
def appraised(name: str) -> Appraisal:
    """Appraise a design as the search does."""
    design = DESIGNS[name]
    procedure = procedure_named(design.procedure)
    masses = MASSES if procedure.needs_mass_set else None
    whole = chosen.Design(
        conditions=conditions_of(STATED),
        kit=Kit(design.balance, PULSE, STRONG, design.vessel, masses),
        procedure=procedure,
        correction=design.correction,
        powers=(design.power,),
        mass=design.mass,
        repeats=design.repeats,
    )
    return appraise(whole, Sample(8192, SEED), Aim("rms error", 0.95))


def claimed(pair: tuple[str, str]) -> float:
    """Probability that the first of a pair is the better one in a campaign, by which ties are told."""
    both = [appraised(name) for name in pair]
    squares = mean_squares([one.shared_error for one in both], [one.scatter_variance for one in both])
    return float(best_probabilities(np.sqrt(squares))[0])


def as_seen(errors: list[FloatArray], scatter_variances: list[float]) -> float:
    """
    Share of campaigns of ``RUNS`` runs that the first of two designs wins if the budget is right.

    The ranking's own draws of what is shared; normal scatter is added for each run, and each campaign is judged by
    its mean squared errors. Ten campaigns a draw.
    """
    generator = np.random.default_rng(SEED)
    judged = []
    for error, variance in zip(errors, scatter_variances, strict=True):
        scatter = math.sqrt(variance) * generator.standard_normal((RUNS, 10, error.size))
        judged.append(np.sqrt(np.mean((error + scatter) ** 2, axis=0)).ravel())
    return float(best_probabilities(np.stack(judged))[0])


def expected(pair: tuple[str, str]) -> float:
    """Share of campaigns that the first of a pair wins if the budget is right."""
    both = [appraised(name) for name in pair]
    return as_seen([one.shared_error for one in both], [one.scatter_variance for one in both])


def tolerance(probability: float) -> float:
    """How far the share of campaigns won may lie from its expected value."""
    return REACH * math.sqrt(probability * (1.0 - probability) / CAMPAIGNS)


@cache
def shared_truth() -> Truth:
    """Draw what is true in each campaign, once: of a design that puts masses on, so that nothing is left out."""
    owner = next(appraised(name) for name in DESIGNS if appraised(name).design.procedure.needs_mass_set)
    truth = draw_truth(owner.design.situation, CAMPAIGNS, np.random.default_rng(SEED))
    calculated = {key: owner.design.situation.hardware.knowledge[key].mean for key in OF_THE_VESSEL}
    return {**truth, **{key: truth[key] / mean for key, mean in calculated.items()}}


def truth_of(name: str) -> Truth:
    """
    What is true of every run with a design.

    The campaign's factors on what is calculated of its own vessel, and the campaign's meter, heater, supply, masses,
    flex, stems, balance and observer; the part of a count that the meter has done at the start is of each run.
    """
    shared, known = shared_truth(), appraised(name).design.situation.hardware.knowledge
    truth = {**shared, **{key: shared[key] * known[key].mean for key in OF_THE_VESSEL}}
    repeated = {key: np.repeat(values, RUNS, axis=0) for key, values in truth.items()}
    place = list(DESIGNS).index(name)
    phase = np.random.default_rng((SEED, place, 0)).random(CAMPAIGNS * RUNS)
    return {**repeated, "phase": phase}


@cache
def mean_square_errors(name: str) -> FloatArray:
    """
    Mean square error of a design in every campaign, estimated from its virtual runs.

    Without bias: the square of the mean, less s²/n for its own scatter, plus the variance s² of single runs, is the
    mean of the squares whatever the number n of runs.
    """
    appraisal = appraised(name)
    situation = appraisal.design.situation
    script = script_of(appraisal.design.procedure, situation)
    generator = np.random.default_rng((SEED, list(DESIGNS).index(name), 1))
    played = play_on(apparatus_of(situation, truth_of(name)), script, generator)
    reported = reported_latent_heat(appraisal.design, written(played))
    errors = reported / situation.conditions.water.latent_heat - 1.0
    return np.asarray(np.mean(errors.reshape(CAMPAIGNS, RUNS) ** 2, axis=1))


def named(pair: tuple[str, str]) -> str:
    """Name of a pair in the list of tests."""
    return "-against-".join(pair).replace(" ", "_").replace(",", "")


@pytest.mark.slow
@pytest.mark.parametrize("pair", PAIRS, ids=named)
def test_the_better_of_two_designs_is_so_in_as_many_campaigns_as_the_ranking_says(pair: tuple[str, str]) -> None:
    # A campaign has one truth of all that both designs share; each is then played with scatter of its own, and the one
    # with the smaller mean square error has won. The time-stepped bench is written apart from the measurement equations
    # that the ranking draws from. Both bounds follow from CAMPAIGNS, RUNS and the budget alone (binomial distribution).
    first, second = (mean_square_errors(name) for name in pair)
    won = float(np.mean(first < second))

    assert np.all(np.isfinite(first + second))
    assert won == pytest.approx(expected(pair), abs=tolerance(expected(pair)))
    assert won == pytest.approx(claimed(pair), abs=tolerance(claimed(pair)) + NOISE)


@pytest.mark.parametrize("pair", PAIRS, ids=named)
def test_the_pairs_are_close_but_differ_in_what_is_shared_and_in_scatter(pair: tuple[str, str]) -> None:
    first, second = (appraised(name) for name in pair)

    assert abs(math.log(first.objective / second.objective)) < 0.3
    assert abs(math.log(first.scatter_variance / second.scatter_variance)) > 0.5
    assert np.corrcoef(first.shared_error, second.shared_error)[0, 1] < 0.95
    assert 0.2 < claimed(pair) < 0.8
    for one in (first, second):
        limits = one.design.limits
        assert np.all(excesses(limits) <= TOLERANCE)


def test_one_pair_is_about_even_and_one_is_not() -> None:
    distances = [abs(claimed(pair) - 0.5) for pair in PAIRS]

    assert min(distances) < 0.1
    assert max(distances) > 0.2


@pytest.mark.parametrize("pair", PAIRS, ids=named)
def test_few_runs_in_a_campaign_hardly_move_the_share_that_a_design_wins(pair: tuple[str, str]) -> None:
    assert expected(pair) == pytest.approx(claimed(pair), abs=NOISE)


def test_the_same_factor_is_true_of_every_vessel() -> None:
    for key in OF_THE_VESSEL:
        known = [appraised(name).design.situation.hardware.knowledge[key] for name in DESIGNS]
        spreads = [one.standard_uncertainty / one.mean for one in known]

        assert spreads == pytest.approx([spreads[0]] * len(spreads), rel=1e-12)


def test_the_campaigns_can_tell_a_ranking_that_forgets_scatter_or_shared_knowledge() -> None:
    # The study would prove nothing if it passed these as well: scatter left out, and knowledge that each design has
    # for itself instead of sharing it.
    even = min(PAIRS, key=lambda pair: abs(claimed(pair) - 0.5))
    first, second = (appraised(name).shared_error for name in even)
    assert abs(as_seen([first, second], [0.0, 0.0]) - expected(even)) > 2.0 * tolerance(expected(even))

    uneven = (FIRST, "lagged, 0.7 kW, corrected")
    first, second = (appraised(name).shared_error for name in uneven)
    alone = [first, np.random.default_rng(SEED).permutation(second)]
    scatter = [appraised(name).scatter_variance for name in uneven]
    assert abs(as_seen(alone, scatter) - expected(uneven)) > tolerance(expected(uneven))
