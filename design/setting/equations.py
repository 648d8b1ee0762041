"""The physics of a setting, once, as equation text: runs, levels, carry-over and time from the constants."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache, reduce

from budget.arrays import FloatArray
from budget.model.equation import Program, compile_program
from design.physics.carry_over import cube_law, mean_cube, thrown
from design.physics.losses import fading, lead_text
from design.physics.swell import lift_text, surface_text
from design.setting.constants import FILL_DOUBT

Steps = tuple[tuple[str, str], ...]
"""Named intermediate steps, each with its equation text."""
WARM_UP_LOSS_SHARE = 1.0 / 2.25
"""Mean of the loss over the warm-up, as a share of that at the boil: it grows as (T - T_room)^1.25."""
LEAST = "1e-300"
"""Stands for nothing where nothing is divided by nothing."""


@dataclass(frozen=True)
class Form:
    """Which equations hold: number of powers, and whether runs end on marks of the meter, with marks in between."""

    powers: int
    whole: bool
    series: bool


class Values(dict[str, FloatArray]):
    """Values by symbol, broadcasting against each other; any other text of them is evaluated as it is asked for."""

    def __init__(self, values: Mapping[str, FloatArray], before: Values | None = None) -> None:
        super().__init__(values)
        self.before, self.moved, self.texts = before, frozenset[str](), dict[str, FloatArray]()

    def __missing__(self, text: str) -> FloatArray:
        """Evaluate a text, once, also for values that differ in nothing that it hangs on."""
        if text not in self.texts:
            program = compiled(text)
            shared = self.before is not None and not program.symbols & self.moved
            self.texts[text] = self.before[text] if self.before is not None and shared else program.evaluate(self)
        return self.texts[text]

    def changed(self, form: Form, constants: Mapping[str, FloatArray]) -> Values:
        """Values with other constants: what hangs on them is worked out anew, the rest is shared."""
        differing = {name: value for name, value in constants.items() if not _same(self[name], value)}
        if not differing:
            return self
        steps = following(form, frozenset(differing))
        values = Values({**self, **differing}, self)
        values.moved = frozenset({*differing, *(name for name, _ in steps)})
        return evaluated(steps, values)


def _same(one: FloatArray, other: FloatArray) -> bool:
    return one.shape == other.shape and one.tobytes() == other.tobytes()


def evaluated(steps: Steps, constants: Values) -> Values:
    """Add steps to the constants that they start from."""
    if steps:
        *before, (name, text) = steps
        constants.update(program_of_steps(tuple(before), text, name).evaluate_all(constants))
    return constants


@lru_cache(maxsize=256)
def program_of_steps(before: Steps, text: str, name: str) -> Program:
    """Compile steps, the last of them as the result."""
    return compile_program(before, text, name)


@lru_cache(maxsize=4096)
def compiled(text: str) -> Program:
    """Compile one text."""
    return compile_program((), text)


@lru_cache(maxsize=256)
def following(form: Form, symbols: frozenset[str]) -> Steps:
    """Steps that hang on some of the symbols, directly or by others."""
    reached, found = set(symbols), []
    for name, text in steps_of(form):
        if compiled(text).symbols & reached:
            reached.add(name)
            found.append((name, text))
    return tuple(found)


def hangs_on(form: Form, text: str, symbols: Iterable[str]) -> bool:
    """Tell whether a text hangs on some of the symbols, directly or by steps."""
    moved = frozenset(symbols)
    return bool(compiled(text).symbols & (moved | {name for name, _ in following(form, moved)}))


def numbered(symbol: str, power: int) -> str:
    """Symbol of a power's own quantity; the highest power, number 1, has the plain one."""
    return symbol if power == 1 else f"{symbol}_{power}"


def ratio(one: str, other: str) -> str:
    """One quantity over another as text, 1 where both are nothing."""
    return f"max({one}, {LEAST}) / max({other}, {LEAST})"


def over(one: str, other: str) -> str:
    """One quantity over another as text, 0 where both are nothing."""
    return f"{one} / max({other}, {LEAST})"


@cache
def steps_of(form: Form) -> Steps:
    """
    Runs, levels, carry-over and time of a setting.

    Returns
    -------
    tuple of (symbol, text)
        Steps of ``P_set`` and so on [W], ``mass`` [kg], ``N``, ``spare`` [kg], the pace, and the constants above. At
        each power, number 1 being the highest: ``current_1`` [A], ``lead_share_1``, ``steam_power_1`` [W],
        ``count_energy_1`` [J], ``counts_1``, ``energy_1`` [J], ``mass_1`` [kg], ``time_1`` [s], heights from the
        surface that the bubbles lift to the rim at the first and the last reading ``highest_1`` and ``lowest_1`` [m],
        rise of that surface on average over that height ``risen_1``, carry-over ``thrown_1`` and its factor by the
        cube law ``law_1``.
    """
    numbers = range(1, form.powers + 1)
    runs = tuple(step for number in numbers for step in _run(form, number))
    lowest = ("lowest_power", numbered("P_set", form.powers))
    water = (*_unlucky(numbers, whole=form.whole), *_fill(numbers), *_levels(numbers), *_warm_up(), *_surface(numbers))
    return (*runs, lowest, *water, *_dry(numbers), *_stored(numbers), *_thrown(numbers), *_settling(), *_time(numbers))


def _run(form: Form, number: int) -> Steps:
    """One run at a power; lower powers boil for as long as the highest."""
    power, current = numbered("P_set", number), f"current_{number}"
    return (
        (current, f"{power} / voltage"),
        (f"lead_share_{number}", lead_text(current)),
        (f"steam_power_{number}", f"max({power} * (1 - lead_share_{number}) - loss, 1e-9)"),
        (f"per_mass_{number}", f"latent * (1 - stem) * buoyancy * {power} / steam_power_{number}"),
        (f"wanted_{number}", f"mass * per_mass_1 * ({power} / P_set)"),
        (f"count_energy_{number}", f"step_energy + tick * {power}"),
        *_counted(form, number),
        (f"mass_{number}", f"energy_{number} / per_mass_{number}"),
        (f"time_{number}", f"energy_{number} / {power}"),
    )


def _counted(form: Form, number: int) -> Steps:
    """Counts and energy of one run: whole counts, or equal whole numbers of them, where it ends on a mark."""
    count, wanted = f"max(count_energy_{number}, 1e-9)", f"wanted_{number}"
    counts, energy = f"counts_{number}", f"energy_{number}"
    if not form.whole:
        return ((counts, f"counting * {wanted} / {count}"), (energy, wanted))
    whole = (energy, f"counts_{number} * count_energy_{number} + (1 - counting) * {wanted}")
    if not form.series:
        return ((counts, f"counting * max(round({wanted} / {count}), 1)"), whole)
    return (
        (f"between_{number}", f"max(ceil(mark_interval * {numbered('P_set', number)} / {count} - 1e-9), 1)"),
        (f"marks_{number}", f"max(round(counting * {wanted} / {count} / between_{number}), 1)"),
        (counts, f"counting * marks_{number} * between_{number}"),
        whole,
    )


def _unlucky(numbers: range, *, whole: bool) -> Steps:
    """
    Powers at the ends that the tolerances of heater and supply leave them, and what comes of those.

    ``most_power`` and ``least_power`` over the planned one, ``most_current`` and ``least_current`` likewise; at each
    power ``most_steam`` and the longest run ``longest``.
    """
    steps = [
        ("most_current", "(1 + heater_tolerance) * (1 + supply_tolerance)"),
        ("least_current", "(1 - heater_tolerance) * (1 - supply_tolerance)"),
        ("most_power", "most_current * (1 + supply_tolerance)"),
        ("least_power", "max(least_current * (1 - supply_tolerance), 1e-9)"),
    ]
    for number in numbers:
        power, lead = numbered("P_set", number), f"(1 - lead_share_{number})"
        least_steam = f"max({power} * least_power * {lead} - loss, 1e-9)"
        steps += [
            (f"most_steam_{number}", f"max({power} * most_power * {lead} - loss, 1e-9)"),
            (
                f"longest_{number}",
                f"energy_{number} / ({power} * least_power)"
                if whole
                else "longest_1"
                if number > 1
                else f"mass_1 * latent * (1 - stem) * buoyancy / {least_steam}",
            ),
        ]
    return tuple(steps)


def _fill(numbers: range) -> Steps:
    """
    Water to fill in: what covers the element to the last reading, and what evaporates before the boil.

    At the last reading the water stands ``depth_margin`` above the element's mark, and still covers the element where
    less was filled in by ``FILL_DOUBT`` and heater and supply are strongest, with spare water more. The element pushes
    the water up, so that less is needed than the height alone would tell. It is rounded up to ``fill_step``, where that
    is not 0. The fill is linear in the water that is left: ``fill_slope`` and ``fill_base``.
    """
    steps = [("column", "area * density"), ("idle", "steady + (N - 1) * gap")]
    for number in numbers:
        steam = f"steam_power_{number}"
        steps.append((f"boiled_{number}", f"N * mass_{number} * (1 - stem) + {steam} * idle / latent"))
    beyond = " + ".join(f"(most_steam_{number} - steam_power_{number})" for number in numbers)
    return (
        *steps,
        ("boiled", " + ".join(f"boiled_{number}" for number in numbers)),
        ("evaporation", "evaporation_flux * area"),
        ("warming", f"max(P_set * (1 - lead_share_1) - {WARM_UP_LOSS_SHARE!r} * loss - evaporation, 0)"),
        ("evaporated", "evaporation / latent * rise * (warming / max(warming**2, 1e-12))"),
        ("fill_slope", "1 + evaporated * specific_heat"),
        ("fill_base", "evaporated * vessel_heat"),
        ("covering", "minimum_depth * column - displaced"),
        (
            "fill_exact",
            "max((covering + depth_margin * column + boiled) * fill_slope + fill_base,"
            f" ((covering + boiled + ({beyond}) * idle / latent) * fill_slope + fill_base) / {1.0 - FILL_DOUBT!r})"
            " + spare * fill_slope",
        ),
        ("fill_marks", "1 / max(fill_step, 1e-12)"),
        ("fill", "ceil(fill_exact * fill_marks - 1e-6) / fill_marks"),
        ("least_water", "(fill - fill_base) / fill_slope - boiled"),
    )


def _levels(numbers: Iterable[int]) -> Steps:
    """
    Heights to the rim.

    The lowest power comes first, the highest last, where there is most height to the rim. Nothing is filled up in
    between. What is thrown out while the boil settles is not weighed, so the first reading at a power comes after that.
    """
    steps: list[tuple[str, str]] = []
    below = "least_water + displaced"
    for number in numbers:
        steam = f"steam_power_{number}"
        steps += [
            (f"last_{number}", f"({below}) / column"),
            (f"first_{number}", f"({below} + boiled_{number} - {steam} * steady / latent) / column"),
            (f"start_{number}", f"({below} + boiled_{number}) / column"),
            (f"gather_{number}", f"drift_excess * {steam} / vapour / drift_middle"),
            (f"lift_{number}", lift_text(steam, "drift_middle")),
            (f"lowest_{number}", f"height - ({surface_text(f'last_{number}', f'lift_{number}')})"),
            (f"highest_{number}", f"height - ({surface_text(f'first_{number}', f'lift_{number}')})"),
        ]
        below += f" + boiled_{number}"
    return (*steps, ("mean_water", "least_water + 0.5 * boiled"))


def _warm_up() -> Steps:
    """Time to reach the boil, infinite where the heater is too weak; nothing counts as evaporated then."""
    return (
        ("heat_up", "((least_water + boiled) * specific_heat + vessel_heat) * rise"),
        ("warm_up", "heat_up / warming"),
        (
            "longest_warm_up",
            f"(heat_up + {FILL_DOUBT!r} * fill * specific_heat * rise)"
            f" / max(P_set * least_power * (1 - lead_share_1) - {WARM_UP_LOSS_SHARE!r} * loss - evaporation, 0)",
        ),
    )


def _surface(numbers: range) -> Steps:
    """
    How high the surface stands over the vessel's floor as the boil begins at each power, and how full that is.

    ``crest`` is the highest that bursts reach, at the drift velocity that is exceeded in 95 % and with bursts that are
    not reached in 95 %; ``most_crest`` the same where ``FILL_DOUBT`` more was filled in and heater and supply are
    strongest; ``boiling_level`` the mean surface to expect at the first boil, ``cold_level`` the water as it is filled
    in, without the heater, and ``cold_level_with`` with it in; ``most_swell`` how far the surface rises at the most,
    over the water.
    """
    last = numbers[-1]
    crests = [(f"start_{number}", f"steam_power_{number}") for number in numbers]
    more = f"{FILL_DOUBT!r} * fill / column"
    highest = [(f"(start_{number} + {more})", f"most_steam_{number}") for number in numbers]
    lift = lift_text("most_steam_1", "drift_middle")
    return (
        ("crest", _crest(crests)),
        ("most_crest", _crest(highest)),
        ("boiling_level", surface_text(f"start_{last}", f"lift_{last}")),
        ("freeboard", "height - boiling_level"),
        ("cold_level", "fill / cold_density / area"),
        ("cold_level_with", "cold_level + displaced / column"),
        ("most_swell", f"max(start_1 - heated_from, 0) * {lift} / start_1"),
    )


def _crest(surfaces: Iterable[tuple[str, str]]) -> str:
    """Highest that bursts reach over some surfaces: where the water would stand without bubbles, and steam power."""
    texts = [
        f"{surface_text(start, lift_text(steam, 'drift_least'))} + heave_most * {steam}" for start, steam in surfaces
    ]
    return reduce(lambda one, other: f"max({one}, {other})", texts)


def _dry(numbers: Iterable[int]) -> Steps:
    """Share of the wall loss that steam pays for, above the water, and how little steam keeps the air out there."""
    return tuple(
        step
        for number in numbers
        for step in (
            (f"above_{number}", f"side_share * (1 - 0.5 * (first_{number} + last_{number}) / height)"),
            (f"dry_{number}", fading(f"(steam_power_{number} / (area * cover_flux))**2")),
        )
    )


def _stored(numbers: range) -> Steps:
    """
    Heat that the jacket of the side takes up beyond its steady loss in a run at each power, on average over the runs.

    First mode of a slab: at time t after its inner face has stepped to the boil, it takes up twice its steady loss
    times exp(-t/tau) beyond that. Above the water the steam makes that step as the boil begins; below, the water has
    warmed it while it was heated, evenly, and what is left at the boil is the less the longer that took. The lowest
    power comes first.
    """
    steps = [
        ("jacket_lag", "max(jacket_time, 1)"),
        ("jacket_heat", f"2 * jacket_loss * ({ratio('loss', 'loss_plan')}) * jacket_lag"),
        ("ramp", "jacket_lag / max(warm_up, 1e-9) * (1 - exp(-warm_up / jacket_lag))"),
    ]
    begun = "steady"
    for number in reversed(numbers):
        hot = f"above_{number} / side_share"
        steps += [
            (f"begun_{number}", begun),
            (f"lasting_{number}", f"N * (time_{number} + pause) + (N - 1) * gap"),
            (
                f"stored_{number}",
                f"jacket_heat * ({hot} + (1 - {hot}) * ramp) * {fading(f'begun_{number} / jacket_lag')}"
                f" * (1 - exp(-lasting_{number} / jacket_lag)) / N",
            ),
        ]
        begun = f"begun_{number} + lasting_{number} + steady"
    return tuple(steps)


def _thrown(numbers: Iterable[int]) -> Steps:
    """Share thrown out as droplets at each power, averaged while the level falls."""
    return tuple(
        step
        for number in numbers
        for step in (
            (f"mean_cube_{number}", mean_cube(f"highest_{number}", f"lowest_{number}")),
            (
                f"risen_{number}",
                f"(2 * height - highest_{number} - lowest_{number} - first_{number} - last_{number})"
                f" / (max(highest_{number}, 1e-3) + max(lowest_{number}, 1e-3))",
            ),
            (f"law_{number}", cube_law(f"steam_power_{number}", f"mean_cube_{number}")),
            (f"middle_{number}", f"carry_over * law_{number}"),
            (f"thrown_{number}", thrown(f"middle_{number}")),
        )
    )


def _settling() -> Steps:
    """Carry-over while the boil settles over that of the runs, and how it lowers the level, from a fuller vessel."""
    return (
        ("early", f"{mean_cube('freeboard', 'highest_1')} / mean_cube_1"),
        ("drop", "steam_power_1 * steady / latent / column * (1 + lift_1) * mean_cube_1**(1 / 3)"),
        ("settled", f"1 + drop * {thrown('(early * middle_1)')}"),
    )


def _time(numbers: range) -> Steps:
    powers = len(numbers)
    return (
        ("settling_time", f"{powers} * steady"),
        ("runs_time", f"N * ({' + '.join(f'time_{number}' for number in numbers)})"),
        ("notes_time", f"{powers} * (N * pause + (N - 1) * gap)"),
        ("lesson_time", " + ".join(symbol for _, symbol in STAGES)),
        (
            "most_time",
            "handling + longest_warm_up + settling_time + notes_time + cooling"
            f" + N * ({' + '.join(f'longest_{number}' for number in numbers)})",
        ),
    )


STAGES = (
    ("setting_up", "handling"),
    ("heating", "warm_up"),
    ("settling", "settling_time"),
    ("runs", "runs_time"),
    ("pauses", "notes_time"),
    ("cooling_run", "cooling"),
)
"""Stages of the lesson, by the keys of their words, and their times."""
