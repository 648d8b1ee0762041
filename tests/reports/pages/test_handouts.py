"""Working sheets done again with a pocket calculator: the printed numbers alone give L, correction and U."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from bs4 import BeautifulSoup, Tag

from design.evaluation.evaluate import Evaluation, EvaluationRequest
from reports.pages.handout_page import class_page, handouts_page
from reports.rendering import Origin
from reports.words.by_hand import circled
from reports.words.languages import ENGLISH, LANGUAGES, Language
from tests.reports.conftest import FROZEN, WAYS, evaluated

if TYPE_CHECKING:
    from playwright.sync_api import Page

ORIGIN = Origin("0", "2026-03-04")
THREE = """group,run,mark,time_s,counts,mass_g,heater
A,1,0,0,12,240,on
A,1,1,432,43,120,on
A,2,0,0,50,240,on
A,2,1,438,82,120,on
B,1,0,0,3,240,on
B,1,1,429,34.5,120,on
C,1,0,0,7,240,on
C,1,1,431,38.5,120,on
"""
TWO_LEVELS = """group,run,mark,time_s,counts,mass_g,heater
1,1,0,0,10,960.0,on
1,1,1,229.0,61,864.5,on
1,1,2,459.0,112,769.4,on
1,2,0,0,120,760.0,on
1,2,1,230.0,137,733.2,on
1,2,2,460.0,154,706.9,on
"""

POWER = """group,run,mark,time_s,power_W,mass_g,heater
1,1,0,0,700,960,on
1,1,1,120,702,928,on
1,1,2,240,699,896,on
1,1,3,360,701,864,on
"""
VOLTS = """group,run,mark,time_s,voltage_V,current_A,mass_g,heater
1,1,0,0,230,3.05,960,on
1,1,1,440,231,3.04,844,on
1,2,0,500,230,3.05,820,on
1,2,1,940,231,3.04,704,on
"""
STEPS_OF_MASS = """group,run,mark,time_s,counts,mass_step_g,heater
1,1,,432,31,120,on
1,2,,438,32,120,on
"""
TWICE_READ = """group,run,mark,time_s,counts,mass_g,heater
1,1,0,0,12,240,on
1,1,0,1,12,241,on
1,1,1,432,43,120,on
1,1,1,432,43,121,on
1,1,2,864,74,0,on
"""


TEACHER = EvaluationRequest(teacher=True, trials=512)


def plain(text: str) -> str:
    return text.replace("\u202f", "").replace("\u2212", "-").replace(",", ".").strip()


def number(text: str) -> float:
    found = re.fullmatch(r"(-?[\d.]+)(?:×10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+))?", plain(text).replace(" ", ""))
    assert found, text
    return float(found.group(1)) * 10.0 ** int(
        (found.group(2) or "⁰").translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    )


def rows(section: Tag, place: str) -> Iterator[list[str]]:
    for row in section.select(f"{place} tbody tr"):
        yield [cell.get_text(strip=True) for cell in row.find_all(["th", "td"])]


class Calculator:
    """A pupil with a pocket calculator and the printed sheet, and nothing else."""

    def __init__(self, section: Tag) -> None:
        self.section = section
        self.results: list[float] = []
        for step in section.select(".working-steps li"):
            line = step.select_one(".line")
            assert line is not None
            text = line.get_text(" ", strip=True).strip("= ")
            self.results.append(self._keyed(text) if text else self._summed(step))

    def _keyed(self, text: str) -> float:
        text = re.sub(r"(?<=\d)\u202f(?=\d)", "", text).replace("\u202f", "")
        text = re.sub(r"(?<=\d),(?=\d)", ".", text)
        text = re.sub(
            r"×10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)",
            lambda raised: "e" + raised[1].translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")),
            text,
        )
        text = re.sub(
            r"[⁰¹²³⁴⁵⁶⁷⁸⁹]+", lambda raised: "**" + raised[0].translate(str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789")), text
        )
        text = text.replace("\u2212", "-").replace("×", "*").replace("√", "math.sqrt")
        for place, value in enumerate(self.results, start=1):
            text = text.replace(circled(place), repr(value))
        assert re.fullmatch(r"[\d.e+\-*/() ]*(math\.sqrt[\d.e+\-*/() ]*)*", text), text
        return float(eval(text, {"math": math}))  # noqa: S307 - only digits and operators, see above

    def _summed(self, step: Tag) -> float:
        """Σ(x − x̄)·y over the marks of a run, by the symbols' index where there are several runs."""
        symbols = step.select_one("math")
        assert symbols is not None
        index, letters = (
            symbols.select_one("mtext, msub > mi:nth-of-type(2)"),
            [m.get_text() for m in symbols.select("mi")],
        )
        assert index is not None
        first, second = list(index.get_text()[:2])
        assert first in letters
        table = list(rows(self.section, ".marks"))
        names = list(dict.fromkeys(row[0] for row in table))
        tail = index.get_text()[2:].strip(",\u2009")
        wanted = self._run_of(tail, names)
        marks = [row for row in table if row[0] == wanted]
        place = {"E": -3, "m": -2, "t": -1}
        x, y = ([number(row[place[letter]]) for row in marks] for letter in (first, second))
        return sum((one - sum(x) / len(x)) * other for one, other in zip(x, y, strict=True))

    def _run_of(self, tail: str, names: list[str]) -> str:
        if len(names) == 1:
            return names[0]
        note = self.section.select_one(".marks + p")
        assert note is not None
        wanted = tail.replace(",\u2009", ", ").replace(", raw", "")
        found = re.findall(r"run (\S+): index (\d[\d, ]*\d|\d)", note.get_text())
        by_index: dict[str, str] = {index: name for name, index in found}
        return by_index[wanted]

    @property
    def combined(self) -> float:
        squares = 0.0
        for row in rows(self.section, ".budget"):
            if not row[0]:
                squares += number(row[-1]) ** 2
                continue
            divisor = {"√3": math.sqrt(3.0), "√6": math.sqrt(6.0), "1": 1.0}[row[5]]
            squares += (number(row[7]) * number(row[2]) / divisor) ** 2
        return math.sqrt(squares)

    @property
    def expanded(self) -> float:
        line = self.section.select_one(".expanded")
        assert line is not None
        found = re.search(r"= ([\d.,]+) ×", line.get_text())
        assert found
        return number(found.group(1)) * self.combined


def printed(section: Tag) -> dict[str, str]:
    labels, values = section.select(".check dt"), section.select(".check dd")
    return {label.get_text(): value.get_text() for label, value in zip(labels, values, strict=True)}


def same(found: float, text: str) -> bool:
    """Within one unit of the last printed digit, in kJ/kg."""
    digits = plain(text).removesuffix("kJ/kg").strip()
    last = 10.0 ** -len(digits.partition(".")[2])
    if "." not in digits:  # (2260 ± 160): the last digits may be noughts that stand for a place
        last = 10.0 ** (len(digits.lstrip("-")) - len(digits.lstrip("-").rstrip("0") or "0"))
    return abs(found / 1e3 - float(digits)) <= last


def sheets(evaluation: Evaluation, say: Language = ENGLISH) -> list[Tag]:
    soup = BeautifulSoup(handouts_page(evaluation, ORIGIN, say), "html.parser")
    return soup.select("section.handout")


def check(section: Tag) -> None:
    pupil, told = Calculator(section), printed(section)

    assert same(pupil.results[-1], told["L, corrected"])
    assert same(pupil.combined, told["u(L), standard uncertainty"])
    assert same(pupil.expanded, told["U, expanded uncertainty"])
    line = section.select_one(".correction")
    assert line is not None
    first = next(
        place for place in range(1, 51) if line.get_text().split("=")[1].split("−")[1].strip() == circled(place)
    )
    assert same(pupil.results[first - 1], told["E/m"])
    assert same(pupil.results[-1] - pupil.results[first - 1], told["Correction"])


@pytest.mark.parametrize("way", WAYS)
def test_a_pocket_calculator_gives_what_is_printed(way: str) -> None:
    for section in sheets(evaluated(way, FROZEN / f"{way}.csv", TEACHER)):
        check(section)


@pytest.mark.parametrize(
    ("way", "text"), [("series", TWO_LEVELS), ("two-powers", TWO_LEVELS), ("fixed-mass-restart", THREE)]
)
def test_it_does_so_for_lines_at_several_powers_and_for_every_group(way: str, text: str, tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(text, encoding="utf-8")
    found = sheets(evaluated(way, file, TEACHER))

    assert len(found) == len({row.split(",")[0] for row in text.splitlines()[1:]})
    for section in found:
        check(section)


@pytest.mark.parametrize("text", [POWER, VOLTS, STEPS_OF_MASS, TWICE_READ])
def test_it_does_so_however_the_energy_and_the_mass_were_read(text: str, tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(text, encoding="utf-8")
    for way in ("whole-counts", "fixed-mass-restart"):
        for section in sheets(evaluated(way, file, TEACHER)):
            check(section)


@pytest.mark.parametrize("code", LANGUAGES)
def test_it_does_so_in_every_language(code: str) -> None:
    (section,) = sheets(evaluated("whole-counts", FROZEN / "whole-counts.csv", TEACHER), Language(code))
    pupil, told = Calculator(section), list(printed(section).values())

    assert same(pupil.results[-1], told[2])
    assert same(pupil.combined, told[3])
    assert same(pupil.expanded, told[4])


def test_every_reading_of_every_mark_is_printed_as_typed_and_since_the_first() -> None:
    evaluation = evaluated("series", FROZEN / "series.csv", TEACHER)
    (section,) = sheets(evaluation)
    run = evaluation.groups[0].result.measured.levels[0][0]
    found = list(rows(section, ".marks"))

    assert [row[2:5] for row in found] == [
        [reading.numbers[name].text for name in ("counts", "mass", "time")] for reading in evaluation.sheet.readings
    ]
    for column, values in zip((-3, -2, -1), (run.energy, run.mass, run.time), strict=True):
        assert values is not None
        assert [number(row[column]) for row in found] == pytest.approx(values, abs=1e-9)


def test_every_plus_minus_says_what_it_is() -> None:
    (section,) = sheets(evaluated("whole-counts", FROZEN / "whole-counts.csv", TEACHER))

    assert {row[4] for row in rows(section, ".budget") if row[0]} <= {"limit", "limit, middle likelier", "u"}
    assert all(row[5] for row in rows(section, ".given"))
    assert "± is the expanded uncertainty U" in section.get_text()
    assert printed(section)["By the school rule"].endswith("± is a limit")


def test_the_sheet_of_a_group_without_its_own_value_has_gaps_and_no_result() -> None:
    evaluation = evaluated("whole-counts", FROZEN / "whole-counts.csv", EvaluationRequest(trials=512))
    (section,) = sheets(evaluation)
    best = evaluation.groups[0].result.best

    assert not section.select(".check")
    assert len(section.select(".gap")) > 8
    assert f"{best.value / 1e3:.0f}" not in plain(section.get_text())


def test_the_class_page_has_the_numbers_of_every_sheet(tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(THREE, encoding="utf-8")
    evaluation = evaluated("fixed-mass-restart", file, TEACHER)
    soup = BeautifulSoup(class_page(evaluation, ORIGIN), "html.parser")
    told = {section["id"]: printed(section) for section in sheets(evaluation)}

    for place, row in enumerate(rows(soup, "section"), start=1):
        own = told[f"h{place}"]
        assert row[1:6] == [own["E/m"], own["Correction"], own["L, corrected"], own["u(L), standard uncertainty"],
                            own["U, expanded uncertainty"]]  # fmt: skip
    assert soup.select_one("figure")


@pytest.mark.browser
def test_sheets_fit_a_telephone_and_paper(opened: Callable[..., Page], tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(THREE, encoding="utf-8")
    evaluation = evaluated("fixed-mass-restart", file, TEACHER)
    for name, text in (("handouts", handouts_page(evaluation, ORIGIN)), ("class", class_page(evaluation, ORIGIN))):
        (tmp_path / f"{name}.html").write_text(text, encoding="utf-8")
        page: Any = opened(tmp_path / f"{name}.html")
        for width in (1280, 360, 320):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.pdf(path=tmp_path / "page.pdf", format="A4", prefer_css_page_size=True)
        sides = len(re.findall(rb"/Type /Page\b", (tmp_path / "page.pdf").read_bytes()))
        assert sides <= (6 if name == "handouts" else 1)
