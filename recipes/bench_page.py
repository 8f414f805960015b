"""The page of the bench, one thing at a time, of a run or of a trial: what it sends, and how that is answered."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, TypeVar
from uuid import UUID

from django import forms
from django.http import HttpRequest
from django.utils.datastructures import MultiValueDict
from django.utils.dateparse import parse_datetime

from studio.house.clock import now
from studio.house.form_keys import sent_key
from studio.house.http import DeskRequest
from studio.kit.errors import DaybookError

Form = TypeVar("Form", bound=forms.Form)
#: what a page may send in one request
_MOST_RECORDS = 200
#: the years a device's clock may say, however wrong it is: an empty battery begins in 1970
_NO_EARLIER, _NO_LATER = 1970, 2200
#: the screen of everything at once; the longest name of any
ALL, LONGEST_ANCHOR = "all", 100


@dataclass(frozen=True, kw_only=True)
class BenchPage:
    """Where a page sends its records to. of: what it is kept under on a device. whole: what its first screen is of."""

    of: str
    record: str
    records: str
    state: str
    is_open: bool
    whole: str


@dataclass(frozen=True, kw_only=True)
class Sent:
    """What was sent. fields: a form's, by name. done_at: when it was done. live: somebody waits for the answer.

    after: the key of the newest record of its subject that the device knew of, "" none. done_by: who did it, where
    somebody else was logged in by the time it was sent.
    """

    key: UUID
    kind: str
    subject: str = ""
    fields: Mapping[str, Sequence[str]] = field(default_factory=dict)
    done_at: datetime | None = None
    after: str | None = None
    live: bool = True
    done_by: str = ""

    def value(self, name: str, default: str = "") -> str:
        values = self.fields.get(name)
        return values[-1] if values else default

    @property
    def data(self) -> MultiValueDict[str, str]:
        """Return the fields as a form takes them."""
        return MultiValueDict({name: list(values) for name, values in self.fields.items()})

    @property
    def moment(self) -> datetime | None:
        """Return when it was done: a device whose clock goes ahead did nothing that is still to come."""
        return min(self.done_at, now()) if self.done_at is not None else None


class NotTaken(DaybookError):
    """A record that cannot be taken as it was sent. form: what says why, beside its fields."""

    def __init__(self, sentence: str, form: forms.Form | None = None) -> None:
        super().__init__(sentence)
        self.form = form


@dataclass(frozen=True, kw_only=True)
class Refused:
    """A screen that was sent and refused: why, and its form as it was filled in."""

    anchor: str
    sentence: str
    form: forms.Form | None = None


@dataclass(frozen=True, kw_only=True)
class Tab:
    """A load, or a trial's pane, at the top of the page: where it stands, and its first screen that waits."""

    load: Any
    words: str
    anchor: str
    state: str


def tab_of(load: Any, shown: Sequence[Any], *, begun: bool) -> Tab:
    """Return where a load stands by its screens as they are shown, in order. begun: something of it is recorded."""
    waiting = next((one for one in shown if not one.is_done), None)
    return Tab(
        load=load, anchor=(waiting or shown[-1]).screen.anchor,
        words="done" if waiting is None else waiting.screen.short if begun else "not begun",
        state="good" if waiting is None else "half" if begun else "",
    )


def first_error(form: forms.Form) -> str:
    return next((str(sentence) for sentences in form.errors.values() for sentence in sentences), "")


def only_asked(form: forms.Form) -> dict[str, Any]:
    """Return the questions of a form that is refused for nothing else, by field."""
    if any(error.code != "asked" for errors in form.errors.as_data().values() for error in errors):
        return {}
    return {name: form.fields[name].question for name in form.errors}  # type: ignore[attr-defined]


def checked(sent: Sent, make: Callable[[Any], Form]) -> tuple[Form, list[str]]:
    """Return a valid form of what was sent, and the questions that nobody could be asked: who had no network.

    make: of data. What it only asks about is taken as meant so then. Raises NotTaken with the form.
    """
    form = make(sent.data)
    asked = {} if form.is_valid() or sent.live else only_asked(form)
    if asked:
        ticked = sent.data
        for question in asked.values():
            ticked.setlist(question.name, [question.value])
        form = make(ticked)
    if not form.is_valid():
        raise NotTaken(first_error(form), form)
    return form, [question.sentence for question in asked.values()]


def clean_anchor(anchor: str) -> str:
    """Return a place on the page that a form named, as far as it can be one: an address holds no more than a line."""
    return "".join(letter for letter in anchor[:LONGEST_ANCHOR] if letter.isalnum() or letter in "-.") or ALL


def sent_of_form(request: DeskRequest) -> Sent:
    """Return what a page without a script sent. Raises LostKey."""
    return Sent(key=sent_key(request), kind=request.POST.get("kind", ""), after=request.POST.get("after"),
                subject=_subject(request.POST.get("subject", "")), fields=dict(request.POST.lists()))


def _is_trouble(kind: Any, fields: Any) -> bool:
    return kind == "note" and "what" in fields


def is_trouble(request: HttpRequest) -> bool:
    """Return whether a page without a script sent Trouble, which is taken on a locked tablet too."""
    return _is_trouble(request.POST.get("kind", ""), request.POST)


def _body_of(request: HttpRequest) -> bytes:
    """Return what a script sent. Raises ValueError for a form, whose body was read already."""
    if request.content_type != "application/json":
        raise ValueError("The records come as JSON.")
    return request.body


def are_troubles(request: HttpRequest) -> bool:
    """Return whether all that a page kept and sends now is Trouble."""
    try:
        _, records = _read_sent(_body_of(request))
        return all(_is_trouble(one.get("kind"), one["fields"]) for one in records)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return False


def answers_to(
    request: DeskRequest, take: Callable[[Sent], bool], screen: Callable[[Mapping[str, Any], NotTaken], str],
) -> list[dict[str, str]] | None:
    """Take what a page kept and sends now, in its order, and answer each; None for what is no list of records.

    take: returns whether it was taken, or waits; raises NotTaken, and what was sent comes back as its screen. The
    device says when each was done and what its clock says now: how much that is off is taken off.
    """
    try:
        sent_now, records = _read_sent(_body_of(request))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    off, answers = now() - sent_now, []
    for one in records:
        sent = _sent_of_device(one, off, request)
        try:
            answers.append({"key": str(sent.key), "is": "taken" if take(sent) else "waits"})
        except NotTaken as refusal:
            answers.append({"key": str(sent.key), "is": "refused", "sentence": str(refusal),
                            "screen": screen(one, refusal)})
            break  # what follows it was done on top of it: the page looks at it again first
    return answers


def _read_sent(body: bytes) -> tuple[datetime, list[dict[str, Any]]]:
    document = json.loads(body)
    moment, records = _moment(document["now"]), document["records"]
    if not isinstance(records, list) or len(records) > _MOST_RECORDS:
        raise ValueError
    for one in records:
        UUID(one["key"])
        _moment(one["at"])
        if not isinstance(one["fields"], dict):
            raise ValueError
    return moment, records


def _moment(text: str) -> datetime:
    """Return a device's moment. Raises ValueError without a zone, or where no clock that is off can be."""
    moment = parse_datetime(text)
    if moment is None or moment.tzinfo is None or not _NO_EARLIER <= moment.year <= _NO_LATER:
        raise ValueError
    return moment


def _plain(value: object) -> str:
    """Return text as every database keeps it: without halves of letters and zeros."""
    return str(value).encode("utf-8", "replace").decode().replace("\0", "")


def _subject(value: object) -> str:
    """Return what a record says it is of, no longer than its column: SQLite alone would keep more."""
    return _plain(value)[:40]


def _sent_of_device(one: Mapping[str, Any], off: timedelta, request: DeskRequest) -> Sent:
    fields = {_plain(name): [_plain(value) for value in values] for name, values in one["fields"].items()
              if isinstance(values, list)}
    by = _plain(one.get("by", ""))
    return Sent(
        key=UUID(one["key"]), kind=_plain(one.get("kind", "")), subject=_subject(one.get("subject", "")),
        fields=fields, done_at=_moment(one["at"]) + off, live=one.get("live") is True,
        after=_plain(one.get("after") or ""),
        done_by=by[:150] if by and by != request.user.name else "",
    )
