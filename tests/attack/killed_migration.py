"""An upgrade from the studio of commit 84c4296, killed and healed again and again, on the vendor that DATABASE_URL names.

    python -m tests.attack.killed_migration --every --seconds 600      at every statement that changes something
    python -m tests.attack.killed_migration --each --seconds 600       at one statement of each transaction
    python -m tests.attack.killed_migration --random 50 --full         at random ones, in a studio with 1,500 lots more
    python -m tests.attack.killed_migration --chosen                   at the few that the suite asks for

A kill within a transaction leaves what was committed before it, wherever in it that is: so `--each` meets every state
that `--every` does. Each line says where it was killed and whether what `make start` does healed it. Ends with 1 where anything did not.
"""

from __future__ import annotations

import argparse
import itertools
import os
import random
import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from uuid import uuid4

import psycopg

from tests.attack.killed import Dies, command, healed, in_a_child, migrate

MORE_LOTS = 1500
EARLIER, KILLED = "daybook_attack_earlier", "daybook_attack_killed"


class Studio:
    """A studio of the earlier program that can be had back, as it was, after each death."""

    def __init__(self, folder: Path, server: str, full: bool) -> None:
        from tests.upgrade.earlier import last_migrations, lay_out, pour

        self.folder, self.server, self.log = folder, server, str(folder / "said")
        self.database = lay_out(folder)
        if full:
            fill(self.database)
        self.kept = folder / "earlier"
        shutil.copyfile(self.database, self.kept)
        if server:
            self._ask(f"DROP DATABASE IF EXISTS {KILLED} WITH (FORCE)", f"DROP DATABASE IF EXISTS {EARLIER} WITH (FORCE)",
                      f"CREATE DATABASE {KILLED}")
            if in_a_child(lambda: migrate_to(last_migrations(self.kept)), self.log):
                raise RuntimeError(self.said())
            pour(self.kept, os.environ["DATABASE_URL"])
            self._ask(f"ALTER DATABASE {KILLED} RENAME TO {EARLIER}")
        self.fresh()

    def fresh(self) -> None:
        if self.server:
            self._ask(f"DROP DATABASE IF EXISTS {KILLED} WITH (FORCE)", f"CREATE DATABASE {KILLED} TEMPLATE {EARLIER}")
            return
        for left in self.folder.glob("daybook.sqlite3*"):
            left.unlink()
        shutil.copyfile(self.kept, self.database)

    def drop(self) -> None:
        if self.server:
            self._ask(*(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)" for name in (KILLED, EARLIER)))

    def said(self) -> str:
        return Path(self.log).read_text(encoding="utf-8")

    def statements(self) -> list[tuple[int, str]]:
        """Return the statements of an upgrade that change anything, in their order, each with the number of its
        transaction, from an upgrade that nobody kills."""
        written = self.folder / "statements"

        def note() -> None:
            with written.open("w", encoding="utf-8") as file:
                migrate(seen=lambda sql, within: print(within, " ".join(sql.split())[:90], file=file))

        if in_a_child(note, self.log):
            raise RuntimeError(self.said())
        lines = (line.split(" ", 1) for line in written.read_text(encoding="utf-8").splitlines())
        return [(int(within), sql) for within, sql in lines]

    def _ask(self, *orders: str) -> None:
        with psycopg.connect(self.server, autocommit=True) as asked:
            for order in orders:
                asked.execute(order)


def migrate_to(last: dict[str, str]) -> None:
    """Migrate each app as far as it was then, without the rules of today, which rows that are poured in would break."""
    from django.db import connection

    from studio.kit import database_rules

    for app, name in last.items():
        command("migrate", app, name, "--verbosity", "0", "--skip-checks")
    database_rules.lift(connection)


def fill(database: Path) -> None:
    """Take a delivery in 1,500 times over; the rules of then write each lot's level."""
    with closing(sqlite3.connect(database)) as kept, kept:
        ((lot, posting, movement),) = kept.execute(
            "SELECT lot_id, posting_id, id FROM inventory_stockmovement WHERE kind = 'receipt' ORDER BY id LIMIT 1")
        for at in range(MORE_LOTS):
            new_lot = copied(kept, "inventory_lot", lot, lot_number=f"full-{at}")
            new_posting = copied(kept, "inventory_posting", posting, key=uuid4().hex)
            copied(kept, "inventory_stockmovement", movement, lot_id=new_lot, posting_id=new_posting, line=1)


def copied(database: sqlite3.Connection, table: str, of: int, **more: object) -> int:
    """Add a row like another, but for some of its values; return its id."""
    found = database.execute(f"SELECT * FROM {table} WHERE id = ?", [of])
    row = dict(zip([column[0] for column in found.description], found.fetchone(), strict=True)) | more
    del row["id"]
    added = database.execute(
        f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", list(row.values()))
    return int(added.lastrowid or 0)


def nth(times: int, *starts: str, after: bool = False) -> Dies:
    """Die before the n-th statement that starts so, or before the one after it."""
    met = itertools.count(1)
    due = False

    def dies(count: int, sql: str) -> bool:
        nonlocal due
        if due:
            return True
        if " ".join(sql.split()).startswith(starts) and next(met) == times:
            due = after
            return not after
        return False

    return dies


def chosen() -> Iterator[tuple[str, Dies]]:
    """Yield the deaths that differ in kind."""
    if not os.environ.get("DATABASE_URL"):  # the earlier studio is poured into PostgreSQL without its rules
        yield "one rule is lifted", nth(2, "DROP TRIGGER daybook_")
    yield "in the middle of a migration", nth(12, 'CREATE TABLE "new__', "ALTER TABLE")
    yield "before the rules are installed", nth(1, "CREATE TRIGGER daybook_", "CREATE FUNCTION daybook_")


def points(studio: Studio, wanted: argparse.Namespace) -> Iterator[tuple[str, Dies]]:
    if wanted.chosen:
        yield from chosen()
        return
    statements = studio.statements()
    order = list(range(1, len(statements) + 2))  # the last: once everything is done
    random.Random(wanted.seed).shuffle(order)
    if wanted.each:
        order = list({statements[at - 1][0] if at <= len(statements) else 0: at for at in order}.values())
        print(f"{len(statements)} statements in {len(order) - 1} transactions", flush=True)
    for at in order[:wanted.random or None]:
        what = statements[at - 1][1] if at <= len(statements) else "at the very end"
        yield f"{at} of {len(statements)}: {what}", lambda count, sql, at=at: count == at


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--every", action="store_true")
    asked.add_argument("--each", action="store_true")
    asked.add_argument("--chosen", action="store_true")
    asked.add_argument("--random", type=int, default=0)
    asked.add_argument("--full", action="store_true")
    asked.add_argument("--seed", type=int, default=int(time.time()))
    asked.add_argument("--seconds", type=float, default=float("inf"))
    wanted = asked.parse_args()
    server = os.environ.get("DATABASE_URL", "")
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(DAYBOOK_DATA=folder, DJANGO_SETTINGS_MODULE="studio.settings")
        os.environ.pop("SECRET_KEY", None)
        if server:
            os.environ["DATABASE_URL"] = urlunsplit(urlsplit(server)._replace(path=f"/{KILLED}"))
        import django

        django.setup()
        studio = Studio(Path(folder), server, wanted.full)
        try:
            return attack(studio, wanted)
        finally:
            studio.drop()


def attack(studio: Studio, wanted: argparse.Namespace) -> int:
    end, killed, stuck = time.monotonic() + wanted.seconds, 0, 0
    for name, dies in points(studio, wanted):
        if time.monotonic() > end:
            break
        studio.fresh()
        ended = in_a_child(lambda dies=dies: migrate(dies), studio.log)
        well = in_a_child(healed, studio.log) == 0
        killed += ended < 0
        stuck += not well
        print(f"{'healed' if well else 'STUCK'}, {'killed' if ended < 0 else 'ended'} {name}", flush=True)
        if not well:
            print(studio.said()[-2000:], flush=True)
    print(f"seed {wanted.seed}: killed {killed} times, {stuck} stayed broken")
    return int(stuck > 0 or killed == 0)


if __name__ == "__main__":
    sys.exit(main())
