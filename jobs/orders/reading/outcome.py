"""What comes out of a letter: lines, questions and marks in the letter's order, and the words passed over."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line to take.

    written: the words it was read from, as they stand in the letter.
    size_text: the size with its unit, as parse_size reads it whatever the studio's unit is.
    shape: rectangle, circle, ellipse or other. opening, joint_text: the size is an opening's, with this joint at every
    edge ("" where none was said). holes_text: a hole that is drawn, as the line's own field reads it. note: words that
    were kept and not acted on; worked_out: what was reckoned or acted on, said.
    """

    written: str
    quantity: int
    size_text: str
    shape: str = "rectangle"
    opening: bool = False
    joint_text: str = ""
    holes_text: str = ""
    note: str = ""
    worked_out: str = ""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One answer to a question, worded for a person; no line means that nothing is taken."""

    words: str
    line: Line | None = None


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is likely but not sure: the sentence asked, and its answers, the likeliest first."""

    written: str
    asked: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, kw_only=True)
class Mark:
    """Words with a figure or an order in them that were not acted on, and why.

    hole: they speak of a hole that is to be typed.
    """

    written: str
    why: str
    hole: bool = False


Result = Line | Question | Mark


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A whole letter, read: its results in the letter's order, and the rows without anything to order."""

    results: tuple[Result, ...] = ()
    passed_over: tuple[str, ...] = field(default=())

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(result for result in self.results if isinstance(result, Line))

    @property
    def questions(self) -> tuple[Question, ...]:
        return tuple(result for result in self.results if isinstance(result, Question))

    @property
    def marks(self) -> tuple[Mark, ...]:
        return tuple(result for result in self.results if isinstance(result, Mark))
