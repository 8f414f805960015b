"""The data folder: for its owner only, with its key, and a mark once a studio lives in it."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote, unquote

FOLDER, FILE = 0o700, 0o600
KEY, MARK = "secret-key", "a-studio-lives-here"
MARKED = ("A studio lives in this data folder. This file keeps an empty or missing database from being taken for a new "
          "studio, which would offer its ownership to anybody.\n")


class Unfit(SystemExit):
    """The program cannot start with this data folder, or as it was told; the sentence is printed, and nothing else."""


def make_private(folder: Path) -> None:
    """Make the folder where it is missing, and shut it and all that is in it to everybody but its owner.

    What somebody else owns stays as it is: `open_to_others` finds it. From here on this process makes files so.
    """
    os.umask(0o077)
    folder.mkdir(parents=True, exist_ok=True, mode=FOLDER)
    for path, wanted in _wider(folder):
        try:
            path.chmod(wanted)
        except OSError:
            continue


def open_to_others(folder: Path) -> list[Path]:
    """Return what in the data folder others than its owner may read, write or enter."""
    return [path for path, _ in _wider(folder)]


def _wider(folder: Path) -> Iterator[tuple[Path, int]]:
    """Yield whatever is open to others, with the mode that it should have; links are left alone."""
    for inside, folders, files in os.walk(folder):
        here = Path(inside)
        for path, wanted in ((here, FOLDER), *((here / name, FILE) for name in files)):
            try:
                mode = path.lstat().st_mode
            except FileNotFoundError:  # a file of a moment, as SQLite makes them
                continue
            if not stat.S_ISLNK(mode) and stat.S_IMODE(mode) & 0o077:
                yield path, stat.S_IMODE(mode) & 0o700 | wanted if path == here else wanted
        folders[:] = [name for name in folders if not (here / name).is_symlink()]


def secret_key(folder: Path) -> str:
    """Return the folder's key, made once. Raises Unfit for one that is empty."""
    kept = folder / KEY
    if not kept.exists():
        write_private(kept, secrets.token_urlsafe(64), replace=False)
    key = kept.read_text(encoding="utf-8").strip()
    if not key:
        raise Unfit(f"The key file {kept} is empty. Put it back from a copy (no backup of the Daybook holds it); or, "
                    "where there is none, remove it: a new key is made at the next start, and everybody logs in again.")
    return key


def write_private(path: Path, content: str, *, replace: bool = True) -> None:
    """Write a small file whole, for its owner only. replace: else what another process wrote first stays."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=FOLDER)
    beside = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE), "w", encoding="utf-8") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if replace:
            beside.replace(path)
        else:
            try:
                os.link(beside, path)
            except FileExistsError:
                return
    finally:
        beside.unlink(missing_ok=True)


def mark(folder: Path) -> None:
    """Note that a studio lives here."""
    if not is_marked(folder):
        write_private(folder / MARK, MARKED)


def is_marked(folder: Path) -> bool:
    return (folder / MARK).exists()


def unmark(folder: Path) -> None:
    """Let another studio begin here, knowingly."""
    (folder / MARK).unlink(missing_ok=True)


_EXISTING = "?mode=rw"


def existing(file: Path) -> str:
    """Return how SQLite is told to open a database only where it is: it makes no missing one."""
    return f"file:{quote(str(file.resolve()))}{_EXISTING}"


def database_file(name: object) -> Path | None:
    """Return the file that a database lives in, from its name as settings have it; None where it has none."""
    if not str(name).startswith("file:") or not str(name).endswith(_EXISTING):
        return None
    return Path(unquote(str(name).removeprefix("file:").removesuffix(_EXISTING)))


def path_of_database(name: object) -> Path:
    """Return the path of an SQLite database, whichever way its name is written."""
    return database_file(name) or Path(str(name))
