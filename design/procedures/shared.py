"""What all procedures share: the energy balance as equation text, and the input quantities of bench and kit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from budget.quantities.distributions import Constant, Distribution, Normal, Rectangular, Triangular
from design.kit import Balance
from design.physics.carry_over import thrown
from design.physics.evidence import default, evidence
from design.physics.swell import headroom_text
from design.procedures.cooling_run import scale_to_boil
from design.procedures.face import Correction, Result
from design.setting.equations import Steps, numbered, over, ratio
from design.setting.situation import Situation
from design.setting.terms import ONE, InputTerm, chosen, default_distribution, estimate_of, setting


def loss_text(power: int, suffix: str = "") -> str:
    """
    Heat loss at a power, as text: full at much steam; at little, air comes in above the water and less is lost there.

    With suffix ``"_est"`` that which a correction takes off.
    """
    missing = f"w_dry{suffix} * {numbered('dry', power)}"
    above = numbered("above", power)
    parts = f"W_wall{suffix} * (1 - {missing} * {above}) + W_base{suffix} + W_return{suffix} * (1 - {missing})"
    return f"({parts}) * (1 + e_still{suffix} * {numbered('dry', power)})"


TRUTH: Steps = (
    ("W", loss_text(1)),
    ("P", "P_set * (1 + e_heater) * (1 + e_supply)**2"),
    ("headroom", headroom_text("P / P_ref", "risen", "gather")),
    ("cube_first", "s_splash / steep * (P / P_ref / headroom)**3"),
    ("early_share", thrown("early * cube_first")),
    ("cube", "cube_first * (settled / (1 + drop * early_share))**3"),
    ("s", thrown("cube")),
    ("kept", "(1 - s) * (1 - a_A) * b"),
)
"""
Heat loss, power, carry-over, and vapour per indicated fall of mass. Bubbles lift the surface, the rim is the nearer and
more is thrown out, the slower the vapour drifts. What is thrown out while the boil settles, from a
fuller vessel, lowers the level before the first reading: the more so, against what is expected, the more is thrown out.
"""

KEPT_EST = ("kept_est", "(1 - s_splash_est) * (1 - a_A_est) * b")
E_EST = ("E_est", "E_read * (1 - e_lead_est) / (1 + e_meter_est) - Q_stored * e_stored_est")
CALCULATED_LOSS: Steps = (("W_est", loss_text(1, "_est")),)
"""Heat loss from geometry and defaults."""
COOLED_LOSS: Steps = (
    ("W_covered", "(W_cooled - W_base_est) / (1 - f_freeboard_est)"),
    ("W_est", loss_text(1, "_est").replace("W_wall_est", "W_covered")),
)
"""Heat loss from a cooling run: the dry freeboard wall that steam would have kept hot, and the returning steam, are
added."""
COOLING_READING: Steps = (
    ("W_off", "(1 - f_freeboard) * W_wall + W_base"),
    ("W_cooled", "W_off + (W_off + Q_vapour) * e_cooling + d_cooling"),
)
"""Heat loss that the cooling balance of a heater-off run gives, scaled to the boiling point. What goes wrong with the
temperature acts on all the heat that the water gives up, of which the vapour takes much."""
WITH_PAUSE = "(E_est - W_est * (t + t_pause_est) - E_restart_est) / (m_read * kept_est)"
WITHOUT_PAUSE = "(E_est - W_est * t) / (m_read * kept_est)"
UNCORRECTED = Result((), "E_read / m_read")

QUARTER_HOUR = 900.0
"""Time for which the drift of a balance is stated. [s]"""
ALWAYS_KEPT = (
    "gains",
    "carry_over",
    "stem",
    "flex",
    "buoyancy",
    "warming",
)
"""Keys of the errors that no procedure cancels."""

ESTIMATED = (
    "W_wall", "W_base", "W_return", "s_splash", "a_A", "e_meter", "e_lead", "t_pause", "E_restart", "w_dry", "e_still",
    "e_stored",
    "f_freeboard",
)  # fmt: skip
"""Symbols of the sources that a correction takes off."""


def result_of(correction: Correction, *, pause: bool) -> Result:
    """How readings at one power become the latent heat, with or without correction and heater-off pause."""
    if correction == "none":
        return UNCORRECTED
    equation = WITH_PAUSE if pause else WITHOUT_PAUSE
    if correction == "cooling-run":
        return Result((*COOLED_LOSS, KEPT_EST, E_EST), equation, COOLING_READING)
    return Result((*CALCULATED_LOSS, KEPT_EST, E_EST), equation)


def with_estimates(terms: tuple[InputTerm, ...]) -> tuple[InputTerm, ...]:
    """Add to the input quantities the constants by which a correction stands for them."""
    return terms + tuple(estimate_of(term) for term in terms if term.symbol in ESTIMATED)


def bench_terms(situation: Situation) -> tuple[InputTerm, ...]:
    """Input quantities of room, supply, vessel, heater and meter, which repeats do not average."""
    parts = (_settings, _losses, _cooling, _meter_and_supply)
    return (*(term for part in parts for term in part(situation)), *readings_at(situation, 1))


def _settings(situation: Situation) -> tuple[InputTerm, ...]:
    values = situation.values
    return (
        setting("L_ref", "latent_heat", "J/kg", situation.conditions.water.latent_heat),
        chosen(values, "P_set", "power_set", "W", "P_set"),
        chosen(values, "P_ref", "power_reference", "W", "P_set"),
        *cover_terms(situation, 1),
        chosen(
            values, "steep", "steepness", "1", ratio("thrown_1", "middle_1")
        ),
        chosen(values, "risen", "risen", "1", "risen_1"),
        chosen(values, "gather", "gather", "1", "gather_1"),
        chosen(values, "early", "settling_carry_over", "1", "early"),
        chosen(values, "drop", "settling_steam", "1", "drop"),
        chosen(
            values, "settled", "settled_freeboard", "1", "settled"
        ),
        chosen(values, "N", "runs", "1", "N"),
    )  # fmt: skip


def _losses(situation: Situation) -> tuple[InputTerm, ...]:
    hardware, values = situation.hardware, situation.values

    def loss(symbol: str, key: str, name: str, row: str) -> InputTerm:
        source = "bench_file" if key in hardware.stated else f"calculated/{row}"
        term = InputTerm(symbol, name, "W", hardware.knowledge[key], ONE, source, 0.0)
        return term.sized(values, "loss / loss_plan", "loss_taken_off / loss_plan") if hardware.loss > 0.0 else term

    splash = "bench_file" if "carry_over" in hardware.stated else "evidence/carry_over_factor"
    taken_off = thrown("(carry_over_taken_off * law_1)")
    return (
        loss("W_wall", "wall_loss", "wall_loss", "wall_factor"),
        loss("W_base", "base_loss", "base_loss", "base_factor"),
        loss("W_return", "return_loss", "return_loss", "return_factor"),
        InputTerm(
            "w_dry", "dry_wall", "1", default_distribution("dry_wall"), ONE, "evidence/dry_wall", 0.0,
        ),
        InputTerm(
            "e_stored", "stored", "1", default_distribution("jacket_storage"), ONE,
            "evidence/jacket_storage", 0.0,
        ),
        InputTerm(
            "e_still", "still_loss", "1", default_distribution("still_loss"), ONE, "evidence/still_loss", 0.0,
        ),
        warming(situation, 1),
        InputTerm(
            "s_splash", "carry_over", "1", hardware.knowledge["carry_over"],
            ONE, splash, 0.0,
        ).sized(values, over("thrown_1", "carry_over_plan"), over(taken_off, "carry_over_plan")),
        InputTerm(
            "ln_drift", "drift", "1", Normal(0.0, hardware.swell.spread), ONE, "evidence/drift_laws", 0.0,
        ),
        InputTerm(
            "a_A", "stem", "1",
            default_distribution("stem_area_factor"), np.asarray(hardware.stem),
            "evidence/stem_area_factor", 0.0,
        ),
        InputTerm(
            "b", "buoyancy", "1", Constant(1.0), np.asarray(situation.conditions.buoyancy),
            "air_density", 1.0,
        ),
    )  # fmt: skip


def _cooling(situation: Situation) -> tuple[InputTerm, ...]:
    """What a cooling run adds: its own error, the wall that it misses, and the two readings of the balance."""
    observer, balance = situation.conditions.bench.observer, situation.kit.balance
    water, room = situation.conditions.water, situation.conditions.room_temperature
    scale = scale_to_boil(water.boiling_point, room)
    heat = scale * water.latent_heat / default("cooling_observed")
    freeboard, cooling = evidence("freeboard_share"), evidence("cooling_balance")
    vapour = scale * default("heater_off_evaporation") * situation.hardware.area * water.latent_heat
    return (
        setting("Q_vapour", "vapour_heat", "W", vapour),
        InputTerm(
            "f_freeboard", "freeboard_share", "1",
            default_distribution("freeboard_share"), ONE, f"evidence/{freeboard.key}", 0.0,
        ),
        InputTerm(
            "e_cooling", "cooling_balance", "1",
            default_distribution("cooling_balance"), ONE, f"evidence/{cooling.key}", 0.0,
        ),
        InputTerm(
            "d_cooling", "cooling_readings", "W", Normal(0.0, 1.0),
            np.asarray(math.sqrt(2.0) * reading_uncertainty(balance, observer.tipping) * heat),
            "tip_as_heat", 0.0,
        ),
    )  # fmt: skip


def _meter_and_supply(situation: Situation) -> tuple[InputTerm, ...]:
    kit, bench = situation.kit, situation.conditions.bench
    stated = "meter_error" in bench.knowledge
    error: Distribution = bench.knowledge["meter_error"] if stated else kit.meter.error
    return (
        InputTerm(
            "e_lead", "lead", "1", default_distribution("element_lead"),
            ONE, "evidence/element_lead", 0.0,
        ).sized(situation.values, "lead_share_1"),
        InputTerm(
            "e_meter", "meter", "1", error, ONE,
            "bench_file" if stated else "meter_limits", 0.0,
        ),
        InputTerm(
            "e_heater", "heater_power", "1",
            Rectangular(-kit.heater.tolerance, kit.heater.tolerance), ONE, "heater_tolerance", 0.0,
        ),
        InputTerm(
            "e_supply", "supply", "1", Rectangular(-bench.supply.tolerance, bench.supply.tolerance),
            ONE, "supply_tolerance", 0.0,
        ),
    )  # fmt: skip


def cover_terms(situation: Situation, power: int) -> tuple[InputTerm, ...]:
    """What losses hang on at a power: the share above the water, how little steam covers it, what the jacket stores."""
    above, dry, stored = (numbered(symbol, power) for symbol in ("above", "dry", "Q_stored"))
    return (
        chosen(situation.values, stored, "jacket_heat", "J", f"stored_{power}"),
        chosen(situation.values, above, "above_water", "1", f"above_{power}"),
        chosen(situation.values, dry, "little_steam", "1", f"dry_{power}"),
    )


def warming(situation: Situation, power: int) -> InputTerm:
    """Warming of the water between the readings at a power, each power anew."""
    term = InputTerm(
        "Q_drift", "water_drift", "J", default_distribution("temperature_drift"),
        ONE, "evidence/temperature_drift", 0.0, scatter=True,
    )  # fmt: skip
    return named(term.sized(situation.values, "mean_water * specific_heat"), power)


def readings_at(situation: Situation, power: int) -> tuple[InputTerm, ...]:
    """What the readings of the balance suffer at a power, each power anew."""
    observer, balance = situation.conditions.bench.observer, situation.kit.balance
    noise = evidence("boiling_noise")
    terms = (
        InputTerm(
            "d_linearity", "balance_linearity", "kg", Rectangular(-1.0, 1.0), np.asarray(balance.linearity),
            "balance_limit", 0.0,
        ),
        InputTerm(
            "d_balance", "balance_readings", "kg", Normal(0.0, 1.0),
            np.asarray(math.sqrt(2.0) * reading_uncertainty(balance, observer.tipping)),
            "tip", 0.0, scatter=True,
        ),
        InputTerm(
            "d_drift", "balance_drift", "kg", default_distribution("balance_drift"),
            np.asarray(balance.resolution if balance.kind == "electronic" else 0.0),
            "evidence/balance_drift", 0.0, scatter=True,
        ),
        chosen(situation.values, "drifting", "drift_time", "1", f"sqrt(time_{power} / {QUARTER_HOUR!r})"),
        InputTerm(
            "d_boiling", "boiling_noise", "kg", Normal(0.0, noise.spread),
            ONE, f"evidence/{noise.key}", 0.0, scatter=True,
        ).sized(situation.values, f"sqrt(2) * {noise_growth(numbered('P_set', power))}"),
    )  # fmt: skip
    return tuple(named(term, power) for term in terms)


def named(term: InputTerm, power: int) -> InputTerm:
    """The same quantity, drawn anew at another power."""
    if power == 1:
        return term
    return replace(term, symbol=numbered(term.symbol, power), name=f"{term.name}/{power}")


def noise_growth(power: str) -> str:
    """Boiling noise at a power [W] over that below 1 kW, as text. [1]"""
    return f"max({power} / 1000, 1)**{default('boiling_noise_exponent')!r}"


def reading_uncertainty(balance: Balance, tipping: float) -> float:
    """
    Standard uncertainty of one reading of a steady load.

    Parameters
    ----------
    balance : Balance
        With its resolution and repeatability.
    tipping : float
        Half-width within which the balance point of a beam is judged. [kg]

    Returns
    -------
    float
        Root sum of squares of half a digit (rectangular), the repeatability and, on a beam, the judgement of the
        balance point (rectangular). [kg]

    References
    ----------
    .. [1] JCGM 100:2008, F.2.2.1 (resolution as a rectangular distribution of half a digit either way).
    """
    judged = tipping if balance.kind == "beam" else 0.0
    squares = (0.5 * balance.resolution) ** 2 / 3.0 + balance.repeatability**2 + judged**2 / 3.0
    return math.sqrt(squares)


def mass_set_term(situation: Situation) -> InputTerm:
    """Error of the masses put on the pan, relative."""
    accuracy = situation.kit.mass_set.accuracy if situation.kit.mass_set else 0.0
    return InputTerm(
        "e_mass", "masses", "1", Rectangular(-accuracy, accuracy), ONE,
        "mass_set_accuracy", 0.0,
    )  # fmt: skip


TIMED_PART = 2.0 / 3.0
"""Variance of the part of a count read by the clock, over that of one timing in counts: mean of f² + (1 - f)²."""


def count_terms(situation: Situation) -> tuple[InputTerm, ...]:
    """Counts read in passing, at start and stop, and the time at which they are read."""
    step = situation.kit.meter.fineness
    nearest = InputTerm(
        "d_count", "counts_in_passing", "1", Triangular(-step, step), ONE,
        "both_counts_rounded", 0.0, scatter=True,
    )  # fmt: skip
    count = _timed_count(situation, 2) if situation.kit.meter.reads == "timed" else nearest
    return (count_energy(situation), count, time_term(situation))


def count_from_mark(situation: Situation, power: int) -> tuple[InputTerm, ...]:
    """Counts started on a mark and read once, at the end, to the nearest count or tenth."""
    step = situation.kit.meter.fineness
    nearest = InputTerm(
        "d_count", "counts_from_mark", "1", Rectangular(-0.5 * step, 0.5 * step),
        ONE, "one_count_rounded", 0.0, scatter=True,
    )  # fmt: skip
    count = _timed_count(situation, 1, power) if situation.kit.meter.reads == "timed" else nearest
    return (named(count, power), named(time_term(situation), power))


def count_energy(situation: Situation) -> InputTerm:
    """Energy of one count; none where time is read instead, whose own error is ``d_time``."""
    return chosen(situation.values, "k", "count_energy", "J", "step_energy")


def timing_of_marks(reaction_time: float) -> float:
    """
    Standard uncertainty of a reading of counts whose part between two marks comes from the clock, as a time. [s].

    With the marks before and after a reading timed at t1 and t2 and the reading itself at t, the part is
    f = (t - t1)/(t2 - t1). Timing the marks gives f the variance (f² + (1 - f)²) (u/T)² for marks T apart, on average
    ``TIMED_PART`` of (u/T)², with u of one timing: that of an interval over the square root of two. The timing of the
    reading itself is ``d_time``. The power is taken as steady over a count.
    """
    return math.sqrt(0.5 * TIMED_PART) * reaction_time


def _timed_count(situation: Situation, readings: int, power: int = 1) -> InputTerm:
    """Counts of which the part between two marks comes from the clock, at one reading or at start and stop."""
    timing = math.sqrt(readings) * timing_of_marks(situation.conditions.bench.observer.reaction_time)
    return InputTerm(
        "d_count", "counts_timed", "1", Normal(0.0, 1.0), ONE,
        "marks_timed", 0.0, scatter=True,
    ).sized(situation.values, f"{timing!r} * {numbered('P_set', power)} / step_energy")  # fmt: skip


def time_term(situation: Situation) -> InputTerm:
    """Reaction of the observer: the scatter of a timed interval, about mean zero."""
    return InputTerm(
        "d_time", "reaction_time", "s", Normal(0.0, 1.0),
        np.asarray(situation.conditions.bench.observer.reaction_time),
        "observer", 0.0, scatter=True,
    )  # fmt: skip
