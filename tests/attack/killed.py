"""Migrations that are killed part-way: a child process that ends itself by SIGKILL before a statement of its choice.

The program is loaded once and forked, so that a death costs no more than the migration itself.
"""

from __future__ import annotations

import os
import signal
import sys
import traceback
from collections.abc import Callable
from typing import Any

Dies = Callable[[int, str], bool]
READS = ("SELECT", "PRAGMA", "SHOW", "BEGIN", "SAVEPOINT", "RELEASE")


def changes(sql: str) -> bool:
    """Say whether a statement may change anything: after one that only reads, a kill finds what it found before."""
    return not sql.lstrip().upper().startswith(READS)


def in_a_child(act: Callable[[], Any], log: str) -> int:
    """Run something in a forked child; return how it ended, minus the signal's number where one ended it."""
    child = os.fork()
    if child == 0:
        with open(log, "w") as said:
            os.dup2(said.fileno(), 1)
            os.dup2(said.fileno(), 2)
            try:
                act()
            except SystemExit as end:
                os._exit(int(end.code or 0))
            except BaseException:
                traceback.print_exc()
                sys.stderr.flush()
                os._exit(1)
            sys.stdout.flush()
            os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def command(*words: str) -> None:
    """Run a management command as from a shell, its checks with it."""
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", *words])


def migrate(dies: Dies = lambda count, sql: False, seen: Callable[[str, int], None] = lambda sql, within: None) -> None:
    """Migrate; be killed before the first changing statement that `dies` says, which is given its count and its text.

    seen: is told each of them, and in which transaction it stands, counted from 1.
    """
    from django.db import connection

    count, transaction, outermost = 0, 0, None

    def watch(execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        nonlocal count, transaction, outermost
        if changes(str(sql)):
            count += 1
            block = connection.atomic_blocks[0] if connection.in_atomic_block else None
            transaction += block is None or block is not outermost
            outermost = block
            seen(str(sql), transaction)
            if dies(count, str(sql)):
                os.kill(os.getpid(), signal.SIGKILL)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        command("migrate", "--verbosity", "0")


def healed() -> None:
    """Do what `make start` does before it serves, then see that everything ties."""
    command("migrate", "--verbosity", "0")
    command("check", "--database", "default", "--fail-level", "ERROR")
    command("audit")
