"""Languages: numbers, lists and dates as people write them, and catalogues without a gap."""

from __future__ import annotations

import ast
import dataclasses
import re
from collections.abc import Iterator
from importlib.resources import files
from itertools import product
from pathlib import Path
from string import Formatter
from typing import get_args

import numpy as np
import pytest

from design.bench import Bench
from design.evaluation.school_rules import DEFAULT_RULES, read_rules
from design.kit import Reading
from design.limits import END, LIMITS, UNSUITABLE, WAY
from design.physics.evidence import ROWS
from design.procedures.face import pace_of
from design.procedures.registry import PROCEDURES
from design.search.plan import Plan
from design.setting.situation import Settings, constants_in, situation_of
from reports.errors import OutputError
from reports.pieces.parts import given_for
from reports.rendering import Origin
from reports.words import catalogues
from reports.words.languages import ENGLISH, ENGLISH_ALONE, LANGUAGES, Language, Message, catalogue, language, messages
from reports.words.names import procedure_name, quantity_name

OTHERS = LANGUAGES[1:]
THIN = "\u202f"
REPORTS = Path(str(files("reports")))
DESIGN = Path(str(files("design")))
SPEAKING = {"_", "text", "several", "step"}
"""Functions whose first argument is a key."""
KEYED = (("Message", 0), ("at_row", 1), ("at_cell", 2), ("Refused", 1))
"""What is said of a readings sheet, and the place of the key among the arguments."""


def forms(message: Message) -> list[str]:
    return [message] if isinstance(message, str) else list(message.values())


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


def branches(node: ast.expr) -> Iterator[ast.expr]:
    """Every expression that a choice may give."""
    if isinstance(node, ast.IfExp):
        yield from branches(node.body)
        yield from branches(node.orelse)
    else:
        yield node


def pattern(node: ast.JoinedStr) -> str:
    """Regular expression of the keys that are put together."""
    return "".join(re.escape(str(part.value)) if isinstance(part, ast.Constant) else "[^.]+" for part in node.values)


def asked_for() -> tuple[set[str], set[str], set[str]]:
    """Keys that the sources name in full, patterns of those that they put together, and every literal text."""
    nodes = [
        node for path in REPORTS.rglob("*.py") for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    ]  # fmt: skip
    calls = [node for node in nodes if isinstance(node, ast.Call) and node.args]
    named = [(getattr(call.func, "id", getattr(call.func, "attr", "")), call.args) for call in calls]
    spoken = [part for name, arguments in named if name in SPEAKING for part in branches(arguments[0])]
    keys = {part.value for part in spoken if isinstance(part, ast.Constant) and isinstance(part.value, str)}
    for path in (REPORTS / "templates").rglob("*.html"):
        keys |= set(re.findall(r'\b_\("([^"]+)"', path.read_text(encoding="utf-8")))
    groups = set()
    for name, (first, *more) in named:
        if name in {"group", "name"} and isinstance(first, ast.Constant) and isinstance(first.value, str):
            part = more[1] if len(more) > 1 else None
            tail = rf"\.{part.value!s}" if isinstance(part, ast.Constant) else ""
            groups.add(rf"{re.escape(first.value)}\.[^.]+{tail}")
    literals = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    return keys, groups | {pattern(part) for part in spoken if isinstance(part, ast.JoinedStr)}, literals


def test_every_key_that_is_asked_for_is_in_the_catalogue() -> None:
    keys, patterns, _ = asked_for()

    assert {key for key in keys if key not in messages("en")} == set()
    assert {pattern for pattern in patterns if not any(re.fullmatch(pattern, key) for key in messages("en"))} == set()


def test_no_key_of_the_catalogue_is_asked_for_by_nobody() -> None:
    keys, patterns, literals = asked_for()
    known = re.compile("|".join(patterns))

    assert [key for key in messages("en") if key not in keys | literals and not known.fullmatch(key)] == []


@pytest.mark.parametrize("code", OTHERS)
def test_no_message_is_missing_empty_or_left_over(code: str) -> None:
    found = catalogue(code)

    assert found.keys() == catalogue("en").keys()
    assert [key for key, message in found.items() if not all(forms(message))] == []


def test_what_is_written_in_english_alone_is_said_once() -> None:
    assert catalogue(ENGLISH_ALONE).keys() & catalogue("en").keys() == set()


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_fills_in_the_same_values(code: str) -> None:
    english = catalogue("en")
    for key, message in catalogue(code).items():
        wanted = {name for form in forms(english[key]) for name in fields(form)}

        assert {name for form in forms(message) for name in fields(form)} == wanted, key
        assert isinstance(message, str) == isinstance(english[key], str), key


@pytest.mark.parametrize("name", [ENGLISH_ALONE, *LANGUAGES])
def test_the_files_are_as_the_program_writes_them(name: str) -> None:
    assert catalogues.written(catalogue(name)) == (catalogues.LOCALE / f"{name}.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("code", OTHERS)
def test_most_messages_really_differ_from_english(code: str) -> None:
    found, english = catalogue(code), catalogue("en")
    same = [key for key, message in found.items() if message == english[key]]

    assert len(same) < 0.06 * len(found), same


@pytest.mark.parametrize("code", OTHERS)
def test_no_translation_calls_anything_safe(code: str) -> None:
    """Words for "safe" in the three languages; the pages never say so of a set-up."""
    words = re.compile(
        r"\b(ungefährlich|gefahrlos|sans danger|sans risque|sin peligro|sin riesgo|inocuo)\b", re.IGNORECASE
    )

    assert [key for key, message in catalogue(code).items() if words.search(" ".join(forms(message)))] == []


@pytest.mark.parametrize(
    ("code", "phrase"),
    [
        ("de", "Spezifische Verdampfungswärme"),
        ("fr", "Énergie massique de vaporisation"),
        ("es", "Calor latente específico de vaporización"),
    ],
)
def test_the_quantity_has_its_school_name(code: str, phrase: str) -> None:
    """Names in school use: German textbooks, French lycée programme, Spanish bachillerato texts (from memory)."""
    assert Language(code).text("student.specific_latent_heat") == phrase


@pytest.mark.parametrize(
    ("code", "written"),
    [("en", f"2.26{THIN}MJ"), ("de", f"2,26{THIN}MJ"), ("fr", f"2,26{THIN}MJ"), ("es", f"2,26{THIN}MJ")],
)
def test_numbers_have_the_decimal_mark_of_their_language(code: str, written: str) -> None:
    """CLDR: decimal comma in German, French and Spanish of Spain."""
    assert Language(code).in_unit(2.26, "MJ") == written


@pytest.mark.parametrize("code", LANGUAGES)
def test_thousands_are_grouped_by_thin_spaces_in_every_language(code: str) -> None:
    """ISO 80000-1, 7.3.1: groups of three digits by a small space, never by a point or comma."""
    assert Language(code).fixed(2258780.0, 0) == f"2{THIN}258{THIN}780"


def test_value_and_uncertainty_are_rounded_together_in_every_language() -> None:
    assert Language("de").with_uncertainty(2258.78, 4.86, "kJ/kg") == f"(2258,8 ± 4,9){THIN}kJ/kg"
    assert Language("de").with_uncertainty(2258.78, 4.86, "kJ/kg", digits=1) == f"(2259 ± 5){THIN}kJ/kg"


def test_the_label_of_a_currency_stands_as_it_was_typed() -> None:
    assert Language("de").money(33.5, "Cr.5") == f"33,50{THIN}Cr.5"


@pytest.mark.parametrize(
    ("code", "written"), [("en", "a, b and c"), ("de", "a, b und c"), ("fr", "a, b et c"), ("es", "a, b y c")]
)
def test_lists_are_joined_as_the_language_does(code: str, written: str) -> None:
    assert Language(code).listed(["a", "b", "c"]) == written


@pytest.mark.parametrize(
    ("code", "written"),
    [("en", "4 March 2026"), ("de", "4. März 2026"), ("fr", "4 mars 2026"), ("es", "4 de marzo de 2026")],
)
def test_dates_are_written_out(code: str, written: str) -> None:
    assert Language(code).day("2026-03-04") == written


@pytest.mark.parametrize(
    ("number", "written"), [(1, "1 Impuls"), (2, "2 Impulse"), (0, "0 Impulse"), (11.3, "11,3 Impulse")]
)
def test_plurals_follow_the_number(number: float, written: str) -> None:
    assert Language("de").several("meter.pulse.number", number) == written


def test_none_is_singular_in_french() -> None:
    """CLDR plural rules: French takes the singular for 0 and 1."""
    assert Language("fr").several("meter.pulse.number", 0) == "0 impulsion"


def test_an_unknown_language_is_refused_with_the_known_ones() -> None:
    with pytest.raises(OutputError, match=rf"--language xx: .* {', '.join(LANGUAGES)}$"):
        language("xx")


def test_every_name_of_a_quantity_and_of_a_stage_is_in_the_catalogues(plan: Plan, bench: Bench) -> None:
    design = given_for(plan, bench, Language("en"), Origin("0", "2026-01-01"), "x").design
    names, stages = set(), set()
    for procedure in PROCEDURES:
        settings = Settings(
            np.array([[1400.0, 900.0, 400.0][: procedure.number_of_powers]]), np.array([0.1]), np.array([2.0])
        )
        for correction, reads in product(procedure.corrections, get_args(Reading)):
            pace = pace_of(procedure, correction)
            kit = dataclasses.replace(design.kit, meter=dataclasses.replace(design.kit.meter, reads=reads))
            situation = situation_of(design.conditions, kit, design.hardware, settings, pace)
            names |= {term.name for term in (*procedure.terms(situation), *constants_in(situation))}
            names |= {bound.name for bound in WAY}
            stages |= {stage for stage, _ in situation.time_table}

    assert {name.partition("/")[0] for name in names} <= ENGLISH.group("quantity").keys()
    assert stages <= ENGLISH.group("stage").keys()


def test_every_limit_has_a_reason_and_a_remedy() -> None:
    keys = {row.key for row in (*LIMITS, *UNSUITABLE)}

    assert {f"limit.{key.removesuffix(END)}.{part}" for key in keys for part in ("reason", "remedy")} <= messages(
        "en"
    ).keys()


def test_every_procedure_and_what_it_cancels_and_keeps_has_words() -> None:
    errors = {error for procedure in PROCEDURES for error in (*procedure.cancels, *procedure.keeps)}

    assert ENGLISH.group("error").keys() == errors
    assert len({procedure_name(procedure) for procedure in PROCEDURES}) == len(PROCEDURES)


def test_the_description_of_the_school_rule_is_that_of_its_file() -> None:
    assert ENGLISH.text("school_rule.default") == read_rules(DEFAULT_RULES).description


def test_a_quantity_of_a_power_of_its_own_is_named_by_its_parts() -> None:
    assert quantity_name("balance_linearity/2", Language("de")) == "Waage, Linearität (Leistung 2)"
    assert quantity_name("meter/corrected") == "energy meter, as corrected for"
    assert quantity_name("pull of the flex / left") == "pull of the flex / left"


def test_every_finding_of_a_readings_sheet_has_words_and_no_words_are_left_over() -> None:
    """Keys stand in the two rooms as literals, whether of a message or of a code that it is named by."""
    files_of_findings = [path for room in ("evaluation", "sheets") for path in (DESIGN / room).rglob("*.py")]
    nodes = [node for path in files_of_findings for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))]
    literals = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    calls = [(getattr(node.func, "id", ""), node.args) for node in nodes if isinstance(node, ast.Call)]
    keys = [arguments[place] for called, arguments in calls for name, place in KEYED if called == name]
    said = {key.value for key in keys if isinstance(key, ast.Constant)}

    assert said <= ENGLISH.group("finding").keys() <= literals


def test_every_default_that_nobody_measures_has_words() -> None:
    assert ENGLISH.group("evidence").keys() == {row.key for row in ROWS}
