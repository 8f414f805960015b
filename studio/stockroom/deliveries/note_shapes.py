"""What a delivery note is read into: rows to confirm, lines left out with why, and the note's own head. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class NoteRow:
    """A line read as a good. A field is "" where it must be said; its choices, value and words, where it may be either.

    number: of the line, from 1; expires: ISO 8601; price: of the whole line, net as the note has it.
    """

    number: int
    text: str
    good: str = ""
    likely: tuple[str, ...] = ()
    lot: str = ""
    amount: str = ""
    amount_choices: Choices = ()
    price: str = ""
    price_choices: Choices = ()
    expires: str = ""
    expires_choices: Choices = ()
    marks: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A line that is no good: its number, what it says, and why it is none."""

    number: int
    text: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Note:
    rows: tuple[NoteRow, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    supplier: str = ""
    reference: str = ""
    carriage: str = ""
    #: what is wrong with the note as a whole
    marks: tuple[str, ...] = ()


def marked(row: NoteRow, mark: str) -> NoteRow:
    """Return a row with one more thing to look at."""
    return replace(row, marks=(*row.marks, mark))
