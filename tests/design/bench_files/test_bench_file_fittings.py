"""Jackets, lids, guards, the way of reading and the fill in bench files: what reads, and what is refused."""

from pathlib import Path

import pytest

from design.bench_files.reader import read_bench
from design.errors import BenchFileError
from design.materials import Jacket

GOOD = (Path(__file__).parent / "good_bench.toml").read_text(encoding="utf-8")
JACKET = '\n[[jacket]]\nname = "Sleeve"\nlagging = "12 mm felt"\nfits = ["Beaker"]\nprice = 9.5\n'


def written(folder: Path, text: str) -> Path:
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults(folder: Path, text: str) -> str:
    with pytest.raises(BenchFileError) as caught:
        read_bench(written(folder, text))
    return "\n".join(str(fault) for fault in caught.value.faults)


def test_what_goes_on_a_vessel_reads_with_its_defaults(tmp_path: Path) -> None:
    lid = '\n[[lid]]\nname = "Cover"\nmass = "55 g"\n\n[[guard]]\nname = "Ring"\nowned = 3\n'
    bench = read_bench(written(tmp_path, GOOD + JACKET + lid))

    (jacket,), (cover,), (ring,) = bench.fittings
    assert isinstance(jacket.makes, Jacket)
    assert (jacket.makes.thickness, jacket.fits, jacket.price, jacket.mass) == (0.012, ("Beaker",), 9.5, 0.1)
    assert (cover.makes, cover.mass, cover.fits) == ("loose", 0.055, ())
    assert (ring.makes, ring.mass, ring.owned) == ("deflector", 0.05, 3)


def test_a_shelf_of_jackets_names_the_vessels_that_each_fits(tmp_path: Path) -> None:
    (tmp_path / "jackets.csv").write_text(
        "name,lagging,fits,price\nSleeve,12 mm felt,Beaker,9.5\nBand,5 mm cork,,4\n", encoding="utf-8"
    )
    bench = read_bench(
        written(tmp_path, GOOD.replace("[knowledge]", '[shelves]\njacket = "jackets.csv"\n\n[knowledge]'))
    )

    assert [(item.name, item.fits) for item in bench.fittings[0]] == [("Sleeve", ("Beaker",)), ("Band", ())]


@pytest.mark.parametrize(
    ("find", "put", "said"),
    [
        ('fits = ["Beaker"]', 'fits = ["Beeker"]', ("jacket[1]", "fits", '"Beeker"', 'did you mean "Beaker"?')),
        ('lagging = "12 mm felt"', 'lagging = "none"', ("jacket[1]", "lagging is none", "leave the jacket out")),
        ('lagging = "12 mm felt"\n', "", ("jacket[1]", "lagging", "missing")),
        ("price = 9.5", "price = -1", ("jacket[1]", "price", "-1")),
    ],
)
def test_a_jacket_that_cannot_be_is_refused_at_its_key(
    tmp_path: Path, find: str, put: str, said: tuple[str, ...]
) -> None:
    told = faults(tmp_path, GOOD + JACKET.replace(find, put))

    assert all(words in told for words in said)


@pytest.mark.parametrize(
    ("table", "line", "said"),
    [
        ("search", 'readings = ["quick"]', ("search.readings", '"quick"', "plain", "timed")),
        ("search", 'spare_water = ["5 mm"]', ("search.spare_water", '"5 mm"')),
        ("current", 'reading = "tenths"', ("current.reading", '"tenths"', "plain", "timed")),
        ("current", 'fill = "1.2 L"', ("current.fill", '"1.2 L"', "1.2 kg")),
    ],
)
def test_a_way_of_reading_or_a_fill_that_cannot_be_is_refused_at_its_key(
    tmp_path: Path, table: str, line: str, said: tuple[str, ...]
) -> None:
    head = f"[{table}]\n"
    text = (
        GOOD.replace(head, f"{head}{line}\n")
        if head in GOOD
        else GOOD.replace("[knowledge]", f"{head}{line}\n\n[knowledge]")
    )
    told = faults(tmp_path, text)

    assert all(words in told for words in said)
