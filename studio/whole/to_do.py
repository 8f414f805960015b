"""What to do next, in one order with reasons: what is known of the studio goes in, tasks come out. Pure.

The order is safety's first: silver to be made safe, then the bench, what is in doubt or held, what could not be taken,
lots past use or turning today; then the owner's desk: what was agreed on and is due today or late goes before what has
time, whether its ticket is to be made or it is to be delivered. A thing stands in the list once, where it is most
pressing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from enum import IntEnum

from studio.kit.roles import May
from studio.whole.day_words import day_words, due_words, plain_day


class Rank(IntEnum):
    """How pressing a kind of task is, the first the most."""

    SILVER = 1
    BENCH = 2
    DOUBT = 3
    NOT_TAKEN = 4
    EXPIRED = 5
    TURNS_TODAY = 6
    DUE = 7
    ANSWER = 8
    TICKET = 9
    DELIVER = 10
    QUOTE = 11
    JUDGE = 12
    COUNT = 13
    PRICE = 14
    BACKUP = 15


#: what is promised to a customer for a day
_PROMISED = (Rank.TICKET, Rank.DELIVER)
#: what a task is about: its kind, and its number or name
Subject = tuple[str, int | str]
#: after every day
NEVER = "~"


@dataclass(frozen=True, kw_only=True)
class Task:
    """One thing to do. until: when it presses, for the order within a rank. state, tone: a word and its colour."""

    rank: Rank
    about: Subject
    what: str
    why: str
    address: str
    button: str
    when: str = ""
    state: str = ""
    tone: str = ""
    until: str = NEVER
    needs: May = May.WORK


@dataclass(frozen=True, kw_only=True)
class Silver:
    """Ammoniacal silver that stands. began: “mixed 10:42”; alarm_from: in the studio's own time; run: whose it is."""

    clock: int
    what: str
    where: str
    began: str
    alarm_from: datetime
    alarms: bool
    address: str
    run: int | None = None

    def task(self, day: date) -> Task:
        if self.alarms:
            what, why = f"{self.what}: past its limit", f"{self.began}, {self.where}. It may explode: read what to do."
        else:
            what, why = f"Make {self.what} safe", f"{self.began}, {self.where}. By the written procedure."
        on = "" if self.alarm_from.date() == day else f"{day_words(self.alarm_from.date(), day)} "
        return Task(
            rank=Rank.SILVER, about=("silver", self.clock), what=what, why=why, address=self.address,
            button="Go to making safe", when=f"by {on}{self.alarm_from:%H:%M}", state="ammoniacal silver",
            tone="danger", until=self.alarm_from.isoformat(),
        )


@dataclass(frozen=True, kw_only=True)
class OpenRun:
    """A run on the bench. stands: “load 2 at step 8”; doubts, overtaken: sentences of what stands against it."""

    pk: int
    ticket: str
    title: str
    due: date | None
    stands: str
    address: str
    customer: str = ""
    replaced: str = ""
    doubts: tuple[str, ...] = ()
    overtaken: tuple[str, ...] = ()

    def task(self, day: date) -> Task:
        state = "in doubt" if self.doubts else "overtaken" if self.overtaken else ""
        said = ["It is open and in doubt: record it, make it safe and finish it."] if self.doubts else []
        said += self.overtaken
        named = ", ".join(filter(None, (self.ticket, self.replaced and f"replaces {self.replaced}", self.customer)))
        return Task(
            rank=Rank.BENCH, about=("run", self.pk), what=f"{self.title}: {self.stands}",
            why=" ".join([f"{named}.", *said]), address=self.address, button="Open the bench",
            when=due_words(self.due, day), state=state, tone="danger" if self.doubts else "attention",
            until=self.due.isoformat() if self.due else NEVER,
        )


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """Something in doubt, or held with things it touched. what: as a task is worded; needs: what who settles it may."""

    about: Subject
    what: str
    why: str
    address: str
    button: str
    state: str = "in doubt"
    needs: May = May.ORDERS

    def task(self, day: date) -> Task:
        return Task(rank=Rank.DOUBT, about=self.about, what=self.what, why=self.why, address=self.address,
                    button=self.button, state=self.state, tone="danger", needs=self.needs)


@dataclass(frozen=True, kw_only=True)
class NotTaken:
    """Something sent later from the bench that could not be taken. of: what bench it came from, a run's or a trial's.
    """

    pk: int
    where: str
    why: str
    address: str
    of: str = "run"

    def task(self, day: date) -> Task:
        return Task(
            rank=Rank.NOT_TAKEN, about=(f"not taken of a {self.of}", self.pk),
            what=f"Say what became of a record of {self.where}",
            why=f"Sent later from the bench, it could not be taken: {self.why}", address=self.address,
            button="Settle it", state="not taken", tone="danger",
        )


@dataclass(frozen=True, kw_only=True)
class EndingLot:
    """A lot past use, or that turns today. there, promised: amounts as they are read; another: the lot to take instead.
    """

    pk: int
    number: str
    material: str
    there: str
    until: str
    on: date
    is_past: bool
    address: str
    promised: str = ""
    another: str = ""

    def task(self, day: date) -> Task:
        instead = f" {self.another}" if self.another else ""
        if self.is_past:
            return Task(
                rank=Rank.EXPIRED, about=("lot", self.pk), what=f"Discard {self.material}, {self.number}",
                why=f"{self.there} left.{instead}", address=self.address, button="Discard it",
                state=f"expired {self.until}", tone="danger", until=self.on.isoformat(),
            )
        promised = f" {self.promised} of it is promised." if self.promised else ""
        return Task(
            rank=Rank.TURNS_TODAY, about=("lot", self.pk), what=f"Use or renew {self.material}, {self.number}",
            why=f"{self.there} left.{promised}{instead}", address=self.address, button="Look at the lot", when="today",
            state=f"expires {self.until}", tone="attention", until=self.on.isoformat(),
        )


@dataclass(frozen=True, kw_only=True)
class JobToSee:
    """A job whose next move is the studio's. rank: which; what, button: as the task is worded."""

    number: int
    rank: Rank
    what: str
    button: str
    address: str
    why: str
    due: date | None = None
    until: date | None = None
    state: str = ""

    def task(self, day: date) -> Task:
        until = self.until or self.due
        is_due = self.rank in _PROMISED and self.due is not None and self.due <= day
        return Task(
            rank=Rank.DUE if is_due else self.rank, about=("job", self.number), what=self.what, why=self.why,
            address=self.address, button=self.button, when=due_words(self.due, day), state=self.state, tone="attention",
            until=until.isoformat() if until else NEVER, needs=May.ORDERS,
        )


@dataclass(frozen=True, kw_only=True)
class AnswerToRead:
    """What a customer said of a job at their private address, and nobody read yet. why: in sentences."""

    number: int
    title: str
    address: str
    why: str

    def task(self, day: date) -> Task:
        return Task(
            rank=Rank.ANSWER, about=("answers", self.number), what=f"Read what came about {self.title}", why=self.why,
            address=self.address, button="Read it", tone="attention", needs=May.ORDERS,
        )


@dataclass(frozen=True, kw_only=True)
class OpenTrial:
    """A trial that nobody judged yet."""

    number: int
    finish: str
    question: str
    begun: date
    address: str

    def task(self, day: date) -> Task:
        asked = f"{self.finish}: {self.question}" if self.question else f"{self.finish}."
        return Task(
            rank=Rank.JUDGE, about=("trial", self.number), what=f"Finish and judge trial {self.number}",
            why=f"{asked} Begun {plain_day(self.begun, day)}.", address=self.address, button="Go to the trial",
            until=self.begun.isoformat(),
        )


@dataclass(frozen=True, kw_only=True)
class BegunCount:
    """A count that is not saved yet: the desk saves it, a helper counts what is not counted."""

    pk: int
    place: str
    counted: int
    of: int
    begun: date
    address: str

    @property
    def is_counted(self) -> bool:
        return self.counted >= self.of

    def task(self, day: date) -> Task:
        what = "Save" if self.is_counted else "Go on with"
        return Task(
            rank=Rank.COUNT, about=("count", self.pk), what=f"{what} the count of {self.place or 'all places'}",
            why=f"{self.counted} of {self.of} counted, begun {plain_day(self.begun, day)}.", address=self.address,
            button="Open the count", until=self.begun.isoformat(),
            needs=May.ORDERS if self.is_counted else May.WORK,
        )


@dataclass(frozen=True, kw_only=True)
class BackupDue:
    """The last good backup is old, or there never was one. made_on: None where there was none."""

    made_on: date | None
    address: str

    def task(self, day: date) -> Task:
        if self.made_on is None:
            why = "There is none yet: what is written here would be lost with this machine."
        else:
            why = f"The last good one is of {plain_day(self.made_on, day)}: what came after would be lost."
        return Task(rank=Rank.BACKUP, about=("backup", 0), what="Make a backup", why=why, address=self.address,
                    button="Read how", needs=May.STUDIO)


Known = Silver | OpenRun | Doubt | NotTaken | EndingLot | JobToSee | OpenTrial | BegunCount | BackupDue


def to_do(known: Iterable[Known], day: date, may: Callable[[May], bool]) -> list[Task]:
    """Return what a person may do, the most pressing first, each thing once."""
    tasks = [fact.task(day) for fact in known]
    mine = [task for task in tasks if may(task.needs)]
    return list(_once(sorted(mine, key=lambda task: (task.rank, task.until, task.what, str(task.about)))))


def _once(tasks: Iterable[Task]) -> Iterator[Task]:
    seen: set[Subject] = set()
    for task in tasks:
        if task.about not in seen:
            seen.add(task.about)
            yield task
