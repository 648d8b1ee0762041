"""What ``boiloff rehearse`` prints: its findings in sentences, and where the report is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import terminal_parts as parts
from reports.rehearse_tables import coverage_table
from reports.wording_rehearse import decision

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.rehearsal.campaign import Rehearsal


def show_rehearsal(rehearsal: Rehearsal, page: Path, console: Console) -> None:
    """Print what the rehearsal found."""
    parts.heading(console, rehearsal.bench_name)
    parts.sentences(console, decision(rehearsal))
    coverage = coverage_table(rehearsal)
    parts.data_table(console, coverage, [column.key for column in coverage.columns])
    parts.report_path(console, page)
