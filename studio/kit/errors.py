"""The parent of every refusal that a person at the bench is meant to read."""

from __future__ import annotations


class DaybookError(Exception):
    """A rule was broken; `str()` of it is a sentence that says what is wrong and what to do.

    field: the form field the sentence belongs beside, or "" when it concerns the whole form.
    line: the number of the order line it concerns, or 0.
    kind: which rule, for code that must tell refusals apart; "" where none has to.
    subject: what is refused, as the sentence names it.
    """

    def __init__(self, sentence: str, field: str = "", line: int = 0, *, kind: str = "", subject: str = "") -> None:
        super().__init__(sentence, field, line)
        self.sentence, self.field, self.line = sentence, field, line
        self.kind, self.subject = kind, subject

    def __str__(self) -> str:
        return self.sentence


class CannotBe(DaybookError):
    """A figure that cannot be, whoever means it so."""
