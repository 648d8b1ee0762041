"""Worked examples of the standards, from files beside this one; each value to half a unit of its last printed digit."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from budget.budget_file import budget_from_tables
from budget.model.measurement import MeasurementModel
from budget.propagation import coverage_factor, propagate
from budget.quantities.correlation import correlation_matrix
from budget.quantities.distributions import Distribution, Rectangular, StudentT, Triangular
from budget.quantities.inputs import Correlation, InputQuantity, type_a
from budget.report import validate
from budget.sampling.montecarlo import Simulation, simulate
from budget.sampling.replicates import numerical_tolerance
from budget.sampling.sensitivity import SobolIndices, sobol_indices

FOLDER = Path(__file__).parent
FILES = ("jcgm_100.toml", "jcgm_101.toml", "other_documents.toml", "calibration.toml", "variance_shares.toml")
NEEDED = ("id", "document", "section", "provenance", "published")


def load_examples(text: str) -> list[dict[str, Any]]:
    """Read examples and refuse one that does not say where its values come from."""
    examples: list[dict[str, Any]] = tomllib.loads(text)["example"]
    for example in examples:
        for key in NEEDED:
            if not example.get(key):
                raise ValueError(f"example {example.get('id', '?')}: {key} must be given")
        for value in example["published"]:
            if "tolerance" in value and not value.get("why"):
                raise ValueError(f"example {example['id']}: {value['quantity']}: why must say why a tolerance is given")
    return examples


EXAMPLES = [example for name in FILES for example in load_examples((FOLDER / name).read_text(encoding="utf-8"))]
CHECKS = [(example, value) for example in EXAMPLES for value in example["published"]]


def model_of(example: dict[str, Any]) -> MeasurementModel:
    """Build the model; paired readings and fitted lines become correlated inputs with n - 1 or n - 2 dof."""
    tables: dict[str, Any] = {
        key: example[key] for key in ("measurand", "input", "intermediate", "correlation") if key in example
    }
    if "paired" in example:
        return paired_model(example)
    if "line" in example:
        return line_model(example)
    return budget_from_tables(tables, example["id"]).model


def paired_model(example: dict[str, Any]) -> MeasurementModel:
    readings = example["paired"]
    matrix = np.corrcoef(list(readings.values()))
    symbols = list(readings)
    inputs = tuple(InputQuantity(symbol, type_a(values)) for symbol, values in readings.items())
    correlations = tuple(
        Correlation((symbols[i], symbols[j]), float(matrix[i, j])) for i in range(len(symbols)) for j in range(i)
    )
    measurand = example["measurand"]
    return MeasurementModel(measurand["symbol"], "", "", inputs, (), measurand["equation"], correlations)


def line_model(example: dict[str, Any]) -> MeasurementModel:
    line = example["line"]
    design = np.stack([np.ones(len(line["x"])), np.array(line["x"]) - line["origin"]], axis=1)
    fitted, residual, _, _ = np.linalg.lstsq(design, np.array(line["y"]), rcond=None)
    dof = len(line["x"]) - 2
    covariance = np.linalg.inv(design.T @ design) * residual[0] / dof
    scale = np.sqrt(np.diag(covariance))
    inputs = tuple(InputQuantity(f"y{k + 1}", StudentT(float(fitted[k]), float(scale[k]), dof)) for k in range(2))
    known = budget_from_tables(
        {"measurand": {"symbol": "x", "equation": "t"}, "input": example["input"]}, example["id"]
    ).model.inputs
    correlation = Correlation(("y1", "y2"), float(covariance[0, 1] / np.prod(scale)))
    measurand = example["measurand"]
    return MeasurementModel(measurand["symbol"], "", "", inputs + known, (), measurand["equation"], (correlation,))


def ours(example: dict[str, Any], quantity: str) -> float:
    """Compute a published quantity."""
    model = model_of(example)
    kind, *symbols = quantity.split()
    match kind:
        case "input_estimate":
            return model.distributions[symbols[0]].mean
        case "input_uncertainty":
            return model.distributions[symbols[0]].standard_uncertainty
        case "correlation":
            places = [model.symbols.index(symbol) for symbol in symbols]
            return float(correlation_matrix(model.symbols, model.correlations)[tuple(places)])
        case "simulated" | "shortest" | "propagation_valid":
            return simulated(example, model, quantity)
        case "sobol_first" | "sobol_total":
            indices = indices_of(example["id"])
            values = indices.first if kind == "sobol_first" else indices.total
            return float(values[indices.symbols.index(symbols[0])])
        case _:
            return propagated(example, model, quantity)


def propagated(example: dict[str, Any], model: MeasurementModel, quantity: str) -> float:
    kind, *rest = quantity.split()
    order = 2 if kind == "second_order" else example.get("order", 1)
    result = propagate(model, example.get("coverage", 0.95), order)
    match kind:
        case "contribution":
            return abs(result.contributions[rest[0]])
        case "variance_share":
            return result.variance_shares[rest[0]]
        case "relative_uncertainty":
            return result.standard_uncertainty / result.estimate
        case "doubled_uncertainty":
            return 2.0 * result.standard_uncertainty
        case "second_order":
            return float(getattr(result, rest[0]))
        case _:
            return float(getattr(result, kind))


def simulated(example: dict[str, Any], model: MeasurementModel, quantity: str) -> float:
    result = simulation_of(example["id"])
    match quantity.split():
        case ["simulated", "variance"]:
            return result.standard_uncertainty**2
        case ["simulated", "half_width"]:
            return 0.5 * (result.interval_symmetric[1] - result.interval_symmetric[0])
        case ["shortest", "width"]:
            return result.interval_shortest[1] - result.interval_shortest[0]
        case ["shortest", end]:
            return result.interval_shortest[0 if end == "low" else 1]
        case ["propagation_valid"]:
            return float(validate(propagate(model), result).valid)
        case [_, name]:
            return float(getattr(result, name))
    raise ValueError(quantity)


@cache
def simulation_of(identifier: str) -> Simulation:
    example = next(example for example in EXAMPLES if example["id"] == identifier)
    return simulate(model_of(example), 1 << 21, seed=1, coverage=example.get("coverage", 0.95))


@cache
def indices_of(identifier: str) -> SobolIndices:
    return sobol_indices(model_of(next(e for e in EXAMPLES if e["id"] == identifier)), base=1 << 18, seed=1)


def half_unit(printed: str) -> float:
    """Half a unit of the last printed digit."""
    return 0.5 * 10.0 ** int(Decimal(printed).as_tuple().exponent)


@pytest.mark.parametrize(
    ("example", "value"), CHECKS, ids=[f"{e['document'][:8]} {e['id']} {v['quantity']}" for e, v in CHECKS]
)
def test_a_worked_example_comes_out_as_printed(example: dict[str, Any], value: dict[str, Any]) -> None:
    found = ours(example, value["quantity"]) * value.get("times", 1.0)

    tolerance = value.get("tolerance", half_unit(value["printed"]) * (1.0 + 1e-9))
    assert abs(found - float(value["printed"])) <= tolerance, (example["section"], value["printed"], found)


@pytest.mark.parametrize(
    ("figure", "divisor", "printed"),
    [
        (240.0, 3.0, "80"),  # 4.3.3, three standard deviations, µg
        (129.0, coverage_factor(0.99, float("inf")), "50"),  # 4.3.4, 99 %, µΩ
        (0.04, coverage_factor(0.5, float("inf")), "0.06"),  # 4.3.5, even odds, mm
        (0.40, 3.0**0.5, "0.23"),  # 4.3.7 example 1, rectangular, 1e-6/degC
        (0.52, 12.0**0.5, "0.15"),  # 4.3.8, asymmetric limits
        (1.0, coverage_factor(0.5, float("inf")), "1.48"),  # NIST Technical Note 1297 (1994), 4.3
        (1.0, coverage_factor(2.0 / 3.0, float("inf")), "1"),  # the same, 4.4: two chances in three, rounded there
    ],
)
def test_a_stated_limit_converts_as_in_jcgm_100_clause_4_3(figure: float, divisor: float, printed: str) -> None:
    # JCGM 100:2008, 4.3.3 to 4.3.8, from memory
    assert abs(figure / divisor - float(printed)) <= half_unit(printed)


@pytest.mark.parametrize(
    ("distribution", "printed"),
    [
        (Rectangular(16.12, 16.92), "0.23"),  # JCGM 100:2008, 4.3.7 example 1, 1e-6/degC
        (Rectangular(16.40, 16.92), "0.15"),  # JCGM 100:2008, 4.3.8, 1e-6/degC
        (Rectangular(-1.0, 1.0), "0.577"),  # NIST Technical Note 1297 (1994), 4.6
        (Triangular(-1.0, 1.0), "0.408"),  # the same, 4.6, triangular
    ],
)
def test_limits_become_the_printed_standard_uncertainties(distribution: Distribution, printed: str) -> None:
    # from memory
    assert abs(distribution.standard_uncertainty - float(printed)) <= half_unit(printed)


@pytest.mark.parametrize(
    ("pair", "printed"),
    [
        (("resistance", "reactance"), "-0.588"),
        (("resistance", "impedance"), "-0.485"),
        (("reactance", "impedance"), "0.993"),
    ],
)
def test_the_correlation_of_two_results_follows_from_their_sensitivities(pair: tuple[str, str], printed: str) -> None:
    # JCGM 100:2008, H.2, Table H.3, from memory; equation H.9: the covariance of two results of the same inputs
    models = [model_of(next(e for e in EXAMPLES if e["id"] == f"H.2 {name}")) for name in pair]
    symbols = ("V", "I", "phi")
    rows = [[propagate(m).contributions.get(symbol, 0.0) for symbol in symbols] for m in models]
    whole = model_of(next(e for e in EXAMPLES if e["id"] == "H.2 resistance"))
    places = [whole.symbols.index(symbol) for symbol in symbols]
    matrix = correlation_matrix(whole.symbols, whole.correlations)[np.ix_(places, places)]
    covariance = np.array(rows) @ matrix @ np.array(rows).T

    found = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    assert abs(found - float(printed)) <= half_unit(printed)


@pytest.mark.parametrize(
    ("coverage", "dof", "printed"),
    [
        (0.95, 16, "2.12"),
        (0.9544997361036416, 16, "2.17"),
        (0.99, 16, "2.92"),
        (0.9544997361036416, float("inf"), "2.000"),
        (0.9973002039367398, 1, "235.80"),
        (0.95, 2, "4.30"),
        (0.99, 50, "2.68"),
        (0.95, 10, "2.23"),
    ],
)
def test_coverage_factors_are_those_of_the_t_table(coverage: float, dof: float, printed: str) -> None:
    # JCGM 100:2008, Annex G, Table G.2 (also NIST TN 1297, Table B.1), retrieved
    assert abs(coverage_factor(coverage, dof) - float(printed)) <= half_unit(printed)


def test_the_numerical_tolerance_is_that_of_jcgm_101() -> None:
    # JCGM 101:2008, 7.9.2, examples, from memory; the last: rounding carries
    cases = [(0.00035, 2, 5e-6), (0.00035, 1, 5e-5), (2.0, 1, 0.5), (9.96, 1, 5.0)]

    assert [numerical_tolerance(u, digits) for u, digits, _ in cases] == pytest.approx([d for _, _, d in cases])


@pytest.mark.parametrize(
    ("identifier", "accuracy", "printed"),
    [("9.2.2", 0.2, 1.23e6), ("9.2.3", 0.2, 1.02e6), ("9.5", 1.0, 1.36e6)],
    ids=["normal", "rectangular", "gauge block"],
)
def test_the_adaptive_procedure_needs_about_as_many_trials_as_printed(
    identifier: str, accuracy: float, printed: float
) -> None:
    # JCGM 101:2008, Tables 2 and 3, adaptive rows (a fifth of the tolerance), and 9.5 (the whole of it), from memory;
    # a factor of 2.5 because the number itself is random
    example = next(e for e in EXAMPLES if e["id"] == identifier)
    model, coverage = model_of(example), example.get("coverage", 0.95)

    trials = [
        simulate(model, method="plain", seed=seed, coverage=coverage, accuracy=accuracy).trials for seed in range(3)
    ]

    assert printed / 2.5 < np.median(trials) < printed * 2.5


@pytest.mark.parametrize("key", NEEDED)
def test_an_example_that_does_not_say_where_its_values_come_from_is_refused(key: str) -> None:
    lines = {
        "id": 'id = "x"',
        "document": 'document = "d"',
        "section": 'section = "s"',
        "provenance": 'provenance = "memory"',
        "published": 'published = [{ quantity = "estimate", printed = "1" }]',
    }
    del lines[key]

    with pytest.raises(ValueError, match=f"{key} must be given"):
        load_examples("[[example]]\n" + "\n".join(lines.values()))
