"""Budget files: what is read, what is refused and in which words; units followed through equations."""

from __future__ import annotations

import json
import math
import re
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.budget_file import read_budget_file
from budget.errors import BudgetError
from budget.quantities.distributions import Distribution
from budget.quantities.units import parse_quantity
from budget.report import analyse

HEAD = '[measurand]\nsymbol = "y"\n'
GOOD = HEAD + 'equation = "a + b"\n[[input]]\nsymbol = "a"\nvalue = 1\n[[input]]\nsymbol = "b"\nvalue = 2\n'
EXAMPLES = sorted(p.name for p in files("configs").joinpath("budgets").iterdir() if p.name.endswith(".toml"))


def written(folder: Path, text: str) -> Path:
    path = folder / "budget.toml"
    path.write_text(text, encoding="utf-8")
    return path


def read(folder: Path, text: str) -> object:
    return read_budget_file(written(folder, text))


def one_input(folder: Path, lines: str) -> Distribution:
    path = folder / "budget.toml"
    path.write_text(f'{HEAD}equation = "a"\n[[input]]\nsymbol = "a"\n{lines}\n', encoding="utf-8")
    return read_budget_file(path).model.distributions["a"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_is_invented_and_gives_a_budget(name: str) -> None:
    found = read_budget_file(Path(str(files("configs") / "budgets" / name)))
    report = analyse(found.model, found.coverage, trials=20_000)
    written = json.loads(json.dumps(report.to_json_dict(), allow_nan=False))

    assert found.scenario == "invented"
    assert written["propagation"]["standard_uncertainty"] > 0.0
    assert written["simulation"]["interval_symmetric"][0] < written["propagation"]["estimate"]
    assert {row["symbol"] for row in written["inputs"]} == set(found.model.symbols)
    assert sum(row["variance_share"] for row in written["inputs"]) == pytest.approx(1.0)


def test_at_least_four_measurements_can_be_started_from() -> None:
    assert {"specific-heat-capacity.toml", "latent-heat-of-fusion.toml", "density.toml", "pendulum.toml"} <= set(
        EXAMPLES
    )


@pytest.mark.parametrize(
    ("lines", "mean", "uncertainty", "dof"),
    [
        ('distribution = "normal"\nestimate = 3\nstandard_uncertainty = 0.1', 3.0, 0.1, math.inf),
        ('distribution = "normal"\nestimate = 3\nstandard_uncertainty = 0.1\ndof = 9', 3.0, 0.1, 9.0),
        ('distribution = "t"\nestimate = 3\nstandard_uncertainty = 0.1\ndof = 4', 3.0, 0.1, 4.0),
        ('distribution = "rectangular"\nestimate = 3\nhalf_width = 0.3', 3.0, 0.3 / 3**0.5, math.inf),
        ('distribution = "rectangular"\nlow = 2\nhigh = 4', 3.0, 1 / 3**0.5, math.inf),
        ('distribution = "triangular"\nlow = 2\nhigh = 4', 3.0, 1 / 6**0.5, math.inf),
        ('distribution = "triangular"\nestimate = 3\nhalf_width = 1', 3.0, 1 / 6**0.5, math.inf),
        ('distribution = "trapezoidal"\nlow = 2\nhigh = 4\ntop_ratio = 0.5', 3.0, (1.25 / 6) ** 0.5, math.inf),
        (
            'distribution = "curvilinear trapezoidal"\nlow = 2\nhigh = 4\nlimit_inexactness = 0.3',
            3.0,
            (1 / 3 + 0.01) ** 0.5,
            math.inf,
        ),
        ('distribution = "arcsine"\nlow = 2\nhigh = 4', 3.0, 0.5**0.5, math.inf),
        ('distribution = "lognormal"\nestimate = 3\nstandard_uncertainty = 1', 3.0, 1.0, math.inf),
        ('distribution = "exponential"\nestimate = 3', 3.0, 3.0, math.inf),
        ('distribution = "gamma"\nestimate = 3\nstandard_uncertainty = 1', 3.0, 1.0, math.inf),
        (
            'distribution = "truncated normal"\nestimate = 0\nstandard_uncertainty = 1\nlow = -1\nhigh = 1',
            0.0,
            0.539560,  # NIST/SEMATECH tables have no such value; variance 1 - 2φ(1)/(2Φ(1) - 1), worked by hand
            math.inf,
        ),
        ("readings = [2.8, 3.0, 3.2]", 3.0, 0.2 / 3**0.5, 2.0),
        ("value = 3.2", 3.2, 0.0, math.inf),
        ('value = "0,0032 km"\nunit = "m"', 3.2, 0.0, math.inf),
        ('distribution = "rectangular"\nestimate = "294.15 K"\nhalf_width = "0.5 K"\nunit = "degC"', 21.0, 0.5 / 3**0.5, math.inf),  # noqa: E501
    ],
)  # fmt: skip
def test_every_way_to_state_a_quantity_is_read(
    tmp_path: Path, lines: str, mean: float, uncertainty: float, dof: float
) -> None:
    found = one_input(tmp_path, lines)

    assert found.mean == pytest.approx(mean, abs=1e-9)
    assert found.standard_uncertainty == pytest.approx(uncertainty, rel=1e-5)
    assert found.dof == dof


FAULTS = [
    ('distribution = "triangualr"\nestimate = 1\nstandard_uncertainty = 1', r"distribution: must be one of .*did you mean"),  # noqa: E501
    ('distribution = "normal"\nestimate = 1', r"normal: must be given by estimate \+ standard_uncertainty or estimate \+ expanded_uncertainty \+ coverage_factor \(dof"),  # noqa: E501
    ('distribution = "normal"\nestimate = 1\nhalf_width = 2', r"\(got estimate, half_width\)"),
    ('distribution = "rectangular"\nlow = 1\nhigh = 2\ndof = 3', r"rectangular: must be given by low \+ high or"),
    ('distribution = "rectangular"\nlow = 2\nhigh = 1', r"rectangular: high must not be below low 2 \(got 1\)"),
    ('distribution = "rectangular"\nestimate = 2\nhalf_width = -1', r"half_width: must not be negative \(got -1\)"),
    ('distribution = "normal"\nestimate = nan\nstandard_uncertainty = 1', r"estimate must be a finite number \(got nan\)"),  # noqa: E501
    ('distribution = "normal"\nestimate = inf\nstandard_uncertainty = 1', r"estimate must be a finite number \(got inf\)"),  # noqa: E501
    ('distribution = "normal"\nestimate = true\nstandard_uncertainty = 1', r"estimate: must be a number or text with a unit"),  # noqa: E501
    ('distribution = "normal"\nestimate = "x"\nstandard_uncertainty = 1', r"estimate: must be a number \(got 'x'\)"),
    ("readings = [1.0]", r"readings: must be at least two numbers \(got 1\)"),
    ("readings = 3", r"readings: must be"),
    ("", r"distribution: must be one of .* \(got none\)"),
    ("value = 1\nestimate = 2", r"value: must be given by value"),
    ("value = 1\ncolour = 2", r"colour: must be a key of this table \(got an unknown key"),
    ("value = 1\nunits = 'g'", r"units: .*did you mean unit\?"),
    ('value = "3 kg"\nunit = "m"', r"value: must be a length"),
    ('value = "3 foo"\nunit = "m"', r"must have a unit that is known \(got '3 foo'\)"),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "message"), FAULTS, ids=[f"{k}" for k in range(len(FAULTS))])
def test_a_faulty_input_is_told_with_file_key_and_value(tmp_path: Path, lines: str, message: str) -> None:
    with pytest.raises(BudgetError, match=rf"budget\.toml: input 1 \(a\): .*{message}|budget\.toml: .*{message}"):
        one_input(tmp_path, lines)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", r"budget.toml: measurand: must be given \(got nothing\)"),
        ("a = [", r"must be a TOML file \(got: .*at end of document"),
        (HEAD + 'equation = "a"\ninput = 3\n', r"budget.toml: (measurand: )?input: must be"),
        (HEAD + 'equation = "a"\n', r"budget.toml: input: must be given"),
        (GOOD.replace("a + b", "a + c"), r"equation: c must be an input or an earlier intermediate"),
        (GOOD.replace("a + b", "a"), r"input b: must be used in an equation"),
        (GOOD.replace("a + b", "a.real + b"), r"equation: must use numbers, symbols"),
        (GOOD.replace("a + b", "(" * 50_000 + "a" + ")" * 50_000), r"equation: must be at most 10000 characters"),
        (GOOD.replace('symbol = "b"', 'symbol = "a"'), r"a: a symbol must be defined once"),
        (GOOD.replace('symbol = "b"', 'symbol = "2b"'), r"symbol: must be letters"),
        (GOOD.replace('symbol = "y"\n', 'symbol = "y"\ncoverage = 95\n'), r"measurand: coverage: must be less than 1"),
        (GOOD + '[[correlation]]\nbetween = ["a"]\ncoefficient = 0.5\n', r"between: must have at least 2 entries"),
        (GOOD + '[[correlation]]\nbetween = ["a", "b"]\ncoefficient = 2\n', r"coefficient: must be at most 1"),
        (GOOD + '[[corelation]]\nbetween = ["a", "b"]\n', r"corelation: .*did you mean correlation\?"),
        (GOOD + '[[intermediate]]\nsymbol = "a"\nequation = "b"\n', r"a: a symbol must be defined once"),
        (GOOD + '[[intermediate]]\nsymbol = "w"\nequation = "b +"\n', r"intermediate w: must be one equation"),
        ("[" * 5000, r"must be a TOML file"),
    ],
)
def test_a_faulty_file_is_told_in_one_clear_message(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(BudgetError, match=message):
        read(tmp_path, text)


UNCERTAIN = (
    HEAD + 'equation = "a + b + c"\n'
    '[[input]]\nsymbol = "a"\ndistribution = "normal"\nestimate = 1\nstandard_uncertainty = 0.1\n'
    '[[input]]\nsymbol = "b"\ndistribution = "rectangular"\nestimate = 2\nhalf_width = 0.1\n'
    '[[input]]\nsymbol = "c"\nvalue = 3.2\n'
)


@pytest.mark.parametrize(
    ("pairs", "message"),
    [
        (
            [("a", "c", 0.5)],
            "correlation 1 (a and c): between: must name inputs that are uncertain (got c, which is exactly 3.2); give "
            "c a distribution or readings, or leave this correlation out",
        ),
        (
            [("a", "b", 0.5), ("c", "b", 0.5)],
            "correlation 2 (c and b): between: must name inputs that are uncertain (got c, which is exactly 3.2); give "
            "c a distribution or readings, or leave this correlation out",
        ),
        (
            [("a", "a", 1.0)],
            "correlation 1 (a and a): between: must name two inputs (got a twice); a quantity needs no correlation "
            "with itself",
        ),
        (
            [("a", "b", 0.5), ("a", "b", 0.5)],
            "correlation 2 (a and b): between: must name a pair that has no coefficient yet (got the pair of "
            "correlation 1, there with coefficient 0.5); keep one of the two",
        ),
        (
            [("a", "b", 0.5), ("b", "a", -0.3)],
            "correlation 2 (b and a): between: must name a pair that has no coefficient yet (got the pair of "
            "correlation 1, there with coefficient 0.5); keep one of the two",
        ),
        (
            [("a", "y", 0.5)],
            "correlation 1 (a and y): between: must name inputs, which are a, b, c (got y)",
        ),
    ],
)
def test_a_correlation_that_could_have_no_effect_or_two_is_refused(
    tmp_path: Path, pairs: list[tuple[str, str, float]], message: str
) -> None:
    tables = "".join(
        f'[[correlation]]\nbetween = ["{one}", "{other}"]\ncoefficient = {coefficient}\n'
        for one, other, coefficient in pairs
    )

    with pytest.raises(BudgetError) as fault:
        read(tmp_path, UNCERTAIN + tables)

    assert str(fault.value) == f"{tmp_path / 'budget.toml'}: {message}"


def test_an_input_whose_limits_meet_is_a_constant_for_a_correlation_too(tmp_path: Path) -> None:
    text = UNCERTAIN.replace("half_width = 0.1", "half_width = 0")

    with pytest.raises(BudgetError, match=r"must name inputs that are uncertain \(got b, which is exactly 2\)"):
        read(tmp_path, text + '[[correlation]]\nbetween = ["a", "b"]\ncoefficient = 0.5\n')


def test_a_correlation_finds_its_inputs_however_their_letters_are_encoded(tmp_path: Path) -> None:
    # Unicode: the micro sign U+00B5 is the Greek letter U+03BC in form NFKC, in which equations carry their symbols.
    text = UNCERTAIN.replace('"a"', '"\u00b5"').replace("a + b", "\u00b5 + b")
    found = read_budget_file(written(tmp_path, text + '[[correlation]]\nbetween = ["\u00b5", "b"]\ncoefficient = 1\n'))

    assert found.model.correlations[0].between == ("\u03bc", "b")
    # coefficient 1: the uncertainties of a sum add, JCGM 100, 5.2.2
    assert analyse(found.model).propagation.standard_uncertainty == pytest.approx(0.1 + 0.1 / 3**0.5)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("value = 1", 'distribution = "normal"').replace("value = 2", 'distribution = "gamma"')

    with pytest.raises(BudgetError) as fault:
        read(tmp_path, text)

    assert [line.split(": ")[1] for line in str(fault.value).splitlines()] == ["input 1 (a)", "input 2 (b)"]


def test_a_missing_a_binary_and_a_monstrous_file_are_told(tmp_path: Path) -> None:
    binary, large = tmp_path / "b.toml", tmp_path / "c.toml"
    binary.write_bytes(b"\xff\xfe\x00\x01")
    large.write_bytes(b"#" * 2_000_001)

    for path, message in (
        (tmp_path / "none.toml", "must be a file that can be read"),
        (tmp_path, "must be a file that can be read"),
        (binary, "must be a text file in UTF-8"),
        (large, "must be a budget file of at most 2000000 bytes"),
    ):
        with pytest.raises(BudgetError, match=message):
            read_budget_file(path)


@given(st.binary(max_size=200))
@settings(max_examples=60)
def test_no_bytes_whatever_end_in_anything_but_a_budget_or_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.mktemp("fuzz") / "f.toml"
    path.write_bytes(GOOD.encode() + data)
    try:
        found = read_budget_file(path)
    except BudgetError as fault:
        assert str(fault).startswith(str(path))  # noqa: PT017 either outcome is right, but no other
    else:
        assert found.model.at_estimates() == 3.0


def units(folder: Path, equation: str, unit: str, **inputs: str) -> object:
    tables = "".join(f'[[input]]\nsymbol = "{s}"\nunit = "{u}"\nvalue = 1.5\n' for s, u in inputs.items())
    return read(folder, f'{HEAD}unit = "{unit}"\nequation = "{equation}"\n{tables}')


@pytest.mark.parametrize(
    ("equation", "unit", "inputs"),
    [
        ("m * (1 + a*t) - d", "g", {"m": "g", "a": "1/degC", "t": "degC", "d": "g"}),
        ("l - l*(a*t + b*u)", "nm", {"l": "nm", "a": "1/°C", "t": "°C", "b": "K⁻¹", "u": "K"}),
        ("1000*m*P/V", "mg/L", {"m": "mg", "P": "", "V": "mL"}),
        ("4*pi**2*l/T**2", "m/s²", {"l": "m", "T": "s"}),
        ("n*k/m", "J/kg", {"n": "rev", "k": "J/rev", "m": "kg"}),
        ("P*t/m", "kJ/kg", {"P": "W", "t": "s", "m": "g"}),
        ("A*exp(-t/s)", "Bq", {"A": "Bq", "t": "h", "s": "h"}),
        ("sqrt(a**2 + b**2)*cos(p)", "ohm", {"a": "ohm", "b": "ohm", "p": "rad"}),
        ("max(a, 0)", "g", {"a": "g"}),
        ("a + b/c", "g", {"a": "g", "b": "drop", "c": "drop/g"}),
        ("a/b*100", "%", {"a": "g", "b": "g"}),
        ("a*(1 + e/100)", "V", {"a": "V", "e": "%"}),
        ("1e6*(a - b)/b", "ppm", {"a": "g", "b": "g"}),
        ("a + b + c", "%", {"a": "%", "b": "%", "c": "percent"}),
        ("a*(1 + (e + f)/100)", "V", {"a": "V", "e": "%", "f": "%"}),
        ("L + a + b", "dB", {"L": "dB", "a": "dB", "b": "dB"}),
        ("P*10**(L/10)", "W", {"P": "W", "L": "dB"}),
        ("l*sin(a*pi/180)", "m", {"l": "m", "a": "deg"}),
    ],
)
def test_an_equation_whose_unit_comes_out_right_is_taken(
    tmp_path: Path, equation: str, unit: str, inputs: dict[str, str]
) -> None:
    assert units(tmp_path, equation, unit, **inputs)


@pytest.mark.parametrize(
    ("equation", "unit", "inputs", "message"),
    [
        (
            "m/V",
            "kg/m^3",
            {"m": "kg", "V": "m"},
            r"equation of y: its unit must come out as kg/m\^3 \(got a quantity in",
        ),
        ("m/V", "kg/m^3", {"m": "g", "V": "m^3"}, r"got a unit 0.001 times as large"),
        ("P*t/m", "J/kg", {"P": "W", "t": "min", "m": "kg"}, r"got a unit 60 times as large"),
        ("a + b", "g", {"a": "g", "b": "s"}, r"what is added must have one unit"),
        ("a + b", "g", {"a": "g", "b": "kg"}, r"what is added must have one unit"),
        ("exp(t)*a", "g", {"t": "s", "a": "g"}, r"exp must have a plain number in its brackets"),
        ("exp(-t/s)*a", "g", {"t": "h", "s": "min", "a": "g"}, r"exp must have a plain number in its brackets"),
        ("a**b", "g", {"a": "g", "b": ""}, r"a quantity with a unit must have a number as its exponent|must come out"),
        ("2**a", "g", {"a": "g"}, r"an exponent must be a plain number"),
        ("n*k/m", "J/kg", {"n": "rev", "k": "J", "m": "kg"}, r"its unit must come out as J/kg"),
        ("a", "g", {"a": "g*"}, r"unit: must be a product of units"),
        (
            "a*(1 + e)",
            "V",
            {"a": "V", "e": "%"},
            r"one unit \(got a plain number and .* units of 0.01",
        ),
        ("a/b", "%", {"a": "g", "b": "g"}, r"must come out as % \(got a unit 100 times as large"),
    ],
)
def test_an_equation_whose_unit_comes_out_wrong_is_refused(
    tmp_path: Path, equation: str, unit: str, inputs: dict[str, str], message: str
) -> None:
    if not all(inputs.values()):
        inputs = {symbol: u or "1" for symbol, u in inputs.items()}

    with pytest.raises(BudgetError, match=message):
        units(tmp_path, equation, unit, **inputs)


@pytest.mark.parametrize(
    ("equation", "unit", "inputs", "warned"),
    [
        ("s*A*T**4", "W", {"s": "W/(m^2 K^4)", "A": "m^2", "T": "degC"}, "T: "),
        ("n*R*T/V", "Pa", {"n": "mol", "R": "J/(mol K)", "T": "°C", "V": "m^3"}, "T: "),
        ("s*A*T**4", "W", {"s": "W/(m^2 K^4)", "A": "m^2", "T": "K"}, ""),
        ("c*m*(T - t)", "J", {"c": "J/(kg K)", "m": "kg", "T": "degC", "t": "degC"}, ""),
        ("R*(1 + a*t)", "ohm", {"R": "ohm", "a": "1/degC", "t": "degC"}, ""),
    ],
)
def test_a_celsius_temperature_where_kelvins_are_wanted_is_told(
    tmp_path: Path, equation: str, unit: str, inputs: dict[str, str], warned: str
) -> None:
    tables = "".join(f'[[input]]\nsymbol = "{s}"\nunit = "{u}"\nvalue = 1.5\n' for s, u in inputs.items())
    path = tmp_path / "budget.toml"
    path.write_text(f'{HEAD}unit = "{unit}"\nequation = "{equation}"\n{tables}', encoding="utf-8")

    notes = [note for note in analyse(read_budget_file(path).model).notes if "Celsius" in note]
    assert [note[: len(warned)] for note in notes] == ([warned] if warned else [])


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("0.1 g", "kg", 1e-4),
        ("375 rev/kWh", "count/J", 375 / 3.6e6),  # 1 kWh = 3.6 MJ
        ("800 pulse/kWh", "count/J", 800 / 3.6e6),
        ("600 imp/kWh", "count/J", 600 / 3.6e6),
        ("2 %", "", 0.02),
        ("21 degC", "K", 294.15),
        ("21 °C", "degC", 21.0),
        ("1,4 L", "m^3", 1.4e-3),
        ("5 kJ/(kg K)", "J/kg/K", 5000.0),
        ("−3 µm", "m", -3e-6),
        ("0.7 kW", "W", 700.0),
    ],
)
def test_values_with_units_are_read(text: str, unit: str, expected: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("375 rev/kg", "count/J", r"must be counts per energy, .* \(got '375 rev/kg'"),
        ("0.1 s", "kg", r"must be a mass, such as \"1.5 kg\" \(got '0.1 s', a time\)"),
        ("0.1", "kg", r"must be a mass, .*a share or plain number"),
        ("heavy", "kg", r"must be a number with its unit"),
        ("1 heap", "kg", r"must have a unit that is known"),
        ("1e999 g", "kg", r"must be a finite number"),
    ],
)
def test_a_value_of_another_kind_is_refused_with_both_kinds_named(text: str, unit: str, message: str) -> None:
    with pytest.raises(BudgetError, match=message):
        parse_quantity(text, unit)


def test_a_simulation_that_is_not_stable_says_by_how_much(tmp_path: Path) -> None:
    path = tmp_path / "budget.toml"
    path.write_text(
        '[measurand]\nsymbol = "y"\nequation = "a / b"\n'
        '[[input]]\nsymbol = "a"\ndistribution = "rectangular"\nestimate = 2.0\nhalf_width = 0.5\n'
        '[[input]]\nsymbol = "b"\ndistribution = "rectangular"\nestimate = 3.0\nhalf_width = 0.5\n',
        encoding="utf-8",
    )
    report = analyse(read_budget_file(path).model, trials=800)

    note = next(note for note in report.notes if "not stable" in note)
    wanted, got = (float(number) for number in re.findall(r"(?:stable to|up to) ([\d.e-]*\d)", note))
    assert not report.simulation.converged
    assert wanted < got == pytest.approx(2.0 * max(report.simulation.errors), rel=0.05)


def test_correlated_inputs_get_shapley_effects_in_the_json(tmp_path: Path) -> None:
    text = GOOD.replace("value = 1", 'distribution = "normal"\nestimate = 1\nstandard_uncertainty = 1').replace(
        "value = 2", 'distribution = "normal"\nestimate = 2\nstandard_uncertainty = 1'
    )
    path = tmp_path / "b.toml"
    path.write_text(text + '[[correlation]]\nbetween = ["a", "b"]\ncoefficient = 0.5\n', encoding="utf-8")
    rows = analyse(read_budget_file(path).model, trials=5000).to_json_dict()["inputs"]

    assert [row["shapley"] for row in rows] == pytest.approx([0.5, 0.5], abs=0.01)
    # Var(E[Y|a])/Var(Y) = (1 + r)²/(2 + 2r) = 0.75 for Y = a + b, r = 0.5
    assert rows[0]["sobol_first"] == pytest.approx(0.75, abs=0.01)
