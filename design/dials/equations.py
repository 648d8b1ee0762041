"""What a setting asks of a kit, as equation text: one text that can be evaluated wherever the page is read."""

from __future__ import annotations

from itertools import pairwise

from design.physics.carry_over import (
    HIGH_FLUX_CEILING,
    HIGH_FLUX_SHARE,
    LARGEST_SHARE,
    REFERENCE_FREEBOARD,
    REFERENCE_POWER,
)
from design.physics.evidence import default
from design.physics.losses import CONDUCTOR_LIMITS, CONDUCTOR_RESISTANCE
from design.procedures.face import Procedure, Steps
from design.procedures.several_powers import numbered
from design.setting.situation import CLOCK_TICK, WARM_UP_LOSS_SHARE, Situation
from design.setting.terms import InputTerm, setting

LEAST_WARMING = 1.0
"""Power left for warming up, below which the text no longer follows ``situation``, which says never. [W]"""


def setting_constants(situation: Situation) -> tuple[InputTerm, ...]:
    """
    What is dialled in, what the bench knows, and what the kit is, each as a constant.

    Parameters
    ----------
    situation : Situation
        One setting.

    Returns
    -------
    tuple of InputTerm
        ``P_set`` and so on [W], ``mass`` [kg], ``N``, ``step_energy`` [J], ``loss`` [W], ``carry_over`` (share at
        1 kW and 50 mm) with what a correction takes off, and the figures of kit, room and pace.
    """
    return (*_dialled(situation), *_kit(situation), *_pace(situation))


def setting_steps(situation: Situation, procedure: Procedure) -> Steps:
    """
    Runs, levels and carry-over of a setting, as ``design.setting.situation.situation_of`` works them out.

    Parameters
    ----------
    situation : Situation
        One setting; its kit and pace decide which equations hold.
    procedure : Procedure
        How readings are taken.

    Returns
    -------
    tuple of (symbol, text)
        Steps of the symbols of ``setting_constants``.
    """
    numbers = range(1, procedure.number_of_powers + 1)
    runs = tuple(step for number in numbers for step in _run(situation, number))
    return (
        *runs,
        *_levels(procedure.number_of_powers),
        *_thrown(situation, procedure.number_of_powers),
        *_time(numbers),
    )


def _dialled(situation: Situation) -> tuple[InputTerm, ...]:
    hardware, settings = situation.hardware, situation.settings
    carry_over = hardware.knowledge["carry_over"].mean
    powers = [
        setting(numbered("P_set", column + 1), "power as dialled in", "W", settings.powers[:, column])
        for column in range(settings.powers.shape[1])
    ]
    return (
        *powers,
        setting("mass", "mass step as dialled in", "kg", settings.mass),
        setting("N", "number of runs", "1", settings.repeats),
        setting("step_energy", "energy of one count", "J", situation.kit.meter.energy_per_count),
        setting("loss", "heat loss at the boil", "W", hardware.loss),
        setting("loss_plan", "heat loss at the boil, as planned", "W", hardware.loss),
        setting("loss_taken_off", "heat loss that the correction takes off", "W", hardware.loss),
        setting("loss_doubt_plan", "standard uncertainty of the heat loss, as planned", "W", hardware.loss_uncertainty),
        setting("carry_over", "carry-over at 1 kW and 50 mm", "1", carry_over),
        setting("carry_over_plan", "carry-over at 1 kW and 50 mm, as planned", "1", carry_over),
        setting("carry_over_taken_off", "carry-over that the correction takes off", "1", carry_over),
    )


def _kit(situation: Situation) -> tuple[InputTerm, ...]:
    conditions, kit, hardware = situation.conditions, situation.kit, situation.hardware
    water, column = conditions.water, hardware.area * conditions.water.liquid_density
    least = (kit.heater.minimum_depth + default("depth_margin")) * column + situation.settings.spare
    return (
        setting("voltage", "supply voltage", "V", conditions.bench.supply.voltage),
        setting("flex", "length of the flex", "m", kit.heater.flex),
        setting("latent", "latent heat at the room's pressure", "J/kg", water.latent_heat),
        setting("stem", "share of the surface cut by stems", "1", hardware.stem),
        setting("buoyancy", "air buoyancy", "1", conditions.buoyancy),
        setting("column", "water per height", "kg/m", column),
        setting("density", "density of the water", "kg/m3", water.liquid_density),
        setting("height", "height of the vessel", "m", kit.vessel.height),
        setting("displaced", "water that the element pushes up", "kg", hardware.displaced),
        setting("least_water", "water left at the last reading", "kg", least - hardware.displaced),
        setting("specific_heat", "specific heat of the water", "J/(kg K)", water.specific_heat),
        setting("vessel_heat", "heat capacity of the vessel", "J/K", hardware.heat_capacity),
        setting("rise", "rise of temperature to the boil", "K", water.boiling_point - conditions.room_temperature),
        setting("evaporation", "evaporation while warming up", "W", default("warm_up_evaporation") * hardware.area),
    )


def _pace(situation: Situation) -> tuple[InputTerm, ...]:
    pace = situation.pace
    return (
        setting("handling", "setting up and clearing away", "s", situation.conditions.bench.lesson.handling),
        setting("steady", "boiling until steady", "s", default("steady_time")),
        setting("pause", "heater off in each run", "s", pace.pause),
        setting("gap", "between two runs", "s", pace.gap),
        setting("mark_interval", "least time between two marks", "s", pace.mark_interval),
        setting("cooling", "cooling run", "s", pace.cooling),
    )


def counts_energy(situation: Situation) -> bool:
    """Tell whether the meter counts steps of energy, rather than seconds or nothing."""
    return situation.kit.meter.energy_per_count > 0.0


def count_energy_text(situation: Situation, number: int) -> str:
    """Energy of one count at a power: a step of the meter, or a second of a volt-ampere meter."""
    if counts_energy(situation) or situation.kit.meter.kind != "volt-ampere":
        return "step_energy"
    return f"{numbered('P_set', number)} * {CLOCK_TICK!r}"


def _resistance(number: int) -> str:
    """Resistance of the flex by its conductors: a thicker one above each limit of the current."""
    text = f"{CONDUCTOR_RESISTANCE[0]!r}"
    for limit, (thinner, thicker) in zip(CONDUCTOR_LIMITS, pairwise(CONDUCTOR_RESISTANCE), strict=True):
        text += f" + ({thicker!r} - {thinner!r}) * min(max(ceil(current_{number} - {limit!r}), 0), 1)"
    return text


def _run(situation: Situation, number: int) -> Steps:
    power = numbered("P_set", number)
    return (
        (f"current_{number}", f"{power} / voltage"),
        (f"lead_share_{number}", f"2 * flex * ({_resistance(number)}) * current_{number} / voltage"),
        (f"steam_power_{number}", f"max({power} * (1 - lead_share_{number}) - loss, 1e-9)"),
        (f"per_mass_{number}", f"latent * (1 - stem) * buoyancy * {power} / steam_power_{number}"),
        (f"wanted_{number}", f"mass * per_mass_1 * ({power} / P_set)"),
        *_counted(situation, number),
        (f"mass_{number}", f"energy_{number} / per_mass_{number}"),
        (f"time_{number}", f"energy_{number} / {power}"),
    )


def _counted(situation: Situation, number: int) -> Steps:
    """Energy of one run, on whole counts where the procedure ends on a mark of the meter."""
    wanted, energy, pace = f"wanted_{number}", f"count_energy_{number}", situation.pace
    if not counts_energy(situation) and situation.kit.meter.kind != "volt-ampere":
        return ((f"energy_{number}", wanted),)
    one = (energy, count_energy_text(situation, number))
    if not pace.whole_counts:
        return (one, (f"counts_{number}", f"{wanted} / {energy}"), (f"energy_{number}", wanted))
    whole = (f"energy_{number}", f"counts_{number} * {energy}")
    if pace.mark_interval == 0.0:
        return (one, (f"counts_{number}", f"max(round({wanted} / {energy}), 1)"), whole)
    rate = f"{wanted} / {energy} / ({wanted} / {numbered('P_set', number)})"
    return (
        one,
        (f"between_{number}", f"max(ceil(mark_interval * ({rate}) - 1e-9), 1)"),
        (f"marks_{number}", f"max(round({wanted} / {energy} / between_{number}), 1)"),
        (f"counts_{number}", f"marks_{number} * between_{number}"),
        whole,
    )


def _levels(powers: int) -> Steps:
    """Water and heights to the rim; the lowest power boils first."""
    numbers = range(1, powers + 1)
    idle = "(steady + (N - 1) * gap)"
    steps = [
        (f"boiled_{number}", f"N * mass_{number} * (1 - stem) + steam_power_{number} * {idle} / latent")
        for number in numbers
    ]
    below = "least_water + displaced"
    for number in numbers:
        steps += [
            (f"lowest_{number}", f"height - ({below}) / column"),
            (
                f"highest_{number}",
                f"height - ({below} + boiled_{number} - steam_power_{number} * steady / latent) / column",
            ),
        ]
        below += f" + boiled_{number}"
    together = " + ".join(f"boiled_{number}" for number in numbers)
    warming = f"P_set * (1 - lead_share_1) - {WARM_UP_LOSS_SHARE!r} * loss - evaporation"
    return (
        *steps,
        ("boiled", together),
        ("heat_up", "((least_water + boiled) * specific_heat + vessel_heat) * rise"),
        ("warm_up", f"heat_up / max({warming}, {LEAST_WARMING!r})"),
        ("fill", "least_water + boiled + evaporation * warm_up / latent"),
        ("mean_water", "least_water + 0.5 * boiled"),
        ("freeboard", "height - (least_water + displaced + boiled) / column"),
    )


def _thrown(situation: Situation, powers: int) -> Steps:
    """Share thrown out as droplets at each power."""
    if situation.hardware.knowledge["carry_over"].mean == 0.0:
        return (("thrown_1", "0"),)
    steps: list[tuple[str, str]] = []
    for number in range(1, powers + 1):
        law = f"(steam_power_{number} / {REFERENCE_POWER!r})**3 * {REFERENCE_FREEBOARD!r}**3 * {_of_the_runs(number)}"
        steps += [(f"law_{number}", law), (f"thrown_{number}", _steeper(f"carry_over * law_{number}"))]
    return tuple(steps)


def settling_text() -> dict[str, str]:
    """Carry-over while the boil settles at one power, as ``design.procedures.shared`` works it out."""
    early = f"{_mean_cube('freeboard', 'highest_1')} / ({_of_the_runs(1)})"
    drop = f"steam_power_1 * steady / latent / column * ({_of_the_runs(1)})**(1 / 3)"
    return {"early": early, "drop": drop, "settled": f"1 + drop * ({_steeper('early * carry_over * law_1')})"}


def _of_the_runs(number: int) -> str:
    return _mean_cube(f"highest_{number}", f"lowest_{number}")


def _mean_cube(first: str, last: str) -> str:
    """Mean of 1/h³ while the level falls."""
    high, low = f"max({first}, 1e-3)", f"max({last}, 1e-3)"
    return f"0.5 * ({high} + {low}) / ({high} * {low})**2"


def thrown_taken_off_text() -> str:
    """Share thrown out at the highest power by the carry-over that a correction takes off."""
    return _steeper("carry_over_taken_off * law_1")


def _steeper(middle: str) -> str:
    """Share by the middle law, and above its end by a steeper one."""
    factor = f"min(max(sqrt({middle} / {HIGH_FLUX_SHARE!r}), 1), {HIGH_FLUX_CEILING!r})"
    return f"min({middle} * {factor}, {LARGEST_SHARE!r})"


def _time(numbers: range) -> Steps:
    runs = " + ".join(f"time_{number}" for number in numbers)
    powers = len(numbers)
    return (
        (
            "lesson_time",
            f"handling + warm_up + {powers} * steady + N * ({runs}) + {powers} * (N * pause + (N - 1) * gap) + cooling",
        ),
    )
