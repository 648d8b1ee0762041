"""The rehearsal page in other languages: nothing of it stays English but what the sheet itself holds."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from reports.command_line.cli import main

BENCH = str(Path(__file__).parents[3] / "configs" / "cupboard.toml")
ENGLISH_WORDS = re.compile(r"\b(the|of|and|with|is|are|what|from|which|runs|share|heat|water)\b", re.IGNORECASE)


@pytest.fixture(scope="module", params=["de", "fr", "es"])
def page(request: pytest.FixtureRequest, once: Callable[..., Path]) -> BeautifulSoup:
    code: str = request.param

    def fill(folder: Path) -> None:
        asked = ("--current", "--language", code, "--runs", "10", "--trials", "128", "--workers", "1", "--quiet")
        assert main(["rehearse", BENCH, "--out", str(folder / "out"), *asked]) == 0

    text = (once(f"rehearsal-{code}", fill) / "out" / "report.html").read_text(encoding="utf-8")
    return BeautifulSoup(text, "html.parser")


def test_no_text_of_the_page_is_english(page: BeautifulSoup) -> None:
    for element in page.select("style, script, #sheet-section table"):
        element.decompose()
    texts = [*page.stripped_strings, *(str(one["aria-label"]) for one in page.select("[aria-label]"))]
    said = [text.replace("virtual", "") for text in texts if not re.search(r"readings\.csv", text)]

    assert [text for text in said if ENGLISH_WORDS.search(text)] == []


def test_the_page_says_its_language_and_writes_decimal_commas(page: BeautifulSoup) -> None:
    root = page.html
    assert root is not None
    assert root["lang"] in {"de", "fr", "es"}
    assert re.search(r"\d,\d\u202f%", page.get_text())


def test_an_unknown_language_is_refused_before_any_work(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", BENCH, "--out", str(tmp_path / "out"), "--language", "it"]) == 2
    assert "--language it" in capsys.readouterr().err
