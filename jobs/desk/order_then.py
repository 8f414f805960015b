"""What an order was when a quote of it was saved, and what is other in a later quote: read of what was frozen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import Any

from jobs.models import OrderLine, Quote
from jobs.quotes.wording import in_todays_words
from studio.house.templatetags.figures import money

Wording = dict[str, Any]
#: more lines than these are counted
SHOWN = 6
#: what is said of a line that reads the same: the frozen field, and its words
_BESIDE = {"glass": "glass", "thickness_mm": "glass", "route": "where its glass comes from", "edge": "edge",
           "backing": "backing", "match_group": "matching", "place": "place", "holes": "holes", "opening": "opening",
           "joint_mm": "opening", "shape": "shape", "note": "note"}


def lines_now(lines: Sequence[OrderLine]) -> list[str]:
    return _first([f"{line.quantity} of {line.size_text}, {line.recipe_version}" for line in lines])


def lines_then(quote: Quote) -> list[str]:
    """Return the lines that a quote was saved for, a few of many."""
    return _first([_in_words(line) for line in _wording(quote)["lines"]])


def what_changed(before: Quote, after: Quote) -> list[str]:
    """Return in sentences what a quote has otherwise than an earlier one: lines, things bought in, price, days."""
    old, new = _wording(before), _wording(after)
    titles = [f"Called “{new['title']}”, was “{old['title']}”."] if new["title"] != old["title"] else []
    return [
        *titles, *_first(list(_lines(old["lines"], new["lines"]))), *_bought_in(old["bought_in"], new["bought_in"]),
        "The price stays." if (before.total, before.currency) == (after.total, after.currency) else
        f"{money(after.total, after.currency)} with tax, was {money(before.total, before.currency)}.",
        *_days(old["ready"], new["ready"]),
    ]


def _wording(quote: Quote) -> Wording:
    return in_todays_words(quote.wording, quote.figures, quote.basis)


def _in_words(line: Wording) -> str:
    return f"{line['quantity']} of {line['typed']}, {line['finish']}, version {line['version']}"


def _lines(old: Sequence[Wording], new: Sequence[Wording]) -> Iterable[str]:
    """Say each line that is other. Lines that are alike in both are left out, wherever they stand now."""
    left, came = _without(old, new), _without(new, old)
    for was, now in zip_longest(left, came):
        if was is None:
            yield f"New: {_in_words(now)}."
        elif now is None:
            yield f"Left out: {_in_words(was)}."
        elif _in_words(was) != _in_words(now):
            yield f"Line {now['number']} was {_in_words(was)}; now {_in_words(now)}."
        else:
            other = dict.fromkeys(words for name, words in _BESIDE.items() if was.get(name) != now.get(name))
            yield f"Line {now['number']}, {_in_words(now)}: other {', '.join(other)}."


def _without(lines: Sequence[Wording], others: Sequence[Wording]) -> list[Wording]:
    """Return the lines that have no equal among others, each of which matches one."""
    equal = Counter(map(_content, others))
    rest = []
    for line in lines:
        if equal[_content(line)]:
            equal[_content(line)] -= 1
        else:
            rest.append(line)
    return rest


def _content(line: Wording) -> str:
    return repr(sorted((name, value) for name, value in line.items() if name != "number"))


def _bought_in(old: Sequence[str], new: Sequence[str]) -> Iterable[str]:
    if Counter(old) != Counter(new):
        yield f"Bought in: {', '.join(new) or 'nothing'}; was {', '.join(old) or 'nothing'}."


def _days(old: Wording | None, new: Wording | None) -> Iterable[str]:
    if old and new and (old["days"], old.get("on")) != (new["days"], new.get("on")):
        was = old.get("on_words") or f"{old['days']} day{'' if old['days'] == 1 else 's'}"
        yield f"Ready {new['words']}; was {was}."


def _first(said: list[str]) -> list[str]:
    more = len(said) - SHOWN
    return said if more <= 0 else [*said[:SHOWN], f"and {more} more line{'' if more == 1 else 's'}"]
