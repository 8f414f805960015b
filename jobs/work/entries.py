"""Which of a run's entries count: of each subject the newest that was not taken back. Entries are never edited."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime

from jobs.models import RunEntry
from studio.kit.typed_numbers import whole_number

Kind = RunEntry.Kind
#: what a device stamps by its own clock: of these the one done last counts, however late it was sent; of the others,
#: whose time may be typed, the one recorded last
_BY_TIME_DONE = frozenset({Kind.CONDITIONS, Kind.PANE, Kind.GLASS, Kind.TIME, Kind.STEP, Kind.ADDED})
_STEP = re.compile(r"(r\d+l\d+s\d+)(?:p(.+))?")


def done_at(entry: RunEntry) -> datetime:
    """Return when something was done: by the device where it says so, else when it was recorded."""
    return entry.device_at or entry.at


def who(entry: RunEntry) -> str:
    """Return who did something, and who sent it where that was somebody else."""
    done_by = entry.content.get("done_by", "")
    return f"{done_by} (sent by {entry.by.name})" if done_by else entry.by.name


def mix_key(subject: str) -> str:
    """Return the batch on the ticket that a subject names: m3b1-2 is the second making of m3b1."""
    return subject.partition("-")[0]


def making_number(subject: str) -> int:
    """Return which making of its batch a subject names, from 1."""
    number = subject.partition("-")[2]
    return whole_number(number, 1)


def making_subject(key: str, number: int) -> str:
    return key if number == 1 else f"{key}-{number}"


def step_and_pane(subject: str) -> tuple[str, str]:
    """Return a step of a load, r1l2s5, and the pane it is done to alone, "" for the whole load, of a subject."""
    found = _STEP.fullmatch(subject)
    return (found[1], found[2] or "") if found else (subject, "")


def in_the_mix(ticked: Iterable[RunEntry]) -> tuple[int, ...]:
    """Return the numbers of the ingredients that are in a mix so far, of its ticks in the order they were done.

    A tick says what was put in or taken out, so that two helpers at one mix do not untick each other; one that says
    neither, as ticks once were, is the whole list.
    """
    there: set[int] = set()
    for entry in ticked:
        content = entry.content
        if "put_in" not in content:
            there = set(content["numbers"])
        there = (there | set(content.get("put_in", ()))) - set(content.get("taken_out", ()))
    return tuple(sorted(there))


class Entries:
    """The entries of a run that count, by kind and subject, the newest last. entries: of one run, in the order of ids.
    """

    def __init__(self, entries: Iterable[RunEntry]) -> None:
        found: dict[tuple[str, str], list[RunEntry]] = {}
        for entry in entries:
            kind = entry.content["of"] if entry.kind == Kind.UNDONE else entry.kind
            mine = found.setdefault((kind, entry.subject), [])
            if entry.kind == Kind.UNDONE:
                mine[:] = [one for one in mine if str(one.client_key) != entry.content["undoes"]]
            else:
                mine.append(entry)
        for (kind, _), mine in found.items():
            if kind in _BY_TIME_DONE:
                mine.sort(key=done_at)
        self._found = {at: mine for at, mine in found.items() if mine}

    def all_of(self, kind: str, subject: str = "") -> list[RunEntry]:
        return self._found.get((kind, subject), [])

    def newest(self, kind: str, subject: str = "") -> RunEntry | None:
        mine = self.all_of(kind, subject)
        return mine[-1] if mine else None

    def subjects(self, kind: str) -> list[str]:
        return [subject for of, subject in self._found if of == kind]

    def makings(self, key: str) -> list[str]:
        """Return the subjects of the further makings of a batch of the ticket, in order."""
        return sorted((subject for subject in self.subjects(Kind.MIXED)
                       if mix_key(subject) == key and making_number(subject) > 1), key=making_number)

    def other_side(self, entry: RunEntry | None) -> RunEntry | None:
        """Return the record that a newest one did not know of when it was made on another device; None: it did."""
        if entry is None or not entry.content.get("unseen"):
            return None
        both = {str(entry.client_key), entry.content["unseen"]}
        if any(both == set(one.content.get("settles", ())) for mine in self._found.values() for one in mine):
            return None
        return next((one for one in self.all_of(entry.kind, entry.subject)
                     if str(one.client_key) == entry.content["unseen"]), None)
