"""A studio is kept in one file while people work, comes back whole, and what is damaged or newer is refused."""

from __future__ import annotations

import hashlib
import io
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.test import Client

from studio.house.clock import now
from studio.house.models import Person, PersonSession
from studio.whole.backups.archive import MANIFEST, SUM, unpack
from studio.whole.backups.last_good import last_good, mark_good
from studio.whole.backups.making import opened
from studio.whole.backups.places import NoBackup
from studio.whole.backups.rows import clear_what_is_left_out
from studio.whole.backups.sealing import is_sealed, seal, unseal
from tests.attack.kills import changed, studio_of
from tests.serving import HOME, Environment, manage, own_database, served

PHRASE = "a few plain words of ours"

LOG_IN = ("from django.test import Client; from studio.house.models import Person\n"
          "Client().force_login(Person.objects.get(username='maud'))")


@dataclass
class Kept:
    """A demo studio, a file of it that is missing, one that is damaged, and its backup."""

    environment: Environment
    folder: Path
    backup: Path
    told: str
    stands: str

    @property
    def data(self) -> Path:
        return Path(self.environment["DAYBOOK_DATA"])


def _command(environment: Environment, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "manage.py", *words], cwd=HOME, env=environment, capture_output=True,
                          text=True, check=False)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder = tmp_path_factory.mktemp("backups")
    with own_database(folder, "daybook_backups", "demo") as environment:
        pictures = sorted(path for path in Path(environment["DAYBOOK_DATA"]).glob("files/*/*"))
        pictures[0].unlink()
        pictures[1].write_bytes(b"another picture")
        (folder / "kept").mkdir()
        (folder / "kept" / ".daybook-2026-01-01-000000.tar.part").write_text("left by a run that was killed")
        manage(environment, "shell", "-v0", "-c", LOG_IN)
        ran = _command(environment, "backup", str(folder / "kept"))
        assert ran.returncode == 0, ran.stderr
        backup = next(path for path in (folder / "kept").iterdir() if path.suffix == ".tar")
        yield Kept(environment, folder, backup, ran.stdout + ran.stderr, studio_of(environment))


def test_a_studio_comes_back_row_for_row_and_the_old_one_is_kept_aside(kept: Kept) -> None:
    manage(kept.environment, "restore", str(kept.backup))  # as tables are made by migrations, once and for all
    stands = studio_of(kept.environment)
    changed(kept.environment, "Another studio altogether")
    assert studio_of(kept.environment) != stands
    said = manage(kept.environment, "restore", str(kept.backup))
    assert "kept aside" in said
    assert studio_of(kept.environment) == stands
    door = (kept.data / "log" / "door.log").read_text()  # whoever asks later finds who the studio is
    assert door.count("the studio: restored, by command: a backup of") == 2
    assert "the old one is kept aside" in door.splitlines()[-1]
    may_log_in = ("from studio.house.models import Person\n"
                  "print(Person.objects.get(username='maud').check_password('quiet-silver-owner'))")
    assert manage(kept.environment, "shell", "-v0", "-c", may_log_in).split()[-1] == "True"
    sessions = "from studio.house.models import PersonSession\nprint(PersonSession.objects.count())"
    assert manage(kept.environment, "shell", "-v0", "-c", sessions).split()[-1] == "0", "nobody is let in again"
    with tarfile.open(kept.backup) as tar:
        assert not [name for name in tar.getnames() if "session" in name], "a backup opens no browser"
    again = _command(kept.environment, "audit")
    assert "does not keep the rule" not in again.stdout
    if not kept.environment.get("DATABASE_URL"):
        newest = max((kept.data / "before-restores").iterdir(), key=lambda path: path.stat().st_mtime_ns)
        with closing(sqlite3.connect(newest / "daybook.sqlite3")) as old:
            assert old.execute("SELECT name FROM studio_house").fetchone() == ("Another studio altogether",)
    # and migrating goes on as ever, though the old studio's rules have the same names
    manage(kept.environment, "migrate", "--verbosity", "0")
    assert not [path.name for path in kept.data.iterdir() if path.name.startswith((".scratch", ".daybook"))]


@pytest.mark.django_db
def test_an_older_backup_that_holds_who_was_logged_in_lets_nobody_in(owner: Person, client: Client) -> None:
    client.force_login(owner)
    clear_what_is_left_out(apps.get_models(), "default")
    assert not PersonSession.objects.exists()
    assert Person.objects.filter(pk=owner.pk).exists()


def test_a_backup_of_either_database_is_restored_on_sqlite(kept: Kept, tmp_path: Path) -> None:
    fresh = {name: value for name, value in kept.environment.items() if name != "DATABASE_URL"}
    fresh["DAYBOOK_DATA"] = str(tmp_path / "new" / "daybook")
    assert "kept aside" not in manage(fresh, "restore", str(kept.backup))
    assert "Restored into" in manage(fresh, "backup", str(tmp_path / "again"))
    with kept.backup.open("rb") as one, next((tmp_path / "again").iterdir()).open("rb") as other:
        (tmp_path / "a").mkdir()
        (tmp_path / "b").mkdir()
        assert unpack(one, tmp_path / "a").tables == unpack(other, tmp_path / "b").tables


def test_missing_and_damaged_files_are_named_and_stop_nothing(kept: Kept) -> None:
    assert "is missing from the data folder: the backup goes without it" in kept.told
    assert "is not as it was kept: the backup goes without it" in kept.told
    assert "The audit says" not in kept.told  # nothing but those two, and each is told once
    assert [path.name for path in (kept.folder / "kept").iterdir()] == [kept.backup.name]
    assert kept.backup.stat().st_mode & 0o077 == 0


def test_nothing_is_restored_under_a_running_server_and_no_server_starts_under_a_restore(kept: Kept) -> None:
    before = studio_of(kept.environment)
    with served(kept.environment):
        refused = _command(kept.environment, "restore", str(kept.backup))
        assert "stop it first, then restore" in refused.stderr
        assert refused.returncode == 1
    assert studio_of(kept.environment) == before
    from fcntl import LOCK_EX, flock
    with (kept.data / "serving.lock").open("w") as lock:
        flock(lock, LOCK_EX)
        began = subprocess.run([sys.executable, "-c", "import studio.wsgi"], cwd=HOME, env=kept.environment,
                               capture_output=True, text=True, check=False)
    assert "start the server after it" in began.stderr


@pytest.mark.skipif(bool(os.environ.get("DATABASE_URL")), reason="a lock of SQLite's")
def test_nothing_is_restored_while_another_program_has_the_database_open(kept: Kept) -> None:
    before = studio_of(kept.environment)
    with closing(sqlite3.connect(kept.data / "daybook.sqlite3")) as other:
        other.execute("PRAGMA journal_mode=WAL")
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM studio_person").fetchone()
        refused = _command(kept.environment, "restore", str(kept.backup))
    assert "Another program has the database open" in refused.stderr
    assert studio_of(kept.environment) == before


def test_any_changed_byte_is_refused_or_changes_nothing(kept: Kept, tmp_path: Path) -> None:
    whole = kept.backup.read_bytes()
    (tmp_path / "whole").mkdir()
    said = unpack(io.BytesIO(whole), tmp_path / "whole")
    chance, refused = random.Random(15), 0
    for number in range(120):
        at, folder = chance.randrange(len(whole)), tmp_path / str(number)
        folder.mkdir()
        damaged = whole[:at] + bytes([whole[at] ^ (1 << chance.randrange(8))]) + whole[at + 1:]
        try:
            found = unpack(io.BytesIO(damaged), folder)
        except NoBackup:
            refused += 1
        else:  # it fell between the parts
            assert found == said
            assert _sums(folder) == _sums(tmp_path / "whole")
        shutil.rmtree(folder)
    assert refused > 80


def _sums(folder: Path) -> dict[str, str]:
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 0.99])
def test_a_backup_cut_short_is_refused(kept: Kept, tmp_path: Path, share: float) -> None:
    whole = kept.backup.read_bytes()
    with pytest.raises(NoBackup, match="damaged"):
        unpack(io.BytesIO(whole[:int(len(whole) * share)]), tmp_path)


def _retold(backup: Path, target: Path, **said: object) -> None:
    """Write a backup anew whose manifest says something else, its sums right."""
    with tarfile.open(backup) as old, tarfile.open(target, "w") as new:
        for member in old:
            content = old.extractfile(member).read()
            if member.name == MANIFEST:
                content = json.dumps(json.loads(content) | said).encode()
                summed = f"{hashlib.sha256(content).hexdigest()}  {MANIFEST}\n".encode()
            content = summed if member.name == SUM else content
            member.size = len(content)
            new.addfile(member, io.BytesIO(content))


def test_a_newer_backup_is_refused_by_name(kept: Kept, tmp_path: Path) -> None:
    with tarfile.open(kept.backup) as tar:
        had = json.load(tar.extractfile(MANIFEST))["migrations"]
    _retold(kept.backup, tmp_path / "newer.tar", migrations=[*had, ["jobs", "9999_of_next_year"]], program="9.1")
    (tmp_path / "a").mkdir()
    with pytest.raises(NoBackup, match=r"newer program \(9\.1, with jobs 9999_of_next_year"):
        opened(tmp_path / "newer.tar", tmp_path / "a", "")
    _retold(kept.backup, tmp_path / "newer.tar", version=2)
    (tmp_path / "b").mkdir()
    with pytest.raises(NoBackup, match="newer program"):
        opened(tmp_path / "newer.tar", tmp_path / "b", "")


def test_a_row_told_otherwise_with_all_sums_right_is_found_by_restoring(kept: Kept, tmp_path: Path) -> None:
    with tarfile.open(kept.backup) as tar:
        tables = json.load(tar.extractfile(MANIFEST))["tables"]
    for table in tables:
        if table["table"] == "jobs_customer":
            table["sha256"] = "0" * 64
    _retold(kept.backup, tmp_path / "told.tar", tables=tables)
    before = studio_of(kept.environment)
    refused = _command(kept.environment, "restore", str(tmp_path / "told.tar"))
    assert "these tables differ: jobs_customer" in refused.stderr
    assert studio_of(kept.environment) == before


@pytest.mark.parametrize("name", ["../../escape", "/tmp/escape", "files/../../escape", "database/a.jsonl.gz/x"])
def test_a_name_in_a_backup_is_never_a_path_of_its_own(tmp_path: Path, name: str) -> None:
    made = io.BytesIO()
    with tarfile.open(fileobj=made, mode="w") as tar:
        tar.addfile(tarfile.TarInfo(name), io.BytesIO())
    (tmp_path / "in").mkdir()
    with pytest.raises(NoBackup, match="does not belong"):
        unpack(io.BytesIO(made.getvalue()), tmp_path / "in")
    assert not list(tmp_path.rglob("escape"))


def test_a_passphrase_keeps_a_backup_shut(kept: Kept, tmp_path: Path) -> None:
    shut, back = tmp_path / "shut.tar", tmp_path / "back.tar"
    seal(kept.backup, shut, PHRASE)
    assert is_sealed(shut)
    assert not is_sealed(kept.backup)
    assert b"manifest.json" not in shut.read_bytes()
    with pytest.raises(NoBackup, match="passphrase is another"):
        unseal(shut, back, "some other words entirely")
    unseal(shut, back, PHRASE)
    assert back.read_bytes() == kept.backup.read_bytes()
    changed_bytes = bytearray(shut.read_bytes())
    changed_bytes[len(changed_bytes) // 2] ^= 1
    shut.write_bytes(changed_bytes)
    with pytest.raises(NoBackup, match="damaged"):
        unseal(shut, back, PHRASE)
    with pytest.raises(NoBackup, match="at least 12"):
        seal(kept.backup, shut, "short")


def test_a_full_disk_is_not_said_of_the_backup(kept: Kept, tmp_path: Path) -> None:
    shut, back = tmp_path / "shut.tar", tmp_path / "back.tar"
    seal(kept.backup, shut, PHRASE)
    back.symlink_to("/dev/full")
    with pytest.raises(OSError, match="No space left"):
        unseal(shut, back, PHRASE)


def test_nightly_with_a_passphrase_the_newest_stay(kept: Kept, tmp_path: Path) -> None:
    for day in (1, 2, 3):
        shutil.copy(kept.backup, tmp_path / f"daybook-2026-01-0{day}-030000.tar")
    (tmp_path / "letters.tar").write_text("somebody else's")
    said = _command({**kept.environment, "DAYBOOK_PASSPHRASE": PHRASE}, "backup", str(tmp_path), "--keep", "2")
    assert "encrypted" in said.stdout, said.stderr
    found = sorted(path.name for path in tmp_path.iterdir() if path.is_file())
    assert found[0] == "daybook-2026-01-03-030000.tar"
    assert len(found) == 3
    assert "letters.tar" in found
    assert is_sealed(tmp_path / found[1])
    refused = _command(kept.environment, "restore", "--look", str(tmp_path / found[1]))
    assert "needs a passphrase" in refused.stderr
    (tmp_path / "phrase").write_text(f"{PHRASE}\n")
    looked = manage(kept.environment, "restore", "--look", str(tmp_path / found[1]), "--passphrase-file",
                    str(tmp_path / "phrase"))
    assert "The backup is good" in looked


def test_the_mark_of_the_last_good_backup_is_read_or_there_is_none(settings: object, tmp_path: Path) -> None:
    settings.DATA = tmp_path
    assert last_good() is None
    made = now() - timedelta(days=3)
    mark_good(made, "daybook-x.tar")
    assert last_good() == made
    (tmp_path / "last-backup.json").write_text("{")
    assert last_good() is None
