"""What ``boiloff compare`` prints: its findings in sentences, and where the report is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import terminal_parts as parts
from reports import wording_compare
from reports.compare_tables import procedures_table

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.comparison.side_by_side import Comparison


def show_comparison(comparison: Comparison, page: Path, console: Console) -> None:
    """Print what the comparison found."""
    parts.heading(console, comparison.bench_name)
    parts.sentences(console, wording_compare.decision(comparison))
    columns = ("method", "bias_percent", "standard_uncertainty_percent", "rms_error_percent", "minutes")
    parts.data_table(console, procedures_table(comparison), columns)
    parts.report_path(console, page)
