"""Values typed with units: what was typed is kept, and saved and reopened it is the same value."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django import forms
from hypothesis import given
from hypothesis import strategies as st

from studio.kit.typed_fields import TypedField, set_preference
from studio.kit.typed_values import KINDS

TYPED = [
    ("time", "30 s", "0.5"), ("time", "5 min", "5"), ("time", "2 weeks", "20160"), ("coverage", "300 mL/m2", "300"),
    # 8 US fl oz per ft² is 8 × 318.327 mL/m² (NIST SP 811, Appendix B.8; arithmetic by pint)
    ("coverage", "8 us fl oz / ft2", "2546.614583"), ("coverage", "2 mm deep", "2000"), ("volume", "1 us fl oz", "29.574"),
    ("length", "1/2 in", "12.7"), ("temperature", "68 °F", "20"), ("temperature", "20 C", "20"), ("share", "10 %", "0.1"),
    ("share", "0.1", "0.1"), ("number", "1/3", "0.333333"),
]


def field(kind: str, preference: str = "metric") -> TypedField:
    made = TypedField(kind)
    made.preference = preference
    return made


@pytest.mark.parametrize("preference", ["metric", "us"])
@pytest.mark.parametrize(("kind", "text", "value"), TYPED)
def test_typed_kept_and_reopened(kind, text, value, preference):
    typed = field(kind, preference).clean(text)
    assert typed.value == Decimal(value)
    for later in ("metric", "us"):  # the house may change its mind
        again = field(kind, later)
        assert again.clean(again.shown(typed.value, typed.text)).value == typed.value


@pytest.mark.parametrize(("kind", "bare", "metric", "us"), [
    ("length", "50", "50", "1270"), ("coverage", "8", "8", "2546.614583"), ("volume", "2", "2", "59.147"), ("temperature", "68", "68", "20"),
])
def test_a_bare_number_keeps_the_unit_it_was_meant_in(kind, bare, metric, us):
    for preference, other, value in (("metric", "us", metric), ("us", "metric", us)):
        typed = field(kind, preference).clean(bare)
        assert typed.value == Decimal(value)
        assert field(kind, other).clean(typed.text).value == typed.value


@given(st.sampled_from([kind for kind in KINDS if kind != "share"]), st.integers(1, 10**9), st.sampled_from(["metric", "us"]))
def test_any_kept_value_is_shown_without_drift(kind, millionths, preference):
    form_field = field(kind, preference)
    value = Decimal(millionths) / 10 ** KINDS[kind].decimals
    assert form_field.clean(form_field.shown(value)).value == value


@pytest.mark.parametrize(("kind", "text"), [
    ("time", "5"), ("time", "soon"), ("coverage", "a lot"), ("volume", "1 tbsp"), ("temperature", "warm"), ("share", "lots"),
    ("number", "1/0"), ("time", "-5 min"), ("length", "9" * 70),
])
def test_what_cannot_be_known_is_asked_back(kind, text):
    with pytest.raises(forms.ValidationError):
        field(kind).clean(text)


def test_an_empty_field_is_its_default():
    assert TypedField("time").clean("").value is None
    assert TypedField("number", default=1).clean("").value == 1
    assert field("coverage", "us").shown(Decimal(300), "") == "300 mL/m²"  # 0.942 US fl oz/ft² would drift
    assert Fraction(field("coverage", "us").clean("1 US fl oz/ft2").value) == Fraction("318.326823")  # 318.327


def test_kinds_are_kept_as_their_columns_are():
    """The pure module repeats the columns' decimals: they must not drift apart."""
    from studio import exact
    from studio.kit import typed_values

    for name in ("STOCK_DECIMALS", "RATIO_DECIMALS", "LENGTH_DECIMALS"):
        assert getattr(typed_values, name) == getattr(exact, name)


@pytest.mark.parametrize(("kind", "preference", "typed", "said"), [
    ("coverage", "metric", "500", "Read as 500 mL/m²"), ("coverage", "us", "8", "Read as 8 US fl oz/ft²"),
    ("length", "us", "2", "Read as 2 in"), ("volume", "metric", "20", "Read as 20 mL"), ("coverage", "metric", "500 mL/m2", ""),
    ("time", "metric", "5", ""), ("number", "metric", "5", ""), ("length", "us", '2"', ""),
])
def test_a_bare_number_is_read_back_with_the_unit_everybody_means(kind, preference, typed, said):
    form = forms.Form({"amount": typed})
    form.fields["amount"] = TypedField(kind)
    set_preference(form, preference)
    shown = str(form["amount"])
    assert said in shown
    assert bool(said) == ("Read as" in shown)
