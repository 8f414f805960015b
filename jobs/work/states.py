"""The states of a job: one table of what leads from where to where, what it needs, and who may do it. Pure.

A job is *quoted* while a quote of it is with the customer or accepted. When the last one is declined it is an enquiry
again: nothing is out, so it is quoted again or cancelled. A lapse changes no row, because nobody did anything: the job
then stands as an enquiry by the date alone (see quote_states and Job.standing), and a new revision quotes it again.
It is *part done* when its run ended with fewer good panes than ordered on some line: what is good can be delivered,
the rest made by a further ticket, which puts it on the bench again, or the job cancelled. A job on the bench is
cancelled with a reason, once its ammoniacal silver is made safe; what was used is deducted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from studio.kit.errors import DaybookError

ENQUIRY, QUOTED, BOOKED, ON_THE_BENCH = "enquiry", "quoted", "booked", "on the bench"
PART_DONE, FINISHED, DELIVERED, CANCELLED = "part done", "finished", "delivered", "cancelled"
STATES = (ENQUIRY, QUOTED, BOOKED, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED, CANCELLED)

OWNER, HELPER = "owner", "helper"


@dataclass(frozen=True)
class Act:
    """Something done to a job. who: the roles that may; otherwise: why not, of a job in `{state}`."""

    name: str
    who: frozenset[str]
    otherwise: str


def _owners(name: str, otherwise: str) -> Act:
    return Act(name, frozenset({OWNER}), otherwise)


def _at_the_desk(name: str, otherwise: str) -> Act:
    return Act(name, frozenset({OWNER, HELPER}), otherwise)


CHANGE = _owners("change the order", "This job is {state}: its order stands as it was.")
QUOTE = _owners("save a quote", "This job is {state}: its quote stands as it was.")
SEND = _owners("send a quote", "This job is {state}: no quote of it is sent any more.")
ACCEPT = _owners("accept a quote", "This job is {state}: no quote of it is accepted any more.")
DECLINE = _owners("decline a quote", "This job is {state}: its quotes stay as they are.")
BOOK = _owners("book", "This job is {state}: only a job with an accepted quote is booked.")
TICKET = _owners("print a ticket", "A ticket is printed for a booked job, and this one is {state}: accept the quote "
                 "and book it first.")
FURTHER = _owners("print a further ticket", "This job is {state}: a further ticket is printed once a run of it ended "
                  "with fewer good panes than ordered.")
RECORD = _at_the_desk("record on the bench", "This job is {state}: nothing more can be recorded on it.")
FINISH = _at_the_desk("finish the run", "This job is {state}: its run is not finished and nothing is deducted.")
KEEP = _at_the_desk("keep what is left", "This job is {state}: nothing left of it is kept.")
DELIVER = _owners("deliver", "This job is {state}: only what is finished or part done is delivered.")
CANCEL = _owners("cancel", "This job is {state}: it can no longer be cancelled.")
ACTS = (CHANGE, QUOTE, SEND, ACCEPT, DECLINE, BOOK, TICKET, FURTHER, RECORD, FINISH, KEEP, DELIVER, CANCEL)


@dataclass(frozen=True)
class Move:
    """One way through the table. needs: what is asked beside the state, checked by the service that does the act."""

    at: str
    act: Act
    to: str
    needs: str = ""


def _stays(act: Act, *states: str, needs: str = "") -> tuple[Move, ...]:
    return tuple(Move(state, act, state, needs) for state in states)


MOVES = (
    *_stays(CHANGE, ENQUIRY, QUOTED, needs="nobody else saved it meanwhile"),
    *_stays(QUOTE, ENQUIRY, QUOTED, needs="every recipe is in use"),
    Move(ENQUIRY, SEND, QUOTED, "a quote that has not lapsed"),
    Move(QUOTED, SEND, QUOTED, "a quote that has not lapsed"),
    Move(ENQUIRY, ACCEPT, QUOTED, "a quote that has not lapsed, and none accepted before"),
    Move(QUOTED, ACCEPT, QUOTED, "a quote that has not lapsed, and none accepted before"),
    *_stays(DECLINE, ENQUIRY, needs="a quote that is not decided"),
    Move(QUOTED, DECLINE, QUOTED, "another quote is sent or accepted"),
    Move(QUOTED, DECLINE, ENQUIRY, "no other quote is sent or accepted"),
    Move(QUOTED, BOOK, BOOKED, "an accepted quote; sample and deposit in, or a reason"),
    *_stays(TICKET, BOOKED, ON_THE_BENCH),
    Move(BOOKED, RECORD, ON_THE_BENCH, "an open run"),
    Move(ON_THE_BENCH, RECORD, ON_THE_BENCH, "an open run"),
    Move(ON_THE_BENCH, FINISH, FINISHED, "all recorded and made safe; as many good panes as ordered on every line"),
    Move(ON_THE_BENCH, FINISH, PART_DONE, "all recorded and made safe; fewer good panes than ordered on some line"),
    Move(PART_DONE, FURTHER, ON_THE_BENCH, "every recipe is sound"),
    *_stays(KEEP, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED, needs="as much was mixed, or the glass was cut"),
    Move(FINISHED, DELIVER, DELIVERED),
    Move(PART_DONE, DELIVER, DELIVERED, "a good pane"),
    *_stays(DELIVER, DELIVERED),
    Move(ENQUIRY, CANCEL, CANCELLED),
    Move(QUOTED, CANCEL, CANCELLED),
    Move(BOOKED, CANCEL, CANCELLED, "a reason once its ticket is printed"),
    Move(ON_THE_BENCH, CANCEL, CANCELLED, "a reason; nothing of it stands that is to be made safe"),
    Move(PART_DONE, CANCEL, CANCELLED),
)

#: before it is booked: its order may still change
WAITING = frozenset({ENQUIRY, QUOTED})
#: its stock is promised to it
PROMISED = frozenset({BOOKED, ON_THE_BENCH})
#: it was booked, whatever became of it since, short of being cancelled
WAS_BOOKED = frozenset({BOOKED, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED})
#: nothing more is to be done to it
CLOSED = frozenset({DELIVERED, CANCELLED})

GOOD, ATTENTION, DANGER = "good", "attention", "danger"
TONES = {BOOKED: ATTENTION, ON_THE_BENCH: ATTENTION, PART_DONE: ATTENTION, FINISHED: GOOD, DELIVERED: GOOD,
         CANCELLED: DANGER}

NEXT = {
    ENQUIRY: "Not quoted yet: look at the price, then save it as a quote and send it.",
    QUOTED: "The quote is sent: mark it as accepted or declined when the customer answers.",
    BOOKED: "Booked: print the work ticket when the bench is free.",
    ON_THE_BENCH: "On the bench: record the run and finish it.",
    PART_DONE: "Part done: fewer good panes than ordered. Print a ticket for the rest, deliver what is good, or cancel "
               "it.",
    FINISHED: "Finished: pack it and deliver it.",
    DELIVERED: "Delivered: nothing is left to do.",
    CANCELLED: "Cancelled: nothing more is to be done.",
}


def reached_by(state: str, act: Act) -> frozenset[str]:
    """Return the states that an act leads to from a state; empty where it cannot be done."""
    return frozenset(move.to for move in MOVES if move.at == state and move.act == act)


def allows(state: str, act: Act) -> bool:
    return bool(reached_by(state, act))


def changes(state: str, act: Act) -> bool:
    """Say whether an act can be done in a state and leads out of it."""
    return bool(reached_by(state, act) - {state})


def check(state: str, act: Act, refusal: type[DaybookError]) -> None:
    """Raise the refusal, with the table's own sentence, where a job's state does not allow an act."""
    if not allows(state, act):
        raise refusal(act.otherwise.format(state=state))


def may(role: str, act: Act) -> bool:
    return role in act.who


def after_run(ordered: Iterable[tuple[int, int]], good: dict[int, int]) -> str:
    """Return the state that a finished run leaves.

    ordered: line number and panes ordered; good: good panes by line number, of all finished runs.
    """
    return FINISHED if all(good.get(line, 0) >= panes for line, panes in ordered) else PART_DONE


def steps() -> list[tuple[str, str]]:
    """Return every pair of different states that some act leads through, for the database to keep."""
    return sorted({(move.at, move.to) for move in MOVES if move.at != move.to})
