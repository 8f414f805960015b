"""What breaks under the program, told from the exception that says so: the database, the disk, a kept file, a paper."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import DatabaseError, InterfaceError, OperationalError

from studio.kit.errors import DaybookError


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """What a person is told: a title, a sentence, and the status of the answer."""

    title: str
    sentence: str
    status: int = 503


class InTrouble(DaybookError):
    """Something that a person is told on a page of its own, whatever page was asked for."""

    def __init__(self, trouble: Trouble) -> None:
        super().__init__(trouble.sentence)
        self.trouble = trouble


_KEEPER = "Whoever looks after this server"
GONE = Trouble(title="The database does not answer", sentence="Nothing was saved just now; what was saved before is "
               f"safe. {_KEEPER}: see that the database runs and is where it belongs, then send this again.")
MISSING = Trouble(title=GONE.title, sentence="Its file is missing or cannot be opened, and nothing was saved just now. "
                  f"{_KEEPER}: see that the data folder is where it belongs, and the program's own to read and write; "
                  "where the file is lost, stop the program and restore the last good backup.")
DAMAGED = Trouble(title="The database is damaged", sentence=f"Nothing was saved just now. {_KEEPER}: stop the "
                  "program, keep a copy of the data folder, and restore the last good backup.")
FULL = Trouble(title="The disk is full", sentence="Nothing was saved just now; what was saved before is safe. "
               f"{_KEEPER}: make room on the disk, then send this again.")
READ_ONLY = Trouble(title="The disk takes no writing", sentence="It can be read but not written: nothing was saved "
                    f"just now. {_KEEPER}: make the data folder and the database writable, then send this again.")
BUSY = Trouble(title="Somebody else is saving", sentence="Nothing was saved just now. Wait a moment and send it again: "
               "it counts once.")
OTHER_VERSION = Trouble(title="The database is of another version", sentence=(
    f"It is not as this program expects it. {_KEEPER}: stop the program and start it again with `make start`, which "
    "brings it up to date."))
NEWER = Trouble(title="The database is newer than this program", sentence=(
    f"A newer version of the program has changed it, and this one would harm it. {_KEEPER}: start the newer version, "
    "or restore the backup from before."))
NO_RULES = Trouble(title="The database does not keep its rules", sentence=(
    f"Its last upgrade was cut off. {_KEEPER}: stop the program and start it again with `make start`, which finishes "
    "it."))

_SQLITE = {5: BUSY, 6: BUSY, 8: READ_ONLY, 10: GONE, 11: DAMAGED, 13: FULL, 14: MISSING, 26: DAMAGED}
_POSTGRESQL = {"53100": FULL, "25006": READ_ONLY, "55P03": BUSY, "40P01": BUSY, "40001": BUSY, "58030": GONE,
               "42P01": OTHER_VERSION, "42703": OTHER_VERSION, "XX001": DAMAGED, "XX002": DAMAGED, "53300": GONE,
               "3D000": GONE}
_GONE_CLASSES = ("08", "57P", "28")
_DISK = {errno.ENOSPC: FULL, errno.EDQUOT: FULL, errno.EROFS: READ_ONLY, errno.EACCES: READ_ONLY,
         errno.EPERM: READ_ONLY, errno.EIO: GONE}


def trouble_of(exception: BaseException | None) -> Trouble | None:
    """Return what an exception, or one that it came from, tells of database or disk; None for anything else."""
    return next((found for each in _came_from(exception) if (found := _of(each)) is not None), None)


def is_busy(exception: BaseException) -> bool:
    """Say whether it may be that somebody else held a lock for too long, or that two waited for each other."""
    return trouble_of(exception) in (BUSY, None)


def _came_from(exception: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while exception is not None and id(exception) not in seen:
        seen.add(id(exception))
        yield exception
        exception = exception.__cause__ or exception.__context__


def _of(exception: BaseException) -> Trouble | None:
    if isinstance(exception, InTrouble):
        return exception.trouble
    if isinstance(exception, OSError):
        return _DISK.get(exception.errno or 0)
    if not isinstance(exception, DatabaseError | InterfaceError):
        return None
    cause = exception.__cause__
    if (code := getattr(cause, "sqlite_errorcode", None)) is not None:
        said = str(exception)
        if code & 0xFF == 1 and said.startswith(("no such table", "no such column")):
            return OTHER_VERSION
        return _SQLITE.get(code & 0xFF)
    state = getattr(cause, "sqlstate", None)
    if state is not None:
        return GONE if state.startswith(_GONE_CLASSES) else _POSTGRESQL.get(state)
    # the server was never reached, or went while it was asked
    return GONE if cause is not None and isinstance(exception, OperationalError | InterfaceError) else None
