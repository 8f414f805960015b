"""Which results of a reading are in the order already, so that reading a letter again adds nothing twice. Pure.

A result is known by its words and how often they stood before it; what was done with it travels in the form.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from jobs.orders.reading import Choice, Line, Mark, Question, Reading
from jobs.orders.reading.answers import shown
from studio.kit.typed_numbers import is_whole, whole_number

_SHAPES = {"rectangle": "", "circle": "round", "ellipse": "oval", "other": "another shape, its area still to be given"}
#: what a person answers to words that nothing was done with
SEEN_TO = Choice(words="Seen to")
#: … and of a hole that no line has yet, once it was asked
NO_HOLE = Choice(words="Seen to, without a hole")
MEANT = "meant"
State = Literal["open", "taken", "left out"]


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One result of a reading with what became of it. kind: line, question or mark.

    asked_back: it was said to be seen to, speaks of a hole, and no line has one.
    """

    key: str
    result: Line | Question | Mark
    state: State
    asked_back: bool = False

    @property
    def kind(self) -> str:
        return type(self.result).__name__.lower()

    @property
    def open(self) -> bool:
        return self.state == "open"

    @property
    def read_as(self) -> str:
        """Return a line as it was read, in words."""
        return in_words(self.result) if isinstance(self.result, Line) else ""

    @property
    def choices(self) -> tuple[Choice, ...]:
        if isinstance(self.result, Line):
            return (Choice(words="Take it", line=self.result),)
        if isinstance(self.result, Question):
            return self.result.choices
        return (NO_HOLE,) if self.asked_back else (SEEN_TO,)

    @property
    def answers(self) -> list[tuple[str, Choice]]:
        """Return the choices, each with what its button sends."""
        return [(f"{self.key}:{MEANT if self.asked_back else number}", choice)
                for number, choice in enumerate(self.choices)]


def in_words(line: Line) -> str:
    """Return “2 × 600 × 900 mm, oval, an opening, 3 mm left at every edge”."""
    joint = f", {line.joint_text} left at every edge" if line.joint_text else ""
    opening = f"an opening{joint}" if line.opening else ""
    return ", ".join(filter(None, (f"{line.quantity} × {shown(line)}", _SHAPES[line.shape], opening,
                                   line.holes_text)))


class Settling:
    """A reading, and what was done with its results: kept as “key” for taken and “key-” for left out."""

    def __init__(self, reading: Reading, kept: str = "") -> None:
        self.reading = reading
        self.keys = list(_keys(reading))
        words = kept.split()
        self.taken = {word for word in words if not word.endswith("-")} & set(self.keys)
        self.left_out = {word[:-1] for word in words if word.endswith("-")} & set(self.keys)
        #: said to be seen to, of a hole that no line has
        self.asked_back: set[str] = set()

    @property
    def kept(self) -> str:
        """Return what travels in the form."""
        return " ".join([*sorted(self.taken), *(f"{key}-" for key in sorted(self.left_out))])

    @property
    def entries(self) -> list[Entry]:
        """Return the results in the letter's order."""
        return [
            Entry(key=key, result=result, state="taken" if key in self.taken else "left out" if key in self.left_out
                  else "open", asked_back=key in self.asked_back)
            for key, result in zip(self.keys, self.reading.results, strict=True)
        ]

    @property
    def fresh(self) -> list[tuple[str, Line]]:
        """Return the sure lines that nothing was done with yet, each with its key."""
        return [(entry.key, entry.result) for entry in self.entries if entry.open and isinstance(entry.result, Line)]

    def counted(self, kind: str, *, only_open: bool = True) -> int:
        return sum(entry.kind == kind and (entry.open or not only_open) for entry in self.entries)

    @property
    def taken_count(self) -> int:
        return len(self.taken)

    @property
    def open_questions(self) -> int:
        return self.counted("question")

    @property
    def open_lines(self) -> int:
        return self.counted("line")

    @property
    def marks(self) -> int:
        return self.counted("mark")

    @property
    def noted(self) -> int:
        """Return how many lines keep words as a note: each is to be compared with its finish, glass and edge."""
        return sum(entry.kind == "line" and bool(getattr(entry.result, "note", "")) for entry in self.entries)

    @property
    def open_count(self) -> int:
        return sum(entry.open for entry in self.entries)

    def answer(self, answer: str, *, holes_typed: bool = False) -> tuple[str, Choice] | None:
        """Return the key and the choice that “key:number” names; None where the letter does not hold it any more.

        holes_typed: a line of the order has a hole. Without one, a hole that is said to be seen to is asked about once.
        """
        key, _, number = answer.partition(":")
        entry = next((entry for entry in self.entries if entry.key == key and entry.open), None)
        if entry is not None and isinstance(entry.result, Mark) and entry.result.hole:
            if not (holes_typed or number == MEANT):
                self.asked_back.add(key)
                return None
            return key, SEEN_TO
        if entry is None or not is_whole(number) or whole_number(number) >= len(entry.choices):
            return None
        return key, entry.choices[whole_number(number)]

    def ask_again(self, answer: str) -> bool:
        """Take “key:again” as a wish to be asked again; say whether it was one."""
        key, _, word = answer.partition(":")
        if word != "again":
            return False
        self.taken.discard(key)
        self.left_out.discard(key)
        return True


def _keys(reading: Reading) -> Iterator[str]:
    seen: Counter[str] = Counter()
    for result in reading.results:
        seen[result.written] += 1
        yield hashlib.sha256(f"{seen[result.written]} {result.written}".encode()).hexdigest()[:10]
