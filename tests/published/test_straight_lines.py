"""Straight lines against certified values and published examples."""

import tomllib
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from design.errors import DesignError
from design.evaluation.straight_lines import Line, straight_line

PUBLISHED: dict[str, Any] = tomllib.loads((Path(__file__).parent / "straight_lines.toml").read_text(encoding="utf-8"))
NINE_DIGITS = 5e-10


def columns(name: str) -> tuple[np.ndarray, np.ndarray]:
    return np.array(PUBLISHED[name]["x"], dtype=float), np.array(PUBLISHED[name]["y"], dtype=float)


def least_squares(x: np.ndarray, y: np.ndarray) -> Line:
    return straight_line(x, y, np.ones_like(x))


def found(line: Line, key: str) -> float:
    """A figure of a line, by the name that it has in the data."""
    place = 1 if key.startswith("intercept") else 0
    if key == "residual":
        return float(np.sqrt(line.chi_square / line.degrees_of_freedom))
    spread = float(np.sqrt(line.covariance[place, place]))
    return spread if key.endswith("uncertainty") else float(line.constants[place])


@pytest.mark.parametrize("key", ["slope", "intercept", "slope_uncertainty", "intercept_uncertainty", "residual"])
def test_least_squares_has_nine_certified_digits_of_norris(key: str) -> None:
    """NIST StRD, Norris."""
    line = least_squares(*columns("norris"))

    assert found(line, key) == pytest.approx(PUBLISHED["norris"][key], rel=NINE_DIGITS)


@pytest.mark.parametrize("name", ["noint1", "noint2"])
@pytest.mark.parametrize("key", ["slope", "slope_uncertainty", "residual"])
def test_a_line_through_the_origin_has_nine_certified_digits(name: str, key: str) -> None:
    """NIST StRD, NoInt1 and NoInt2."""
    line = straight_line(*columns(name))

    assert found(line, key) == pytest.approx(PUBLISHED[name][key], rel=NINE_DIGITS)


@pytest.mark.parametrize("key", ["slope", "weighted_slope"])
def test_a_line_through_the_origin_of_means_has_the_printed_slope(key: str) -> None:
    """JCGM GUM-5:2026, example 9, from a third party's copy: weights n, and n/s²; half a printed digit."""
    x, y = columns("torque")
    case = PUBLISHED["torque"]
    spread = np.array(case["deviation"]) if key == "weighted_slope" else np.ones(x.size)
    root = np.sqrt(np.array(case["number"])) / spread

    assert abs(straight_line(root * x, root * y).slope - case[key]) <= 0.5e-4


def test_slope_and_intercept_vary_together_as_the_normal_equations_say() -> None:
    """Covariance of Norris recomputed in 50 digits from the normal equations."""
    assert least_squares(*columns("norris")).covariance[0, 1] == pytest.approx(-7.743275363156436e-5, rel=1e-10)


def pearson() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    x, y = columns("pearson")
    case = PUBLISHED["pearson"]
    return x, y, np.array(case["weight_x"]) ** -0.5, np.array(case["weight_y"]) ** -0.5


def test_errors_in_both_variables_give_yorks_line_through_pearsons_data() -> None:
    """York 1966; Reed 1992: slope -0.480533, intercept 5.47991."""
    x, y, u_x, u_y = pearson()
    line = straight_line(x, y, np.ones_like(x), u_x=u_x, u_y=u_y)

    assert line.slope == pytest.approx(PUBLISHED["pearson"]["slope"], abs=5e-7)
    assert line.constants[1] == pytest.approx(PUBLISHED["pearson"]["intercept"], abs=5e-6)


def test_errors_in_both_variables_agree_with_orthogonal_distance_regression() -> None:
    """scipy.odr (ODRPACK), which minimises the same sum by another way."""
    x, y, u_x, u_y = pearson()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        from scipy import odr

        data = odr.RealData(x, y, sx=u_x, sy=u_y)
        fit = odr.ODR(data, odr.unilinear, beta0=[-0.5, 5.5], sstol=1e-15, partol=1e-15, maxit=1000).run()

    line = straight_line(x, y, np.ones_like(x), u_x=u_x, u_y=u_y)

    assert list(line.constants) == pytest.approx(list(fit.beta), rel=1e-6)
    assert found(line, "residual") ** 2 == pytest.approx(fit.res_var, rel=1e-6)


def test_without_errors_in_x_the_line_is_that_of_weighted_least_squares() -> None:
    x, y = columns("norris")
    line = straight_line(x, y, np.ones_like(x), u_y=0.7)

    assert line.slope == pytest.approx(least_squares(x, y).slope, rel=1e-12)


def test_points_on_a_line_leave_no_uncertainty_of_rounding() -> None:
    """Three marks of 32 turns at 375 rev/kWh and 120 g each, invented: exactly proportional."""
    line = least_squares(np.array([0.0, 0.12, 0.24]), np.array([0.0, 307200.0, 614400.0]))

    assert line.slope == pytest.approx(2.56e6, rel=1e-12)
    assert line.slope_uncertainty == 0.0


def test_points_on_top_of_each_other_make_no_line() -> None:
    with pytest.raises(DesignError, match="must have points at different places"):
        least_squares(np.ones(4), np.arange(4.0))
