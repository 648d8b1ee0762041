"""Languages: numbers, lists and dates as people write them, and catalogues without a gap."""

from __future__ import annotations

import dataclasses
import io
import re
from itertools import product
from string import Formatter
from typing import get_args

import numpy as np
import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from design import limits
from design.bench import Bench
from design.evaluation.school_rules import DEFAULT_RULES, read_rules
from design.kit import Reading
from design.procedures.face import pace_of
from design.procedures.registry import PROCEDURES
from design.search.plan import Plan
from design.setting.situation import Settings, situation_of
from reports.errors import OutputError
from reports.pieces.parts import given_for
from reports.rendering import Origin
from reports.words import catalogues
from reports.words.languages import LANGUAGES, Language, language
from reports.words.names import QUANTITIES, STAGES, quantity_name

OTHERS = LANGUAGES[1:]
THIN = "\u202f"
Key = str | tuple[str, ...]


def keys(catalogue: Catalog) -> dict[Key, Key]:
    """Messages and their translations; plurals as tuples."""
    found: dict[Key, Key] = {}
    for message in catalogue:
        if message.id:
            key = message.id if isinstance(message.id, str) else tuple(message.id)
            text = message.string or ""
            found[key] = text if isinstance(text, str) else tuple(text)
    return found


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


@pytest.fixture(scope="module")
def template() -> set[Key]:
    return set(keys(catalogues.extracted()))


def test_the_committed_template_holds_the_messages_of_the_sources(template: set[Key]) -> None:
    committed = read_po(io.BytesIO(catalogues.TEMPLATE.read_bytes()))

    assert set(keys(committed)) == template


@pytest.mark.parametrize("code", OTHERS)
def test_no_message_is_missing_empty_or_left_over(code: str, template: set[Key]) -> None:
    found = keys(catalogues.read(code))

    assert set(found) == template
    assert [key for key, text in found.items() if not text or (isinstance(text, tuple) and not all(text))] == []


@pytest.mark.parametrize("code", OTHERS)
def test_no_translation_is_marked_as_a_guess(code: str) -> None:
    assert [message.id for message in catalogues.read(code) if message.id and message.fuzzy] == []


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_fills_in_the_same_values(code: str) -> None:
    for key, text in keys(catalogues.read(code)).items():
        if isinstance(key, str) and isinstance(text, str):
            assert fields(text) == fields(key), key
        else:
            assert {name for form in text for name in fields(form)} == {name for form in key for name in fields(form)}


@pytest.mark.parametrize("code", OTHERS)
def test_the_compiled_catalogue_is_that_of_the_text(code: str) -> None:
    path = catalogues.catalogue_path(code)

    assert path.with_suffix(".mo").read_bytes() == catalogues.mo_bytes(catalogues.read(code))


@pytest.mark.parametrize("code", OTHERS)
def test_most_messages_really_differ_from_english(code: str) -> None:
    found = keys(catalogues.read(code))
    same = [key for key, text in found.items() if key == text]

    assert len(same) < 0.06 * len(found), same


@pytest.mark.parametrize("code", OTHERS)
def test_no_translation_calls_anything_safe(code: str) -> None:
    """Words for "safe" in the three languages; the pages never say so of a set-up."""
    words = re.compile(
        r"\b(ungefährlich|gefahrlos|sans danger|sans risque|sin peligro|sin riesgo|inocuo)\b", re.IGNORECASE
    )
    texts = [" ".join([text] if isinstance(text, str) else text) for text in keys(catalogues.read(code)).values()]

    assert [text for text in texts if words.search(text)] == []


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
    assert Language(code).text("Specific latent heat of vaporisation") == phrase


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
    assert Language("de").several("{number} pulse", "{number} pulses", number) == written


def test_none_is_singular_in_french() -> None:
    """CLDR plural rules: French takes the singular for 0 and 1."""
    assert Language("fr").several("{number} pulse", "{number} pulses", 0) == "0 impulsion"


def test_an_unknown_language_is_refused_with_the_known_ones() -> None:
    with pytest.raises(OutputError, match=r"--language it: .* en, de, fr, es"):
        language("it")


def test_every_name_of_a_quantity_and_of_a_stage_is_in_the_catalogues(plan: Plan, bench: Bench) -> None:
    given = given_for(plan, bench, Language("en"), Origin("0", "2026-01-01"), "x")
    names, stages = set(), set()
    for procedure in PROCEDURES:
        settings = Settings(
            np.array([[1400.0, 900.0, 400.0][: procedure.number_of_powers]]), np.array([0.1]), np.array([2.0])
        )
        for correction, reads in product(procedure.corrections, get_args(Reading)):
            pace = pace_of(procedure, correction)
            kit = dataclasses.replace(given.kit, meter=dataclasses.replace(given.kit.meter, reads=reads))
            situation = situation_of(given.situation.conditions, kit, given.situation.hardware, settings, pace)
            names |= {term.name for term in procedure.terms(situation)}
            stages |= {stage for stage, _ in situation.time_table}

    assert {re.sub(r" \(power \d\)$", "", name) for name in names} <= set(QUANTITIES)
    assert stages <= set(STAGES)


def test_every_reason_of_a_limit_is_in_the_catalogues(plan: Plan, bench: Bench, template: set[Key]) -> None:
    given = given_for(plan, bench, Language("en"), Origin("0", "2026-01-01"), "x")
    reasons = {limit.reason for limit in limits.limits_of(given.situation, given.procedure, 1.0)}

    assert reasons
    assert reasons <= template


def test_the_description_of_the_school_rule_is_in_the_catalogues(template: set[Key]) -> None:
    assert read_rules(DEFAULT_RULES).description in template


def test_a_quantity_of_a_power_of_its_own_is_named_by_its_parts() -> None:
    assert quantity_name(Language("de"), "balance, linearity (power 2)") == "Waage, Linearität (Leistung 2)"
