"""Whether the unit of an equation comes out as the measurand's."""

from __future__ import annotations

from collections.abc import Mapping

from budget.model import MeasurementModel


def check_units(model: MeasurementModel, intermediates: Mapping[str, str]) -> None:
    """Check (see below)."""
