"""A delivery note is read right, or asks: nothing is guessed in silence, and nothing makes the reader fall over."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.stockroom.deliveries.note import read_note
from studio.stockroom.deliveries.note_shapes import Note, NoteRow
from studio.stockroom.deliveries.note_words import cut_money, read_day
from tests.stockroom.deliveries.notes import ASKED, GOODS, NOTES

FIELDS = ("good", "lot", "amount", "price", "expires")


def read(text: str) -> Note:
    return read_note(text, GOODS, "GBP")


def as_read(row: NoteRow) -> tuple[str, ...]:
    """Return a row's fields; one that is empty and has choices, or must be said, as asked."""
    values = {name: getattr(row, name) for name in FIELDS}
    for name in ("good", "amount", "price"):
        values[name] = values[name] or ASKED
    if row.expires_choices:
        values["expires"] = values["expires"] or ASKED
    return tuple(values.values())


@pytest.mark.parametrize("name", NOTES)
def test_a_note_is_read_as_it_is_meant_or_asks(name):
    text, rows = NOTES[name]
    note = read(text)
    assert [as_read(row) for row in note.rows] == rows
    for row in note.rows:
        assert row.marks or ASKED not in as_read(row), "what is asked is marked"


def test_there_are_forty_notes():
    assert len(NOTES) == 40


def test_every_line_of_a_note_is_a_row_or_left_out_with_why():
    text, _ = NOTES["a whole invoice"]
    note = read(text)
    seen = {row.number for row in note.rows} | {line.number for line in note.left_out}
    assert seen == {number for number, line in enumerate(text.split("\n"), start=1) if line.strip()}
    assert (note.supplier, note.reference, note.carriage) == ("Marrow & Tule Chemicals", "4411", "6.90")
    assert note.marks == ("The supplier was taken from the first line.",), "its sum is that of the lines and carriage"


def test_a_sum_that_is_not_the_lines_is_marked():
    note = read("Silver nitrate 100 g 86.00\nTotal 96.00")
    assert note.marks == ("The lines add up to 86.00, and the note's sum is 96.00: compare them.",)


def test_what_is_wrong_with_one_price_is_chosen_by_a_press():
    row = read("Silver nitrate 2 x 500 g 398.00").rows[0]
    assert row.price_choices == (("398.00", "£398.00 for all 2"), ("796.00", "£796.00: £398.00 each"))
    row = read("Silver nitrate 100 g 86.00 exp 05/06/2028").rows[0]
    assert [value for value, _ in row.expires_choices] == ["2028-06-05", "2028-05-06"]


@given(st.text(max_size=400))
def test_nothing_that_is_pasted_makes_it_raise(text):
    note = read(text)
    assert all(row.text.strip() for row in note.rows)


WORDS = st.sampled_from(["Silver nitrate", "Ammonia solution 25 %", "lot", "A17", "100 g", "2 x", "86.00", "exp", "05/2028",
                         "£", ",", "\t", "\n", "each", "Total", "Qty", "Description", "x", "4 mm", "1,000", "%", "VAT"])


@given(st.lists(WORDS, max_size=14))
def test_every_figure_that_was_taken_stood_in_the_note(words):
    """Whatever the order, a price is a sum that stands there, or one times packs that stand there; else it is asked."""
    text = " ".join(words)
    for row in read(text).rows:
        for value in filter(None, (row.lot, row.amount.split(" ")[-2] if " " in row.amount else row.amount)):
            assert value in text.replace(",", "")
        assert not row.good or row.good in {"silver-nitrate", "ammonia-25"}
        assert row.good or row.marks
        assert row.amount or row.marks
        assert row.price or row.marks


@given(st.integers(1, 400), st.sampled_from(["g", "kg", "mL", "L"]), st.integers(1, 99), st.integers(100, 99_999))
def test_plain_lines_are_read_whole(size, unit, packs, pennies):
    each = f"{pennies // 100}.{pennies % 100:02}"
    whole = f"{pennies * packs // 100}.{pennies * packs % 100:02}"
    row = read(f"Potassium hydroxide {packs} x {size} {unit}, {each} {whole}").rows[0]
    assert (row.good, row.amount, row.price, row.marks) == (
        "koh", f"{size} {unit}" if packs == 1 else f"{packs} x {size} {unit}", whole, ())


@given(st.dates(date(2024, 1, 1), date(2060, 12, 31)), st.sampled_from(["%Y-%m-%d", "%d %B %Y", "%d %b %Y", "%d/%m/%Y"]))
def test_a_day_is_read_as_it_was_written_or_both_ways(day, how):
    found = read_day(day.strftime(how))
    assert found.sure == day or day in found.maybe
    if how == "%d/%m/%Y" and day.day <= 12 and day.day != day.month:
        assert found.sure is None
        assert len(found.maybe) == 2


@pytest.mark.parametrize(("text", "figure"), [
    ("1,176.00", "1176.00"), ("1.176,00", "1176.00"), ("86,50", "86.50"), ("£86", "86"), ("£1,000", "1000"),
    ("£86.5", "86.5"), ("£1.2500", "1.2500"), ("£1.250", None), ("12,34,56", None), ("", None), ("free", None),
    ("1 176,00 €", "1176.00"),
])
def test_sums_as_notes_write_them(text, figure):
    found = [str(money.amount) for money in cut_money(text)[1]]
    assert found == ([] if figure is None else [figure])


HEADS = "Description,Lot,Amount,Price\nSilver nitrate,A17,100 g,86.00\nPotassium hydroxide,K7,500 g,98.00\n"


#: what stands below the columns, with its carriage and marks; quotes are for commas alone
_BELOW = [
    ("Carriage,,,6.90\nTotal,,,190.90", "6.90", 0), ("Carriage,,,7\nTotal,,,191", "7", 0),
    ("Delivery,1,6.90,6.90\nGoods total,,,184.00\nTotal,,,190.90", "6.90", 0),
    ('Carriage,,,"1,006.90"\nTotal,,,"1,190.90"', "1006.90", 0), ("Carriage,,,6.90\nTotal,,,199.00", "6.90", 1),
    ("Total,,,199", "", 1), ("Carriage,,,-6.90", "", 0), ("Carriage,,,6.90\nFreight,,,3.00", "6.90", 1),
]


@pytest.mark.parametrize(("below", "carriage", "marks", "mark"), [
    (*case, mark) for case in _BELOW for mark in (",", "\t", ";") if mark == "," or '"' not in case[0]
])
def test_carriage_and_sums_below_columns_are_read_as_in_a_letter(below, carriage, marks, mark):
    note = read((HEADS + below).replace(",", mark))
    assert [as_read(row) for row in note.rows] == [
        ("silver-nitrate", "A17", "100 g", "86.00", ""), ("koh", "K7", "500 g", "98.00", "")]
    assert (note.carriage, len(note.marks)) == (carriage, marks)
    assert len(note.left_out) == len(below.split("\n")), "what is about the note is shown, and is no good"


def test_commas_without_a_head_part_cells_too():
    note = read("Silver nitrate,A17,100 g,86.00\nCarriage,,,6.90\nTotal,,,99.90")
    assert as_read(note.rows[0]) == ("silver-nitrate", "A17", "100 g", "86.00", "")
    assert note.carriage == "6.90"
    assert note.marks == (
        "The lines add up to 86.00, with carriage 92.90, and the note's sum is 99.90: compare them.",)


@pytest.mark.parametrize("line", [
    "Silver nitrate 100 g, lot A17, {}", "Description,Lot,Amount,Price\nSilver nitrate,A17,100 g,{}",
    "Item\tBatch\tPack size\tTotal\nSilver nitrate\tA17\t100 g\t{}",
])
@pytest.mark.parametrize("less", ["-86.00 credit", "-86.00", "−86.00", "£-86.00", "-£86.00", "86.00-", "(86.00)",
                                  "86.00 CR", "CR 86.00", "86.00 credited"])
def test_what_is_less_than_nothing_is_a_question_and_never_a_lot(line, less):
    row = read(line.format(less)).rows[0]
    assert (row.good, row.price, row.price_choices) == ("", "", ())
    assert "credit or a return" in row.marks[0]
    assert row.likely == ("silver-nitrate",)


@pytest.mark.parametrize("row", ["Silver nitrate,A17,-1,100 g,86.00", "Silver nitrate,A17,1,-100 g,86.00"])
def test_an_amount_less_than_nothing_is_a_question_too(row):
    assert read(f"Description,Lot,Qty,Pack size,Price\n{row}").rows[0].good == ""


def test_a_dash_between_words_and_price_is_no_minus():
    for line in ("Silver nitrate 100 g - 86.00", "Silver nitrate 100 g – £86.00", "- Silver nitrate 100 g 86.00"):
        assert as_read(read(line).rows[0]) == ("silver-nitrate", "", "100 g", "86.00", "")


def test_a_price_each_of_four_decimals_is_what_it_says():
    row = read("Description,Lot,Qty,Unit price,Price\nNitrile gloves,G1,100,1.2500,125.00").rows[0]
    assert (row.amount, row.price) == ("100", "125.00")
