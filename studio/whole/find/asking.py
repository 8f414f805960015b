"""Ask a table for rows that may hold the words, and keep those that do: a page of a group at a time."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import TypeVar

from django.db.models import Model, Q, QuerySet
from django.urls import reverse

from studio.kit.asking import heaps_of
from studio.whole.find.wanted import Wanted
from studio.whole.find.why import Piece, Why, marked, whys

#: rows of a group on a page; so many are read at once
PAGE, READ = 50, 100
_NUMBERS = re.compile(r"[\d.,:/-]+")
Row = TypeVar("Row", bound=Model)
#: what a field is called where it matched, and its text
Fields = Sequence[tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class Found:
    """One thing found. name: in pieces, with what matched marked; why: where else it matched."""

    name: tuple[Piece, ...]
    address: str
    about: str = ""
    why: tuple[Why, ...] = ()

    @property
    def title(self) -> str:
        return "".join(text for text, _ in self.name)


@dataclass(frozen=True, kw_only=True)
class Group:
    """What was found of one kind: a page of it. more: whether there is another page after it; all: the list of all."""

    key: str
    title: str
    rows: tuple[Found, ...]
    page: int = 1
    more: bool = False
    all: str = ""

    @property
    def before(self) -> int:
        return self.page - 1

    @property
    def after(self) -> int:
        return self.page + 1


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of thing to find. find: yields what matches, in order; of_desk: only who runs the desk is shown it.

    all: the name of the page that lists them all, where no room's line leads to it.
    """

    key: str
    title: str
    find: Callable[[Wanted, bool], Iterable[Found]] = field(repr=False)
    of_desk: bool = False
    all: str = ""


def group_of(kind: Kind, wanted: Wanted, page: int, *, runs_desk: bool) -> Group:
    """Return a page of what a kind holds. Nothing beyond it is read but the one row that says there is more."""
    if kind.of_desk and not runs_desk:
        return Group(key=kind.key, title=kind.title, rows=())
    first = (page - 1) * PAGE
    rows = tuple(islice(kind.find(wanted, runs_desk), first, first + PAGE + 1))
    return Group(key=kind.key, title=kind.title, rows=rows[:PAGE], page=page, more=len(rows) > PAGE,
                 all=reverse(kind.all) if kind.all else "")


def may_hold(wanted: Wanted, columns: Sequence[str], own: str = "") -> Q:
    """Return what a row must answer to hold every word in one of its columns, as far as a database can say.

    own: the words that its name holds besides, “job line”; a name with words of its own holds numbers of its own, too.
    """
    asked = Q()
    for part in wanted.asked:
        if own and (part in own or _NUMBERS.fullmatch(part)):
            continue
        word = Q()
        for column in columns:
            word |= Q(**{f"{column}__icontains": part})
        asked &= word
    return asked


def keys_first(rows: QuerySet[Row], asked: Q) -> Iterator[Row]:
    """Yield the rows that answer, in their order: which they are is asked first, each heap of them when it is wanted.

    So the database sorts keys alone, and nothing is read of what no page shows.
    """
    keys = list(rows.filter(asked).select_related(None).defer(None).values_list("pk", flat=True))
    for part in heaps_of(rows, keys, READ):
        yield from part


def holding(
    rows: QuerySet[Row], wanted: Wanted, columns: Sequence[str], fields: Callable[[Row], Fields], own: str = "",
) -> Iterator[tuple[Row, tuple[Why, ...]]]:
    """Yield the rows that hold every word, each with why.

    fields: what is looked through of a row; it says no more than the columns and its own words.
    """
    if not wanted.words:
        return
    for row in keys_first(rows, may_hold(wanted, columns, own)):
        mine = fields(row)
        if wanted.holds(*(text for _, text in mine)):
            yield row, beside_its_name(mine, wanted)


def beside_its_name(fields: Fields, wanted: Wanted) -> tuple[Why, ...]:
    """Return where the words matched that a thing's name, the fields called nothing, does not hold."""
    names = [text.casefold() for where, text in fields if not where]
    left = [word for word in wanted.words if not any(word in name for name in names)]
    return whys([one for one in fields if one[0]], left)


def named(text: str, wanted: Wanted) -> tuple[Piece, ...]:
    return marked(text, wanted.words)
