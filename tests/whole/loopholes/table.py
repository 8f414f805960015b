"""The table of loopholes: each a sentence that somebody at the bench understands, by each door into the studio."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

#: what nobody may talk the studio out of, or slip past it
LOOPHOLES: dict[str, str] = {
    "kept": "A bath of silver nitrate, ammonia and caustic, with nothing ticked, is said to keep for a day.",
    "made ahead": "Such a bath, used at once, is mixed ahead and put on the shelf.",
    "by an ammonium salt": "Silver nitrate with an ammonium salt and caustic, no ammonia bottle, is said to keep.",
    "inside a part": "The bath stands inside another solution, two and three deep, that is said to keep.",
    "a newer version": "A silver solution keeps; its next version adds ammonia and goes on keeping.",
    "a frozen version": "Ammonia is added to a version that is frozen and kept.",
    "renamed": "The ammonia is called something else before the bath is said to keep.",
    "class taken away": "What the CAS number tells of a material is unticked, or it is said that none apply.",
    "identity cleared": "CAS number and formula of a material that mixes are made of are emptied.",
    "unclassed kept": "A mix with something that nobody has classed is said to keep, or is mixed ahead.",
    "unclassed in use": "A recipe with something that nobody has classed is put in use.",
    "parts of a step": "Bleach and ammonia are two parts of one step.",
    "carried on the pane": "Ammonia goes over unrinsed bleach, or acid over unrinsed sulfide.",
    "not collected": "The first water off ammoniacal silver is poured away, whatever step carries the rinse.",
    "never made safe": "A recipe with ammoniacal silver has no step that makes it safe.",
    "stands too long": "Ammoniacal silver stands past the studio's limit, in one dwell or in several.",
    "no procedure": "A recipe with ammoniacal silver is put in use while no making-safe procedure is written.",
    "procedure emptied": "The making-safe procedure is emptied while a recipe rests on it.",
    "run ended": "A run is finished while its ammoniacal silver stands.",
    "job cancelled": "A job is cancelled while its ammoniacal silver stands.",
    "trial closed": "A trial is closed while its ammoniacal silver stands.",
    "tried against a stop": "Ammoniacal silver is tried with a recipe that a stop stands against.",
    "making safe of others": "One making safe stops the clock of a mix that it does not name.",
    "leftover of a bath": "What is left of an ammoniacal bath is kept as a lot.",
    "leftover longer": "A leftover is kept longer than its mix.",
    "leftover too much": "More is kept of a mix than was mixed, less what was used and kept before.",
    "made here, delivered": "A solution made here comes in by delivery.",
    "label printed again": "A label printed later says a later time.",
    "waste told otherwise": "A first rinse that was not made safe goes into a container as something else.",
    "waste not taken": "Something goes into a container that may not take it.",
    "waste too much": "More goes into a container than it may hold.",
    "waste silver": "More silver is booked from a run than it can have left.",
    "stored beside": "Bleach is put where ammonia stands.",
}

DOORS: dict[str, str] = {
    "page": "a form, sent by a browser",
    "table": "a table pasted into a page",
    "book": "a studio's book, edited by hand and loaded",
    "command": "a command of manage.py",
    "two people": "two people with the same thing open",
    "database": "a row written past the program",
}

_NO_TABLE = "the pasted tables are deliveries, prices and pane sizes: none writes this"
_ONE_WRITES = "it is one form, sent whole and checked whole: another's changes only refuse it first"
AUDITED = "no one row tells it: the audit finds it, or the recipe is in doubt"

#: pairs that cannot be, each with why
UNREACHABLE: dict[str, dict[str, list[str]]] = {
    "table": {_NO_TABLE: [key for key in LOOPHOLES if key not in ("made here, delivered", "stored beside")]},
    "book": {
        "a book holds what is, not who typed over what": ["a frozen version"],
        "a book names its materials by code, whatever they are called now": ["renamed"],
        "no label stands in a book: it is printed from the lot": ["label printed again"],
        "what was tried stays recorded, the truth about it may have come later": ["tried against a stop"],
    },
    "two people": {
        _ONE_WRITES: ["by an ammonium salt", "inside a part", "renamed", "waste told otherwise", "waste not taken"],
        "printing writes nothing": ["label printed again"],
    },
    "database": {
        AUDITED: [
            "kept", "made ahead", "by an ammonium salt", "inside a part", "a newer version", "identity cleared",
            "parts of a step", "carried on the pane", "not collected", "stands too long", "no procedure",
            "procedure emptied", "leftover of a bath", "waste not taken", "waste silver",
        ],
        "unknown is no fault of a row: it stands on Today's list": ["unclassed kept", "unclassed in use"],
        "a name and a note tell no class": ["renamed"],
        "what was tried stays recorded, the truth about it may have come later": ["tried against a stop"],
        "nothing of a label is kept": ["label printed again"],
        "where a thing stands is the truth: the storage page says it": ["stored beside"],
    },
}
UNREACHABLE["command"] = UNREACHABLE["book"]  # of the commands only load_book writes what this table is about

Attempt = Callable[[Any], None]
#: loophole and door → what somebody does there, and what the studio answers
ATTEMPTS: dict[tuple[str, str], Attempt] = {}


def through(door: str, loophole: str) -> Callable[[Attempt], Attempt]:
    """Enter an attempt in the table."""
    def enter(attempt: Attempt) -> Attempt:
        assert (loophole, door) not in ATTEMPTS
        ATTEMPTS[loophole, door] = attempt
        return attempt

    return enter


def unreachable() -> dict[tuple[str, str], str]:
    """Return every pair that cannot be, with why."""
    return {(loophole, door): why for door, reasons in UNREACHABLE.items() for why, keys in reasons.items()
            for loophole in keys}
