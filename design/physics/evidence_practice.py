"""Defaults of droplets, stem, readings and practice, each with its evidence."""

from __future__ import annotations

from design.physics.evidence_row import Evidence

# fmt: off
ROWS: tuple[Evidence, ...] = (
    Evidence(
        "carry_over_factor",
        "true over calculated carry-over (median 1, natural logarithm's standard deviation ln 3)",
        1.0, 3.0, "lognormal", "1", 0.01, 100.0,
        "Kataoka and Ishii 1984, Int. J. Heat Mass Transfer 27, 1999 (coefficients from memory), uncertain by "
        "a factor of three for an open vessel; no measured values for beakers are known to us",
        "no published run states freeboard and power; values below the true one are rare among published "
        "results",
    ),
    Evidence(
        "cover_carry_over",
        "carry-over left by a deflector or loose lid",
        0.15, 0.0, "constant", "1", 0.01, 1.0,
        "judgement",
        "no published run with and without a cover",
    ),
    Evidence(
        "stem_area_factor",
        "true over calculated share of the surface cut by the stems",
        1.0, 0.07, "normal", "1", 0.5, 2.0,
        "diameters known to 2 to 3 % (judgement); with callipers 0.05 to 0.1 % of L",
        "no published run states stems; the run at 512 W agrees with 1 to 2 %",
    ),
    Evidence(
        "pause",
        "heater-off time while the step is put on",
        30.0, 15.0, "rectangular", "s", 0.0, 300.0,
        "common practice, no source",
        "no published run states it",
    ),
    Evidence(
        "temperature_drift",
        "drift of the water temperature between two readings at the boil",
        0.0, 0.1, "normal", "K", -2.0, 2.0,
        "judgement: steady boiling; two readings in the same state",
        "no published run reads the temperature at both marks",
    ),
    Evidence(
        "boiling_noise",
        "unsteadiness of one reading at the boil, up to 1 kW",
        0.0, 0.0003, "normal", "kg", 0.0, 0.005,
        "residuals about a straight line in two published runs: 0.43 g at 512 W (1 g display), 0.29 g at 44 W "
        "(0.1 g display)",
        "a published run at 512 W scatters by 0.43 g about its line; 0.3 g and rounding to 1 g give 0.42 g",
    ),
    Evidence(
        "boiling_noise_exponent",
        "growth of that noise with power above 1 kW",
        1.4, 0.0, "constant", "1", 0.0, 3.0,
        "judgement: 0.5 to 2 g at 2 to 3 kW",
        "no published run above 1 kW reads often enough",
    ),
    Evidence(
        "steady_time",
        "time of steady boiling before the first reading",
        180.0, 0.0, "constant", "s", 0.0, 900.0,
        "common practice, 2 to 3 min",
        "one published collection asks for 20 min of boiling in all",
    ),
    Evidence(
        "depth_margin",
        "water left above the element's mark at the end",
        0.02, 0.0, "constant", "m", 0.005, 0.1,
        "common practice, no source",
        "makers' marks only",
    ),
    Evidence(
        "least_freeboard",
        "least height from water to rim",
        0.02, 0.0, "constant", "m", 0.01, 0.1,
        "below 20 mm carry-over reaches per cents (Kataoka and Ishii 1984)",
        "no published run states it",
    ),
    Evidence(
        "vessel_heater_mass",
        "mass of a heater that hangs on the vessel",
        0.35, 0.0, "constant", "kg", 0.0, 2.0,
        "common practice, no source",
        "no published run states it",
    ),
    Evidence(
        "run_gap",
        "time between runs to write down the readings",
        60.0, 0.0, "constant", "s", 0.0, 600.0,
        "common practice, no source",
        "no published run states it",
    ),
    Evidence(
        "mark_interval",
        "least time between two marks of a series",
        30.0, 0.0, "constant", "s", 5.0, 300.0,
        "one published class run reads the balance every 30 s",
        "the run at 512 W",
    ),
    Evidence(
        "cooling_observed",
        "time over which the cooling run is observed",
        240.0, 0.0, "constant", "s", 60.0, 1200.0,
        "common practice: about from 97 to 90 °C in a bare vessel of 1 L",
        "no published run",
    ),
    Evidence(
        "cooling_run",
        "length of lesson that a cooling run takes",
        480.0, 0.0, "constant", "s", 240.0, 1800.0,
        "common practice, no source: switching off, settling and reading",
        "no published run",
    ),
)
"""Quantity, value, spread, family, unit, limits, source, and how it compares with published classroom data."""
