"""Files that long work brings: in the data folder, under the work's number and attempt, for some days.

They are no kept files: a saved book holds every kept file, and would hold every book before it.
"""

from __future__ import annotations

import hashlib
import shutil
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db.models import Q

from studio.house.clock import now
from studio.house.models import LongWork
from studio.kit.errors import DaybookError
from studio.kit.whole_files import put_in_place

KEPT_DAYS = 7
_PIECE = 1 << 20


class FileGone(DaybookError):
    """What came of a piece of work is not there any more, or not as it was."""


def home() -> Path:
    """Return the folder of all of them, for its owner alone."""
    folder = Path(settings.DATA) / "long-work"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def path_of(work: LongWork) -> Path:
    return home() / f"{work.pk}-{work.attempt}"


def _scratch(work: LongWork) -> Path:
    return home() / f"{work.pk}-{work.attempt}.part"


def scratch_of(work: LongWork) -> Path:
    """Return an empty folder for an attempt to work in."""
    folder = _scratch(work)
    folder.mkdir(mode=0o700)
    return folder


def clear_scratch(work: LongWork) -> None:
    shutil.rmtree(_scratch(work), ignore_errors=True)


def put_away(work: LongWork, written: Path) -> tuple[str, int]:
    """Keep a file as what came of an attempt; return its SHA-256 and its length. It is on the disk then."""
    with written.open("rb") as file:
        found = hashlib.file_digest(file, "sha256").hexdigest()
    put_in_place(written, path_of(work))
    return found, path_of(work).stat().st_size


def file_of(work: LongWork) -> Path:
    """Return the file that came of a piece of work, as it was written. Raises FileGone."""
    path = path_of(work)
    if not work.has_file or not path.exists():
        raise FileGone(f"What came of “{work}” is not there any more: ask for it again.")
    with path.open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() != work.file_sha256:
            raise FileGone(f"What came of “{work}” is not as it was written: ask for it again.")
    return path


def sweep() -> None:
    """Clear what was kept for its days, and what killed attempts left."""
    LongWork.objects.filter(state__in=LongWork.ENDED, cleared_at=None, ended_at__lt=now() - timedelta(days=KEPT_DAYS)
                            ).update(cleared_at=now(), lines=[])
    there = list(home().iterdir())  # before the rows are asked: what is begun or ends meanwhile is left alone
    brought = ~Q(file_name="") & Q(state=LongWork.State.DONE, cleared_at=None)
    wanted = set()
    for work in LongWork.objects.filter(brought | Q(state=LongWork.State.AT_WORK)).only("attempt", "state"):
        wanted.add(path_of(work).name)
        if work.state == LongWork.State.AT_WORK:
            wanted.add(_scratch(work).name)
    for path in there:
        if path.name in wanted:
            continue
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
