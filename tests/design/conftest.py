"""A small invented bench, built without a file, and pieces of it for the tests of the bench."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from budget.quantities.distributions import Constant, Rectangular
from design.bench import Bench, Current, Lesson, Observer, Purse, Room, SearchRange, Supply
from design.kit import Balance, Heater, Kit, MassSet, Meter, Vessel
from design.search.plan import Plan
from design.search.planning import plan_bench
from design.setting.situation import Settings

BEAM = Balance(
    name="beam", kind="beam", resolution=1e-4, repeatability=5e-5, linearity=0.0, capacity=2.6,
    splash_proof=True, stability_filter=False, owned=1,
)  # fmt: skip
DISPLAY = Balance(
    name="display", kind="electronic", resolution=1e-4, repeatability=1e-4, linearity=2e-4, capacity=3.2,
    splash_proof=True, stability_filter=False, price=95.0,
)  # fmt: skip
DISK = Meter(
    name="disk", kind="disk", energy_per_count=9600.0, reads="whole", error=Rectangular(-0.02, 0.02),
    max_voltage=250.0, max_current=40.0, max_power=np.inf, owned=1,
)  # fmt: skip
PULSE = replace(
    DISK, name="pulse", kind="pulse", energy_per_count=4500.0, error=Rectangular(-0.01, 0.01), price=31.0, owned=0
)
HEATER = Heater(
    name="heater", power=1400.0, rated_voltage=230.0, tolerance=0.05, stem_diameter=0.008, stems=2,
    minimum_depth=0.06, held_by="stand", flex=1.2, owned=1,
)  # fmt: skip
WEAKER = replace(HEATER, name="weaker", power=700.0)
VESSEL = Vessel(name="beaker", capacity=1.4e-3, diameter=0.112, height=0.165, mass=0.42, material="glass", owned=1)
MASSES = MassSet(name="masses", steps=(0.05, 0.12, 0.25), accuracy=0.003, owned=1)


@pytest.fixture
def bench() -> Bench:
    """An invented bench with two balances, two meters and two heaters."""
    return Bench(
        name="invented bench",
        scenario="invented",
        path="bench.toml",
        room=Room(pressure=98200.0, temperature=294.15),
        supply=Supply(voltage=230.0, tolerance=0.06, current_limit=13.0),
        lesson=Lesson(length=70 * 60.0, handling=15 * 60.0),
        purse=Purse("EUR", 150.0),
        observer=Observer(reaction_time=0.3, tipping=2e-4),
        search=SearchRange(),
        current=Current(items={"balance": "beam", "meter": "disk", "heater": "weaker"}, mass=0.12),
        knowledge={},
        shelves={
            "balance": (BEAM, DISPLAY),
            "meter": (DISK, PULSE),
            "heater": (HEATER, WEAKER),
            "vessel": (VESSEL,),
            "mass_set": (MASSES,),
        },
    )


@pytest.fixture
def kit() -> Kit:
    """Beam balance, disk meter, 1.4 kW heater, bare beaker and masses."""
    return Kit(BEAM, DISK, HEATER, VESSEL, MASSES)


@pytest.fixture
def quiet_bench(bench: Bench) -> Bench:
    """The bench without any loss, scatter or limit of error: only the reference is left."""
    nothing = {key: Constant(0.0) for key in ("wall_loss", "base_loss", "return_loss", "carry_over")}
    nothing |= {"restart_cooling": Constant(0.0), "meter_error": Constant(0.0)}
    exact = replace(BEAM, resolution=0.0, repeatability=0.0)
    display = replace(DISPLAY, resolution=0.0, repeatability=0.0, linearity=0.0)
    return replace(
        bench.with_shelves(
            balance=(exact, display),
            heater=(replace(HEATER, tolerance=0.0, held_by="vessel", flex=0.0),),
            mass_set=(replace(MASSES, accuracy=0.0),),
        ),
        supply=replace(bench.supply, tolerance=0.0),
        observer=Observer(0.0, 0.0),
        knowledge=nothing,
    )


@pytest.fixture
def one_setting() -> Callable[..., Settings]:
    """Make a grid of one setting."""

    def make(power: float = 1400.0, mass: float = 0.25, repeats: int = 1) -> Settings:
        return Settings(np.array([[power]]), np.array([mass]), np.array([float(repeats)]))

    return make


_PLANS: dict[str, Plan] = {}


def plan_once(bench: Bench, **options: Any) -> Plan:
    """Plan a bench, or hand out the plan of an earlier test that asked for the same: a plan is never altered."""
    key = repr((bench, sorted(options.items())))
    if key not in _PLANS:
        _PLANS[key] = plan_bench(bench, **options)
    return _PLANS[key]
