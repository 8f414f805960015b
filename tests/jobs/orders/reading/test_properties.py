"""What holds for every text: what the app prints is read back, no figure is lost, prose around changes nothing."""

from __future__ import annotations

import re
from fractions import Fraction

from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from jobs.orders.reading import Line, read_letter
from studio.kit.units import parse_size, show_size
from tests.jobs.orders.reading.letters.judging import letters

WORDS = st.text(alphabet="0123456789 x@/.,'\"()mincqtyround:\n-ø⅜&×\tabofwheikslp|>~", max_size=300)
PIECES = st.lists(st.sampled_from(
    ["2", "600", "900", " x ", " mm", " cm", "\"", "'", " 3/8", "½", ", ", "\n", " and ", " not ", " scrap ", "two ", "dozen ",
     "round ", "oval ", "radius ", "qty ", "(", ")", "no. ", " off", "opening ", "deduct ", " all round", "sorry ", "W", "H",
     "\t", "|", "actually ", "make that ", "each ", "1,500", "1m20", "-", ":", "±1mm", "£200", "last year ", " or ", ".",
     "Size\tQty\tTotal\n", "Item | Dia | Width | No.\n", "Delivery\t\t1\t95.00\n", "| Bar | - | - |\n", "600 x 900\t2\t",
     "arch ", "feet ", "five ", "hundred ", "half ", "plus one spare", "> ", "~~", "both "]), max_size=30).map("".join)


@settings(max_examples=300)
@given(st.one_of(WORDS, PIECES), st.sampled_from(["mm", "in"]))
def test_reading_never_raises_and_every_word_of_a_result_is_in_the_letter(text, unit):
    reading = read_letter(text, unit)
    given_words = _bare(text)
    for result in reading.results:
        assert _bare(result.written) in given_words
    for line in reading.lines:
        size = parse_size(line.size_text, unit)
        assert size == parse_size(line.size_text, "in" if unit == "mm" else "mm")
        assert 1 <= line.quantity <= 500


def _bare(text: str) -> str:
    return re.sub(r"[>\s|~]+", "", text)


@settings(max_examples=300)
@given(st.one_of(WORDS, PIECES))
@example("rond10000&10actuall")
def test_no_figure_is_lost(text):
    """Every figure stands in a line's own words, a question, a mark, or what was passed over."""
    reading = read_letter(text)
    shown = _bare("".join([*(result.written for result in reading.results), *reading.passed_over]))
    for figure in set(re.findall(r"\d+", text)):
        assert figure in shown, figure


@given(st.integers(1, 400), st.fractions(150, 3000, max_denominator=1), st.fractions(250, 3000, max_denominator=1),
       st.sampled_from(["metric", "us"]), st.booleans(), st.sampled_from(["{n} × {size}", "{n} @ {size}", "{size}, qty {n}"]))
def test_what_the_app_prints_is_read_back(n, width, height, preference, round_, form):
    """A size as the screens and papers show it, with its count, is the same size again in either studio."""
    sides = (width, width) if round_ else (width, height)
    if preference == "us":
        sides = tuple(Fraction(round(side * 64 / Fraction(254, 10)), 64) * Fraction(254, 10) for side in sides)
    assume("×" not in form or n < min(sides) / (1 if preference == "metric" else Fraction(254, 10)))
    printed = show_size(*sides, preference, round_=round_)
    for unit in ("mm", "in"):
        (line,) = read_letter(form.format(n=n, size=printed), unit).results
        assert isinstance(line, Line), line
        size = parse_size(line.size_text, unit)
        assert (line.quantity, line.shape) == (n, "circle" if round_ else "rectangle")
        assert (size.width_mm, size.height_mm) == sides


@given(st.integers(1, 60), st.integers(101, 3000), st.integers(250, 3000),
       st.sampled_from(["{n} @ {w} x {h} mm", "{n} no. {w}x{h}mm", "{w} x {h} mm ({n} off)", "{n} x {w} x {h} mm",
                        "{w}mm x {h}mm qty {n}", "{n} pieces {h} high x {w} wide mm", "{n}off {w:,} x {h:,} mm",
                        "W{w} x H{h} mm (x{n})", "Width {w} mm, height {h} mm, {n} no."]))
def test_what_is_written_in_a_known_way_is_read_so(n, w, h, form):
    (line,) = read_letter(form.format(n=n, w=w, h=h)).results
    assert isinstance(line, Line), line
    size = parse_size(line.size_text)
    assert (line.quantity, size.width_mm, size.height_mm) == (n, w, h)


PROSE = st.sampled_from([
    "Hello,", "Thank you for the lovely samples.", "We are very much looking forward to it.", "Hope you are well!",
    "Could you send us a quote, please?", "My wife chose the darker one.", "It is for our hall.", "Best wishes\nInes",
])


@given(st.lists(PROSE, max_size=3), st.lists(PROSE, max_size=3), st.integers(1, 9), st.integers(101, 900))
def test_prose_without_figures_around_it_changes_nothing(before, behind, n, w):
    order = f"{n} no. {w} x 1200 mm low iron\none round 30in"
    around = "\n\n".join([*before, order, *behind])
    assert read_letter(around).results == read_letter(order).results


SIZE_IN_TEXT = re.compile(r"(?<![\w./,'\"-])\d{2,4}(?:\.\d+)? ?(?:mm|cm|\")? ?[x×] ?\d{2,4}")
SIZED_LETTERS = [letter for letter in letters() if SIZE_IN_TEXT.search(letter.text)]


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(SIZED_LETTERS), st.data(), st.sampled_from(["zorbed", "quelpish", "brindleworthy"]))
def test_an_unknown_word_before_a_size_is_shown_and_drops_nothing(letter, data, word):
    """“zorbed 600 x 900 mm” stays what it was, and carries the word as a note, a question or a mark."""
    found = data.draw(st.sampled_from(list(SIZE_IN_TEXT.finditer(letter.text))))
    told = read_letter(f"{letter.text[:found.start()]}{word} {letter.text[found.start():]}", letter.unit)
    plainly = read_letter(letter.text, letter.unit)
    shown = [line.note for line in told.lines] + [result.written for result in told.results if not isinstance(result, Line)]
    if any(found.group() in words for words in plainly.passed_over):
        shown += told.passed_over
    assert any(word in words for words in shown), told
    # two sentences may be read as one, which drops nothing of either: “1 mirror. zorbed 500 x 500 mm.”
    written = " ".join(result.written for result in told.results)
    assert len(told.results) >= len(plainly.results) or all(result.written in written for result in plainly.results)
