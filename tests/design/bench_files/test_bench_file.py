"""Bench files that read: units, defaults, knowledge, and the examples that come with the program."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from budget.quantities.distributions import Constant, Normal, Rectangular
from design.bench import Bench
from design.bench_files.items import TABLES
from design.bench_files.reader import read_bench
from design.bench_files.tables import DEFAULTS
from design.errors import BenchFileError
from design.fields import EVERY_GROUP

HERE = Path(__file__).parent
CONFIGS = Path(__file__).parents[3] / "configs"
GOOD = (HERE / "good_bench.toml").read_text(encoding="utf-8")
Read = Callable[..., Bench]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def read_changed(*changes: tuple[str, str]) -> Bench:
        text = GOOD
        for find, put in changes:
            assert text.count(find) == 1
            text = text.replace(find, put)
        path = tmp_path / "bench.toml"
        path.write_text(text, encoding="utf-8")
        return read_bench(path)

    return read_changed


@pytest.mark.parametrize(
    ("count", "joule"),
    [
        ('constant = "375 rev/kWh"', 9600.0),
        ('constant = "600 rev/kWh"', 6000.0),
        ('constant = "800 pulse/kWh"', 4500.0),
        ('constant = "800 imp / kWh"', 4500.0),
        ('step = "0.01 kWh"', 36_000.0),
        ('step = "0.001 kWh"', 3600.0),
        ('step = "7.2 Wh"', 25_920.0),
        ('step = "10 J"', 10.0),
    ],
)
def test_the_energy_of_one_count_is_3_6_megajoule_over_the_meter_constant(read: Read, count: str, joule: float) -> None:
    # 1 kWh = 3.6 MJ exactly (SI Brochure, 9th edition: 1 h = 3600 s); 3.6 MJ / 375 = 9600 J by hand
    bench = read(('constant = "375 rev/kWh"', count))

    assert bench.meters[0].energy_per_count == pytest.approx(joule, rel=1e-12)


@pytest.mark.parametrize("written", ['"0.5 g"', '"500 mg"', '"5e-4 kg"', '"0,5 g"', '"0.5g"', '" 0.5  g "'])
def test_a_mass_is_the_same_in_every_way_of_writing_it(read: Read, written: str) -> None:
    assert read(('"0.5 g"', written)).balances[0].resolution == pytest.approx(5e-4, rel=1e-12)


@pytest.mark.parametrize("written", ['"21 degC"', '"21 °C"', '"294.15 K"', '"69.8 degF"'])
def test_a_room_at_21_degrees_celsius_is_at_294_15_kelvin(read: Read, written: str) -> None:
    # SI Brochure, 9th edition, 2.3.1: t/°C = T/K - 273.15
    assert read(('"21 degC"', written)).room.temperature == pytest.approx(294.15, abs=1e-9)


def test_a_bench_is_in_si_units(read: Read) -> None:
    bench = read()

    assert bench.room.pressure == pytest.approx(98_200.0)
    assert bench.lesson.length == pytest.approx(4200.0)
    assert (bench.supply.voltage, bench.supply.current_limit) == (230.0, 13.0)
    assert (bench.purse.currency, bench.purse.amount) == ("EUR", 180.0)
    assert bench.heaters[0].power == pytest.approx(700.0)
    assert bench.vessels[0].capacity == pytest.approx(1.4e-3)
    assert bench.vessels[0].diameter == pytest.approx(0.112)
    assert bench.mass_sets[0].steps == pytest.approx((0.12, 0.25))
    assert bench.search.powers == pytest.approx((700.0, 1400.0))
    assert bench.search.repeats == (1, 3)
    assert bench.current.mass == pytest.approx(0.12)
    assert bench.current.items == {"balance": "Beam", "meter": "Disk"}


def test_an_altitude_becomes_the_pressure_of_the_standard_atmosphere(read: Read) -> None:
    bench = read(('pressure = "98.2 kPa"', 'altitude = "1500 m"'))

    # ISO 2533:1975 / US Standard Atmosphere 1976, table: 1500 m, 845.56 hPa (from memory)
    assert bench.room.pressure == pytest.approx(84_556.0, abs=5.0)


def test_a_beam_tips_where_splashes_do_no_harm_and_digits_freeze(read: Read) -> None:
    beam, digits = read().balances

    assert (beam.splash_proof, beam.stability_filter, beam.works_warm) == (True, False, True)
    assert (digits.splash_proof, digits.stability_filter, digits.works_warm) == (False, True, True)


def test_the_repeatability_not_stated_is_half_a_step_of_a_beam_and_a_step_of_a_display(read: Read) -> None:
    beam, digits = read().balances

    # common practice, no source
    assert beam.repeatability == pytest.approx(0.25e-3)
    assert beam.linearity == 0.0
    assert digits.repeatability == pytest.approx(0.1e-3)


def test_owned_counts_and_true_is_enough_for_every_group(read: Read) -> None:
    assert [item.owned for item in read().balances] == [EVERY_GROUP, 0]
    assert read(("owned = true", "owned = 4")).balances[0].owned == 4
    assert read(("owned = true", "owned = false")).balances[0].owned == 0


def test_an_accuracy_is_the_limit_of_a_rectangular_error(read: Read) -> None:
    meter = read(('constant = "375 rev/kWh"', 'constant = "375 rev/kWh"\naccuracy = "2.5 %"')).meters[0]

    assert meter.error == Rectangular(-0.025, 0.025)


@pytest.mark.parametrize(
    ("kind", "limits"),
    [("disk", (-0.02, 0.02)), ("pulse", (-0.01, 0.01)), ("joule", (-0.02, 0.02)), ("display", (-0.08, 0.02))],
)
def test_a_meter_without_accuracy_has_that_of_its_kind(read: Read, kind: str, limits: tuple[float, float]) -> None:
    # disk: class 2 of IEC 62053-11; pulse: class 1 of IEC 62053-21 (from memory); plug-in displays mostly
    # read low: Liikkanen & Nieminen, HIIT Technical Report 2009-1
    assert read(('kind = "disk"', f'kind = "{kind}"')).meters[0].error == Rectangular(*limits)


def test_a_meter_error_that_is_known_holds_for_every_meter(read: Read) -> None:
    bench = read(("[knowledge]", '[knowledge]\nmeter_error = {value = "-1 %"}'))

    assert [meter.error for meter in bench.meters] == [Constant(-0.01)] * 2
    assert bench.knowledge["meter_error"] == Constant(-0.01)


def test_stated_losses_are_distributions_in_watts(read: Read) -> None:
    bench = read(
        ("[knowledge]", '[knowledge]\nbase_loss = {distribution = "rectangular", low = "1 W", high = "0.004 kW"}')
    )

    assert bench.knowledge["wall_loss"] == Normal(61.0, 9.0)
    assert bench.knowledge["base_loss"] == Rectangular(1.0, 4.0)


def test_readings_of_a_loss_are_evaluated_by_statistics(read: Read) -> None:
    readings = '{readings = ["58 W", "61 W", "64 W"]}'
    loss = read(('{distribution = "normal", estimate = "61 W", standard_uncertainty = "9 W"}', readings)).knowledge[
        "wall_loss"
    ]

    # JCGM 100:2008, 4.2: mean 61 W, s/sqrt(n) = 3 W / sqrt(3), n - 1 degrees of freedom
    assert loss.mean == pytest.approx(61.0)
    assert loss.standard_uncertainty == pytest.approx(3.0 / math.sqrt(3.0))
    assert loss.dof == 2


@pytest.mark.parametrize("share", ["0.0002", '"0.02 %"', '"0.0002"'])
def test_a_share_of_carry_over_may_be_a_plain_number(read: Read, share: str) -> None:
    bench = read(("[knowledge]", f"[knowledge]\ncarry_over = {{value = {share}}}"))

    assert bench.knowledge["carry_over"].mean == pytest.approx(2e-4, rel=1e-12)


def test_a_vessel_may_know_its_own_losses(read: Read) -> None:
    vessel = read(('"112 mm"', '"112 mm"\nwall_loss = {value = "17 W"}')).vessels[0]

    assert vessel.knowledge == {"wall_loss": Constant(17.0)}


def test_a_vessel_of_unstated_height_reaches_an_eighth_above_its_mark(read: Read) -> None:
    vessel = read().vessels[0]

    # 1.4 L in a circle of 112 mm stand 142.1 mm high, by hand
    assert vessel.height == pytest.approx(1.12 * 0.14210, rel=1e-4)


def test_a_vessel_of_unstated_mass_weighs_as_much_as_its_wall(read: Read) -> None:
    vessel = read(('"112 mm"', '"112 mm"\nheight = "158 mm"')).vessels[0]

    # side 0.05559 m2 and floor 0.00985 m2, 2.2 mm of glass of 2230 kg/m3, by hand: 0.321 kg
    assert vessel.mass == pytest.approx(0.3211, rel=1e-3)


@pytest.mark.parametrize(
    ("jacket", "thickness", "conductivity", "emissivity"),
    [
        ("none", 0.0, 0.04, None),
        ("foil", 0.0, 0.04, 0.1),
        ("20 mm cork", 0.020, 0.05, None),
        ("cork 20 mm", 0.020, 0.05, None),
        ("2 cm EPS", 0.020, 0.036, None),
        ("12 mm mineral wool + foil", 0.012, 0.038, 0.1),
        ("10mm Felt", 0.010, 0.05, None),
    ],
)
def test_a_jacket_is_a_thickness_and_a_material_in_words(
    read: Read, jacket: str, thickness: float, conductivity: float, emissivity: float | None
) -> None:
    # conductivities: building-material tables of the ISO 10456 kind
    read_jacket = read(('"112 mm"', f'"112 mm"\njacket = "{jacket}"')).vessels[0].jacket

    assert read_jacket.thickness == pytest.approx(thickness)
    assert read_jacket.conductivity == conductivity
    assert read_jacket.emissivity == emissivity
    assert read_jacket.text == jacket


@pytest.mark.parametrize(
    ("word", "material"),
    [("Borosilicate glass", "glass"), ("steel", "stainless steel"), ("polypropylene", "plastic")],
)
def test_a_material_has_more_than_one_name(read: Read, word: str, material: str) -> None:
    assert read(('"112 mm"', f'"112 mm"\nmaterial = "{word}"')).vessels[0].material == material


def test_an_accuracy_in_grams_is_the_share_of_the_lightest_mass(read: Read) -> None:
    steps = 'steps = ["120 g", "250 g"]'

    assert read((steps, steps + '\naccuracy = "0.6 g"')).mass_sets[0].accuracy == pytest.approx(0.005)
    assert read((steps, steps + '\naccuracy = "0.3 %"')).mass_sets[0].accuracy == pytest.approx(0.003)


def test_a_mass_set_may_hold_a_mass_more_than_once(read: Read) -> None:
    assert read(('["120 g", "250 g"]', '["0.12 kg", "0.12 kg"]')).mass_sets[0].steps == (0.12, 0.12)


def test_a_controller_is_none_stepless_or_a_list_of_powers(read: Read) -> None:
    heater = 'at = "230 V"'

    assert read().heaters[0].control == "none"
    assert read((heater, heater + '\ncontrol = "stepless"')).heaters[0].control == "stepless"
    assert read((heater, heater + '\ncontrol = ["350 W", "0.7 kW"]')).heaters[0].control == (350.0, 700.0)


def test_a_bench_without_masses_needs_none_where_the_balance_is_read(read: Read) -> None:
    masses = '[[mass_set]]\nname = "Masses"\nsteps = ["120 g", "250 g"]\n'

    bench = read((masses, ""), ("repeats = [1, 3]", 'procedures = ["whole-counts"]'))

    assert bench.mass_sets == ()


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path, read: Read) -> None:
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())

    bench = read_bench(path)

    assert bench.balances == read().balances


@pytest.mark.parametrize("name", ["demo", "altitude", "mains120", "low-voltage", "cupboard"])
def test_an_example_that_comes_with_the_program_reads_and_says_that_it_is_invented(name: str) -> None:
    path = CONFIGS / f"{name}.toml"

    try:
        bench = read_bench(path)
    except BenchFileError as error:
        pytest.fail(str(error))

    assert bench.scenario == "invented"
    assert "made up" in path.read_text(encoding="utf-8")
    assert set(bench.current.items) >= {"balance", "meter", "heater", "vessel"}


def test_the_demo_has_a_shelf_to_choose_from() -> None:
    demo = read_bench(CONFIGS / "demo.toml")

    assert min(len(demo.balances), len(demo.meters), len(demo.heaters), len(demo.vessels)) >= 5
    assert len(demo.mass_sets) >= 3
    bought = [
        item for shelf in (demo.balances, demo.meters, demo.heaters, demo.vessels, demo.mass_sets) for item in shelf
    ]
    assert all("invented price" in item.note for item in bought if item.price)


def test_a_bench_can_be_sent_to_another_process(read: Read) -> None:
    bench = read()

    assert pickle.loads(pickle.dumps(bench)) == bench  # noqa: S301 - our own bytes


def test_every_default_names_its_source_and_its_range() -> None:
    assert all(row.source and row.range for row in DEFAULTS)
    assert len({row.name for row in DEFAULTS}) == len(DEFAULTS)


def test_a_form_can_be_made_from_the_models_of_the_tables() -> None:
    balance = TABLES["balance"].model_json_schema()
    heater = TABLES["heater"].model_json_schema()["properties"]

    assert balance["required"] == ["name", "kind", "resolution", "capacity"]
    assert balance["properties"]["resolution"] == {
        "type": "string",
        "unit": "kg",
        "low": "0.01 mg",
        "high": "100 g",
        "examples": ["0.1 g"],
        "description": "digit of the display, or least mass that tips it",
        "title": "Resolution",
    }
    assert [row["for"] for row in balance["properties"]["linearity"]["usual"]] == ["beam", "electronic"]
    assert (heater["tolerance"]["default"], heater["flex"]["default"]) == ("5 %", "1 m")
    assert heater["flex"]["range"] == "0.5 m to 3 m"
    assert set(TABLES["search"].model_json_schema()["properties"]["procedures"]["items"]["enum"]) >= {"series"}


def test_every_key_says_what_it_is() -> None:
    tables = {heading: table.model_json_schema()["properties"] for heading, table in TABLES.items()}

    assert all(told.get("description") for keys in tables.values() for told in keys.values())
