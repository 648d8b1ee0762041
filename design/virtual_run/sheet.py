"""The readings sheet that an observer hands in: rows of text, in the digits of the instruments."""

from __future__ import annotations

import math
from decimal import Decimal

from design.kit import Balance, Meter
from design.physics.water import ICE_POINT
from design.virtual_run.playing import Played
from design.virtual_run.script import Kind
from design.virtual_run.tally import CLOCK_DIGIT, METER_DIGITS, THERMOMETER_DIGIT, Written

COLUMNS = (
    "group", "run", "mark", "time_s", "counts", "energy_kWh", "voltage_V", "current_A", "mass_g", "temperature_C",
    "heater", "remark",
)  # fmt: skip
"""Columns of a readings sheet, in order; those that nobody filled in are left out."""
SHOWS_ENERGY = ("display", "joule")
"""Kinds of meters whose display is written down as energy."""
JOULES_PER_KWH = 3.6e6


def sheet_columns(rows: list[dict[str, str]]) -> tuple[str, ...]:
    """Columns that at least one row fills."""
    return tuple(column for column in COLUMNS if any(row.get(column) for row in rows))


def sheet_rows(played: Played, sheet: Written, index: int, group: str) -> list[dict[str, str]]:
    """
    Rows of one virtual run.

    Parameters
    ----------
    played : Played
        All runs.
    sheet : Written
        What was written down of them.
    index : int
        Which.
    group : str
        Name of the group.

    Returns
    -------
    list of dict of str to str
        Cells by column, as typed. The clock runs with the heater, but in a cooling run.
    """
    rows = []
    for column, stage in enumerate(sheet.stages):
        clock = sheet.on_time if stage.heater else sheet.time
        row = {
            "group": group,
            "run": str(stage.run) if stage.heater else "cooling",
            "mark": str(stage.mark),
            "time_s": typed(float(clock[index, column]), CLOCK_DIGIT),
            "mass_g": typed(1000.0 * float(sheet.mass[index, column]), 1000.0 * _mass_digit(played, stage.kind)),
            "heater": "on" if stage.heater else "off",
        }
        if stage.heater:
            row |= _energy(played.setup.kit.meter, sheet, index, column)
            row["remark"] = _remark(played, sheet, index, column)
        else:
            row["temperature_C"] = typed(float(sheet.temperature[index, column]) - ICE_POINT, THERMOMETER_DIGIT)
        rows.append(row)
    return rows


def typed(value: float, digit: float) -> str:
    """
    Number as typed in the digits of an instrument.

    Examples
    --------
    >>> typed(12.5, 0.01), typed(31.0, 1.0)
    ('12.50', '31')
    """
    exponent = math.floor(math.log10(digit) + 1e-9) if digit > 0.0 else -6
    steps = Decimal(round(value / digit) if digit > 0.0 else round(value * 1e6))
    number = steps * (Decimal(repr(digit)) if digit > 0.0 else Decimal("1e-6"))
    return f"{number:.{max(-exponent, 0)}f}"


def _mass_digit(played: Played, kind: Kind) -> float:
    balance: Balance = played.setup.kit.balance
    return min(balance.resolution, 1e-3) if kind == Kind.TIP else balance.resolution


def _energy(meter: Meter, sheet: Written, index: int, column: int) -> dict[str, str]:
    if meter.energy_per_count == 0.0:
        pairs = (("voltage_V", sheet.voltage), ("current_A", sheet.current))
        return {name: f"{float(values[index, column]):.{METER_DIGITS}g}" for name, values in pairs}
    counts = float(sheet.counts[index, column])
    if meter.kind in SHOWS_ENERGY:
        digit = meter.energy_per_count / JOULES_PER_KWH
        return {"energy_kWh": typed(counts * digit, 10.0 ** math.floor(math.log10(digit) + 1e-9))}
    return {"counts": typed(counts, meter.fineness)}


def _remark(played: Played, sheet: Written, index: int, column: int) -> str:
    stage = sheet.stages[column]
    if stage.kind == Kind.TIP and stage.amount > 0.0:
        waited = float(
            (sheet.time[index, column] - sheet.on_time[index, column])
            - (sheet.time[index, column - 1] - sheet.on_time[index, column - 1])
        )
        return f"heater and clock stopped for {waited:.0f} s to put the step on" if waited > 1.0 else "balance tips"
    if stage.kind == Kind.TIP:
        return "balance tips"
    if len({one.power for one in sheet.stages}) > 1 and stage.mark == 0:
        return f"power {stage.power + 1} of {len(played.setup.powers)} from the highest down"
    return ""
