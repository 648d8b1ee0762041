"""What ``boiloff rehearse`` prints: its findings in sentences, and where the report is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.wording_rehearse import decision

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.rehearsal import Rehearsal


def show_rehearsal(rehearsal: Rehearsal, page: Path, console: Console) -> None:
    """Print what the rehearsal found."""
    from rich.text import Text

    console.print(Text(rehearsal.bench_name, style="bold"))
    for sentence in decision(rehearsal):
        console.print(Text(sentence))
    console.print(Text(f"Report: {page}"), soft_wrap=True)
