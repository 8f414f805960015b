"""An e-mail pasted into the order page: sure lines become lines of the order, the rest is asked one press each."""

from __future__ import annotations

from django.http import HttpResponse

from jobs.orders.letters import read, sent_letter
from jobs.orders.reading import Line
from jobs.orders.rows import Row, with_read
from jobs.orders.settled import Settling
from jobs.orders.shown import arranged
from studio.house.http import DeskRequest, posted_from
from studio.kit.access import allowed
from studio.kit.roles import May


def _settling(request: DeskRequest) -> Settling:
    letter = sent_letter(request.POST)
    return letter.settling or read(letter.text)


def _with_lines(request: DeskRequest, settling: Settling, lines: list[tuple[str, Line]]) -> HttpResponse:
    """The order with these lines added; what finds no room stays open."""
    data = request.POST.copy()

    def arrange(rows: list[Row], choices: Row) -> list[Row]:
        rows, added = with_read(rows, [line for _, line in lines], choices)
        settling.taken |= {key for key, _ in lines[:added]}
        return rows

    return arranged(request, arrange, data, settling)


@allowed(May.ORDERS)
@posted_from("jobs:new")
def lines_pasted(request: DeskRequest) -> HttpResponse:
    """Read an e-mail: what is sure becomes lines, once; the rest is listed to be asked or looked at."""
    settling = _settling(request)
    return _with_lines(request, settling, settling.fresh)


@allowed(May.ORDERS)
@posted_from("jobs:new")
def paste_answered(request: DeskRequest) -> HttpResponse:
    """Take one reading of a question, leave it out, or ask it again; a changed text is only shown anew."""
    settling, answer = _settling(request), request.POST.get("answer", "")
    if settling.ask_again(answer):
        return _with_lines(request, settling, [])
    holes_typed = any(name.endswith("-holes_text") and str(value).strip() for name, value in request.POST.items())
    chosen = settling.answer(answer, holes_typed=holes_typed)
    if chosen is None:
        return _with_lines(request, settling, [])
    key, choice = chosen
    if choice.line is None:
        settling.left_out.add(key)
        return _with_lines(request, settling, [])
    return _with_lines(request, settling, [(key, choice.line)])
