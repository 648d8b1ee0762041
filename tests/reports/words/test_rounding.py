from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.words import rounding
from reports.words.rounding import MINUS, THIN

ordinary = st.floats(min_value=-1e12, max_value=1e12, allow_nan=False)
spreads = st.floats(min_value=1e-9, max_value=1e9, allow_nan=False)


def number(text: str) -> Decimal:
    raised = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")
    mantissa, _, power = text.replace(THIN, "").replace(MINUS, "-").partition("×10")
    return Decimal(mantissa).scaleb(int(power.translate(raised) or 0))


@pytest.mark.parametrize(
    ("estimate", "uncertainty", "digits", "written"),
    [
        # JCGM 100:2008, 7.2.6: y = 10.057 62 ohm with u = 27 mohm is rounded to 10.058 ohm.
        (10.05762, 0.027, 2, ("10.058", "0.027")),
        # JCGM 100:2008, 7.2.2: m = 100.021 47 g with u = 0.35 mg.
        (100.02147, 0.00035, 2, ("100.02147", "0.00035")),
        # Arithmetic by hand from here on.
        (2256543.0, 45123.0, 2, (f"2{THIN}257{THIN}000", f"45{THIN}000")),
        (0.125, 0.25, 2, ("0.13", "0.25")),
        (-2.5, 25.0, 2, (f"{MINUS}3", "25")),
        (10.0, 1.25, 2, ("10.0", "1.3")),
        (4.8766e-7, 1.4e-8, 2, (f"4.88{THIN}×{THIN}10⁻⁷", f"0.14{THIN}×{THIN}10⁻⁷")),
        # EA-4/02, 6.3: rounded up where rounding would lower the uncertainty by more than 5 %
        (2256.5, 12.4, 1, ("2260", "20")),
        (2256.5, 10.4, 1, ("2260", "10")),
        (2256.5, 94.0, 1, ("2260", "90")),
        (1.0, 0.13, 1, ("1.0", "0.2")),
        (1.0, 0.9, 1, ("1.0", "0.9")),
        (1.5, 0.0996, 2, ("1.50", "0.10")),
        (-3.04, 9.96, 2, (f"{MINUS}3", "10")),
        (0.0, 0.25, 2, ("0.00", "0.25")),
        (-0.001, 0.25, 2, ("0.00", "0.25")),
        (7.0, 0.0, 2, ("7", "0")),
    ],
)
def test_value_and_uncertainty_end_at_the_same_place(
    estimate: float, uncertainty: float, digits: int, written: tuple[str, str]
) -> None:
    assert rounding.round_together(estimate, uncertainty, digits=digits) == written


@given(ordinary, spreads, st.sampled_from([1, 2]))
def test_rounding_moves_the_value_by_half_of_the_last_place_and_lowers_the_uncertainty_by_five_per_cent_at_most(
    estimate: float, uncertainty: float, digits: int
) -> None:
    value, spread = (number(text) for text in rounding.round_together(estimate, uncertainty, digits=digits))

    place = Decimal(10) ** (spread.adjusted() - digits + 1)
    assert abs(value - Decimal(repr(estimate))) <= place / 2
    assert Decimal("0.95") * Decimal(repr(uncertainty)) <= spread < Decimal(repr(uncertainty)) + place
    assert value % place == 0


@pytest.mark.parametrize(("value", "digits", "written"), [(2.5, 1, "3"), (0.345, 2, "0.35"), (1.005, 3, "1.01")])
def test_a_half_is_rounded_up(value: float, digits: int, written: str) -> None:
    assert rounding.significant(value, digits) == written


def test_small_values_and_uncertainties_share_a_power_of_ten() -> None:
    assert rounding.with_uncertainty(4.8766e-7, 1.4e-8, "ohm*m") == f"(4.88 ± 0.14){THIN}×{THIN}10⁻⁷{THIN}ohm·m"


def test_a_standard_uncertainty_is_written_without_the_sign_for_intervals() -> None:
    assert rounding.with_standard_uncertainty(61.23, 2.5, "W") == f"61.2{THIN}W (u = 2.5{THIN}W)"


@given(ordinary, spreads)
def test_rounding_twice_changes_nothing(estimate: float, uncertainty: float) -> None:
    once = rounding.round_together(estimate, uncertainty)

    assert rounding.round_together(*(float(number(text)) for text in once)) == once


@given(ordinary, spreads)
def test_changing_the_sign_of_the_value_changes_only_its_sign(estimate: float, uncertainty: float) -> None:
    value, spread = rounding.round_together(estimate, uncertainty)
    mirrored, same = rounding.round_together(-estimate, uncertainty)

    assert number(mirrored) == -number(value)
    assert same == spread


@pytest.mark.parametrize(
    ("estimate", "uncertainty", "digits", "complaint"),
    [
        (1.0, -0.1, 2, "must not be negative"),
        (math.nan, 0.1, 2, "must be finite"),
        (1.0, math.inf, 2, "must be finite"),
        (1.0, 0.1, 3, "digits must be 1 or 2"),
    ],
)
def test_what_cannot_be_rounded_is_refused(estimate: float, uncertainty: float, digits: int, complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        rounding.round_together(estimate, uncertainty, digits=digits)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (7.04, f"+7.0{THIN}%"),
        (-1.58, f"{MINUS}1.6{THIN}%"),
        (0.43, f"+0.43{THIN}%"),
        (-0.001, f"0.00{THIN}%"),
        (0.0, f"0{THIN}%"),
        (0.996, f"+1.0{THIN}%"),
        (99.96, f"+100{THIN}%"),
    ],
)
def test_a_percentage_carries_its_sign_and_its_unit(value: float, written: str) -> None:
    assert rounding.signed_percent(value) == written


@pytest.mark.parametrize(
    ("share", "written"), [(0.95, "95"), (0.995, "99.5"), (0.462, "46"), (0.004, "0.4"), (1.0, "100"), (0.0, "0")]
)
def test_a_share_is_written_in_per_cent_without_idle_digits(share: float, written: str) -> None:
    assert rounding.percent_of_share(share) == f"{written}{THIN}%"


@pytest.mark.parametrize(
    ("value", "digits", "written"),
    [
        (1400.0, 3, "1400"),
        (0.12, 3, "0.12"),
        (45123.0, 2, f"45{THIN}000"),
        (1.5e-9, 2, f"1.5{THIN}×{THIN}10⁻⁹"),
        (3e12, 1, f"3{THIN}×{THIN}10¹²"),
        (0.0, 3, "0"),
    ],
)
def test_a_quantity_keeps_its_significant_digits_and_a_thin_space_before_the_unit(
    value: float, digits: int, written: str
) -> None:
    assert rounding.in_unit(value, "W", digits) == f"{written}{THIN}W"


def test_money_has_cents_only_where_there_are_some() -> None:
    assert rounding.money(180, "EUR") == f"180{THIN}EUR"
    assert rounding.money(41.5, "EUR") == f"41.50{THIN}EUR"
    assert rounding.money(12500, "EUR") == f"12{THIN}500{THIN}EUR"


def test_minutes_are_whole() -> None:
    assert rounding.minutes(41.4) == f"41{THIN}min"


def test_four_digits_stand_together_and_five_are_grouped() -> None:
    # SI Brochure, 9th edition, 5.4.4: groups of three; with four digits the space is usually left out (from memory).
    assert rounding.grouped("2256") == "2256"
    assert rounding.grouped("22560") == f"22{THIN}560"


def test_value_uncertainty_and_unit_are_written_with_brackets() -> None:
    assert rounding.with_uncertainty(2273.1, 16.0, "kJ/kg") == f"(2273 ± 16){THIN}kJ/kg"
    assert rounding.with_uncertainty(2273.1, 16.0) == "2273 ± 16"
