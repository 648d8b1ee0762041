"""What ``boiloff compare`` prints: its findings in sentences, and where the report is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import wording_compare

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.comparison import Comparison


def show_comparison(comparison: Comparison, page: Path, console: Console) -> None:
    """Print what the comparison found."""
    from rich.text import Text

    console.print(Text(comparison.bench_name, style="bold"))
    for sentence in wording_compare.decision(comparison):
        console.print(Text(sentence))
    console.print(Text(f"Report: {page}"), soft_wrap=True)
