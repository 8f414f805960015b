"""The quote's paper: what it says, in which order, on both papers; and what was frozen in earlier formats."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from jobs.drawings.quote_panes import HIGH, LINES, PIECES, WIDE, PaneOfLine, draw_order
from jobs.models import OrderLine
from jobs.quotes.paper import COPIES, customers_units, quote_context, render_quote
from jobs.quotes.quoting import save_quote
from jobs.quotes.wording import in_todays_words
from studio.house.models import House, HouseRates
from tests import builders


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def quote(workshop):
    HouseRates.objects.update(usual_working_days=12)
    order = workshop.order(workshop.line("24 3/8 x 36", 3), workshop.line("610 x 915 mm", 1, 2))
    return save_quote(order=order, by=workshop.owner, form_key=builders.key())


@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_paper_reads_from_top_to_bottom(quote, workshop, paper, points):
    """Given a quote of two lines, then two tagged pages say each thing once, in order, and name no day of delivery."""
    quote.wording["house"]["paper"] = paper
    read = PdfReader(BytesIO(render_quote(quote)))
    assert read.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert [tuple(round(float(side)) for side in page.mediabox[2:]) for page in read.pages] == [points] * 2
    text = " ".join(" ".join(page.extract_text() for page in read.pages).split())
    at = 0
    for words in (
        "The Testing Loft", quote.order.customer.name, "valid until", quote.order.title, "4 mirrors",
        workshop.recipe.finish.name, "the look", "Subject to an approved sample.", "glass, edge",
        "the mirrors", "24 3/8 × 36 in", "610 × 915 mm", "Net", "in all, with VAT", "to begin, ", "ready",
        "12 working days after go-ahead: sample approved and deposit in", "Yes, please make", "Date", "What comes next", "12 working days later",
        "Your sizes as we read them", "24 3/8 x 36", "619.1 × 914.4 mm", "In the price", "Not in it", "carriage",
        "Subject to an approved sample: ",
    ):
        found = text.find(words, at)
        assert found >= 0, f"“{words}” does not follow in {text[at:]}"
        at = found + len(words)
    assert "delivered on" not in text
    front = " ".join(read.pages[0].extract_text().split())
    assert all(words in front for words in ("in all, with VAT", "Yes, please make", "name and signature"))


def test_a_copy_says_every_size_in_its_own_units_and_that_it_is_one(quote):
    for units, words in (("us", "24 3/8 × 36 in"), ("metric", "619.1 × 914.4 mm")):
        text = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(render_quote(quote, units))).pages).split())
        assert f"3 × Plain silver, {words}" in text
        assert f"copy, sizes in {COPIES[units]}" in text


def test_the_paper_says_how_to_pay_and_names_the_glass(workshop):
    House.objects.update(payment_details="Transfer to account 1234, with the quote's number.")
    quote = save_quote(order=workshop.order(), by=workshop.owner, form_key=builders.key())
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(render_quote(quote))).pages).split())
    assert "Transfer to account 1234" in text
    assert "Clear 4 mm, 4 mm clear glass, annealed" in text
    House.objects.update(payment_details="Elsewhere")
    quote.refresh_from_db()
    assert "account 1234" in quote_context(quote)["wording"]["payment"]


def test_prices_are_said_each_and_in_line(quote):
    first, second = quote_context(quote)["lines"]
    assert first["each"] * 3 == first["price"]
    assert first["price"] + second["price"] == quote.net
    assert second["each"] == second["price"]


def test_a_finish_that_is_tried_is_not_subject_to_a_sample(quote):
    (finish,) = quote.wording["finishes"]
    assert finish["subject_to_sample"]
    finish["subject_to_sample"] = False
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(render_quote(quote))).pages)
    assert "Subject to" not in text


def test_an_order_of_forty_lines_names_each_once_and_breaks_between_them(workshop):
    order = workshop.order(*(workshop.line(f"{300 + 10 * n} x 600 mm", 1, n) for n in range(1, 41)))
    OrderLine.objects.filter(order=order, number=40).update(note="the very last")
    quote = save_quote(order=order, by=workshop.owner, form_key=builders.key())
    pages = [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(render_quote(quote))).pages]
    assert 3 <= len(pages) <= 6
    prices = " ".join(pages).partition("What comes next")[0]
    for n in range(1, 41):
        assert prices.count(f" {300 + 10 * n} × 600 mm") == 1
    assert prices.index("the very last") < prices.index("in all, with VAT")


#: a wording as the second format had it, and the first
SECOND = {
    "format": 2, "bought_in": ["frame"], "lines": [{"number": 1, "version": 3}],
    "finishes": [{"name": "Harbour", "description": "Spots."}],
}
FIRST = {
    "bought_in": [], "lines": [{"number": 1, "issue": 3}], "finishes": [{"name": "Harbour", "story": "Spots."}],
}
FIGURES = {"promise": {"hand_over_on": "2026-10-19"}}


@pytest.mark.parametrize("wording", [FIRST, SECOND])
def test_earlier_formats_say_working_days(wording):
    read = in_todays_words(wording, FIGURES, {"as_of": "2026-10-13"})
    assert read["ready"] == {"days": 7, "words": "7 working days after go-ahead: sample approved and deposit in"}
    assert read["lines"][0]["version"] == 3
    assert read["finishes"][0]["description"] == "Spots."
    assert not read["finishes"][0]["subject_to_sample"]
    assert read["in_price"] == wording["bought_in"]
    assert in_todays_words(wording, {}, {})["ready"] is None


def test_a_quote_of_an_earlier_format_still_makes_a_paper(quote):
    for name in ("ready", "in_price", "not_in_price"):
        del quote.wording[name]
    quote.wording["format"] = 2
    for finish in quote.wording["finishes"]:
        del finish["subject_to_sample"]
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(render_quote(quote))).pages)
    assert "after go-ahead" in text
    assert "Not in it" not in text


@pytest.mark.parametrize(("typed", "units"), [
    ("24 3/8 x 36", "us"), ("2' 0\" x 3'", "us"), ("24 in x 36 in", "us"), ("24⅜ x 36", "us"), ("36in round", "us"),
    ("610 x 915 mm", "metric"), ("61 x 91,5cm", "metric"), ("1.2 m x 0.4 m", "metric"), ("610 x 915", "house"),
])
def test_the_customers_own_units(typed, units):
    assert customers_units(typed, "house") == units


lines = st.lists(st.builds(
    PaneOfLine, number=st.integers(1, 99), width_mm=st.integers(50, 3000).map(Fraction),
    height_mm=st.integers(50, 3000).map(Fraction), quantity=st.integers(1, 12), is_round=st.booleans(),
    picture=st.just(""),
), min_size=1, max_size=LINES)


@given(lines)
def test_panes_are_drawn_to_one_scale_and_within_the_paper(given_lines):
    drawing = draw_order(given_lines)
    pieces = sum(line.quantity for line in given_lines)
    assert len(drawing.panes) == (pieces if pieces <= PIECES else len(given_lines))
    assert float(drawing.width) <= WIDE + 1
    assert float(drawing.height) <= HIGH + 1
    wide = {line.number: line for line in given_lines}
    if len(wide) == len(given_lines):
        scales = [float(pane.width) / float(wide[pane.number].width_mm) for pane in drawing.panes]
        assert max(scales) - min(scales) < 0.0002
    for at, pane in enumerate(drawing.panes):  # none over another
        for other in drawing.panes[at + 1:]:
            apart = (float(pane.x) + float(pane.width) <= float(other.x) + 0.02
                     or float(pane.y) + float(pane.height) <= float(other.y) + 0.02)
            assert apart


def test_too_many_lines_are_not_drawn():
    line = PaneOfLine(number=1, width_mm=Fraction(600), height_mm=Fraction(900), quantity=1, is_round=False, picture="")
    assert draw_order([line] * (LINES + 1)) is None
