"""The demo before and after a pilot lesson with the kit that it recommends: the ranking sharpens."""

import json
import shutil
from pathlib import Path

import pytest

from design.bench_files.knowledge import read_knowledge, with_knowledge
from design.bench_files.reader import read_bench
from design.search.plan import Plan, RankedDesign
from design.search.planning import plan_bench
from reports.command_line.cli import main

CONFIGS = Path(__file__).parents[3] / "configs"
SEED = 7


def with_pilot(demo: Path, ranked: RankedDesign) -> None:
    """Write the recommended design into the bench file as what is used today."""
    text = demo.read_text(encoding="utf-8")
    start, end = text.index("[current]"), text.index("[shelves]")
    items = ", ".join(f"{role} = {json.dumps(name)}" for role, name in ranked.design.items.items())
    current = f"""[current]
items = {{ {items} }}
procedure = "{ranked.design.procedure.identifier}"
correction = "{ranked.design.correction}"
power = "{ranked.design.powers[0]} W"
mass = "{1000 * ranked.design.mass:.0f} g"
repeats = {ranked.design.repeats}

"""
    demo.write_text(text[:start] + current + text[end:], encoding="utf-8")


def kits_that_tie(plan: Plan) -> int:
    """Number of different kits among the rows that cannot be told apart from the first."""
    assert plan.answers is not None
    return len({tuple(sorted(plan.ranking[row].design.items.items())) for row in plan.answers.tied})


def least_error(plan: Plan) -> RankedDesign:
    """The row of the least error: what is recommended may be one nearly as good, with more headroom."""
    return min(plan.ranking, key=lambda row: row.objective_percent)


@pytest.mark.slow
def test_a_pilot_lesson_sharpens_the_ranking_of_the_demo(tmp_path: Path) -> None:
    demo = tmp_path / "demo.toml"
    shutil.copy(CONFIGS / "demo.toml", demo)
    shutil.copytree(CONFIGS / "shelves", tmp_path / "shelves")
    before = plan_bench(read_bench(demo), seed=SEED)
    assert before.recommended is not None
    with_pilot(demo, before.recommended)
    common = ["--seed", str(SEED), "--quiet"]
    played = ["rehearse", str(demo), "--current", "--runs", "60", "--out", str(tmp_path / "played"), *common]
    assert main(played) == 0
    sheet = str(tmp_path / "played" / "readings.csv")
    assert main(["evaluate", str(demo), sheet, "--learn", "--teacher", "--out", str(tmp_path / "told"), *common]) == 0

    learned = tmp_path / "told" / "knowledge.toml"
    after = plan_bench(with_knowledge(read_bench(demo), read_knowledge(learned)), seed=SEED)

    assert after.recommended is not None
    assert after.recommended.design.items == before.recommended.design.items
    assert after.recommended.objective_percent < 0.9 * before.recommended.objective_percent
    # "Best" is shared out among rows that are nearly equal, and says nothing here; that fewer of them tie does.
    assert least_error(after).objective_percent < 0.9 * least_error(before).objective_percent
    assert (least_error(after).within_margin_probability or 0.0) > (
        least_error(before).within_margin_probability or 0.0
    )
    assert kits_that_tie(after) < kits_that_tie(before)
    for name, plan in (("before", before), ("after", after)):
        row = least_error(plan)
        print(  # noqa: T201
            f"{name} the pilot lesson: {row.objective_percent:.3f} %, best {row.best_probability:.3f}, "
            f"nearly best {row.within_margin_probability:.3f}, {kits_that_tie(plan)} kits tie"
        )
