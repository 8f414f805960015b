"""Both tables of states against lives lived through: what is known of a job or a quote, never a state's name, decides.

Every life is walked from a fresh order on, one thing done after another. What each act leads from and to, which states
promise stock or are closed, what the next step names: all of it follows from the facts, and the tables must agree.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.work import quote_states, states
from studio.kit.errors import DaybookError

DAY = date(2026, 5, 4)
ORDERED = 2
ACTS = {act.name: act for act in states.ACTS}
AT_THE_BENCH = {"record on the bench", "finish the run", "keep what is left"}


@dataclass(frozen=True)
class Life:
    """What is known of a job. out: quotes with the customer, unanswered; good: good panes, None before the run ended."""

    out: int = 0
    accepted: bool = False
    booked: bool = False
    #: the order was changed after booking, and the customer has not said yes yet
    asked: bool = False
    ticket: bool = False
    noted: bool = False
    good: int | None = None
    #: good panes of earlier runs, while a further one is open
    before: int = 0
    delivered: bool = False
    cancelled: bool = False

    @property
    def state(self) -> str:
        if self.cancelled or self.delivered:
            return "cancelled" if self.cancelled else "delivered"
        if self.good is not None:
            return "finished" if self.good >= ORDERED else "part done"
        if self.booked:
            return "on the bench" if self.noted else "booked"
        return "quoted" if self.out or self.accepted else "enquiry"

    @property
    def tone(self) -> str:
        """Nothing to say before the bench; then it is under way, goes well, is lost, or somebody has work to do."""
        if self.cancelled:
            return "danger"
        if self.delivered or (self.good or 0) >= ORDERED:
            return "good"
        return {"part done": "attention", "on the bench": "doing"}.get(self.state, "")

    def goes_on(self) -> Iterator[tuple[str, Life]]:
        yield from self.goes_back()
        yield "give money back", self
        if self.cancelled:
            return
        yield "record sample and deposit", self
        if self.booked and self.asked:
            yield "accept a quote", replace(self, asked=False)
        if self.booked and self.asked and not self.noted:
            yield "decline a quote", replace(self, asked=False)
        if self.booked and not self.noted:
            yield "change a booked order", replace(self, asked=False)
            yield "change a booked order", replace(self, asked=True)
        if not self.booked:
            yield "change the order", self
            yield "save a quote", self
            yield "send a quote", replace(self, out=min(self.out + 1, 2))
            yield "decline a quote", self
            if self.out:
                yield "decline a quote", replace(self, out=self.out - 1)
            yield "accept a quote", replace(self, accepted=True)
            if self.out:
                yield "accept a quote", replace(self, accepted=True, out=self.out - 1)
        if self.accepted and not self.booked:
            yield "book", replace(self, booked=True)
        if self.booked and self.good is None:
            yield "print a ticket", replace(self, ticket=True)
        if self.ticket and self.good is None:
            yield "record on the bench", replace(self, noted=True)
        if self.noted and self.good is None:
            for good in range(self.before, ORDERED + 1):
                yield "finish the run", replace(self, good=good)
        if self.noted:
            yield "keep what is left", self
        if self.good is not None and self.good < ORDERED and not self.delivered:
            yield "print a further ticket", replace(self, good=None, before=self.good)
        if self.good:
            yield "deliver", replace(self, delivered=True)
        if not self.delivered and (self.good or 0) < ORDERED:
            yield "cancel", replace(self, cancelled=True)


    def goes_back(self) -> Iterator[tuple[str, Life]]:
        """What is undone: nothing of it is on the bench, and nothing of the bench comes back."""
        yield "undo what came in", self
        if self.cancelled:
            if not (self.noted and self.good is None):
                yield "undo the cancelling", replace(self, cancelled=False)
            return
        if self.delivered:
            yield "undo the delivery", replace(self, delivered=False)
        if self.booked:
            if not self.noted:
                yield "undo the answer to a revision", replace(self, asked=True)
            if not self.ticket:
                yield "undo the booking", replace(self, booked=False, asked=False, accepted=True)
            return
        sent_before = replace(self, out=min(self.out + 1, 2))
        yield "undo a quote's answer", self
        yield "undo a quote's answer", sent_before
        if self.accepted:
            yield "undo a quote's answer", replace(self, accepted=False)
            yield "undo a quote's answer", replace(sent_before, accepted=False)
        if self.out:
            yield "take back that a quote was sent", replace(self, out=self.out - 1)


def all_lives() -> set[Life]:
    met, ahead = set(), [Life()]
    while ahead:
        life = ahead.pop()
        if life not in met:
            met.add(life)
            ahead += [after for _, after in life.goes_on()]
    return met


LIVES = all_lives()


def led_to() -> dict[tuple[str, str], set[str]]:
    found: dict[tuple[str, str], set[str]] = defaultdict(set)
    for life in LIVES:
        for act, after in life.goes_on():
            found[life.state, act].add(after.state)
    return found


LED_TO = led_to()


@pytest.mark.parametrize("state", states.STATES)
@pytest.mark.parametrize("name", ACTS)
def test_given_any_job_when_an_act_is_tried_then_it_leads_where_some_life_goes(state, name):
    act, expected = ACTS[name], LED_TO[state, name]
    assert states.reached_by(state, act) == expected
    assert states.allows(state, act) == bool(expected)
    assert states.changes(state, act) == bool(expected - {state})
    if expected:
        states.check(state, act, DaybookError)
    else:
        with pytest.raises(DaybookError, match=rf"\b{state}\b.*\.$|\b{state}: .*\.$"):
            states.check(state, act, DaybookError)


def test_given_every_life_when_the_database_is_told_then_it_keeps_the_steps_that_change_a_state_and_no_other():
    # the tables are told by lives: what an act leads to in none of them is in neither
    pairs = {(at, to) for (at, _), reached in LED_TO.items() for to in reached if to != at}
    assert states.steps() == sorted(pairs)


def test_given_every_life_then_the_sets_of_states_are_what_the_facts_say():
    assert {life.state for life in LIVES} == set(states.STATES)
    open_lives = [life for life in LIVES if not life.cancelled]
    assert {life.state for life in open_lives if not life.booked} == states.WAITING
    assert {life.state for life in open_lives if life.booked and life.good is None} == states.PROMISED
    assert {life.state for life in open_lives if life.booked} == states.WAS_BOOKED
    leads_on = {life.state for life in LIVES
                if any(after.state != life.state for name, after in life.goes_on() if not name.startswith("undo"))}
    assert set(states.STATES) - leads_on == states.CLOSED


def test_given_every_life_then_its_tone_tells_what_is_lost_what_went_well_and_what_waits_for_the_studio():
    assert {(life.state, life.tone) for life in LIVES} == {(state, states.TONES.get(state, "")) for state in states.STATES}


@pytest.mark.parametrize("name", ACTS)
def test_given_an_act_then_the_owner_may_do_it_and_a_helper_only_what_is_done_at_the_bench(name):
    assert states.may_do("owner", ACTS[name])
    assert states.may_do("helper", ACTS[name]) == (name in AT_THE_BENCH)
    assert not states.may_do("", ACTS[name])


NAMED_BY = {"save it as a quote": "save a quote", "send it": "send a quote", "accepted": "accept a quote",
            "declined": "decline a quote", "work ticket": "print a ticket",
            "ticket for the rest": "print a further ticket", "record": "record on the bench",
            "finish it": "finish the run", "deliver": "deliver", "cancel": "cancel"}


@pytest.mark.parametrize("state", states.STATES)
def test_given_a_job_when_its_next_step_is_read_then_it_names_what_can_be_done_and_nothing_else(state):
    how_it_stands, _, then = states.NEXT[state].partition(": ")
    named = {act for words, act in NAMED_BY.items() if words in then.lower()}
    can = {act for (at, act), reached in LED_TO.items() if at == state and reached}
    assert how_it_stands
    assert named <= can
    assert bool(named) == (state not in states.CLOSED)
    assert named or "nothing" in then


@dataclass(frozen=True)
class Offer:
    """What is known of a quote. days: how many it is still good for; answer: the customer's, "" while there is none."""

    days: int
    sent: bool = False
    answer: str = ""
    #: a newer revision took its place
    replaced: bool = False

    @property
    def stands(self) -> str:
        if self.replaced or self.answer:
            return "replaced" if self.replaced else self.answer
        if self.days < 0:
            return "lapsed"
        return "sent" if self.sent else "draft"

    def goes_on(self) -> Iterator[tuple[str, Offer]]:
        if self.replaced:
            if self.answer:
                yield "restore", replace(self, replaced=False)
            else:  # with options: one of them took its place, and was undone
                yield "open again", replace(self, replaced=False)
            return
        if self.answer == "accepted" or (self.sent and not self.answer):
            yield "replace", replace(self, replaced=True)
        if self.answer:
            yield "undo the answer", replace(self, answer="")
            return
        yield "decline", replace(self, answer="declined")
        if self.days >= 0:
            yield "accept", replace(self, answer="accepted")
            if not self.sent:
                yield "send", replace(self, sent=True)
        if self.sent:
            yield "take back", replace(self, sent=False)


OFFERS = [Offer(days, sent, answer) for days in (-1, 0, 1) for sent in (False, True) for answer in ("", "accepted", "declined")]
OFFERS += [Offer(1, True, "accepted", replaced=True), *(Offer(days, True, "", replaced=True) for days in (-1, 0, 1))]
QUOTE_STANDINGS = ("draft", "sent", "accepted", "declined", "lapsed", "replaced")
QUOTE_ACTS = ("send", "accept", "decline", "take back", "undo the answer", "replace", "restore", "open again")


def test_given_every_quote_when_it_is_sent_or_answered_then_the_table_holds_that_step_and_no_other():
    done = {(offer.stands, act, after.stands) for offer in OFFERS for act, after in offer.goes_on()}
    assert set(quote_states.MOVES) == done
    assert quote_states.steps() == sorted({(at, to) for at, _, to in done})
    for stands in QUOTE_STANDINGS:
        for act in QUOTE_ACTS:
            assert quote_states.allows(stands, act) == any(one[:2] == (stands, act) for one in done)


def test_given_every_quote_then_it_is_decided_once_answered_and_lapses_only_before():
    answered = {offer.stands for offer in OFFERS if offer.answer and not offer.replaced}
    unanswered_in_time = {offer.stands for offer in OFFERS if not offer.answer and offer.days >= 0 and not offer.replaced}
    assert answered == quote_states.DECIDED
    assert unanswered_in_time == quote_states.UNDECIDED


def test_given_every_quote_then_its_tone_is_the_answer_or_that_the_answer_is_late():
    def tone(offer: Offer) -> str:
        if offer.replaced:
            return ""
        return {"accepted": "good", "declined": "danger", "": "attention" if offer.days < 0 else ""}[offer.answer]

    assert {(offer.stands, tone(offer)) for offer in OFFERS} == {
        (stands, quote_states.TONES.get(stands, "")) for stands in QUOTE_STANDINGS}


def test_given_a_job_of_which_no_quote_is_out_then_its_newest_says_to_send_it_or_to_make_another():
    in_hand = {offer.stands for offer in OFFERS if offer.answer != "accepted" and offer.stands not in ("sent", "replaced")}  # one replaced has a newer
    assert set(quote_states.NEXT) == in_hand
    for stands, sentence in quote_states.NEXT.items():
        assert ("send it" in sentence) == quote_states.allows(stands, "send")
        assert ("new revision" in sentence) == (not quote_states.allows(stands, "send"))
        assert ("cancel the job" in sentence) == (not quote_states.allows(stands, "send"))


@dataclass(frozen=True)
class Revision:
    """A quote as the buying list sees it."""

    revision: int
    state: str
    valid_until: date


def revisions(*typed: tuple[str, int]) -> list[Revision]:
    return [Revision(number, state, DAY + timedelta(days)) for number, (state, days) in enumerate(typed, start=1)]


@pytest.mark.parametrize(("typed", "number"), [
    ([], None), ([("draft", 0)], 1), ([("draft", -1)], None), ([("sent", -1)], None), ([("declined", 9)], None),
    ([("accepted", -1)], 1), ([("draft", 9), ("draft", 9)], 2), ([("sent", 9), ("draft", 9)], 2),
    ([("accepted", 9), ("draft", 9)], 1), ([("accepted", -1), ("sent", 9)], 1), ([("sent", 9), ("declined", 9)], 1),
    ([("sent", 9), ("draft", -1)], 1), ([("draft", 9), ("declined", 9)], None), ([("sent", -1), ("declined", 9)], None),
    ([("sent", 0), ("sent", 9), ("declined", 9)], 2), ([("draft", 9), ("replaced", 9)], 1), ([("sent", 9), ("replaced", 9)], 1), ([("sent", 9), ("sent", -1), ("declined", 9)], 1),
])
def test_given_revisions_of_a_quote_when_stock_is_made_ready_then_one_counts_the_accepted_or_the_newest_open(typed, number):
    chosen = quote_states.counted(revisions(*typed), DAY)
    assert (chosen and chosen.revision) == number


@given(st.permutations(revisions(("sent", 9), ("sent", 9), ("draft", 9), ("declined", 9))))
def test_given_revisions_in_any_order_then_the_newest_that_is_out_counts(quotes):
    counted = quote_states.counted(quotes, DAY)
    assert counted is not None
    assert counted.revision == 2
