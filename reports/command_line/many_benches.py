"""Many benches at once: a report each, and a summary of all of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from design.search.planning import DEFAULT_TRIALS, plan_bench
from design.search.work import Store, Workforce, carried_out, fingerprint
from reports.command_line.console import data_table, report_path, sentences, terminal
from reports.command_line.output_folder import STORE, clear, write_folder
from reports.command_line.plan import plan_files
from reports.command_line.request import PAGE, STOPPED, attributes, json_bytes
from reports.pieces.registry import chosen
from reports.rendering import origin, page
from reports.tables.files import csv_bytes, deliver
from reports.tables.plan import by_number
from reports.tables.tables import Column, Table, listed
from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import language

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from design.bench import Bench
    from design.search.plan import Plan
    from reports.command_line.console import Report
    from reports.command_line.request import PlanRequest
    from reports.rendering import Origin

SUMMARY = ("summary.html", "summary.json", "summary.csv")
"""Files of the summary."""
RECORD = "summary-row.json"
"""File, kept only while the search lasts, with a bench's row of the summary."""


@dataclass(frozen=True)
class Job:
    """One bench to plan: its folder's name, the bench, and what was asked for."""

    name: str
    bench: Bench
    seed: int
    trials: int
    only_owned: bool
    origin: Origin
    pages: str | None = None
    language: str = "en"


def plan_one(job: Job) -> dict[str, bytes]:
    """Plan one bench and write the files of its report, its row of the summary among them."""
    plan = plan_bench(job.bench, seed=job.seed, trials=job.trials, only_owned=job.only_owned)
    files = {}
    if plan.recommended is not None:
        say, pieces = language(job.language), chosen(job.pages)
        files = plan_files(plan, job.bench, job.origin, say=say, pieces=pieces)
    return {**files, RECORD: json.dumps(row_of(job.name, plan)).encode()}


def row_of(name: str, plan: Plan) -> dict[str, Any]:
    """Row of the summary for a plan: what is recommended, or why nothing is."""
    ranked = plan.recommended
    reason = by_number(plan.rejected)[0][0] if plan.rejected else ""
    return {
        "folder": name,
        "bench": plan.bench_name,
        **attributes(plan, "currency considered feasible"),
        "buy": [[role, item, number, price] for role, item, number, price in ranked.design.buy] if ranked else [],
        "price": ranked.design.price if ranked else None,
        "procedure": wording.method(ranked.design) if ranked else "",
        "minutes": ranked.design.minutes if ranked else None,
        "today_percent": plan.current.objective_percent if plan.current else None,
        "objective": plan.objective,
        "objective_percent": ranked.objective_percent if ranked else None,
        "tied": len(plan.answers.tied) if plan.answers else 0,
        "cheapest_price": plan.cheapest.design.price if plan.cheapest else None,
        "not_feasible_because": "" if ranked else reason,
    }


def plan_many(request: PlanRequest, benches: Sequence[Bench], progress: Report) -> int:
    """
    Plan many benches, write a report for each and a summary, and go on from what a stopped search has done.

    Returns
    -------
    int
        Exit status: 0; 130 where the keyboard stopped it; 2 where nothing is feasible on any bench.
    """
    trials, made = DEFAULT_TRIALS if request.trials is None else request.trials, origin()
    names = folder_names(request.files)
    jobs = [
        Job(name, bench, request.seed, trials, request.only_owned, made, request.pages, request.language)
        for name, bench in zip(names, benches, strict=True)
    ]

    def told(number: int, *done: Mapping[str, bytes]) -> None:
        progress("planning the benches", number, len(jobs), json.loads(done[-1][RECORD])["bench"] if done else "")

    workforce = Workforce(request.workers, request.cluster, Store(request.partial / STORE))
    done = carried_out(plan_one, jobs, workforce, fingerprint(jobs, made.version), told)
    rows = _write(request, {jobs[place].name: files for place, files in done.outcomes.items()}, stopped=done.stopped)
    _tell(request, rows, (done.reused, len(rows), len(jobs)))
    if done.stopped:
        return STOPPED
    return 0 if any(row["feasible"] for row in rows) else 2


def folder_names(files: Sequence[Path]) -> list[str]:
    """
    Name of each bench's folder: that of its file, with the folder's or a number where two are alike.

    Examples
    --------
    >>> from pathlib import Path
    >>> folder_names([Path("a/bench.toml"), Path("b/bench.toml"), Path("c.toml")])
    ['a-bench', 'b-bench', 'c']
    """
    stems = [path.stem for path in files]
    names = [
        path.stem if stems.count(path.stem) == 1 else f"{path.resolve().parent.name}-{path.stem}" for path in files
    ]
    return [name if names.count(name) == 1 else f"{name}-{place + 1}" for place, name in enumerate(names)]


def _write(request: PlanRequest, reports: Mapping[str, dict[str, bytes]], *, stopped: bool) -> list[dict[str, Any]]:
    """Write the reports and the summary; partial ones beside the folder asked for. Return the summary's rows."""
    rows = [json.loads(files.pop(RECORD)) for files in reports.values()]
    contents = {f"{name}/{file}": content for name, files in reports.items() for file, content in files.items()}
    listing = summary_table(rows)
    values = {
        "origin": origin(),
        "heading": f"Plans for {len(rows)} benches",
        "partial": f"Partial: stopped after {len(rows)} of {len(request.files)} benches." if stopped else "",
        "summary": listing,
        "reports": [(row["bench"], f"{row['folder']}/{PAGE}") for row in rows if row["feasible"]],
    }
    written = (page("summary.html", values).encode(), json_bytes(rows), csv_bytes(listing))
    contents.update(zip(SUMMARY, written, strict=True))
    target = request.partial if stopped else request.out
    write_folder(target, contents, SUMMARY)
    if not stopped:
        clear(request.partial, contents)
    return rows


def summary_table(rows: Sequence[Mapping[str, Any]]) -> Table:
    """One row a bench: what to buy, what it costs and what it brings."""
    columns = (
        Column("bench", "Bench", cell=itemgetter("bench")),
        Column("buy", "Buy", cell=_bought),
        Column("price", "Price", "text", cell=lambda row: _money(row, "price")),
        Column("procedure", "Procedure", cell=itemgetter("procedure")),
        Column("minutes", "Time", "minutes", cell=itemgetter("minutes")),
        Column("today_percent", "Error today", "percent", cell=itemgetter("today_percent")),
        Column("objective_percent", "Error then", "percent", cell=itemgetter("objective_percent")),
        Column("tied", "Designs that tie", "whole", cell=itemgetter("tied")),
        Column("cheapest", "Cheapest within the margin", "text", cell=lambda row: _money(row, "cheapest_price")),
        Column("remark", "Remark", cell=_remark),
    )
    return listed("summary", "What each bench should do", rows, columns)


def _bought(row: Mapping[str, Any]) -> str:
    things = "; ".join(item if number == 1 else f"{number} × {item}" for _, item, number, _ in row["buy"])
    return things or ("nothing" if row["feasible"] else "")


def _money(row: Mapping[str, Any], key: str) -> str:
    return "" if row[key] is None else rounding.money(row[key], row["currency"])


def _remark(row: Mapping[str, Any]) -> str:
    return "" if row["feasible"] else f"nothing is feasible; most often: {row['not_feasible_because']}"


def _tell(request: PlanRequest, rows: Sequence[Mapping[str, Any]], counts: tuple[int, int, int]) -> None:
    """Print the summary as a table, and where it is; or only the JSON that was asked for."""
    deliver(json_bytes(rows), request.json)
    if not request.is_shown:
        return
    reused, done, total = counts
    console = terminal()
    data_table(console, summary_table(rows), ("bench", "buy", "price", "today_percent", "objective_percent", "remark"))
    said = []
    if reused:
        said.append(f"Went on from a search that was stopped: {reused} of {total} benches were done already.")
    if done < total:
        said.append(f"Stopped after {done} of {total} benches; the same command goes on from here.")
    sentences(console, said)
    report_path(console, (request.partial if done < total else request.out) / "summary.html", "Summary")
