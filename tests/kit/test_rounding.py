"""Every rounding at its tie: halves go away from zero, on screens, papers and in the sums alike."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.drawings.timeline import clock
from recipes.templatetags.recipe_words import whole_seconds
from studio.house.templatetags import figures
from studio.kit.rounding import (
    as_decimal,
    decimal_string,
    half_up,
    places,
    plain,
    round_down,
    round_up,
    share_out,
    square_root,
)
from studio.kit.typed_fields import TypedField
from studio.kit.units import parse_size, show_coverage, show_length, show_temperature, show_volume

STEPS = [Fraction(1), Fraction(1, 100), Fraction(5), Fraction(1, 4), Fraction(1, 64)]


@given(st.integers(-10**6, 10**6), st.sampled_from(STEPS))
def test_a_half_goes_away_from_zero_and_a_hair_beside_it_to_the_nearest(whole, step):
    away, toward = (whole + 1, whole) if whole >= 0 else (whole, whole + 1)
    tie, hair = (whole + Fraction(1, 2)) * step, step / 10**9
    assert half_up(tie, step) == away * step
    assert half_up(tie + hair, step) == (whole + 1) * step
    assert half_up(tie - hair, step) == whole * step
    assert half_up(toward * step, step) == toward * step


@given(st.integers(-10**9, 10**9), st.integers(0, 6))
def test_the_decimal_module_rounds_halves_as_we_do(units, digits):
    """decimal.ROUND_HALF_UP is the other road to the same figure; units are of half the last place."""
    exact = Fraction(units, 2 * 10**digits)
    by_decimal = (Decimal(units) / 2).scaleb(-digits).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    assert as_decimal(exact, digits) == by_decimal
    assert Decimal(decimal_string(exact, digits)) == by_decimal


@given(st.fractions(-1000, 1000), st.sampled_from(STEPS))
def test_up_and_down_are_the_multiples_on_either_side(value, step):
    up, down = round_up(value, step), round_down(value, step)
    assert down <= value <= up
    assert up - down == (0 if (value / step).denominator == 1 else step)
    assert (up / step).denominator == (down / step).denominator == 1


@pytest.mark.parametrize(("value", "digits", "shown"), [
    ("0.0000000005", 9, "0.000000001"), ("0.00000000049", 9, "0"), ("-0.0000000005", 9, "-0.000000001"),
    ("2.5", 0, "3"), ("-2.5", 0, "-3"), ("1200", 0, "1200"), ("1200.50", 2, "1200.5"), ("-0.004", 2, "0"),
    ("123456789012345678901234567890.125", 2, "123456789012345678901234567890.13"),
])
def test_figures_are_written_plainly(value, digits, shown):
    """Nine places are what an estimate is written with (`output.py`); no exponent, no zeros behind, no minus before 0."""
    assert decimal_string(Fraction(value), digits) == shown
    assert as_decimal(Fraction(value), digits) == Decimal(shown)
    assert decimal_string(Fraction(value)) == decimal_string(Fraction(value), 9)
    assert as_decimal(Fraction(value)) == as_decimal(Fraction(value), 9)


def test_a_decimal_as_it_is_typed():
    assert [plain(Decimal(written)) for written in ("1E+3", "2.500", "0.0010")] == ["1000", "2.5", "0.001"]
    assert places(0) == 1
    assert places(3) == Fraction(1, 1000)


@pytest.mark.parametrize(("amount", "weights", "unit", "shares"), [
    ("1.00", (1, 1, 1), "0.01", ("0.34", "0.33", "0.33")),      # a tie goes to the earlier
    ("0.02", (1, 1, 1), "0.01", ("0.01", "0.01", "0")),
    ("10", (1, 3, 2, 2), "1", ("1", "4", "3", "2")),            # 1.25, 3.75, 2.5, 2.5: largest first, then the earlier
    ("7", (0, 1, 1), "1", ("0", "4", "3")),
    ("0.10", (2, 1), "0.05", ("0.05", "0.05")),                 # 0.0667, 0.0333: the later has the larger remainder
])
def test_what_is_left_goes_to_the_largest_remainders_and_ties_to_the_earlier(amount, weights, unit, shares):
    found = share_out(Fraction(amount), [Fraction(weight) for weight in weights], Fraction(unit))
    assert found == [Fraction(share) for share in shares]


@pytest.mark.parametrize(("value", "digits"), [("2", 40), ("1e-12", 46), ("123456789.000000001", 35)])
def test_square_roots_are_right_to_their_fortieth_digit(value, digits):
    root = square_root(Fraction(value))
    assert abs(root * root - Fraction(value)) <= 2 * root * places(digits - 1)


@pytest.mark.parametrize(("shown", "wanted"), [
    (figures.money("0.005", "GBP"), "£0.01"), (figures.money("-0.005", "GBP"), "−£0.01"),
    (figures.money("1116.745", "EUR"), "€1,116.75"), (figures.money("1234.5", "JPY"), "¥1,235"),
    (figures.money("1.0005", "KWD"), "KWD\u00a01.001"), (figures.money("5", "SEK"), "kr\u00a05.00"),
    (figures.money("-0.0049", "USD"), "$0.00"), (figures.money("0.00005", "GBP", 4), "£0.0001"),
    (figures.money("7", "CAD"), "$7.00"), (figures.money(None), "0.00"), (figures.money("0.0004999"), "0.00"),
    (figures.unit_price("1.29", "GBP"), "£1.29"), (figures.unit_price("0.0364255", "GBP"), "£0.036426"),
    (figures.unit_price("2", "GBP"), "£2.00"), (figures.unit_price("0.125", "JPY"), "¥0.125"),
    (figures.amount("0.0005"), "0.001"), (figures.amount("1200"), "1,200"), (figures.amount("2.5", 0), "3"),
    (figures.amount("0.00049"), "0"), (figures.amount_plain("1200.5"), "1200.5"),
    (figures.percent("0.12345"), "12.3 %"), (figures.percent("0.1235"), "12.4 %"), (figures.percent("1"), "100 %"),
    (figures.signed("0.0005"), "+0.001"), (figures.signed("-0.0005"), "−0.001"), (figures.signed("0.0004"), "0"),
    (figures.signed_money("0.005", "GBP"), "+£0.01"), (figures.signed_money("-0.005", "GBP"), "−£0.01"),
    (figures.signed_money("0.004", "GBP"), "£0.00"), (figures.figure_or_words(Fraction("0.00005")), "0.0001"),
    (figures.times("1.5", "3"), Fraction(9, 2)), (figures.minus("1.5", "3"), Fraction(-3, 2)),
])
def test_figures_on_the_page(shown, wanted):
    assert shown == wanted


@pytest.mark.parametrize(("minutes", "shown"), [
    (Fraction(1, 120), "1 s"), (Fraction(1, 121), "0 s"), (Fraction(5, 2) / 60, "3 s"), ("0.5", "30 s"),
    (Fraction("59.5") / 60, "1 min"), ("1.5", "90 s"), ("1", "1 min"), ("2", "2 min"), ("2.5", "2 min 30 s"),
    (Fraction("3599.5") / 60, "1 h"), ("80", "1 h 20 min"), ("1440", "24 h"), ("2880", "2 days"), ("20160", "14 days"),
])
def test_durations_on_the_page(minutes, shown):
    assert figures.duration(minutes) == shown


def test_minutes_and_seconds_of_the_bench():
    """A timetable's clock and a step's timer: half a minute, half a second is the next."""
    assert [clock(Fraction(written)) for written in ("0.5", "0.49", "64.5", "119.5")] == ["0:01", "0:00", "1:05", "2:00"]
    assert [whole_seconds(Fraction(written) / 60) for written in ("2.5", "3.5", "4.49")] == [3, 4, 4]


@pytest.mark.parametrize(("shown", "wanted"), [
    (show_length(Fraction("619.05")), "619.1 mm"), (show_length(Fraction("619.04")), "619 mm"),
    (show_length(Fraction("25.4") * Fraction(1, 128), "us"), "≈ 1/64 in"),
    (show_length(Fraction("25.4") * Fraction(49, 128), "us"), "≈ 25/64 in"),
    (show_length(Fraction("25.4") * Fraction(3, 8), "us"), "3/8 in"),
    (show_volume(Fraction("0.0005")), "0.001 mL"), (show_volume(Fraction(9999)), "9999 mL"),
    (show_volume(Fraction(10000)), "10 L"), (show_volume(Fraction("10000.0005")), "10.000001 L"),
    (show_volume(Fraction("29.5735295625") * Fraction("0.0005"), "us"), "≈ 0.001 US fl oz"),
    (show_coverage(Fraction("0.0000005")), "0.000001 mL/m²"), (show_temperature(Fraction("0.0000005")), "0.000001 °C"),
    (show_temperature(Fraction("20"), "us"), "68 °F"), (show_temperature(Fraction("0.0005") / Fraction("1.8"), "us"), "≈ 32.001 °F"),
])
def test_lengths_volumes_and_temperatures_as_they_are_shown(shown, wanted):
    assert shown == wanted


def test_what_is_typed_is_kept_half_up():
    """1/128 in is 0.1984375 mm, a tie at the sixth decimal of a millimetre."""
    assert parse_size("1/128 in x 1 mm").width_mm == Fraction("0.198438")
    assert TypedField("volume").clean("0.0005 mL").value == Decimal("0.001")
    assert TypedField("share").clean("0.0000005").value == Decimal("0.000001")
