"""SQLite: one database in the place of another, or the old one as it was with the journal that only it can read."""

from __future__ import annotations

import errno
import shutil
import sqlite3
from contextlib import closing, nullcontext
from pathlib import Path
from types import SimpleNamespace

import pytest

from studio.kit.whole_files import put_in_place
from studio.whole.backups import restoring
from studio.whole.backups.places import NoBackup


def _rows(database: Path) -> list[str]:
    with closing(sqlite3.connect(database)) as there:
        return [name for (name,) in there.execute("SELECT name FROM studio ORDER BY rowid")]


@pytest.fixture
def swap(tmp_path, monkeypatch):
    """Give an old database, whose last row stands in a journal that cannot be written back, and a new one."""
    data = tmp_path / "studio"
    data.mkdir()
    made, old = tmp_path / "daybook.sqlite3", data / "daybook.sqlite3"
    with closing(sqlite3.connect(made, isolation_level=None)) as writer:
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("CREATE TABLE studio (name TEXT)")
        writer.execute("INSERT INTO studio VALUES ('old')")
        writer.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        writer.execute("INSERT INTO studio VALUES ('of the last minute')")
        shutil.copyfile(made, old)
        shutil.copyfile(f"{made}-wal", f"{old}-wal")
    new, aside = tmp_path / "new.sqlite3", tmp_path / "aside"
    aside.mkdir()
    with closing(sqlite3.connect(new)) as writer, writer:
        writer.execute("CREATE TABLE studio (name TEXT)")
        writer.execute("INSERT INTO studio VALUES ('new')")
    monkeypatch.setattr(restoring, "connection", SimpleNamespace(settings_dict={"NAME": str(old)}, close=lambda: None))
    monkeypatch.setattr(restoring, "_held", lambda database: nullcontext())
    monkeypatch.setattr(restoring, "_well", lambda: None)
    return SimpleNamespace(old=old, aside=aside, place=SimpleNamespace(database=new))


def test_the_old_database_is_kept_aside_with_the_journal_that_only_it_can_read(swap):
    restoring._swap_databases(swap.place, swap.aside)
    assert _rows(swap.old) == ["new"]
    assert _rows(swap.aside / "daybook.sqlite3") == ["old", "of the last minute"]


@pytest.mark.parametrize("moment", ["before", "after"])
def test_a_swap_that_fails_leaves_the_old_database_with_its_last_minute(swap, monkeypatch, moment):
    # given a disk that fails as the new database takes its place, or just after
    def failing(written: Path, target: Path) -> None:
        if moment == "after":
            put_in_place(written, target)
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(restoring, "put_in_place", failing)
    with pytest.raises(OSError, match="Input/output"):
        restoring._swap_databases(swap.place, swap.aside)
    # then the old one stands there, nothing lost, nothing beside it, and nothing aside that shares its bytes
    assert _rows(swap.old) == ["old", "of the last minute"]
    assert not list(swap.old.parent.glob(".*restoring"))
    assert not (swap.aside / "daybook.sqlite3").exists()


def test_a_new_studio_that_does_not_answer_gives_the_old_one_back(swap, monkeypatch):
    def silent() -> None:
        raise NoBackup("The restored studio did not answer")

    monkeypatch.setattr(restoring, "_well", silent)
    with pytest.raises(NoBackup):
        restoring._swap_databases(swap.place, swap.aside)
    assert _rows(swap.old) == ["old", "of the last minute"]


def test_where_no_studio_was_a_swap_that_fails_leaves_none(swap, monkeypatch):
    swap.old.unlink()
    Path(f"{swap.old}-wal").unlink()
    monkeypatch.setattr(restoring, "_well", lambda: (_ for _ in ()).throw(NoBackup("silent")))
    with pytest.raises(NoBackup):
        restoring._swap_databases(swap.place, swap.aside)
    assert not list(swap.old.parent.iterdir())


def test_without_room_for_the_new_database_nothing_is_left_of_it(swap, monkeypatch):
    def full(written: Path, target: Path) -> None:
        Path(target).write_bytes(Path(written).read_bytes()[:100])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(restoring.shutil, "copyfile", full)
    with pytest.raises(OSError, match="No space"):
        restoring._swap_databases(swap.place, swap.aside)
    assert _rows(swap.old) == ["old", "of the last minute"]
    assert not list(swap.old.parent.glob(".*restoring"))
