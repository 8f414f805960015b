"""The first two lines of Today: how things stand and what comes next, as sentences. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from studio.whole.day_words import counted, day_words, days_words, hour_words
from studio.whole.to_do import OpenRun, Rank, Silver, Task

#: what the tasks that are left are counted as, in the order of the list
_COUNTED_AS = {
    Rank.SILVER: "mix to make safe|mixes to make safe", Rank.BENCH: "run on the bench|runs on the bench",
    Rank.DOUBT: "thing in doubt|things in doubt", Rank.NOT_TAKEN: "record to settle|records to settle",
    Rank.EXPIRED: "lot to look after|lots to look after", Rank.TURNS_TODAY: "lot to look after|lots to look after",
    Rank.DUE: "job that is due|jobs that are due",
    Rank.TICKET: "ticket to make|tickets to make", Rank.DELIVER: "job to deliver|jobs to deliver",
    Rank.ANSWER: "answer to read|answers to read",
    Rank.QUOTE: "quote to see to|quotes to see to", Rank.JUDGE: "trial to judge|trials to judge",
    Rank.COUNT: "count to end|counts to end", Rank.PRICE: "order to price|orders to price",
    Rank.BACKUP: "backup to make|backups to make",
}


def first_line(tasks: Sequence[Task], runs: Sequence[OpenRun], silver: Sequence[Silver], day: date) -> str:
    """Return “One run is on the bench; leftovers of it must be made safe by half past five.”"""
    bench = "Nothing is on the bench"
    if runs:
        bench = f"{counted(len(runs), 'run').capitalize()} {'is' if len(runs) == 1 else 'are'} on the bench"
    if silver:
        return f"{bench}; {_safety(runs, silver, day)}."
    after_bench = [task for task in tasks if task.rank != Rank.BENCH]
    if not after_bench:
        return f"{bench}." if runs else f"{bench}, and nothing waits to be done."
    what = after_bench[0].what
    return f"{bench}; {'then' if runs else 'next,'} {what[0].lower()}{what[1:]}."


def _safety(runs: Sequence[OpenRun], silver: Sequence[Silver], day: date) -> str:
    """Return by when silver must be safe. Past its limit it says no “make safe now”: what has dried is not touched."""
    past = [one for one in silver if one.alarms]
    if past:
        return f"{past[0].what} stands past its limit: read what to do before anybody touches it"
    first = min(silver, key=lambda one: one.alarm_from)
    of_the_run = len(runs) == 1 and all(one.run == runs[0].pk for one in silver)
    what = "leftovers of it" if of_the_run else first.what if len(silver) == 1 else "ammoniacal silver"
    on = "" if first.alarm_from.date() == day else f"{day_words(first.alarm_from.date(), day)}, "
    return f"{what} must be made safe by {on}{hour_words(first.alarm_from)}"


def second_line(tasks: Sequence[Task], late: Sequence[tuple[str, date]], day: date, *, first_is_said: bool) -> str:
    """Return “Then two lots to look after and one ticket to make. Nothing due is late.”

    first_is_said: the first line named the first task after the bench. late: titles and days of what is past due.
    """
    rest = [task for task in tasks if task.rank not in (Rank.SILVER, Rank.BENCH)]
    if first_is_said:
        rest = rest[1:]
    counts = Counter(_COUNTED_AS[task.rank] for task in rest)
    said = [counted(count, *words.split("|")) for words, count in counts.items()]
    then = f"{'After that' if first_is_said else 'Then'} {_listed(said)}. " if said else ""
    return f"{then}{_lateness(late, day)}"


def _lateness(late: Sequence[tuple[str, date]], day: date) -> str:
    if not late:
        return "Nothing due is late."
    title, due = min(late, key=lambda one: one[1])
    if len(late) == 1:
        return f"{title} is {days_words((day - due).days)} late."
    return f"{counted(len(late), 'job').capitalize()} are late, {title} by {days_words((day - due).days)}."


def _listed(said: Sequence[str]) -> str:
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
