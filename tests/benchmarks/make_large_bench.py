"""
Write the large bench of ``configs/large`` from a seed: an invented consortium's price lists, no real product.

Run as ``python tests/benchmarks/make_large_bench.py FOLDER [ITEMS]``.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

SEED = 20_240
"""Seed of the price lists that are shipped."""
ITEMS = 12
"""Things to buy on each shelf of the bench that is shipped."""
BENCH = """\
# The price lists of an invented buying consortium. Every name, price and figure is made up by
# tests/benchmarks/make_large_bench.py from a seed; none describes a real product or supplier.

name = "Seven Dales consortium, price lists of the year"
scenario = "invented"

[room]
altitude = "260 m"
temperature = "21 degC"

[supply]
voltage = "230 V"
tolerance = "6 %"
current_limit = "13 A"

[lesson]
length = "80 min"
handling = "15 min"
groups = 1

[purse]
currency = "EUR"
amount = 400

[observer]
reaction_time = "0.3 s"
tipping = "0.2 g"

[shelves]
balance = "balances.csv"
meter = "meters.csv"
heater = "heaters.csv"
vessel = "vessels.csv"
mass_set = "mass-sets.csv"
"""


def large_bench(items: int = ITEMS, seed: int = SEED) -> dict[str, str]:
    """
    Invent price lists.

    Parameters
    ----------
    items : int
        Things to buy on each shelf; the number of combinations grows with its fourth to fifth power.
    seed : int
        The same seed gives the same lists; longer lists begin with the shorter ones.

    Returns
    -------
    dict of str to str
        File names and contents.
    """
    return {
        "bench.toml": BENCH,
        "balances.csv": _written(_balances(items, np.random.default_rng([seed, 1]))),
        "meters.csv": _written(_meters(items, np.random.default_rng([seed, 2]))),
        "heaters.csv": _written(_heaters(items, np.random.default_rng([seed, 3]))),
        "vessels.csv": _written(_vessels(items, np.random.default_rng([seed, 4]))),
        "mass-sets.csv": _written(_mass_sets(max(items // 3, 1), np.random.default_rng([seed, 5]))),
    }


def _balances(items: int, rng: np.random.Generator) -> list[dict[str, str]]:
    rows = []
    for place in range(items):
        beam, digit = rng.random() < 0.3, float(rng.choice([0.1, 0.2, 0.5, 1.0]))
        rows.append(
            {
                "name": f"Balance {place + 1:02d}",
                "kind": "beam" if beam else "electronic",
                "resolution": f"{digit:g} g",
                "repeatability": f"{digit * rng.choice([0.5, 1.0]):g} g",
                "linearity": "" if beam else f"{digit * rng.choice([1.0, 2.0]):g} g",
                "capacity": f"{rng.choice([2.2, 3.2, 5.0, 6.2]):g} kg",
                "splash_proof": "yes",
                "stability_filter": "no",
                "price": f"{rng.uniform(20, 190):.2f}",
            }
        )
    return rows


def _meters(items: int, rng: np.random.Generator) -> list[dict[str, str]]:
    return [
        {
            "name": f"Meter {place + 1:02d}",
            "kind": "pulse",
            "constant": f"{int(rng.choice([375, 600, 800, 1600]))} pulse/kWh",
            "reads": "whole",
            "accuracy": f"{rng.choice([0.7, 1.0, 1.5, 2.0]):g} %",
            "max_voltage": "250 V",
            "max_current": f"{int(rng.choice([10, 16, 40]))} A",
            "price": f"{rng.uniform(12, 90):.2f}",
        }
        for place in range(items)
    ]


def _heaters(items: int, rng: np.random.Generator) -> list[dict[str, str]]:
    return [
        {
            "name": f"Heater {place + 1:02d}",
            "power": f"{rng.choice([0.7, 1.05, 1.4, 1.75]):g} kW",
            "at": "230 V",
            "tolerance": f"{rng.choice([5, 7]):g} %",
            "stem_diameter": f"{rng.choice([6.5, 8.5, 9.0]):g} mm",
            "minimum_depth": f"{rng.choice([55, 60, 65]):g} mm",
            "held_by": "vessel" if rng.random() < 0.3 else "stand",
            "flex": f"{rng.choice([1.2, 1.6, 2.0]):g} m",
            "price": f"{rng.uniform(15, 70):.2f}",
        }
        for place in range(items)
    ]


def _vessels(items: int, rng: np.random.Generator) -> list[dict[str, str]]:
    return [
        {
            "name": f"Vessel {place + 1:02d}",
            "capacity": "1.4 L",
            "diameter": f"{rng.choice([108, 112, 118]):g} mm",
            "height": f"{rng.choice([158, 165, 172]):g} mm",
            "mass": "0.42 kg",
            "jacket": str(rng.choice(["none", "10 mm felt", "20 mm cork"])),
            "price": f"{rng.uniform(9, 60):.2f}",
        }
        for place in range(items)
    ]


def _mass_sets(items: int, rng: np.random.Generator) -> list[dict[str, str]]:
    rows = []
    for place in range(items):
        steps = [[60, 120, 250], [50, 100, 200], [20, 50, 120, 250]][int(rng.integers(3))]
        rows.append(
            {
                "name": f"Masses {place + 1:02d}",
                "steps": "; ".join(f"{step} g" for step in steps),
                "accuracy": f"{rng.choice([0.02, 0.3, 1.0]):g} %",
                "price": f"{rng.uniform(8, 80):.2f}",
            }
        )
    return rows


def _written(rows: Sequence[Mapping[str, str]]) -> str:
    sheet = io.StringIO()
    writer = csv.DictWriter(sheet, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return sheet.getvalue()


def write(folder: Path, items: int = ITEMS) -> None:
    """Write the bench file and its price lists into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in large_bench(items).items():
        (folder / name).write_text(content, encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else ITEMS)
