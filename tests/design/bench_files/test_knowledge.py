"""Knowledge of one vessel and one meter: what a file may say, and what a teacher is told otherwise."""

from pathlib import Path

import pytest

from design.bench_files.knowledge import read_knowledge, with_knowledge
from design.bench_files.reader import read_bench
from design.errors import BenchFileError

DEMO = Path(__file__).parents[3] / "configs" / "demo.toml"


def written(folder: Path, text: str) -> Path:
    file = folder / "known.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_knowledge_without_of_holds_for_the_whole_bench(tmp_path: Path) -> None:
    bench = read_bench(DEMO)
    known = with_knowledge(bench, read_knowledge(written(tmp_path, '[knowledge]\nwall_loss = {value = "31 W"}\n')))

    assert known.knowledge["wall_loss"].mean == 31.0
    assert known.vessels == bench.vessels


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wall_loss = 3", "no table [knowledge]"),
        ("[knowledge]\nof = {vessel = 3}", "knowledge.of.vessel"),
        ("[knowledge]\nof = {jug = 'x'}", "knowledge.of.jug"),
        ("[knowledge]\nof = 'x'", "knowledge.of"),
        ("[knowledge]\nwall = {value = '3 W'}", "knowledge.wall"),
        ("[knowledge", "is broken TOML"),
    ],
)
def test_what_cannot_be_read_is_refused_by_file_and_key(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(BenchFileError) as refused:
        read_knowledge(written(tmp_path, text))

    assert "known.toml" in str(refused.value)
    assert told in str(refused.value)


def test_an_item_that_the_bench_has_not_is_refused_with_those_it_has(tmp_path: Path) -> None:
    bench = read_bench(DEMO)
    file = written(tmp_path, "[knowledge]\nof = {vessel = 'Bucket'}\nwall_loss = {value = '31 W'}\n")

    with pytest.raises(BenchFileError) as refused:
        with_knowledge(bench, read_knowledge(file))

    assert "Bucket" in str(refused.value)
    assert bench.vessels[0].name in str(refused.value)
