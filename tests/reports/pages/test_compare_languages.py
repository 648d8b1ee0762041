"""The comparison page in German: nothing stays English but symbols, equations and what the kits are drawn from."""

from __future__ import annotations

import re
from pathlib import Path

from bs4 import BeautifulSoup

from reports.command_line.cli import main

BENCH = str(Path(__file__).parents[3] / "configs" / "cupboard.toml")
ENGLISH_WORDS = re.compile(r"\b(the|of|with|is|are|what|from|which|runs|share|heat|water|half|judgement|published)\b")


def test_no_text_of_the_german_page_is_english(tmp_path: Path) -> None:
    asked = ("--language", "de", "--trials", "128", "--workers", "1", "--quiet")
    assert main(["compare", BENCH, "--out", str(tmp_path / "out"), *asked]) == 0
    page = BeautifulSoup((tmp_path / "out" / "report.html").read_text(encoding="utf-8"), "html.parser")
    drawn_from = page.find("caption", string=re.compile("Woraus die plausiblen"))
    assert drawn_from is not None
    assert drawn_from.parent is not None
    drawn_from.parent.decompose()
    for element in page.select("style, script, pre"):
        element.decompose()
    texts = [*page.stripped_strings, *(str(one["aria-label"]) for one in page.select("[aria-label]"))]

    assert [text for text in texts if ENGLISH_WORDS.search(text)] == []
