"""What a group's readings say, each less what it should be, and what each single cause would do to them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from budget.arrays import FloatArray
from budget.propagation import propagate
from budget.quantities.distributions import Distribution
from design.evaluation.measured import (
    Measured,
    measured,
    rated_power,
    unnumbered,
)
from design.evaluation.result import REFERENCE_UNCERTAINTY, GroupResult
from design.evaluation.runs import Run
from design.evaluation.scatter import SCATTER
from design.physics.losses import stem_share
from design.procedures.registry import PROCEDURES

POINTS = 81
"""Sizes of a cause over which its likelihood is averaged."""
LOSS_SPREAD = 0.7
"""Standard deviation of the logarithm of a gross error of the heat loss: half to double (judgement)."""
METER_SPREAD = 0.03
"""Standard deviation of a gross error of the energy meter (judgement)."""
MASS_SPREAD = 0.02
"""Standard deviation of a gross error of masses or balance (judgement)."""
SPLASH_MEAN = 0.08
"""Mean of a gross share of droplets (judgement)."""
PAUSE_MEAN = 150.0
"""Mean of a heater-off time that nobody noted. [s] (judgement)"""
NOISE_FACTOR = 3.0
"""Multiple of the noise where boiling was unsteady (judgement)."""
NOISE = "noise of "
"""Head of the names of what readings suffer, each datum by itself."""
LOSSES = ("W_wall_est", "W_base_est", "W_return_est")

Sizes = tuple[FloatArray, FloatArray]
"""Sizes of a cause, and their probabilities."""


@dataclass(frozen=True)
class Data:
    """
    What a group's readings say, each less what it should be.

    Parameters
    ----------
    result : GroupResult
        The group's.
    levels : tuple of Measured
        Runs at each power by themselves, with the losses taken off as calculated.
    cooled : float or None
        Heat loss by the cooling balance. [W]
    timed : bool
        Whether power over the nameplate says something of the clock and the meter.
    """

    result: GroupResult
    levels: tuple[Measured, ...]
    cooled: float | None
    timed: bool

    @property
    def size(self) -> int:
        """Number of data."""
        return len(self.levels) + (self.cooled is not None) + self.timed

    def residuals(self, changed: Callable[[int], Mapping[str, FloatArray]], cause: Effect) -> FloatArray:
        """Relative residuals at each size of a cause, shape (size, points)."""
        reference = self.result.used.reference
        rows = [
            cause.on_value(number, level)
            * level.model.evaluate({**level.model.estimates, **changed(number)})
            / reference
            - 1.0
            - cause.off_value(number, level) / reference
            for number, level in enumerate(self.levels)
        ]
        if self.cooled is not None:
            rows.append(self.cooled / (cause.on_loss * self.cooling_expected) - 1.0)
        if self.timed:
            rows.append(cause.on_power * self.power / rated_power(self.result.used) - 1.0)
        return np.stack([np.broadcast_to(row, cause.shape) for row in rows])

    @property
    def power(self) -> float:
        """Highest power that was shown. [W]"""
        return self.levels[0].contrasts[0].power or rated_power(self.result.used)

    @property
    def noise(self) -> float:
        """Relative standard uncertainty that the noise of readings gives the latent heat at the highest power."""
        return math.hypot(*(share for symbol, share in self.shares[0].items() if symbol.startswith(NOISE)), 0.0)

    @cached_property
    def known(self) -> dict[str, Distribution]:
        """Knowledge of the bench by symbol."""
        terms = self.levels[0].used.procedure.terms(self.levels[0].situation)
        return {term.symbol: term.quantity(0).distribution for term in terms}

    @property
    def cooling_expected(self) -> float:
        """Heat loss that a cooling run can be expected to give. [W]"""
        return (1.0 - self.known["f_freeboard"].mean) * self.known["W_wall"].mean + self.known["W_base"].mean

    def covariance(self, left_out: frozenset[str], noise: float = 1.0) -> FloatArray:
        """Covariance of the data by the bench's knowledge, without some inputs, with the noise times a factor."""
        symbols = sorted({symbol for share in self.shares for symbol in share} - left_out)
        factors = np.array([noise if symbol.startswith(NOISE) else 1.0 for symbol in symbols])
        matrix = np.array([[share.get(symbol, 0.0) for symbol in symbols] for share in self.shares]) * factors
        return np.asarray(matrix @ matrix.T + np.eye(self.size) * 1e-12)

    @cached_property
    def shares(self) -> tuple[dict[str, float], ...]:
        """Relative standard uncertainty that each input gives each datum; noise is each datum's own."""
        return tuple(dict(self._shares(number)) for number in range(self.size))

    def _shares(self, number: int) -> Iterator[tuple[str, float]]:
        if number < len(self.levels):
            model = self.levels[number].model
            budget = propagate(model)
            for symbol in model.uncertain:
                own = unnumbered(symbol) in SCATTER
                share = budget.contributions[symbol] / self.result.used.reference
                yield (f"{NOISE}{symbol} {number}" if own else symbol.removesuffix("_est")), share
            yield "L_ref", REFERENCE_UNCERTAINTY
            return
        known = self.known
        if self.cooled is not None and number == len(self.levels):
            expected = self.cooling_expected
            yield "W_wall", -(1.0 - known["f_freeboard"].mean) * known["W_wall"].standard_uncertainty / expected
            yield "W_base", -known["W_base"].standard_uncertainty / expected
            yield from self.cooling_reading()
            return
        yield "e_meter", known["e_meter"].standard_uncertainty
        yield "e_heater", known["e_heater"].standard_uncertainty
        yield "e_supply", 2.0 * known["e_supply"].standard_uncertainty

    def cooling_reading(self) -> Iterator[tuple[str, float]]:
        """Relative standard uncertainty that each error of a cooling run gives its heat loss."""
        known, expected = self.known, self.cooling_expected
        heat = 1.0 + known["Q_vapour"].mean / expected
        yield "f_freeboard", known["W_wall"].mean * known["f_freeboard"].standard_uncertainty / expected
        yield "e_cooling", heat * known["e_cooling"].standard_uncertainty
        yield "d_cooling", known["d_cooling"].standard_uncertainty / expected


@dataclass(frozen=True)
class Effect:
    """
    What a cause at each of its sizes does to the data.

    Parameters
    ----------
    shape : tuple of int
        Of the sizes.
    on_value : callable (power, level) -> ndarray or float
        Factor on the latent heat at a power.
    off_value : callable (power, level) -> ndarray or float
        Latent heat taken off at a power. [J/kg]
    on_loss, on_power : ndarray or float
        Factors on the heat loss that a cooling run sees, and on the power that the meter and the clock show.
    """

    shape: tuple[int, ...]
    on_value: Callable[[int, Measured], FloatArray | float] = lambda _number, _level: 1.0
    off_value: Callable[[int, Measured], FloatArray | float] = lambda _number, _level: 0.0
    on_loss: FloatArray | float = 1.0
    on_power: FloatArray | float = 1.0


@dataclass(frozen=True)
class Cause:
    """
    A cause: its key, the sizes that it may have with their probabilities, and what it does.

    Parameters
    ----------
    key, unit : str
        Of its words, and of its size.
    sizes, chances : ndarray, shape (points,)
        Sizes and their probabilities before the readings.
    replaces : frozenset of str
        Inputs whose knowledge the size replaces.
    changed : callable (power) -> mapping
        Estimates of inputs at a power, by symbol.
    effect : Effect
        What else it does to the data.
    noise : float
        Factor on the noise.
    """

    key: str
    unit: str
    sizes: FloatArray
    chances: FloatArray
    replaces: frozenset[str]
    changed: Callable[[int], Mapping[str, FloatArray]]
    effect: Effect
    noise: float = 1.0


def data_of(result: GroupResult) -> Data:
    """Take the runs of a group power by power, and the cooling run where the sheet has one."""
    used = result.used
    levels: tuple[Measured, ...] = (result.measured,)
    plain = used.procedure
    if plain.number_of_powers > 1:
        plain = next(one for one in PROCEDURES if one.number_of_powers == 1 and not one.needs_mass_set)
    alone = replace(used, procedure=plain, correction="calculated")
    if plain is not used.procedure or used.correction != alone.correction:
        levels = tuple(measured(alone, level) for level in result.measured.levels)
    timed = used.kit.heater.control == "none" and _is_timed([run for level in result.measured.levels for run in level])
    return Data(result, levels, result.cooled, timed)


def _is_timed(runs: list[Run]) -> bool:
    return all(run.power is not None and run.source != "nameplate" for run in runs)


def causes_of(data: Data) -> tuple[Cause, ...]:
    """Every single cause that is weighed, what is known already first."""
    told = data.result.used.procedure.pace.pause > 0.0 or data.timed
    pause = (_pause(data),) if told else ()
    return (
        _as_known(),
        _heat_loss(data),
        _meter(data),
        _masses(),
        _droplets(data),
        *pause,
        _stem(data),
        _noise(),
    )


def _as_known() -> Cause:
    one = np.ones(1)
    return Cause("as_known", "1", one, one, frozenset(), lambda _: {}, Effect((1,)))


def _noise() -> Cause:
    one = np.ones(1)
    return Cause("unsteady", "1", NOISE_FACTOR * one, one, frozenset(), lambda _: {}, Effect((1,)), NOISE_FACTOR)


def _heat_loss(data: Data) -> Cause:
    scores, chances = _normal()
    factor = np.exp(LOSS_SPREAD * scores)
    means = [{symbol: level.model.estimates.get(symbol, 0.0) for symbol in LOSSES} for level in data.levels]
    expected = data.result.used.hardware.loss
    return Cause(
        "heat_loss",
        "W",
        expected * factor,
        chances,
        frozenset(symbol.removesuffix("_est") for symbol in LOSSES),
        lambda number: {
            symbol: factor * mean
            for symbol, mean in means[number].items()
            if symbol in data.levels[number].model.distributions
        },
        Effect(factor.shape, on_loss=factor),
    )


def _meter(data: Data) -> Cause:
    scores, chances = _normal()
    size = METER_SPREAD * scores
    return Cause(
        "meter",
        "%",
        100.0 * size,
        chances,
        frozenset({"e_meter"}),
        lambda number: {"e_meter_est": size} if "e_meter_est" in data.levels[number].model.distributions else {},
        Effect(size.shape, on_power=1.0 / (1.0 + size)),
    )


def _masses() -> Cause:
    scores, chances = _normal()
    size = MASS_SPREAD * scores
    return Cause(
        "masses",
        "%",
        100.0 * size,
        chances,
        frozenset({"e_mass", "d_linearity"}),
        lambda _: {},
        Effect(size.shape, on_value=lambda _number, _level: 1.0 + size),
    )


def _droplets(data: Data) -> Cause:
    size, chances = _exponential(SPLASH_MEAN)
    size = np.minimum(size, 0.5)
    means = [level.model.estimates.get("s_splash_est", 0.0) for level in data.levels]
    ratio = [mean / means[0] if means[0] > 0.0 else 1.0 for mean in means]
    return Cause(
        "droplets",
        "%",
        100.0 * size,
        chances,
        frozenset({"s_splash"}),
        lambda number: {"s_splash_est": ratio[number] * size},
        Effect(size.shape),
    )


def _pause(data: Data) -> Cause:
    """
    Heater off for longer than was noted.

    Where the procedure pauses, clocks tell heater-on time: what the water lost must be paid for. Where it does not,
    the clock goes on: the correction holds the loss, and the power that meter and clock show is too low.
    """
    size, chances = _exponential(PAUSE_MEAN)

    def taken_off(_number: int, level: Measured) -> FloatArray:
        return np.asarray(level.loss * size / level.contrasts[0].mass)

    if data.result.used.procedure.pace.pause > 0.0:
        effect = Effect(size.shape, off_value=taken_off)
    else:
        time = data.levels[0].contrasts[0].time or math.inf
        effect = Effect(size.shape, on_power=1.0 / np.maximum(1.0 - size / time, 0.01))
    return Cause("pause", "s", size, chances, frozenset(), lambda _: {}, effect)


def _stem(data: Data) -> Cause:
    """The heater held otherwise than the bench says, or with as much again held from outside."""
    used = data.result.used
    now = used.hardware.stem
    clamped = stem_share(replace(used.kit.heater, held_by="stand"), used.kit.vessel)
    size = np.array([0.0, 2.0 * now] if now > 0.0 else [clamped, 2.0 * clamped])
    factor = (1.0 - now) / (1.0 - size)
    return Cause(
        "stem",
        "%",
        100.0 * size,
        np.full(2, 0.5),
        frozenset({"a_A"}),
        lambda _: {},
        Effect(size.shape, on_value=lambda _number, _level: factor),
    )


def _normal() -> Sizes:
    scores = np.linspace(-3.5, 3.5, POINTS)
    chances = np.exp(-0.5 * scores**2)
    return scores, chances / chances.sum()


def _exponential(mean: float) -> Sizes:
    multiples = np.linspace(0.02, 5.0, POINTS)
    chances = np.exp(-multiples)
    return mean * multiples, chances / chances.sum()
