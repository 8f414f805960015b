"""The log file in the data folder: errors and what happens at the door, without contact details or secrets."""

from __future__ import annotations

import fcntl
import logging
import os
import re
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

LARGEST_BYTES, OLDER_FILES = 1_000_000, 5
#: no sentence is longer in the log: what somebody asks for is theirs to write, and its patterns take time
LONGEST = 2_000
_LEFT_OUT = (
    (re.compile(r"[\w.+%-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){1,8}"), "(e-mail)"),
    # a telephone number: seven figures or more, with what people put between them; no date, time, address or amount is
    (re.compile(r"(?<![\w.:/,-])(?!\d{4}-\d\d-\d\d)(?:\+|\()?\d(?:[ ()/-]{0,2}\d){6,14}(?![\w.:])"), "(number)"),
    (re.compile(r"(?i)\b(password|secret|token|key|pin|sessionid|csrftoken)\b(\s{0,3}[=:]\s{0,3})\S+"),
     r"\1\2(left out)"),
    # a customer's private link: whoever reads the log must not be able to open it
    (re.compile(r"/q/[^/\s?]{1,200}"), "/q/(link)"),
    # a database says what a refused row held, over as many lines as it takes
    (re.compile(r"(?s)DETAIL:.*?(?=\nTraceback|\nThe above|\nDuring handling|\Z)"), "DETAIL: (left out)"),
)


def left_out(line: str) -> str:
    """Return a line of a log without e-mail addresses, telephone numbers, secrets, and what a database row held."""
    for found, instead in _LEFT_OUT:
        line = found.sub(instead, line)
    return line


_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


class WithoutContacts(logging.Formatter):
    """A line of the log, the sentence and what led to an error, with what must not stand there left out.

    A sentence is one line, whatever somebody typed: a line break in it is written down as one (“\\n”). Times say how
    far they are from UTC.
    """

    default_time_format = "%Y-%m-%dT%H:%M:%S%z"
    default_msec_format = ""

    def format(self, record: logging.LogRecord) -> str:
        line = logging.makeLogRecord(record.__dict__)
        said = record.getMessage()
        said = f"{said[:LONGEST]}…" if len(said) > LONGEST else said
        line.msg, line.args = _CONTROL.sub(lambda found: repr(found[0])[1:-1], said), ()
        return left_out(super().format(line))


class LogFile(RotatingFileHandler):
    """A file of its owner's alone that begins anew when it is full, a few older ones kept.

    Several processes may write into it, web processes and commands: one begins it anew, the others follow.
    """

    def __init__(self, folder: str, name: str = "daybook.log", **more: Any) -> None:
        self.folder = Path(folder)
        super().__init__(self.folder / name, maxBytes=LARGEST_BYTES, backupCount=OLDER_FILES,
                         encoding="utf-8", delay=True, **more)

    def _open(self) -> TextIOWrapper:
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(self.baseFilename, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        return os.fdopen(handle, "a", encoding="utf-8")

    def shouldRollover(self, record: logging.LogRecord) -> int:
        self._follow()
        return super().shouldRollover(record)

    def doRollover(self) -> None:
        folder = os.open(self.folder, os.O_RDONLY)
        try:
            fcntl.flock(folder, fcntl.LOCK_EX)
            self._follow()
            if self.stream is not None:  # nobody else was first
                super().doRollover()
        finally:
            os.close(folder)

    def _follow(self) -> None:
        """Let go of a file that no longer goes by its name; the next line opens what does."""
        if self.stream is None:
            return
        try:
            if os.path.samestat(os.stat(self.baseFilename), os.fstat(self.stream.fileno())):
                return
        except FileNotFoundError:
            pass
        self.stream.close()
        self.stream = None
