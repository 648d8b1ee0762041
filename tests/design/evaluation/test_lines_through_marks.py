"""Straight lines through marks: limiting cases, another implementation, and covariance against simulation."""

import warnings
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from design.errors import DesignError
from design.evaluation.straight_lines import Line, straight_line

LATENT_HEAT, LOSS = 2.2565e6, 62.0


@dataclass(frozen=True)
class Marks:
    """Marks of runs, each at one power: energy [J], mass [kg], time [s], run, and uncertainties of a reading."""

    energy: np.ndarray
    mass: np.ndarray
    time: np.ndarray
    run: np.ndarray
    energy_uncertainty: np.ndarray
    mass_uncertainty: np.ndarray

    @property
    def offsets(self) -> list[np.ndarray]:
        """A column for the constant of each run."""
        return [(self.run == run).astype(float) for run in np.unique(self.run)]


def latent_heat_and_loss(marks: Marks) -> Line:
    """E = L m + W t + a constant of each run: slope L, then W."""
    return straight_line(
        marks.mass, marks.energy, marks.time, *marks.offsets, u_x=marks.mass_uncertainty, u_y=marks.energy_uncertainty
    )


def latent_heat_of(marks: Marks, heat_loss: float) -> Line:
    """The same with a loss that is known. [W]"""
    known = marks.energy - heat_loss * marks.time
    return straight_line(marks.mass, known, *marks.offsets, u_x=marks.mass_uncertainty, u_y=marks.energy_uncertainty)


def marks_at(powers: tuple[float, ...], number: int, time: float, u_energy: float = 0.0, u_mass: float = 3e-4) -> Marks:
    """Marks without error: E = L m + W t at each power, `number` readings over `time`."""
    times = np.tile(np.linspace(0.0, time, number), len(powers))
    run = np.repeat(np.arange(len(powers)), number)
    energy = np.array(powers)[run] * times
    mass = (energy - LOSS * times) / LATENT_HEAT
    ones = np.ones_like(times)
    return Marks(energy, mass, times, run, u_energy * ones, u_mass * ones)


def disturbed(marks: Marks, generator: np.random.Generator) -> Marks:
    """The same marks as an observer would read them."""
    return replace(
        marks,
        energy=marks.energy + marks.energy_uncertainty * generator.standard_normal(marks.energy.size),
        mass=marks.mass + marks.mass_uncertainty * generator.standard_normal(marks.mass.size),
    )


@given(
    loss=st.floats(0.0, 150.0), high=st.floats(700.0, 2800.0), share=st.floats(0.2, 0.7), time=st.floats(120.0, 900.0)
)
def test_a_series_of_two_marks_at_two_powers_is_the_two_power_formula(
    loss: float, high: float, share: float, time: float
) -> None:
    # Two marks a run and equal times: L = (E1 - E2)/(m1 - m2), W = (E1 - L m1)/t.
    energy = np.array([0.0, high * time, 0.0, share * high * time])
    mass = np.array([0.0, (high - loss) * time, 0.0, (share * high - loss) * time]) / LATENT_HEAT * 1.003
    marks = Marks(energy, mass, np.array([0.0, time, 0.0, time]), np.array([0, 0, 1, 1]), np.zeros(4), np.full(4, 2e-4))

    line = latent_heat_and_loss(marks)
    by_hand = (energy[1] - energy[3]) / (mass[1] - mass[3])

    assert line.slope == pytest.approx(by_hand, rel=1e-9)
    assert line.constants[1] == pytest.approx((energy[1] - by_hand * mass[1]) / time, abs=1e-6 * high)
    assert line.degrees_of_freedom == 0


def test_exact_marks_give_back_latent_heat_and_loss() -> None:
    line = latent_heat_and_loss(marks_at((1400.0, 700.0), 9, 480.0))

    assert line.slope == pytest.approx(LATENT_HEAT, rel=1e-9)
    assert line.constants[1] == pytest.approx(LOSS, rel=1e-6)
    assert line.chi_square == pytest.approx(0.0, abs=1e-9)


def orthogonal_distance(marks: Marks) -> tuple[np.ndarray, np.ndarray]:
    """Constants and covariance of the same line by scipy.odr, with its explicit orthogonal distance regression."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        from scipy import odr
    runs = np.unique(marks.run)

    def line(constants: np.ndarray, x: np.ndarray) -> np.ndarray:
        offsets = constants[2:][np.searchsorted(runs, marks.run)]
        return np.asarray(constants[0] * x[0] * 1e6 + constants[1] * x[1] + offsets)

    fixed = np.array([np.ones_like(marks.time), np.zeros_like(marks.time)], dtype=int)
    data = odr.RealData(
        np.array([marks.mass, marks.time]),
        marks.energy,
        sx=np.array([marks.mass_uncertainty, np.ones_like(marks.time)]),
        sy=marks.energy_uncertainty,
        fix=fixed,
    )
    start = [2.0, 10.0, *np.zeros(runs.size)]
    output = odr.ODR(data, odr.Model(line), beta0=start, sstol=1e-15, partol=1e-15, maxit=500).run()
    return output.beta[:2] * [1e6, 1.0], output.cov_beta[:2, :2] * np.outer([1e6, 1.0], [1e6, 1.0])


@pytest.mark.parametrize(("u_energy", "u_mass"), [(900.0, 4e-4), (2500.0, 1e-4), (300.0, 3e-3)])
@pytest.mark.parametrize("powers", [(1400.0, 600.0), (1500.0, 900.0, 400.0)])
def test_effective_variance_is_orthogonal_distance_regression(
    powers: tuple[float, ...], u_energy: float, u_mass: float
) -> None:
    # scipy.odr (ODRPACK 2.01): total least squares with a weight for each error; time is held exact.
    marks = disturbed(marks_at(powers, 12, 600.0, u_energy, u_mass), np.random.default_rng(5))

    line = latent_heat_and_loss(marks)
    constants, covariance = orthogonal_distance(marks)

    assert line.slope == pytest.approx(constants[0], rel=1e-6)
    assert line.constants[1] == pytest.approx(constants[1], rel=1e-4)
    assert np.sqrt(np.diag(line.covariance)[:2]) == pytest.approx(np.sqrt(np.diag(covariance)), rel=0.02)
    correlation = line.covariance[0, 1] / np.sqrt(line.covariance[0, 0] * line.covariance[1, 1])
    assert correlation == pytest.approx(covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]), abs=0.01)
    assert correlation < 0.0


def fits(marks: Marks, number: int, seed: int) -> list[Line]:
    """Fits of many disturbed copies."""
    generator = np.random.default_rng(seed)
    return [latent_heat_and_loss(disturbed(marks, generator)) for _ in range(number)]


def test_the_covariance_is_that_of_repeated_experiments() -> None:
    marks = marks_at((1400.0, 600.0), 12, 600.0, 900.0, 4e-4)
    lines = fits(marks, 2000, 11)
    found = np.cov([(line.slope, line.constants[1]) for line in lines], rowvar=False)
    stated = latent_heat_and_loss(marks).covariance[:2, :2]

    assert np.sqrt(np.diag(found)) == pytest.approx(np.sqrt(np.diag(stated)), rel=0.05)
    assert np.mean([line.slope for line in lines]) == pytest.approx(LATENT_HEAT, rel=1e-4)
    assert np.mean([line.chi_square for line in lines]) == pytest.approx(lines[0].degrees_of_freedom, rel=0.03)


def test_errors_in_mass_do_not_flatten_the_line() -> None:
    # Least squares of E on m alone would give L too low by u(m)^2/var(m): the known attenuation.
    marks = marks_at((1400.0,), 12, 120.0, 0.0, 8e-3)
    generator = np.random.default_rng(3)
    slopes, plain = [], []
    for _ in range(3000):
        noisy = disturbed(marks, generator)
        slopes.append(latent_heat_of(noisy, LOSS).slope)
        plain.append(np.polyfit(noisy.mass, noisy.energy - LOSS * noisy.time, 1)[0])
    spread = np.var(marks.mass)

    assert np.median(slopes) == pytest.approx(LATENT_HEAT, rel=0.02)
    assert np.median(plain) == pytest.approx(LATENT_HEAT * spread / (spread + 8e-3**2), rel=0.05)


@pytest.mark.parametrize(("readings", "factor"), [(2, 1.41), (5, 1.26), (11, 0.95), (21, 0.72)])
def test_more_readings_over_the_same_span_sharpen_the_slope_as_tabulated(readings: int, factor: float) -> None:
    # u(slope) span/sigma = sqrt(12 (N - 1)/(N (N + 1))): any text on least squares; values to two decimals by hand.
    marks = marks_at((1400.0,), readings, 300.0, 0.0, 3e-4)
    span = np.ptp(marks.mass)

    line = latent_heat_of(marks, LOSS)

    assert np.sqrt(line.covariance[0, 0]) / LATENT_HEAT * span / 3e-4 == pytest.approx(factor, abs=0.006)


def test_changes_between_all_pairs_of_readings_are_not_so_many_independent_changes() -> None:
    # The mean of all 55 changes between 11 readings, each per step and weighted with its steps squared, is the slope
    # of the line; taken as independent its variance would be 2/11 of what it is (algebra, and 4000 repeats).
    generator = np.random.default_rng(17)
    marks = marks_at((1400.0,), 11, 300.0, 0.0, 3e-4)
    first, second = np.triu_indices(11, 1)
    steps = second - first
    slopes = []
    for _ in range(4000):
        mass = disturbed(marks, generator).mass
        slopes.append(np.average((mass[second] - mass[first]) / steps, weights=steps**2))
    naive = np.sqrt(2.0) * 3e-4 / np.sqrt(np.sum(steps**2))
    stated = np.sqrt(latent_heat_of(marks, LOSS).covariance[0, 0]) / LATENT_HEAT * np.ptp(marks.mass) / 10.0

    assert np.std(slopes) == pytest.approx(stated, rel=0.04)
    assert naive == pytest.approx(stated * np.sqrt(2.0 / 11.0), rel=1e-3)


def test_a_line_needs_two_readings_of_different_mass() -> None:
    lonely = Marks(np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1, dtype=np.intp), np.ones(1), np.ones(1))

    with pytest.raises(DesignError, match="points at different places"):
        latent_heat_of(lonely, LOSS)
