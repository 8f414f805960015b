"""The letter that an order was read from: kept with the order, with what became of each thing that was read in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.http import QueryDict

from jobs.models import LetterPoint, Order
from jobs.orders.reading import Line, Mark, read_letter
from jobs.orders.settled import Entry, Settling
from studio.house.clock import now
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.units import size_unit

#: letters that a form carries beside its own
MOST_BEFORE = 5


@dataclass(frozen=True, kw_only=True)
class ReadBefore:
    """A letter that was read in the same form and then written over: its text, and what was done with its results."""

    text: str
    kept: str

    @property
    def entries(self) -> list[Entry]:
        return read(self.text, self.kept).entries


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A letter on the order page: its text, its reading once it was read, and what earlier ones left open.

    before: the letters read in this form before it, which travel in the form until it is saved.
    """

    text: str = ""
    settling: Settling | None = None
    earlier: Sequence[LetterPoint] = ()
    before: Sequence[ReadBefore] = ()


def read(text: str, kept: str = "") -> Settling:
    """Read a letter in the studio's unit; kept: what was done with its results."""
    house = House.objects.first()
    return Settling(read_letter(text, size_unit(house.units if house else "metric")), kept)


def sent_letter(data: QueryDict) -> Letter:
    """Return the letter of a sent form; one that nobody had read yet is only its text."""
    text = _plain(data.get("pasted", ""))
    settled = data.get("pasted_settled")
    if settled is None:
        return Letter(text=text)
    before = _read_before(data)
    again = [one.kept for one in before if one.text.strip() == text.strip()]
    return Letter(text=text, settling=read(text, " ".join([str(settled), *again])),
                  before=[one for one in before if one.text.strip() != text.strip()][-MOST_BEFORE:])


def _read_before(data: QueryDict) -> list[ReadBefore]:
    """Return the letters that a form carries: those before, and the one read last."""
    texts = {_plain(text): kept for text, kept in zip(
        data.getlist("pasted_before"), data.getlist("pasted_before_settled"), strict=False)}
    if read_last := _plain(data.get("pasted_read", "")):
        texts[read_last] = data.get("pasted_settled", "")
    return [ReadBefore(text=text, kept=kept) for text, kept in texts.items()]


def kept_letter(order: Order) -> Letter:
    """Return the letter of a saved order, as it was left."""
    points = list(order.letter_points.all())
    if not points:
        return Letter(text=order.letter)
    settling = read(order.letter, " ".join(
        point.key if point.state == LetterPoint.State.TAKEN else f"{point.key}-"
        for point in points if point.state != LetterPoint.State.OPEN))
    return Letter(text=order.letter, settling=settling, earlier=_earlier(points, settling))


def letter_shown(data: QueryDict | None, order: Order | None) -> Letter:
    """Return the letter as the order page shows it: as sent, else as saved."""
    if data is None:
        return kept_letter(order) if order is not None else Letter()
    letter = sent_letter(data)
    if letter.settling is None:
        return letter
    sent = {entry.key: _point(entry, None) for entry in _entries_before(letter)}
    known = [] if order is None else [point for point in order.letter_points.all() if point.key not in sent]
    return replace(letter, earlier=_earlier([*known, *sent.values()], letter.settling))


def _entries_before(letter: Letter) -> list[Entry]:
    """Return what the letters before found, but what stands in this letter too and is read there."""
    own = set(letter.settling.keys) if letter.settling else set()
    entries = {entry.key: entry for one in letter.before for entry in one.entries if entry.key not in own}
    return [entry for entry in entries.values() if not (entry.open and entry.result.written in letter.text)]


def _point(entry: Entry, order: Order | None) -> LetterPoint:
    return LetterPoint(order=order, key=entry.key, kind=entry.kind, written=entry.result.written, said=said_of(entry),
                       state=entry.state)


def _earlier(points: Sequence[LetterPoint], settling: Settling) -> list[LetterPoint]:
    keys = set(settling.keys)
    return [point for point in points if point.state == LetterPoint.State.OPEN and point.key not in keys]


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n")


@transaction.atomic
def keep_letter(order: Order, data: QueryDict, by: Person) -> None:
    """Keep the letter of a sent form with its saved order: what is open stays open, what is settled says by whom.

    What an earlier letter left open stays too, unless its words stand in this one and were read anew.
    """
    if "pasted" not in data:
        return
    letter = sent_letter(data)
    if letter.text != order.letter:
        order.letter = letter.text
        order.save(update_fields=["letter"])
    if letter.settling is None:
        return
    known = {point.key: point for point in order.letter_points.all()}
    before = [entry for entry in _entries_before(letter) if entry.key not in known or not entry.open]
    for entry in [*before, *letter.settling.entries]:
        point = known.pop(entry.key, None)
        if point is None:
            point = _point(entry, order)
        elif point.state == entry.state:
            continue
        point.said = said_of(entry)
        _set(point, entry.state, by)
    read_anew = [point.pk for point in known.values()
                 if point.state == LetterPoint.State.OPEN and point.written in letter.text]
    order.letter_points.filter(pk__in=read_anew).delete()


def _set(point: LetterPoint, state: str, by: Person) -> None:
    is_open = state == LetterPoint.State.OPEN
    point.state = state
    point.settled_at, point.settled_by = (None, None) if is_open else (now(), by)
    point.full_clean()
    point.save()


def said_of(entry: Entry) -> str:
    """Return what is asked of an entry's words, why nothing was done with them, or how a line was read."""
    if isinstance(entry.result, Line):
        return entry.read_as
    return entry.result.why if isinstance(entry.result, Mark) else entry.result.asked


@transaction.atomic
def settle_point(order: Order, key: str, by: Person, *, again: bool = False) -> None:
    """Settle one open thing of a letter, or open it again. Raises DaybookError where the order has no such thing."""
    point = order.letter_points.select_for_update().filter(key=key).first()
    if point is None:
        raise DaybookError("The letter does not say that any more.")
    if again != (point.state == LetterPoint.State.OPEN):
        _set(point, LetterPoint.State.OPEN if again else LetterPoint.State.LEFT_OUT, by)


@dataclass(frozen=True)
class OpenPoints:
    """What a letter leaves open, and what was settled of its questions and marks."""

    points: Sequence[LetterPoint]
    settled: Sequence[LetterPoint] = ()

    @property
    def in_words(self) -> str:
        """Return “1 question of the letter is open, 2 things said are not acted on”, "" where nothing is open."""
        kinds = [point.kind for point in self.points]
        return open_in_words(kinds.count("question"), kinds.count("mark"), kinds.count("line"))

    def __bool__(self) -> bool:
        return bool(self.points)


def open_in_words(questions: int, marks: int, lines: int) -> str:
    """Return what is open of a letter, counted."""
    said = []
    if questions:
        said.append("1 question of the letter is open" if questions == 1 else f"{questions} questions of the letter "
                    "are open")
    if marks:
        said.append("1 thing said is not acted on" if marks == 1 else f"{marks} things said are not acted on")
    if lines:
        said.append("1 line of it is not taken" if lines == 1 else f"{lines} lines of it are not taken")
    return ", ".join(said)


def open_points(order: Order) -> OpenPoints:
    """Return what the letter of an order leaves open. One query."""
    points = list(order.letter_points.select_related("settled_by"))
    return OpenPoints(
        [point for point in points if point.state == LetterPoint.State.OPEN],
        [point for point in points if point.state != LetterPoint.State.OPEN and point.kind != LetterPoint.Kind.LINE],
    )
