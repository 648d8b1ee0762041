"""An invented bench and an invented plan for it, with the shapes a search gives; one browser for all pages."""

from __future__ import annotations

import dataclasses
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from budget.model.measurement import MeasurementModel
from budget.quantities.distributions import Constant, Normal, Rectangular
from budget.quantities.inputs import InputQuantity
from design.bench import Bench, Current, Lesson, Observer, Purse, Room, SearchRange, Supply
from design.bench_files.reader import read_bench
from design.chosen import Design
from design.evaluation.evaluate import Evaluation, EvaluationRequest, evaluate
from design.kit import ROLES, Balance, Fitting, Heater, Item, Kit, MassSet, Meter, Role, Vessel, kit_from
from design.materials import Jacket
from design.message import Message
from design.procedures.registry import procedure_named
from design.search.plan import (
    Answers,
    ErrorMap,
    Ladder,
    MovedLimit,
    NearMiss,
    OwnedItem,
    Plan,
    RankedDesign,
    Rung,
    Source,
    Trial,
    Tried,
)
from design.search.planning import plan_bench
from design.search.robustness import Otherwise, Robustness
from design.setting.hardware import conditions_of
from design.sheets.readings_file import read_readings
from reports.pages.plan_page import plan_page
from reports.rendering import Origin

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium")
FROZEN = Path(__file__).parents[1] / "frozen" / "sheets"
"""Readings of every procedure on the demo bench, invented."""
DISPLAY: dict[Role, str] = {"balance": "Drip-proof bench balance"}
STEPPED: dict[Role, str] = {**DISPLAY, "heater": "Stepped heater", "meter": "Rail pulse meter"}
WAYS: dict[str, tuple[str, str, dict[Role, str]]] = {
    "fixed-mass-restart": ("fixed-mass-restart", "calculated", {}),
    "fixed-mass-kept-on": ("fixed-mass-kept-on", "calculated", {}),
    "whole-counts": ("whole-counts", "calculated", DISPLAY),
    "two-powers": ("two-powers", "calculated", STEPPED),
    "series": ("series", "calculated", DISPLAY),
    "cooling-run": ("whole-counts", "cooling-run", DISPLAY),
}
"""Procedure, correction and other items of the demo bench, by the name of the readings."""
FITTED_BENCH = Path(__file__).with_name("fitted_bench.toml")
"""Bench file of a room where a jacket and timed marks are the best that can be had."""
SOURCES = (
    (
        "heat lost through wall and water surface",
        "W_wall",
        1.92,
        0.48,
        0.462,
        17.2,
        4.3,
        "W",
        "lognormal",
        2311.0,
        False,
    ),
    ("energy meter error", "e_meter", 0.0, 0.40, 0.318, 0.0, 0.00404, "1", "rectangular ±0.7 %", 2.25e6, False),
    ("boiling noise at the two readings", "dm_boil", 0.0, 0.22, 0.097, 0.0, 5.4e-4, "kg", "normal", 9.1e6, True),
    ("carry-over of droplets", "s", -0.31, 0.19, 0.071, 0.0031, 0.0019, "1", "lognormal, factor 3", -2.26e6, False),
    (
        "steam running back from cold hardware",
        "W_return",
        0.36,
        0.13,
        0.033,
        3.2,
        1.2,
        "W",
        "rectangular",
        2311.0,
        False,
    ),
    ("counting on a mark", "dn", 0.0, 0.09, 0.016, 0.0, 0.041, "count", "rectangular ±half a tenth", 2.4e4, True),
    ("heat lost through the base", "W_base", 0.12, 0.03, 0.002, 1.1, 0.3, "W", "lognormal", 2311.0, False),
    ("warming between the readings", "dT", 0.0, 0.02, 0.001, 0.0, 0.05, "K", "normal", 3.2e4, True),
    ("stem of the heater", "r_stem", -1.58, 0.02, 0.0005, 0.0159, 0.0002, "1", "normal", -2.26e6, False),
    ("flex between meter and element", "e_lead", 0.11, 0.01, 0.0001, 0.0011, 0.0001, "1", "normal", 2.25e6, False),
    ("air buoyancy", "b", 0.001, 0.0, 0.0, 1.0011, 0.0, "1", "constant", -2.25e6, False),
)


def make_sources(scale: float = 1.0) -> tuple[Source, ...]:
    return tuple(
        Source(
            quantity=quantity,
            symbol=symbol,
            bias_percent=bias * scale,
            standard_uncertainty_percent=contribution * scale,
            share=share,
            share_interval=(max(share - 0.02, 0.0), share + 0.02),
            estimate=estimate,
            standard_uncertainty=spread,
            unit=unit,
            distribution=distribution,
            evidence="judgement" if "W_" in symbol else "maker's limit",
            sensitivity_coefficient=coefficient,
            scatter=scatter,
        )
        for (
            quantity, symbol, bias, contribution, share, estimate, spread, unit, distribution, coefficient, scatter
        ) in SOURCES
    )  # fmt: skip


STATED = {
    "buy": "buy", "price": "price", "minutes": "minutes", "time_table": "time_table", "fill_kg": "fill",
    "counts": "counts", "loss_W": "loss", "carry_over_share": "carry_over", "accepted": "accepted",
}  # fmt: skip
"""What a test may state of a design in place of what follows from it: key of a row, and name of what follows."""
FITTINGS = {
    "jacket": Fitting(name="jacket", role="jacket", makes=Jacket("20 mm foam", 0.02), mass=0.05),
    "lid": Fitting(name="lid", role="lid", makes="loose", mass=0.05),
    "guard": Fitting(name="guard", role="guard", makes="deflector", mass=0.05),
}


def altered(row: RankedDesign, **changes: Any) -> RankedDesign:
    """The row with another bench, kit or setting, and what a test states in place of what would follow from them."""
    design, stated = row.design, dict(vars(row.design).get("stated", {}))
    conditions = conditions_of(changes.pop("bench")) if "bench" in changes else design.conditions
    kit = kit_of(conditions.bench, design.kit, changes.pop("items", design.items))
    reading, powers = changes.pop("reading", ""), changes.pop("powers_W", design.powers)
    other = Design(
        conditions=conditions,
        kit=kit.read(reading) if reading else kit,
        procedure=procedure_named(changes.pop("procedure", design.procedure.identifier), len(powers)),
        correction=changes.pop("correction", design.correction),
        powers=powers,
        mass=changes.pop("mass_kg", design.mass),
        repeats=changes.pop("repeats", design.repeats),
        spare=changes.pop("spare_kg", design.spare),
    )
    stated |= {STATED[key]: changes.pop(key) for key in STATED if key in changes}
    if reading and other.reading != reading:
        stated["reading"] = reading
    vars(other).update(stated, stated=stated)
    return dataclasses.replace(row, design=other, **changes)


def kit_of(bench: Bench, kit: Kit, names: Mapping[str, str]) -> Kit:
    """Items of those names: of the kit, of the shelves, or like one of them."""
    own = {**kit.items, "vessel": kit.vessel.bare or kit.vessel}
    chosen: dict[Role, Item] = {}
    for role in ROLES:
        if role in names:
            known = [item for item in (own.get(role), *bench.shelves[role], FITTINGS.get(role)) if item is not None]
            named = [item for item in known if item.name == names[role]]
            chosen[role] = named[0] if named else dataclasses.replace(known[0], name=names[role])
    return kit_from(chosen)


def make_design(**changes: Any) -> RankedDesign:
    bench = make_bench()
    kit = Kit(bench.balances[0], bench.meters[0], bench.heaters[0], bench.vessels[0], bench.mass_sets[0])
    kept_on = procedure_named("fixed-mass-kept-on")
    row = RankedDesign(
        design=Design(conditions_of(bench), kit, kept_on, "none", (1400.0,), 0.12, 3),
        expected_J_per_kg=2257900.0 * 1.0066,
        bias_percent=0.66,
        standard_uncertainty_percent=0.71,
        rms_error_percent=0.97,
        interval_percent=(-0.72, 2.08),
        objective_percent=0.97,
        best_probability=0.58,
        within_margin_probability=0.83,
        regret_percent=0.04,
        sources=make_sources(),
    )
    stated = {
        "buy": (
            ("meter", "Pulse meter, 800 pulse/kWh", 1, 64.0),
            ("vessel", "Tall glass 1.4 L, 20 mm lagged", 1, 41.5),
        ),
        "fill_kg": 1.05,
        "counts": 61.3,
        "price": 105.5,
        "minutes": 41.0,
        "time_table": (("setting up", 10.0), ("heating the water", 5.6), ("3 runs", 12.4), ("clearing away", 13.0)),
        "loss_W": 21.5,
        "carry_over_share": 0.0031,
        "accepted": (),
    }
    return altered(row, **{**stated, **changes})


def make_today() -> RankedDesign:
    return make_design(
        items={
            "balance": "Kitchen-type beam, 0.5 g",
            "meter": "Disk meter, 375 rev/kWh",
            "heater": "Loop element, 0.7 kW",
            "vessel": "Tall glass 1.4 L, bare",
            "mass_set": "Slotted set, 0.12 kg steps",
        },
        buy=(),
        procedure="fixed-mass-restart",
        powers_W=(700.0,),
        counts=28.9,
        repeats=1,
        price=0.0,
        minutes=38.0,
        expected_J_per_kg=2257900.0 * 1.094,
        bias_percent=9.4,
        standard_uncertainty_percent=2.6,
        rms_error_percent=9.75,
        interval_percent=(4.4, 14.6),
        objective_percent=9.75,
        best_probability=0.0,
        within_margin_probability=0.0,
        sources=make_sources(4.0),
        loss_W=62.0,
    )


def make_map() -> ErrorMap:
    powers = np.linspace(200.0, 2000.0, 19)
    masses = np.linspace(0.04, 0.30, 14)
    w, m = np.meshgrid(powers, masses)
    error = np.hypot(2150.0 / w + 0.3 * (w / 1400) ** 3 - 1.3, 0.045 / m + 0.4)
    limit = np.full(error.shape, "", dtype=object)
    limit[w > 1750] = "the heater gives 1.75 kW at most"
    limit[(m / w > 0.3 / 900) & (limit == "")] = "time"
    limit[(m > 0.27) & (limit == "")] = "the element would come out of the water"
    return ErrorMap(powers, masses, error, limit)


def make_model() -> MeasurementModel:
    return MeasurementModel(
        symbol="L",
        name="specific latent heat of vaporisation",
        unit="J/kg",
        inputs=(
            InputQuantity("k", Constant(4500.0), "energy per count", "J", "800 pulse/kWh on the plate"),
            InputQuantity("n", Constant(61.3), "counts", "count", "expected"),
            InputQuantity("e", Rectangular(-0.007, 0.007), "energy meter error", "1", "maker's limit", 0.0),
            InputQuantity("m", Normal(0.12, 0.0004), "mass step", "kg", "mass set and balance"),
            InputQuantity("s", Normal(0.0031, 0.0019), "carry-over", "1", "judgement", 0.0),
        ),
        intermediates=(("E", "k * n / (1 + e)"), ("m_vapour", "m * (1 - s)")),
        equation="E / m_vapour",
    )


def make_frontier() -> tuple[RankedDesign, ...]:
    steps = ((0.0, 4.1), (22.0, 2.7), (41.5, 1.62), (64.0, 1.31), (105.5, 0.97), (171.0, 0.95))
    return tuple(
        make_design(
            price=price,
            rms_error_percent=error,
            objective_percent=error,
            buy=make_design().design.buy[: 2 * (price > 0)],
        )
        for price, error in steps
    )


def make_bench() -> Bench:
    error = Rectangular(-0.007, 0.007)
    return Bench(
        name="Invented college",
        scenario="invented",
        path="college.toml",
        room=Room(98200.0, 294.15),
        supply=Supply(230.0, 0.06, 13.0),
        lesson=Lesson(4200.0, 900.0, 1),
        purse=Purse("EUR", 180.0),
        observer=Observer(0.3, 0.0002),
        search=SearchRange(),
        current=Current(),
        knowledge={"wall_loss": Normal(28.0, 5.0)},
        shelves={
            "balance": (
                Balance(
                    name="Kitchen-type beam, 0.5 g", kind="beam", resolution=0.0005, repeatability=0.0003,
                    linearity=0.0005, capacity=2.6, splash_proof=True, stability_filter=False, owned=1,
                ),
            ),
            "meter": (
                Meter(
                    name="Pulse meter, 800 pulse/kWh", kind="pulse", energy_per_count=4500.0, reads="whole",
                    error=error, max_voltage=250.0, max_current=16.0, max_power=float("inf"), price=64.0,
                ),
                Meter(
                    name="Disk meter, 375 rev/kWh", kind="disk", energy_per_count=9600.0, reads="tenth", error=error,
                    max_voltage=250.0, max_current=40.0, max_power=float("inf"), owned=1, note="rescued <from> a skip",
                ),
            ),
            "heater": (
                Heater(
                    name="Loop element, 1.4 kW", power=1400.0, rated_voltage=230.0, tolerance=0.05, stems=2,
                    stem_diameter=0.009, minimum_depth=0.06, held_by="stand", control=(700.0, 1400.0), flex=1.7,
                    owned=1,
                ),
            ),
            "vessel": (
                Vessel(
                    name="Tall glass 1.4 L, 20 mm lagged", capacity=0.0014, diameter=0.11, height=0.165, mass=0.42,
                    material="glass", jacket=Jacket("20 mm foam", 0.02), price=41.5,
                ),
            ),
            "mass_set": (MassSet(name="Slotted set, 0.12 kg steps", steps=(0.12, 0.25), accuracy=0.005, owned=1),),
        },
    )  # fmt: skip


def make_answers() -> Answers:
    row = make_design(correction="calculated", reading="whole", price=0.0)
    choice = Tried(row.design, 0.041)
    vessel = make_design().design.buy[1]
    bought = Tried(altered(row, price=41.5).design, 0.0162)
    return Answers(
        ladder=Ladder(9.75, choice, (Rung((vessel,), 41.5, 41.5, 2.48, bought),), "nothing helps"),
        limits=(MovedLimit("lesson", 10.0, "min", 0.08, bought),),
        owned=(OwnedItem("meter", "Disk meter, 375 rev/kWh", used=False, with_percent=1.9, without_percent=0.97),),
        tied=(0, 1),
        trials=(Trial("cooling_run", 0.02, 0.11, 0.71),),
        discarded=3061,
        sampled=61,
        robustness=Robustness(
            (Otherwise("as_assumed", 0.97, 0, 0.0), Otherwise("losses_doubled", 5.4, 1, 0.6)), 1, (0.6, 0.2)
        ),
    )


def make_plan(**changes: object) -> Plan:
    plan = Plan(
        bench_name="Invented college",
        scenario="invented",
        seed=7,
        trials=4096,
        coverage=0.95,
        currency="EUR",
        groups=1,
        lesson_minutes=70.0,
        objective="rms error",
        margin_percent=0.2,
        pressure=98200.0,
        boiling_point=99.11,
        latent_heat=2257900.0,
        considered=48210,
        feasible=3122,
        rejected={"time": 30110, "circuit": 14978},
        recommended=make_design(),
        current=make_today(),
        cheapest=None,
        ranking=(
            make_design(),
            make_design(
                procedure="whole-counts",
                rms_error_percent=1.12,
                objective_percent=1.12,
                best_probability=0.31,
                within_margin_probability=0.64,
            ),
            make_today(),
        ),
        frontier=make_frontier(),
        error_map=make_map(),
        model=make_model(),
        current_model=make_model(),
        near_misses=(),
        cautions=(Message("dry_sockets"),),
        answers=make_answers(),
    )
    return dataclasses.replace(plan, **changes)  # type: ignore[arg-type]


def make_infeasible_plan() -> Plan:
    return make_plan(
        recommended=None,
        current=None,
        cheapest=None,
        ranking=(),
        frontier=(),
        error_map=None,
        model=None,
        current_model=None,
        answers=None,
        feasible=0,
        near_misses=(
            NearMiss(
                ("Loop element, 1.4 kW", "Tall glass"),
                "fixed-mass-restart",
                (1400.0,),
                0.12,
                1,
                (Message("time", {"wanted": 77.0}),),
            ),
        ),
    )


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "browser" in getattr(item, "fixturenames", ()):
            item.add_marker("browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's chromium; where there is none, what needs it is left out, unless BOILOFF_BROWSER=required."""
    if CHROMIUM is None and os.environ.get("BOILOFF_BROWSER") != "required":
        pytest.skip("Debian's chromium is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=CHROMIUM or "chromium", args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Page]]:
    """
    Open a file in a window: its path, width, options of the window.

    Whatever the page says, fails at or asks the network for is added to the list ``said``.
    """
    contexts = []

    def open_page(path: Path, width: int = 1280, said: list[str] | None = None, **options: Any) -> Page:
        heard = [] if said is None else said
        contexts.append(browser.new_context(viewport={"width": width, "height": 800}, **options))
        page = contexts[-1].new_page()
        page.on("console", lambda message: heard.append(message.text))
        page.on("pageerror", lambda error: heard.append(str(error)))
        page.on("request", lambda request: heard.append(request.url) if request.url != path.as_uri() else None)
        page.goto(path.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()


def write_page(folder: Path, plan: Plan) -> None:
    page = plan_page(plan, make_bench(), Origin("0.0.0", "2026-03-04"))
    (folder / "report.html").write_text(page, encoding="utf-8")


@pytest.fixture(scope="session")
def example_report(once: Callable[..., Path]) -> Path:
    return once("example", lambda folder: write_page(folder, make_plan())) / "report.html"


@pytest.fixture(scope="session")
def example_page(example_report: Path) -> str:
    return example_report.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def crowded_report(once: Callable[..., Path]) -> Path:
    """Page of a plan with eight long-named purchases for six groups, a cheaper near-equal and an accepted flaw."""
    names = {role: f"{role.replace('_', ' ')} of the longer and heavier kind, with a stand, 230 V" for role in ROLES}
    design = make_design(
        items=names,
        buy=tuple((role, name, 6, 240.0) for role, name in names.items()),
        price=1920.0,
        accepted=((names["balance"], "splash_proof"), (names["balance"], "stability_filter")),
        counts=0.0,
    )
    cheaper = altered(design, price=900.0)
    plan = make_plan(recommended=design, cheapest=cheaper, bench_name="Invented college on the hill, second laboratory")
    return once("crowded", lambda folder: write_page(folder, plan)) / "report.html"


@pytest.fixture
def plan() -> Plan:
    return make_plan()


@pytest.fixture
def infeasible_plan() -> Plan:
    return make_infeasible_plan()


@pytest.fixture
def bench() -> Bench:
    return make_bench()


@pytest.fixture(scope="session")
def fitted_bench() -> Bench:
    return read_bench(FITTED_BENCH)


@pytest.fixture(scope="session")
def fitted_plan(fitted_bench: Bench) -> Plan:
    return plan_bench(fitted_bench, seed=7, trials=512)


def evaluated(way: str, file: Path, request: EvaluationRequest) -> Evaluation:
    """Evaluate readings on the demo bench by one of the ``WAYS``."""
    procedure, correction, items = WAYS[way]
    bench = read_bench(Path(__file__).parents[2] / "configs" / "demo.toml")
    current = dataclasses.replace(
        bench.current, procedure=procedure, correction=correction, items={**bench.current.items, **items}
    )
    return evaluate(dataclasses.replace(bench, current=current), read_readings(file), request)
