"""Bench files that must be refused: every fault said, in a teacher's words, and nothing else raised."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from design.bench_files.reader import read_bench
from design.errors import BenchFileError, DesignError, Fault, write_message

HERE = Path(__file__).parent
GOOD = (HERE / "good_bench.toml").read_text(encoding="utf-8")
BAD: list[dict[str, Any]] = tomllib.loads((HERE / "bad_files.toml").read_text(encoding="utf-8"))["bad"]
ONE_LINE = re.compile(r"[^:\n]+: ([^\n]+: )?[^\n]+ \(got [^\n]+\); [^\n]+")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def faults_of(content: str | bytes) -> tuple[Fault, ...]:
    path = Path("bench.toml")
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(BenchFileError) as caught:
        read_bench(path)
    return caught.value.faults


def test_at_least_forty_ways_to_damage_a_file_are_tried() -> None:
    assert len({case["name"] for case in BAD}) == len(BAD) >= 40


@pytest.mark.parametrize("case", BAD, ids=lambda case: str(case["name"]))
def test_a_damaged_file_is_refused_with_file_key_value_and_what_would_be_right(
    case: dict[str, Any],
) -> None:
    assert GOOD.count(case["find"]) == 1

    faults = faults_of(GOOD.replace(case["find"], case["put"]))

    assert [str(fault).removeprefix("bench.toml: ") for fault in faults] == case["say"]
    assert all(ONE_LINE.fullmatch(str(fault)) for fault in faults)


def test_every_fault_of_a_file_is_said_at_once() -> None:
    names = [
        "an empty name",
        "a pressure of the high mountains",
        "a room hotter than any room",
        "a negative voltage",
        "no group",
        "a debt",
        "a mass among the powers",
        "no repeat",
        "an item of today that stands on no shelf",
        "a loss in kilograms",
        "a resolution of zero",
        "a negative price",
        "constant and step together",
        "a reading rule for a meter that counts nothing",
        "a list in place of a number",
        "a lid that fits",
        "a mass of a tonne",
    ]
    cases = [next(case for case in BAD if case["name"] == name) for name in names]
    damaged = GOOD
    for case in cases:
        damaged = damaged.replace(case["find"], case["put"])

    said = [str(fault).removeprefix("bench.toml: ") for fault in faults_of(damaged)]

    assert sorted(said) == sorted(line for case in cases for line in case["say"])


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "name: is missing (got nothing)"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "is no text (got 89 50 4e 47 0d 0a 1a 0a); save it as plain text in UTF-8"),
        ("name = 'Höhe'".encode("cp1252"), "is not UTF-8 text (got byte f6 in line 1); save it in UTF-8"),
        (GOOD.encode("utf-16"), "is no text (got ff fe 23 00 20 00 41 00); save it as plain text in UTF-8"),
        (b"a = " + b"[" * 5000, "is broken TOML"),
        (b"a = " + b"9" * 9000, "is broken TOML"),
        (b"# " + b"x" * 5_000_000, "is too large (got more than 4 MB)"),
    ],
    ids=["empty", "picture", "cp1252", "utf-16", "brackets", "long number", "large"],
)
def test_a_file_that_is_no_bench_file_is_refused(content: bytes, says: str) -> None:
    assert f"bench.toml: {says}" in "\n".join(map(str, faults_of(content))).replace("line 1, column 5: ", "")


@pytest.mark.parametrize("depth", [10, 100, 200, 300, 400, 500, 2000])
def test_brackets_within_brackets_are_refused_however_deep(depth: int) -> None:
    faults = faults_of(GOOD.replace("180", "[" * depth + "]" * depth))

    assert len(faults) == 1
    assert len(str(faults[0])) < 250


def test_a_missing_file_is_refused() -> None:
    with pytest.raises(BenchFileError) as caught:
        read_bench(Path("nowhere/bench.toml"))

    assert str(caught.value) == (
        "nowhere/bench.toml: does not exist (got no such file); "
        "check the name, or write a bench file, such as bench.toml there"
    )


def test_a_folder_in_place_of_a_file_is_refused(folder: Path) -> None:
    with pytest.raises(BenchFileError) as caught:
        read_bench(folder)

    assert str(caught.value) == f"{folder}: is a folder (got a folder); name a bench file, such as bench.toml"


def test_a_name_the_system_cannot_hold_is_refused() -> None:
    with pytest.raises(BenchFileError, match=r"cannot be read|does not exist"):
        read_bench(Path("x" * 5000))


def test_a_name_with_a_null_byte_is_refused() -> None:
    with pytest.raises(BenchFileError, match=r"cannot be read|does not exist"):
        read_bench(Path("bench\0.toml"))


def test_a_bench_file_error_is_a_design_error_that_counts_its_faults() -> None:
    Path("bench.toml").write_text(GOOD.replace('"0.5 g"', '"0 g"').replace("180", "-1"), encoding="utf-8")

    with pytest.raises(DesignError) as caught:
        read_bench(Path("bench.toml"))

    assert str(caught.value).splitlines()[0] == "2 things to put right:"
    assert len(str(caught.value).splitlines()) == 3


def test_a_message_of_one_fault_is_one_line() -> None:
    fault = Fault("bench.toml", "balance[2].price", "Digits", "must not be negative", "-3", "write a price")

    assert write_message((fault,)) == (
        'bench.toml: balance[2].price "Digits": must not be negative (got -3); write a price'
    )


def test_control_characters_of_a_file_never_reach_the_terminal() -> None:
    faults = faults_of(GOOD.replace('name = "Beam"', r'name = "Be\u001b[31mam"'))

    assert faults
    assert all(str(fault).isprintable() for fault in faults)
