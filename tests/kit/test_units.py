"""Sizes and amounts as people write them."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.house.templatetags.figures import amount_of, signed_of
from studio.kit.units import (
    SPELLINGS,
    NotUnderstood,
    TwoMeanings,
    amount_in,
    glass_thickness_mm,
    parse_amount,
    parse_size,
    show_size,
    show_stock,
    stock_amount,
)


@pytest.mark.parametrize(("typed", "width", "height"), [
    ("24 3/8 x 36", "619.125", "914.4"), ("610 x 915 mm", "610", "915"), ("2' 0 3/8\"", "619.125", "619.125"),
    ("61cm", "610", "610"), ("24⅜\" × 36\"", "619.125", "914.4"), ("2' 0 3/8\" by 3'", "619.125", "914.4"),
    ("1,5 x 3 m", "1500", "3000"), ("30in round", "762", "762"), ("Ø 762 mm", "762", "762"),
    ("24-3/8 x 36-1/4", "619.125", "920.75"), ("610x915", "610", "915"), ("2 ft 3 in x 4 ft", "685.8", "1219.2"),
    ("0.61 m x 91.5 cm", "610", "915"), ("1,500 x 900 mm", "1500", "900"), ("1,500 mm × 1,250 mm", "1500", "1250"),
    ("1 500 mm x 900 mm", "1500", "900"), ("½ x 1 in", "12.7", "25.4"), ("610 mm × 36 in", "610", "914.4"),
])
def test_sizes_as_typed(typed, width, height):
    size = parse_size(typed)
    assert (size.width_mm, size.height_mm) == (Fraction(width), Fraction(height))


def test_a_space_in_a_number_is_asked_about():
    assert parse_size("2 600 mm x 900 mm").doubt == "Is “2 600” one number, and the 2 no quantity?"
    assert amount_in("1,500 mm", "length") == 1500
    assert not parse_size("1,500 x 900 mm").doubt


def test_a_bare_number_is_in_the_houses_unit():
    assert parse_size("24 x 36", "in").width_mm == Fraction("609.6")
    assert parse_size("24 x 36").width_mm == 24


@pytest.mark.parametrize("typed", [
    "", "abc", "12 x", "x 12", "1 x 2 x 3", "1,500 x 900", "1,500 x 900 cm", "0 x 10 mm", "1/0 in", "24 3/8 parsecs", "9**9**9 mm",
    "10 mm; drop", "-5 x 10 mm", "1e9 x 2 mm", "5 C", "𝟙𝟚 x 10" * 20,
])
def test_what_is_not_understood_is_asked_back(typed):
    with pytest.raises(NotUnderstood) as refusal:
        parse_size(typed)
    assert str(refusal.value).endswith((".", "x 3'”."))


@pytest.mark.parametrize(("typed", "kind", "amount"), [
    ("30 s", "time", "0.5"), ("5 min", "time", "5"), ("2 h", "time", "120"), ("14 days", "time", "20160"),
    ("300 mL/m2", "coverage", "300"), ("2 mm deep", "coverage", "2000"), ("1.19 g/mL", "density", "1.19"),
    ("0.25 m²", "area", "0.25"), ("1.5 kg", "mass", "1500"), ("250 ml", "volume", "250"),
])
def test_amounts_as_typed(typed, kind, amount):
    assert amount_in(typed, kind) == Fraction(amount)


@pytest.mark.parametrize("kind", SPELLINGS)
@pytest.mark.parametrize("typed", ["a few", "", "3 parsecs"])
def test_every_kind_of_amount_says_what_to_write_and_reads_it(kind, typed):
    with pytest.raises(NotUnderstood) as refusal:
        parse_amount(typed, kind)
    ways = re.findall("“([^”]+)”", str(refusal.value).partition("write for instance")[2])
    assert ways
    for way in ways:
        assert parse_amount(way, kind).magnitude > 0


@pytest.mark.parametrize("unit", ["sheet", "each"])
def test_what_is_counted_is_read_as_people_count_it_and_never_weighed(unit):
    for typed in ("4", "4 sheets", "4 pcs", "4 pieces", "4 each", "4 ea"):
        assert stock_amount(typed, unit) == 4
    for typed in ("12 g", "2 boxes", "a few", "1 L"):
        with pytest.raises(NotUnderstood, match="“4” or “4 sheets”"):
            stock_amount(typed, unit)


def test_spaces_around_a_slash_do_not_matter():
    assert amount_in("8 us fl oz / ft2", "coverage") == 8 * amount_in("1 us fl oz/ft2", "coverage")


@pytest.mark.parametrize(("typed", "kind"), [("1 tbsp", "volume"), ("2 tsp", "volume"), ("12", "mass")])
def test_ambiguous_amounts_are_asked_back(typed, kind):
    with pytest.raises(NotUnderstood):
        amount_in(typed, kind)


@pytest.mark.parametrize(("measure", "ways"), [
    ("oz", ("oz av", "oz troy", "US fl oz", "imp fl oz")), ("ounces", ("oz av", "oz troy")), ("us oz", ("US fl oz",)),
    ("fl oz", ("US fl oz", "imp fl oz")), ("fluid ounces", ("US fl oz",)), ("gal", ("US gal", "imp gal")),
    ("gallons", ("US gal",)), ("pt", ("US pt", "imp pt")), ("pints", ("imp pt",)), ("qt", ("US qt", "imp qt")),
    ("quart", ("imp qt",)), ("dram", ("dram av", "dram ap", "US fl dr", "imp fl dr")), ("drachm", ("dram ap",)),
    ("cup", ("US cup", "metric cup", "imp cup")), ("minims", ("US minim", "imp minim")), ("tsp", ("us tsp",)),
])
def test_a_measure_that_does_not_say_which_is_asked_back_with_ways_that_are_read(measure, ways):
    for read in (lambda: amount_in(f"2 {measure}", "mass"), lambda: amount_in(f"2{measure}.", "volume"),
                 lambda: amount_in(f"2 {measure}/ft2", "coverage"), lambda: stock_amount(f"2 {measure}", "g", Fraction(1)),
                 lambda: stock_amount(f"2 {measure}", "mL")):
        with pytest.raises(TwoMeanings) as asked:
            read()
        for way in ways:
            assert f"“{way}”" in str(asked.value)
            assert stock_amount(f"2 {way}", "g", Fraction(1)) == 2 * stock_amount(f"1 {way}", "g", Fraction(1)) > 0


@pytest.mark.parametrize("alike", [
    ("1 us gal", "1 gal us", "1 gal (US)", "1 U.S. gallon", "1 US gal."), ("2 imp pt", "2 uk pints", "2 imperial pints"),
    ("8 us fl oz", "8 US floz", "8 fluid ounces (us)"),
])
def test_which_one_may_stand_before_or_behind(alike):
    assert len({amount_in(way, "volume") for way in alike}) == 1


def test_ounces_by_weight_say_which_and_pour_by_density():
    assert amount_in("12 troy oz", "mass") == amount_in("240 dwt", "mass") == amount_in("5760 grains", "mass")
    assert stock_amount("1 oz av", "mL", Fraction(1)) == Fraction("28.349523125")


@pytest.mark.parametrize(("typed", "unit", "nominal"), [
    ("1/4 in", "mm", "6"), ("1/4", "mm", "6"), ("1/4\"", "mm", "6"), ("¼ in", "mm", "6"), ("0.25", "in", "6"),
    ("1/8 in", "mm", "3"), ("3/16 in", "mm", "5"), ("3/8 in", "mm", "10"), ("6", "mm", "6"), ("6.35 mm", "mm", "6.35"),
    ("1 in", "mm", "25.4"),
])
def test_the_trades_inches_of_glass_are_nominal_millimetres(typed, unit, nominal):
    """ASTM C1036 (from memory): nominal 1/4 in glass is 6 mm, 5.56 to 6.20 mm; 6.35 mm would be no such glass."""
    assert glass_thickness_mm(typed, unit) == Fraction(nominal)


@pytest.mark.parametrize(("typed", "width", "height"), [
    ("1.2m x 400", 1200, 400), ("400 x 1.2m", 400, 1200), ("1.2 m x 0.4", 1200, 400), ("2 x 1 m", 2000, 1000),
    ("1.2m x 400mm", 1200, 400), ("1.2m x 6", 1200, 6000), ("1.2m x 100", 1200, 100),
])
def test_a_bare_number_beside_metres_is_never_four_hundred_metres(typed, width, height):
    size = parse_size(typed)
    assert (size.width_mm, size.height_mm, size.doubt) == (width, height, "")


@pytest.mark.parametrize("typed", ["1.2m x 40", "40 x 1.2 m", "1 m x 6 1/8"])
def test_a_bare_number_that_is_neither_metres_nor_millimetres_wants_its_unit(typed):
    with pytest.raises(NotUnderstood, match="write the unit of both"):
        parse_size(typed)


def test_a_fraction_beside_millimetres_is_in_doubt():
    asked = parse_size("24 3/8 x 36mm")
    assert (asked.width_mm, asked.height_mm) == (Fraction("24.375"), 36)
    assert "is all of it in mm?" in asked.doubt
    for certain in ("24 3/8 x 36", "24 3/8 in x 36 mm", "24 3/8 mm x 36 mm", "610 x 915 mm", "24 x 36 3/8 in"):
        assert parse_size(certain).doubt == ""


def test_mass_and_volume_meet_by_density():
    assert stock_amount("1 L", "g", Fraction("1.19")) == 1190
    assert stock_amount("90 g", "mL", Fraction("0.9")) == 100
    with pytest.raises(NotUnderstood):
        stock_amount("1 L", "g")


@given(st.integers(1, 200), st.integers(0, 63), st.integers(1, 200))
def test_inches_round_trip_through_what_is_shown(whole, sixty_fourths, other):
    size = parse_size(f"{whole} {sixty_fourths}/64 x {other} in")
    shown = show_size(size.width_mm, size.height_mm, "us")
    assert parse_size(shown) == size


@pytest.mark.parametrize(("quantity", "stock_unit", "read"), [
    ("1", "sheet", "1 sheet"), ("2", "sheet", "2 sheets"), ("0", "sheet", "0 sheets"), ("0.5", "sheet", "0.5 sheets"),
    ("1", "each", "1 piece"), ("3", "each", "3 pieces"), ("1234.5", "mL", "1,234.5 mL"), ("0.125", "g", "0.125 g"),
])
def test_an_exact_amount_of_what_is_counted_has_its_plural(quantity, stock_unit, read):
    assert amount_of(quantity, stock_unit) == read


@pytest.mark.parametrize(("quantity", "stock_unit", "read"), [
    ("78123.456", "mL", "78.1 L"), ("1430", "mL", "1.43 L"), ("674.2", "g", "674 g"), ("17", "sheet", "17 sheets"),
    ("1", "sheet", "1 sheet"), ("12", "each", "12 pieces"), ("0", "g", "0 g"), ("-5250", "g", "−5.25 kg"),
    ("999.5", "g", "1.00 kg"), ("999.4", "g", "999 g"), ("12.345", "g", "12.3 g"), ("12.35", "g", "12.4 g"),
    ("0.0454", "g", "45.4 mg"), ("0.5", "g", "0.5 g"), ("1234500", "mL", "1,235 L"), ("1400", "mL", "1.40 L"),
])
def test_stock_reads_in_three_or_four_figures_of_the_unit_a_person_says(quantity, stock_unit, read):
    assert show_stock(Fraction(quantity), stock_unit) == read


@pytest.mark.parametrize(("value", "unit", "said"), [
    ("-1", "sheet", "−1 sheet"), ("0", "sheet", "0 sheets"), ("2", "sheet", "+2 sheets"), ("0.2", "g", "+0.2 g"),
])
def test_a_difference_of_stock_has_its_unit_as_counted(value, unit, said):
    assert signed_of(value, unit) == said
