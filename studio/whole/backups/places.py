"""Where a backup works, one at a time, and how a file is written so that it is there whole or not at all."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from studio.kit.errors import DaybookError
from studio.kit.whole_files import put_in_place

#: bytes read at a time
PIECE = 1 << 20


class NoBackup(DaybookError):
    """A backup that cannot be made or restored; nothing that was there before has changed."""


@contextmanager
def one_at_a_time() -> Iterator[int]:
    """Hold the lock of backups and restores; give its handle, which a child takes over. Raises NoBackup.

    A child that outlives its parent goes on holding it: nobody clears the scratch place from under it.
    """
    handle = _locked("backups.lock", fcntl.LOCK_EX, "Another backup or restore of this studio is under way.")
    try:
        yield handle
    finally:
        os.close(handle)


@contextmanager
def nobody_serves() -> Iterator[None]:
    """Keep servers of this data folder out meanwhile. Raises NoBackup where one runs."""
    handle = _locked("serving.lock", fcntl.LOCK_EX,
                     "A server of this studio is running: stop it first, then restore.")
    try:
        yield
    finally:
        os.close(handle)


def serve_here() -> int:
    """Say for the life of this process that it serves the studio; return the lock's handle. Raises NoBackup."""
    return _locked("serving.lock", fcntl.LOCK_SH, "A restore of this studio is under way: start the server after it.")


def _locked(name: str, kind: int, held: str) -> int:
    settings.DATA.mkdir(parents=True, exist_ok=True)
    handle = os.open(settings.DATA / name, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(handle, kind | fcntl.LOCK_NB)
    except OSError as busy:
        os.close(handle)
        raise NoBackup(held) from busy
    return handle


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """Give an empty folder in the data folder, for its owner alone; what a killed run left there is cleared first."""
    folder = settings.DATA / ".scratch"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def write_whole(path: Path, content: bytes) -> None:
    """Write a small file, for its owner alone, whole or not at all."""
    beside = path.with_name(f".{path.name}.part")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
    put_in_place(beside, path)
