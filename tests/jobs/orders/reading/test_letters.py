"""A hundred and more letters as people write them: nine in ten definite lines right, and nothing silently wrong."""

from __future__ import annotations

import pytest

from jobs.orders.reading import Line, Mark, Question, Reading, read_letter
from tests.jobs.orders.reading.letters.judging import Letter, judge, letters, rates, table

ALL = list(letters())


def test_there_are_letters_of_every_kind():
    assert len(ALL) >= 120
    assert len({letter.kind for letter in ALL}) >= 12
    assert len({letter.label for letter in ALL}) == len(ALL)


@pytest.mark.parametrize("letter", ALL, ids=lambda letter: letter.label)
def test_nothing_is_read_that_nobody_ordered_and_nothing_is_lost(letter: Letter):
    assert judge(letter).wrong == []


def test_nine_in_ten_definite_lines_are_read_right(capsys):
    rate = rates()["all"]
    with capsys.disabled():
        print(f"\n{table()}")
    assert rate.right >= 0.9 * rate.definite
    assert rate.right + rate.asked >= rate.definite


def test_the_judge_sees_what_is_wrong():
    letter = next(one for one in ALL if one.name == "low words" or one.lines)
    right = read_letter(letter.text, letter.unit)
    line = right.lines[0]
    other = Line(written=line.written, quantity=line.quantity + 1, size_text=line.size_text, shape=line.shape)
    for wrong in (
        Reading(results=(other, *right.results[1:])),
        Reading(results=right.results[1:]),
        Reading(results=(*right.results, line)),
    ):
        assert judge(letter, wrong).wrong
    marked = Reading(results=(Mark(written=line.written, why="?"), *right.results[1:]))
    assert judge(letter, marked).right == len(letter.lines) - 1
    assert not any("lost" in sentence for sentence in judge(letter, marked).wrong)


def test_a_question_holds_whole_readings():
    (question,) = read_letter("60 x 90").questions
    assert isinstance(question, Question)
    assert [choice.words for choice in question.choices] == [
        "1 × 60 × 90 cm", "1 × 60 × 90 in", "1 × 60 × 90 mm", "Leave it out"]
    (moon,) = read_letter("2 half moons, 900 mm wide and 450 mm high").questions
    assert [choice.words for choice in moon.choices] == [
        "2 × 900 × 450 mm, a shape of its own, half-moon, its area to be given",
        "2 × 900 × 450 mm, a rectangle, half-moon cut elsewhere", "Leave it out"]


def test_words_that_are_not_acted_on_are_shown_on_the_line():
    (line,) = read_letter("2 @ 600 x 900 mm, 6mm toughened, in a black frame").lines
    assert line.note == "6mm toughened, black frame"


def lines_of(text: str) -> list[tuple[int, str]]:
    return [(line.quantity, line.size_text) for line in read_letter(text).lines]


@pytest.mark.parametrize("written", [
    "2 off 600 x 900 mm, perhaps a spare", "2 off 600 x 900 mm plus a spare if it is not too dear",
    "2 off 600 x 900 mm. Should we take a spare?", "2 off 600 x 900 mm\nand maybe one spare",
])
def test_a_spare_that_is_only_thought_of_is_asked_with_and_without_it(written):
    (question,) = read_letter(written).questions
    assert [choice.line.quantity for choice in question.choices if choice.line] == [2, 3]


@pytest.mark.parametrize("written", ["2 off 600 x 900 mm\nPlus a spare", "2 off 600 x 900 mm and a spare"])
def test_a_spare_is_counted(written):
    assert lines_of(written) == [(3, "600 x 900 mm")]


@pytest.mark.parametrize(("written", "lines"), [
    ("3 peices 300 x 300 mm", [(3, "300 x 300 mm")]),
    ("2 mirors, heigth 900 mm, wdith 600 mm", [(2, "600 x 900 mm")]),
    ("4 mirrors cm 70 x 180", [(4, "70 x 180 cm")]),
    ("one of 1m20 on 0m80", [(1, "1200 mm x 800 mm")]),
    ("panel C 288 x 1044 off 2", [(2, "288 x 1044 mm")]),
    ("1 square 900 x 900", [(1, "900 x 900 mm")]),
    ("need a mirror 30cm x 60cm. ceiling is 2.4m high", [(1, "30 x 60 cm")]),
])
def test_what_is_mistyped_or_of_another_habit_is_read(written, lines):
    assert lines_of(written) == lines


@pytest.mark.parametrize("written", [
    "Bid A: qty 10, 300 x 400 mm. Bid B: qty 10, 300 x 480 mm. Only one of the two will be awarded.",
    "My partner wants 800 x 800 mm, I want 900 x 900 mm.\nWhich would you take?\nNot both",
    "Would you agree with 520 x 1400 mm?",
    "P&S: 1 off each hand, 845 x 412 mm",
    "If not, a flat one of 400 mm diameter would have to do",
    "2 off 600 x 900 mm. Second one mirrored left to right.",
    "2 LH & RH doors, 600 x 900 mm",
    "We have three doors 700 x 2000 mm. The mirror in each is 500 x 1500 mm.",
    "2 frames 620 x 920 mm, glass 600 x 900 mm",
    "Of your three offers (600 x 900 mm, 700 x 1000 mm) we take the second.",
    "1 mirror 350 x 350 mm and a copy of it in the dark finish",
    "300 x 300 and 400 x 400 mm. Two sets.",
    "In 1998 we put up a mirror, 1200 x 900 mm, with gold lettering.",
    "A shop in town sells 600 x 900 mm for £140.",
])
def test_what_is_not_settled_is_no_plain_line(written):
    reading = read_letter(written)
    assert reading.lines == ()
    assert reading.questions


def test_what_is_agreed_leaves_what_was_weighed_in_doubt():
    reading = read_letter("She wants 800 x 800 mm, I want 900 x 900 mm. We have agreed on 850 x 850 mm. One.")
    assert [(line.quantity, line.size_text) for line in reading.lines] == [(1, "850 x 850 mm")]
    assert len(reading.questions) == 2


def test_a_round_and_a_half_moon_are_two_sizes():
    of_round, of_moon = read_letter("a round, 60 cm dia., and a half moon 900 mm wide").results
    assert isinstance(of_round, Line)
    assert (of_round.shape, of_round.size_text) == ("circle", "60 cm")
    assert isinstance(of_moon, Question)
    assert "half-moon" in of_moon.asked


def test_a_row_that_a_table_cannot_read_is_marked():
    reading = read_letter("Description\tSize\tQty\tTotal\nPane\t600 x 900\t2\t95.00\nDelivery\t\t1\t40.00\nBar\t?\t-\tto come")
    assert [line.quantity for line in reading.lines] == [2]
    assert [mark.written.split("\t")[0] for mark in reading.marks] == ["Delivery", "Bar"]


def test_a_doubtful_count_makes_the_other_sizes_of_its_row_doubtful_too():
    reading = read_letter("Tiles 300 x 300 mm and 300 x 600 mm, perhaps 20 of each")
    assert reading.lines == ()


def test_the_comma_of_a_bare_thousand_is_explained():
    (question,) = read_letter("1,500 x 800", "in").questions
    assert "“1,500” is read as 1500" in question.asked


@pytest.mark.parametrize("words", [
    "The second should be 50 wider", "Make the first 20 taller", "Panel B same but 50 narrower", "It is 15 mm too tall",
    "Both narrower by 20, please", "Sorry, all of them five shorter",
    "The width of the first should be 450", "Add 50 to the width of the second",
])
def test_a_figure_of_a_side_is_offered_as_no_count(words):
    reading = read_letter(f"600 x 900 mm\n500 x 700 mm\n{words}")
    offered = [choice.line.quantity for question in reading.questions for choice in question.choices if choice.line]
    assert offered
    assert {*offered, *(line.quantity for line in reading.lines)} == {1}
    assert any(words in mark.written for mark in reading.marks)


@pytest.mark.parametrize("words", [
    "with 2 holes 10mm dia 50mm from the corners", "hole 35 mm at 100 x 450 mm", "4 no. 8mm holes",
    "146 x 86 mm cut-out for a double socket, bottom right", "a socket, 80 x 80 mm at 300 x 400 mm",
    "with a hole 35 mm from the top",
])
def test_a_hole_is_no_pane_and_stays_marked_until_somebody_acts_on_it(words):
    reading = read_letter(f"2 @ 600 x 900 mm, {words}, polished edges")
    (line,), (mark,) = reading.lines, reading.marks
    assert (line.quantity, line.size_text, line.holes_text) == (2, "600 x 900 mm", "")
    assert words in mark.written
    assert words in line.note
    assert "polished edges" in line.note


@pytest.mark.parametrize(("letter", "drawn"), [
    ("1 mirror 600 x 900 mm with a 35 mm hole in the centre", "hole 35 mm at centre"),
    ("One 800 x 600 mm mirror. It needs a 60 mm hole, 120 mm from the left and 200 mm up from the bottom.",
     "hole 60 mm at 120 mm x 200 mm"),
    ("W\tH\tQty\tRemarks\n600\t900\t1\thole 35 mm centre", "hole 35 mm at centre"),
])
def test_a_hole_of_certain_size_and_place_is_drawn_in_its_pane(letter, drawn):
    reading = read_letter(letter)
    (line,) = reading.lines
    assert line.holes_text == drawn
    assert "Drawn in it" in line.worked_out
    assert not reading.marks
    assert "hole" not in line.note


def test_whose_hole_it_is_is_never_guessed():
    reading = read_letter("2 @ 600 x 900 mm\n1 @ 400 x 500 mm\n\nA 35 mm hole in the centre please.")
    assert [line.holes_text for line in reading.lines] == ["", ""]
    assert [mark.written for mark in reading.marks] == ["A 35 mm hole in the centre please."]
    assert not read_letter("2 @ 600 x 900 mm, no holes").marks


def test_a_note_is_kept_whole():
    words = "; ".join(f"pane {at} antiqued as the sample that hangs in the back room" for at in "abcdefg")
    (line,) = read_letter(f"2 @ 600 x 900 mm, with a 60 mm hole {'near the tap ' * 20}\n").lines
    assert line.note.endswith("near the tap")
    assert len(words) > 200


@pytest.mark.parametrize("letter", [
    "The opening is 612 x 912 mm, deduct 5 mm all round.",
    "2 alcoves 612 x 912 mm, antiqued, please deduct 5 mm all round",
    "Alcove 612 x 912 mm, antiqued.\nLess 5 mm each side.",
])
def test_a_deduction_that_was_acted_on_is_no_note(letter):
    (line,) = read_letter(letter).lines
    assert (line.opening, line.joint_text) == (True, "5 mm")
    assert line.note in ("", "antiqued")


def test_openings_named_together_are_all_openings():
    first, second = read_letter("Openings are 600 x 900 and 700 x 900 mm.\nDeduct 5 mm all round from each.").lines
    assert (first.joint_text, second.joint_text) == ("5 mm", "5 mm")


@pytest.mark.parametrize(("correction", "counts"), [
    ("Actually three of the 400 x 500.", [2, 3, 4]), ("Actually make the second one three.", [2, 3, 4]),
    ("Actually three of the 500 ones.", [2, 3, 4]), ("Actually three of the smallest.", [2, 1, 3]),
])
def test_a_correction_changes_the_line_that_it_names_and_no_other(correction, counts):
    reading = read_letter(f"2 @ 600 x 900 mm\n1 @ 400 x 500 mm\n4 @ 300 x 310 mm\n\n{correction}")
    assert [line.quantity for line in reading.lines] == counts
    assert not reading.questions
    assert "says." in "".join(line.worked_out for line in reading.lines)


def test_a_correction_that_names_none_is_asked_of_the_last_alone():
    reading = read_letter("2 @ 600 x 900 mm\n1 @ 400 x 500 mm\n4 @ 300 x 310 mm\n\nActually three.")
    assert [line.size_text for line in reading.lines] == ["600 x 900 mm", "400 x 500 mm"]
    (question,) = reading.questions
    assert [choice.words for choice in question.choices][:2] == ["4 × 300 × 310 mm", "3 × 300 × 310 mm"]


def test_the_wrong_way_round_is_no_circle():
    reading = read_letter("4 off 1200 x 350 mm. I had those the wrong way round, height is 1200.")
    assert not reading.lines
    assert reading.questions[0].written == "4 off 1200 x 350 mm."


@pytest.mark.parametrize("letter", [
    "half moon 900 mm wide", "half-moon mirror, 900 mm diameter", "a half moon 450 mm radius",
])
def test_a_half_moon_is_asked_with_its_size_and_never_a_rectangle(letter):
    reading = read_letter(letter)
    assert not reading.lines
    assert reading.questions[0].choices[0].words.startswith("1 × 900 mm × 450 mm, a shape of its own, half-moon")
    assert read_letter("one demilune please").marks
