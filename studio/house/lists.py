"""Long lists: sorted by their heads, filtered by what the address says, fifty rows a page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, QueryDict

ROWS_A_PAGE = 50
PAGE, SORT = "page", "sort"
LONGEST_ASKED, MOST_WORDS = 100, 10

Row = TypeVar("Row")


@dataclass(frozen=True, kw_only=True)
class Listing(Generic[Row]):
    """One page of a list, and what its heads and page links need to keep of the address.

    sort: the name of what it is sorted by; backwards: from the last.
    """

    page: Page[Row]
    sort: str
    backwards: bool
    kept: QueryDict

    @property
    def rows(self) -> Sequence[Row]:
        return list(self.page.object_list)

    @property
    def total(self) -> int:
        return self.page.paginator.count

    def sorted_by(self, name: str) -> str:
        """Return the address of this list sorted by a head; a head that it is sorted by already turns it round."""
        turned = f"-{name}" if name == self.sort and not self.backwards else name
        return self._with(SORT, turned)

    def on_page(self, number: int) -> str:
        kept = self._kept()
        kept[SORT] = ("-" if self.backwards else "") + self.sort
        if number > 1:
            kept[PAGE] = str(number)
        return f"?{kept.urlencode()}"

    @property
    def here(self) -> str:
        """Return the address of this page of the list, for a form that comes back to it."""
        return self.on_page(self.page.number)

    def direction(self, name: str) -> str:
        """Return how a head is sorted, in the words of WAI-ARIA's aria-sort; "" where it is not."""
        if name != self.sort:
            return ""
        return "descending" if self.backwards else "ascending"

    def _with(self, name: str, value: str) -> str:
        kept = self._kept()
        kept[name] = value
        return f"?{kept.urlencode()}"

    def _kept(self) -> QueryDict:
        kept = self.kept.copy()
        kept.pop(PAGE, None)
        return kept


def words_of(text: str) -> list[str]:
    """Return the words that a filter asks for: as many, and as long, as somebody looks for."""
    return text[:LONGEST_ASKED].split()[:MOST_WORDS]


def sort_asked(request: HttpRequest, sorts: Mapping[str, Any]) -> tuple[str, bool]:
    """Return what the address asks to sort by, and whether backwards; the first of the sorts where it asks nothing."""
    asked = request.GET.get(SORT, "")
    name = asked.removeprefix("-")
    return (name, asked.startswith("-")) if name in sorts else (next(iter(sorts)), False)


def listed(
    request: HttpRequest, rows: Sequence[Row], sorts: Mapping[str, Callable[[Row], Any]],
) -> Listing[Row]:
    """Return the page of rows that an address asks for. sorts: a key by name; the first holds where none is asked."""
    name, backwards = sort_asked(request, sorts)
    ordered = sorted(rows, key=sorts[name], reverse=backwards)
    return Listing(page=Paginator(ordered, ROWS_A_PAGE).get_page(request.GET.get(PAGE)), sort=name, backwards=backwards,
                   kept=request.GET.copy())


def ordered(request: HttpRequest, rows: QuerySet[Any], sorts: Mapping[str, Sequence[Any]]) -> Listing[Any]:
    """Return the page of a query that an address asks for, in the order it asks for. sorts: the columns of each head.

    A column that may be empty says where its empty rows come, since databases differ. The first sort holds where none
    is asked. Two queries, whatever its length.
    """
    name, backwards = sort_asked(request, sorts)
    in_order = rows.order_by(*sorts[name])
    return paged(request, in_order.reverse() if backwards else in_order, name, backwards)


def paged(request: HttpRequest, rows: Any, sort: str = "", backwards: bool = False) -> Listing[Any]:
    """Return the page of a query, already in its order, that an address asks for: two queries, whatever its length."""
    return Listing(page=Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get(PAGE)), sort=sort, backwards=backwards,
                   kept=request.GET.copy())
