"""Which single cause explains all the data best, and which further run would tell."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from design.evaluation.causes import Cause, Data, causes_of
from design.evaluation.measured import Measured, steps_used, symbols_used

LEAST_RATIO = 10.0
"""Likelihood ratio below which two causes count as inseparable."""
AS_KNOWN_PROBABILITY = 0.5
"""Probability, before the readings, that nothing is wrong beyond the bench's knowledge (judgement)."""
SLIP = "slip"
"""Key of a slip of the pen."""
LOWER_POWER = 0.5
"""Share of the power at which a further run is imagined."""
CHECK_UNCERTAINTY = 0.5
"""Standard uncertainty of a check of meter or masses against better ones. [%] (judgement)"""
TELLING = 2.0
"""Standard uncertainties that the two readings must lie apart for the run to tell the suspects apart (judgement)."""


@dataclass(frozen=True)
class Suspects:
    """
    What could be wrong.

    Parameters
    ----------
    as_known : float
        Probability that nothing is, beyond what the bench's knowledge allows. [1]
    ranked : tuple of Suspect
        Single causes, the likeliest first.
    """

    as_known: float
    ranked: tuple[Suspect, ...]

    @property
    def inseparable(self) -> tuple[Suspect, ...]:
        """The likeliest with all that these readings cannot tell from it."""
        return tuple(one for one in self.ranked if one.ratio < LEAST_RATIO)


@dataclass(frozen=True)
class Suspect:
    """
    A cause after the readings.

    Parameters
    ----------
    key, unit : str
        Which, and the unit of its size.
    probability : float
        Among all causes. [1]
    ratio : float
        Likelihood of the best cause over this one's. [1]
    size : float
        Mean size, if it is the cause. [unit]
    row : int
        Row of the sheet where it stands, for a slip of the pen; 0 for all else.
    """

    key: str
    unit: str
    probability: float
    ratio: float
    size: float
    row: int = 0


@dataclass(frozen=True)
class Mended:
    """Data of a group as they would be without a slip of the pen: its row, and its probability beforehand."""

    data: Data
    row: int
    chance: float


def suspects_of(data: Data, mended: Sequence[Mended] = ()) -> Suspects:
    """
    Compare single causes, and slips of the pen, by how well each explains all the data of a group.

    Notes
    -----
    Data are relative residuals: corrected latent heat at each power less the reference, cooling loss less the
    calculated, power less the nameplate's. They are normal with the covariance of the bench's knowledge; a gross cause
    moves them by its size, over whose distribution the likelihood is averaged (marginal likelihood). The causes share
    what is left of the probability beside ``AS_KNOWN_PROBABILITY`` equally; a slip has that of its kind, and explains
    the data as they would be without it. Its ratio counts how seldom it is beside a cause.
    """
    known, *causes = causes_of(data)
    found = [(cause.key, cause.unit, 0, *_weighed(data, cause)) for cause in causes]
    found += [(SLIP, "1", one.row, _without_slip(data, one), 0.0) for one in mended]
    share = (1.0 - AS_KNOWN_PROBABILITY) / len(causes)
    prior = np.log([AS_KNOWN_PROBABILITY, *(share for _ in causes), *(one.chance for one in mended)])
    evidence = np.array([_weighed(data, known)[0], *(one[3] for one in found)])
    posterior = special.softmax(evidence + prior)
    explained = evidence + np.where(np.arange(evidence.size) > len(causes), prior - math.log(share), 0.0)
    best = float(explained[1:].max())
    suspects = [
        Suspect(key, unit, float(probability), math.exp(min(best - likely, 700.0)), size, row)
        for (key, unit, row, _, size), probability, likely in zip(found, posterior[1:], explained[1:], strict=True)
    ]
    return Suspects(float(posterior[0]), tuple(sorted(suspects, key=lambda one: one.ratio)))


def _without_slip(data: Data, mended: Mended) -> float:
    """Logarithm of the likelihood of the data without a slip, with how much less they then scatter."""
    known, *_ = causes_of(mended.data)
    return _weighed(mended.data, known)[0] + _scatter(mended.data) - _scatter(data)


def _scatter(data: Data) -> float:
    """Logarithm of the likelihood of the scatter of repeats, marks and powers at the noise taken."""
    scatter = data.result.measured.scatter
    return -scatter.degrees_of_freedom * math.log(scatter.factor) - 0.5 * scatter.chi_square / scatter.factor**2


def _weighed(data: Data, cause: Cause) -> tuple[float, float]:
    """Logarithm of the marginal likelihood, and the mean size after the readings."""
    covariance = data.covariance(cause.replaces, cause.noise)
    root = np.linalg.cholesky(covariance)
    residual = data.residuals(cause.changed, cause.effect)
    scaled = np.linalg.solve(root, residual)
    logarithm = -0.5 * np.sum(scaled**2, axis=0) - np.sum(np.log(np.diag(root))) + np.log(cause.chances)
    logarithm = np.where(np.isfinite(logarithm), logarithm, -np.inf)
    total = float(special.logsumexp(logarithm))
    weight = special.softmax(logarithm) if math.isfinite(total) else cause.chances
    return total, float(weight @ cause.sizes)


@dataclass(frozen=True)
class SeenLoss:
    """
    Heat loss that the readings themselves give, without the reference.

    Parameters
    ----------
    way : {"powers", "cooling"}
        From several powers, or a cooling run.
    value, standard_uncertainty : float
        At the boil. [W]
    """

    way: str
    value: float
    standard_uncertainty: float


@dataclass(frozen=True)
class FurtherRun:
    """
    A run that would tell two suspects apart.

    Parameters
    ----------
    kind : {"cooling", "lower_power", "meter_check", "mass_check"}
        Which.
    first, second : str
        Keys of the suspects.
    readings : tuple of float
        What it would give if the first were the cause, and if the second were. [unit]
    standard_uncertainty : float
        Of its reading. [unit]
    unit : str
        W for a heat loss, kJ/kg for E/m, per cent for an error.
    """

    kind: str
    first: str
    second: str
    readings: tuple[float, float]
    standard_uncertainty: float
    unit: str

    @property
    def apart(self) -> float:
        """Distance of the readings in standard uncertainties."""
        return abs(self.readings[0] - self.readings[1]) / max(self.standard_uncertainty, 1e-12)


def seen_loss(what: Measured) -> SeenLoss | None:
    """Work out the heat loss that the readings give; None at one power without a cooling run."""
    model = what.model
    steps = dict(model.intermediates)
    if "W_cooled" in steps:
        return _loss_by(model, "W_est", "cooling")
    last = len(what.levels)
    if last < 2 or f"E_{last}_est" not in steps:
        return None
    e, m, t = ((f"{name}_1", f"{name}_{last}") for name in "Emt")
    loss = f"({e[0]}_est * {m[1]}_est - {e[1]}_est * {m[0]}_est) / ({t[0]} * {m[1]}_est - {t[1]} * {m[0]}_est)"
    return _loss_by(model, loss, "powers")


def _loss_by(model: MeasurementModel, equation: str, way: str) -> SeenLoss:
    steps = steps_used(model.intermediates, symbols_used((), equation))
    wanted = symbols_used(steps, equation)
    inputs = tuple(one for one in model.inputs if one.symbol in wanted)
    budget = propagate(MeasurementModel("W_seen", "heat loss", "W", inputs, steps, equation))
    return SeenLoss(way, budget.estimate, budget.standard_uncertainty)


def further_run(data: Data, suspects: Suspects) -> FurtherRun | None:
    """Find the run that tells the two likeliest suspects apart best; None where none needs to or does."""
    causes = [one for one in suspects.inseparable if one.key != SLIP]
    if len(causes) < 2:
        return None
    first, second = causes[:2]
    best = max(_runs(data, first, second), key=lambda one: one.apart, default=None)
    return best if best is not None and best.apart >= TELLING else None


def _runs(data: Data, first: Suspect, second: Suspect) -> Iterator[FurtherRun]:
    keys = (first.key, second.key)
    if data.cooled is None:
        spread = data.cooling_expected * math.hypot(*(share for _, share in data.cooling_reading()))
        readings = (
            data.cooling_expected * _loss_factor(data, first),
            data.cooling_expected * _loss_factor(data, second),
        )
        yield FurtherRun("cooling", *keys, readings, spread, "W")
    if len(data.levels) == 1:
        values = (_at_lower_power(data, first), _at_lower_power(data, second))
        yield FurtherRun("lower_power", *keys, values, values[0] * data.noise, "kJ/kg")
    for kind, key in (("meter_check", "meter"), ("mass_check", "masses")):
        if key in keys:
            sizes = tuple(one.size if one.key == key else 0.0 for one in (first, second))
            yield FurtherRun(kind, *keys, (sizes[0], sizes[1]), CHECK_UNCERTAINTY, "%")


def _loss_factor(data: Data, suspect: Suspect) -> float:
    return suspect.size / data.result.used.hardware.loss if suspect.key == "heat_loss" else 1.0


def _at_lower_power(data: Data, suspect: Suspect) -> float:
    """E/m that would be read at a lower power if a suspect were the cause, from the energy balance. [kJ/kg]"""
    used = data.result.used
    size = suspect.size / 100.0
    shown = LOWER_POWER * data.power
    true = shown / (1.0 + size) if suspect.key == "meter" else shown
    loss = used.hardware.loss * _loss_factor(data, suspect)
    splash = size * LOWER_POWER**3 if suspect.key == "droplets" else 0.0
    stem = size if suspect.key == "stem" else used.hardware.stem
    gain = size if suspect.key == "masses" else 0.0
    kept = (1.0 - splash) * (1.0 - stem) * used.conditions.buoyancy / (1.0 + gain)
    return used.reference / 1e3 * kept * shown / (true - loss)
