"""What of an order a customer may choose: one of its options, and which optional lines. Each choice is an order.

A choice is priced as the order with just its lines: loads, minimum and set-up are worked out for it, never summed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from jobs.draft import OrderDraft
from studio.kit.errors import DaybookError

OPTIONAL = "+"
MOST_OPTIONAL, MOST_CHOICES = 4, 16


class TooMuchToChoose(DaybookError):
    """More could be chosen than one quote can show."""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """option: its letter, or ""; optional: numbers of the optional lines in it; lines: all of its lines' numbers."""

    option: str
    optional: tuple[int, ...]
    lines: tuple[int, ...]

    @property
    def key(self) -> str:
        return (self.option or "all") + "".join(f"+{number}" for number in self.optional)

    @property
    def label(self) -> str:
        """Return it in words: “option A, with line 4”."""
        numbers = [str(number) for number in self.optional]
        extra = f"with line{'' if len(numbers) == 1 else 's'} {' and '.join(numbers)}" if numbers else ""
        return ", ".join(filter(None, [f"option {self.option}" if self.option else "", extra])) or "as it is"


def choices_of(draft: OrderDraft) -> tuple[Choice, ...]:
    """Return what can be chosen, the plainest of the first option first; one where there is nothing to choose.

    Raises TooMuchToChoose.
    """
    optional = tuple(line.number for line in draft.lines if line.offered == OPTIONAL)
    options = sorted({line.offered for line in draft.lines} - {"", OPTIONAL}) or [""]
    if len(optional) > MOST_OPTIONAL or len(options) * 2 ** len(optional) > MOST_CHOICES:
        raise TooMuchToChoose(
            f"One quote shows at most four options, four optional lines, and {MOST_CHOICES} choices in all: four "
            "options with two optional lines, say, or four optional lines without options. Quote the rest apart.")
    return tuple(_each(draft, options, optional))


def _each(draft: OrderDraft, options: list[str], optional: tuple[int, ...]) -> Iterator[Choice]:
    for option in options:
        for count in range(len(optional) + 1):
            for extra in combinations(optional, count):
                lines = tuple(line.number for line in draft.lines
                              if line.offered in ("", option) or line.number in extra)
                if lines:
                    yield Choice(option=option, optional=extra, lines=lines)


def chosen(draft: OrderDraft, choice: Choice) -> OrderDraft:
    """Return the order of a choice: its lines, offered no longer but meant, and what was bought in for them."""
    return replace(
        draft, lines=tuple(replace(line, offered="") for line in draft.lines if line.number in choice.lines),
        bought_in=tuple(item for item in draft.bought_in if item.line_number in (None, *choice.lines)),
    )


def as_first_chosen(draft: OrderDraft) -> OrderDraft:
    """Return the order that is priced where nobody has chosen: the first option without optional lines."""
    return chosen(draft, choices_of(draft)[0]) if any(line.offered for line in draft.lines) else draft


def first_choice_in_words(draft: OrderDraft) -> str:
    """Return of what a price before any choice is: “option A, without what is optional”; "" where nothing is offered.

    Raises TooMuchToChoose.
    """
    offered = {line.offered for line in draft.lines} - {""}
    if not offered:
        return ""
    option = choices_of(draft)[0].option
    return ", ".join(filter(None, [f"option {option}" if option else "",
                                   "without what is optional" if OPTIONAL in offered else ""]))
