"""The states of a job: one table of what leads from where to where, what it needs, and who may do it. Pure.

A job is *quoted* while a quote of it is with the customer or accepted. When the last one is declined it is an enquiry
again: nothing is out, so it is quoted again or cancelled. A lapse changes no row, because nobody did anything: the job
then stands as an enquiry by the date alone (see quote_states and Job.standing), and a new revision quotes it again.
It is *part done* when its run ended with fewer good panes than ordered on some line: what is good can be delivered,
the rest made by a further ticket, which puts it on the bench again, or the job cancelled. A job on the bench is
cancelled with a reason, once its ammoniacal silver is made safe; what was used is deducted.

Acts that undo others are in the same table. None of them touches what happened on the bench: nothing that was mixed,
made safe or deducted becomes undone by one, so that a job with a printed ticket is not unbooked, and one with a record
on it is not called back from being cancelled.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from studio.kit.errors import DaybookError
from studio.kit.roles import May, may

ENQUIRY, QUOTED, BOOKED, ON_THE_BENCH = "enquiry", "quoted", "booked", "on the bench"
PART_DONE, FINISHED, DELIVERED, CANCELLED = "part done", "finished", "delivered", "cancelled"
STATES = (ENQUIRY, QUOTED, BOOKED, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED, CANCELLED)

@dataclass(frozen=True)
class Act:
    """Something done to a job. needs: what somebody may who does it; otherwise: why not, of a job in `{state}`.

    undoes: it takes another act back.
    """

    name: str
    needs: May
    otherwise: str
    undoes: bool = False


def _desks(name: str, otherwise: str) -> Act:
    return Act(name, May.ORDERS, otherwise)


def _undoing(name: str, otherwise: str) -> Act:
    return Act(name, May.ORDERS, otherwise, undoes=True)


def _at_the_bench(name: str, otherwise: str) -> Act:
    return Act(name, May.WORK, otherwise)


CHANGE = _desks("change the order", "This job is {state}: its order stands as it was.")
QUOTE = _desks("save a quote", "This job is {state}: its quote stands as it was.")
SEND = _desks("send a quote", "This job is {state}: no quote of it is sent any more.")
ACCEPT = _desks("accept a quote", "This job is {state}: no quote of it is accepted any more.")
DECLINE = _desks("decline a quote", "This job is {state}: its quotes stay as they are.")
BOOK = _desks("book", "This job is {state}: only a job with an accepted quote is booked.")
TICKET = _desks("print a ticket", "A ticket is printed for a booked job, and this one is {state}: accept the quote "
                 "and book it first.")
FURTHER = _desks("print a further ticket", "This job is {state}: a further ticket is printed once a run of it ended "
                  "with fewer good panes than ordered.")
RECORD = _at_the_bench("record on the bench", "This job is {state}: nothing more can be recorded on it.")
FINISH = _at_the_bench("finish the run", "This job is {state}: its run is not finished and nothing is deducted.")
KEEP = _at_the_bench("keep what is left", "This job is {state}: nothing left of it is kept.")
DELIVER = _desks("deliver", "This job is {state}: only what is finished or part done is delivered.")
CANCEL = _desks("cancel", "This job is {state}: it can no longer be cancelled.")
REVISE = _desks("change a booked order", "This job is {state}: its order is changed only while it is booked and "
                 "nothing is recorded on the bench. Mixes, loads and panes that are recorded are those of its ticket.")
CAME_IN = _desks("record sample and deposit", "This job is {state}: nothing more comes in for it.")
GIVE_BACK = _desks("give money back", "This job is {state}: no money of it is given back.")
UNDO_CAME_IN = _undoing("undo what came in", "This job is {state}: what came in stays.")
TAKE_BACK = _undoing("take back that a quote was sent", "This job is {state}: its quotes stay as they are.")
UNDO_ANSWER = _undoing("undo a quote's answer", "This job is {state}: the answer to its quote stays. Undo what came "
                       "after it first.")
UNDO_REVISED = _undoing("undo the answer to a revision", "This job is {state}: the answer to the revision of its order "
                        "stays.")
UNBOOK = _undoing("undo the booking", "This job is {state}: its booking is undone only before its ticket is printed.")
UNDELIVER = _undoing("undo the delivery", "This job is {state}, not delivered: there is no delivery to undo.")
UNCANCEL = _undoing("undo the cancelling", "This job is {state}, not cancelled.")
ACTS = (CHANGE, QUOTE, SEND, ACCEPT, DECLINE, BOOK, TICKET, FURTHER, RECORD, FINISH, KEEP, DELIVER, CANCEL, REVISE,
        CAME_IN, GIVE_BACK, UNDO_CAME_IN, TAKE_BACK, UNDO_ANSWER, UNDO_REVISED, UNBOOK, UNDELIVER, UNCANCEL)


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
    Move(ENQUIRY, ACCEPT, QUOTED, "a quote that has not lapsed, and no newer one sent or accepted"),
    Move(QUOTED, ACCEPT, QUOTED, "a quote that has not lapsed, and no newer one sent or accepted"),
    *_stays(ACCEPT, BOOKED, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED,
            needs="the revision that the job rests on, which waits for the customer"),
    *_stays(DECLINE, ENQUIRY, needs="a quote that is not decided"),
    Move(QUOTED, DECLINE, QUOTED, "another quote is sent or accepted"),
    Move(QUOTED, DECLINE, ENQUIRY, "no other quote is sent or accepted"),
    *_stays(DECLINE, BOOKED, needs="the revision that it rests on, which waits; the agreed one stands again"),
    Move(QUOTED, BOOK, BOOKED, "an accepted quote; sample and deposit in, or a reason"),
    *_stays(TICKET, BOOKED, ON_THE_BENCH, needs="no revision waits for the customer"),
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
    *_stays(REVISE, BOOKED, needs="nothing is recorded on its ticket"),
    *_stays(CAME_IN, ENQUIRY, QUOTED, BOOKED, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED),
    *_stays(GIVE_BACK, *STATES, needs="as much is in"),
    *_stays(UNDO_CAME_IN, *STATES, needs="no more was given back than is then in"),
    Move(QUOTED, TAKE_BACK, QUOTED, "another quote is sent or accepted"),
    Move(QUOTED, TAKE_BACK, ENQUIRY, "no other quote is sent or accepted"),
    Move(ENQUIRY, UNDO_ANSWER, ENQUIRY, "a declined quote that was never sent"),
    Move(ENQUIRY, UNDO_ANSWER, QUOTED, "a declined quote that was sent"),
    Move(QUOTED, UNDO_ANSWER, QUOTED, "a quote that was answered; another is out, or it was sent before"),
    Move(QUOTED, UNDO_ANSWER, ENQUIRY, "an accepted quote that was never sent, and no other is out"),
    *_stays(UNDO_REVISED, BOOKED, needs="its newest revision was answered, and nothing booked or printed since"),
    Move(BOOKED, UNBOOK, QUOTED, "no ticket is printed; a revision that waits is set aside, the agreed one stands"),
    Move(DELIVERED, UNDELIVER, FINISHED, "as many good panes as ordered on every line"),
    Move(DELIVERED, UNDELIVER, PART_DONE, "fewer good panes than ordered on some line"),
    Move(CANCELLED, UNCANCEL, ENQUIRY, "it was not booked, and no quote is sent or accepted"),
    Move(CANCELLED, UNCANCEL, QUOTED, "it was not booked, and a quote is sent or accepted"),
    Move(CANCELLED, UNCANCEL, BOOKED, "it was booked, nothing is recorded on its ticket, its kept offcuts are free"),
    Move(CANCELLED, UNCANCEL, PART_DONE, "its runs were finished"),
)

#: before it is booked: its order may still change
WAITING = frozenset({ENQUIRY, QUOTED})
#: its stock is promised to it
PROMISED = frozenset({BOOKED, ON_THE_BENCH})
#: it was booked, whatever became of it since, short of being cancelled
WAS_BOOKED = frozenset({BOOKED, ON_THE_BENCH, PART_DONE, FINISHED, DELIVERED})
#: nothing more is to be done to it, short of undoing
CLOSED = frozenset({DELIVERED, CANCELLED})

GOOD, DOING, ATTENTION, DANGER = "good", "doing", "attention", "danger"
TONES = {ON_THE_BENCH: DOING, PART_DONE: ATTENTION, FINISHED: GOOD, DELIVERED: GOOD,
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


def may_do(role: str, act: Act) -> bool:
    return may(role, act.needs)


def after_run(ordered: Iterable[tuple[int, int]], good: dict[int, int]) -> str:
    """Return the state that a finished run leaves.

    ordered: line number and panes ordered; good: good panes by line number, of all finished runs.
    """
    return FINISHED if all(good.get(line, 0) >= panes for line, panes in ordered) else PART_DONE


def steps() -> list[tuple[str, str]]:
    """Return every pair of different states that some act leads through, for the database to keep."""
    return sorted({(move.at, move.to) for move in MOVES if move.at != move.to})
