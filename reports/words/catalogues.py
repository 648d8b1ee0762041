"""
The catalogues of messages: collected from the sources, kept as PO files, compiled to MO files.

``python -m reports.words.catalogues`` collects the messages, writes the template and every catalogue anew (translations
are kept, new messages are left empty), and compiles them.
"""

from __future__ import annotations

import ast
import io
from collections.abc import Collection, Iterator, Mapping
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from design.search import today as cautions
from reports.words import plan as wording
from reports.words import search as wording_search
from reports.words import sentences
from reports.words import what_if as wording_what_if
from reports.words.languages import DOMAIN, LANGUAGES

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog

ROOT = Path(str(files("reports")))
LOCALE = ROOT / "locale"
TEMPLATE = LOCALE / f"{DOMAIN}.pot"
KEYWORDS: Mapping[str, tuple[int, ...]] = {"_": (1,), "N_": (1,), "text": (1,), "several": (1, 2)}
"""Functions whose arguments are messages."""
TABLES: Mapping[str, tuple[int, ...]] = {**KEYWORDS, "Column": (2,), "table": (2,)}
"""The same, with headings and captions of tables."""
TABLE_SOURCES = (
    "tables/plan.py",
    "tables/search.py",
    "tables/bench_listing.py",
    "pages/plan_page.py",
    "pages/made_of.py",
)
"""Modules whose tables stand in a page that is translated."""
SENTENCES = (
    sentences.ROLES,
    sentences.PROCEDURES,
    sentences.CORRECTIONS,
    sentences.READINGS,
    sentences.OBJECTIVES,
    sentences.DECISION,
    sentences.SUMMARY,
    sentences.SIGNS,
    sentences.HEATER_OFF_WARNING,
    sentences.SAFETY,
    sentences.WALK,
    {key: text for key, text in sentences.HEADINGS.items() if not key.startswith("budget_")},
    sentences.BUDGET_TOTAL,
    wording.COUNTED,
    wording_search.SEARCH,
    cautions.SAFETY,
    cautions.HEATER_OFF_RATE,
    wording_what_if.WHAT_IF,
    wording_what_if.DIALS,
    wording_what_if.DIAL_NOTES,
    wording_what_if.FOLLOWS,
    wording_what_if.LIMITS,
    wording_what_if.RANKING,
)
"""Tables of sentences that are translated where they are used."""


_UNSTEADY = ('"POT-Creation', '"PO-Revision', '"Generated-By', '"Last-Translator', '"Language-Team', '"Report-Msgid')
"""Lines of a PO file's head that say nothing or change with the clock."""


NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
"""Date in the head of compiled catalogues, so that the same messages give the same bytes."""


def catalogue_path(code: str) -> Path:
    """Where the catalogue of a language is kept."""
    return LOCALE / code / "LC_MESSAGES" / f"{DOMAIN}.po"


def extracted() -> Catalog:
    """Collect every message of the sources into a template."""
    from babel.messages.catalog import Catalog

    template = Catalog(
        project="boiloff", charset="utf-8", fuzzy=False, header_comment="# Messages of boiloff.", msgid_bugs_address=""
    )
    for place, message in (*_of_modules(), *_of_templates(), *_of_sentences()):
        template.add(message, locations=[(place, 0)])
    return template


def _of_modules() -> Iterator[tuple[str, str | tuple[str, ...]]]:
    from babel.messages.extract import extract

    for path in sorted(ROOT.rglob("*.py")):
        keywords = TABLES if path.relative_to(ROOT).as_posix() in TABLE_SOURCES else KEYWORDS
        found = extract(
            "reports.words.catalogues:literal_messages", io.BytesIO(path.read_bytes()), keywords=dict(keywords)
        )
        for _line, message, _comments, _context in found:
            yield path.relative_to(ROOT).as_posix(), message


def literal_messages(
    stream: IO[bytes], keywords: Mapping[str, Any], comment_tags: Collection[str], options: Mapping[str, Any]
) -> Iterator[tuple[int, str, tuple[str | None, ...], list[str]]]:
    """
    Find calls of the keywords whose arguments are literal texts: a method of extraction for Babel.

    Babel's own looks at tokens only: it would take the key in ``text(SENTENCES["key"])`` for a message.
    """
    del comment_tags, options  # part of the method, not needed here
    for node in ast.walk(ast.parse(stream.read())):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name in keywords:
            yield node.lineno, name, tuple(_literal(argument) for argument in node.args), []


def _literal(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _of_templates() -> Iterator[tuple[str, str | tuple[str, ...]]]:
    from babel.messages.extract import extract

    for path in sorted((ROOT / "templates").rglob("*.html")):
        content = io.BytesIO(path.read_bytes())
        for _line, message, _comments, _context in extract("jinja2.ext:babel_extract", content, keywords={"_": None}):
            yield path.relative_to(ROOT).as_posix(), message


def _of_sentences() -> Iterator[tuple[str, str]]:
    for message in _strings(SENTENCES):
        if any(character.isalpha() for character in message):
            yield "sentences.py", message


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from _strings(part)
    elif isinstance(value, tuple):
        for part in value:
            yield from _strings(part)


def read(code: str) -> Catalog:
    """Read the catalogue of a language."""
    from babel.messages.pofile import read_po

    return read_po(io.BytesIO(catalogue_path(code).read_bytes()), locale=code, domain=DOMAIN)


def po_bytes(catalogue: Catalog) -> bytes:
    """Write a catalogue as a PO file: sorted, with the files of each message, without line numbers and dates."""
    from babel.messages.pofile import write_po

    buffer = io.BytesIO()
    write_po(
        buffer, catalogue, width=100, sort_output=True, include_lineno=False, omit_header=False, ignore_obsolete=True
    )
    lines = buffer.getvalue().decode("utf-8").splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith(_UNSTEADY)).encode("utf-8")


def mo_bytes(catalogue: Catalog) -> bytes:
    """Compile a catalogue."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    plain = read_po(io.BytesIO(po_bytes(catalogue)), locale=catalogue.locale, domain=DOMAIN)
    plain.creation_date = plain.revision_date = NO_DATE
    buffer = io.BytesIO()
    write_mo(buffer, plain)
    return buffer.getvalue()


def update() -> None:
    """Write template, catalogues and compiled catalogues anew."""
    from babel.messages.catalog import Catalog

    template = extracted()
    LOCALE.mkdir(exist_ok=True)
    TEMPLATE.write_bytes(po_bytes(template))
    for code in LANGUAGES[1:]:
        path = catalogue_path(code)
        path.parent.mkdir(parents=True, exist_ok=True)
        catalogue = Catalog(
            locale=code, domain=DOMAIN, project="boiloff", charset="utf-8", fuzzy=False,
            header_comment=f"# Messages of boiloff, {code}.", last_translator="", language_team="",
            msgid_bugs_address="",
        )  # fmt: skip
        for message in read(code) if path.exists() else ():
            catalogue[message.id] = message
        catalogue.update(template, no_fuzzy_matching=True)
        path.write_bytes(po_bytes(catalogue))
        path.with_suffix(".mo").write_bytes(mo_bytes(catalogue))


if __name__ == "__main__":
    update()
