"""Keep files by their content: the bytes under their SHA-256 in the data folder or a store, a row beside.

Where they lie is the storage “kept” of the settings: `kept_in_folder.py` or `kept_in_store.py`, as ab/SHA256 in both.
"""

from __future__ import annotations

import hashlib
import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import Storage, storages
from django.http import HttpResponse
from django.utils.http import content_disposition_header

from studio.house.kept_in_folder import InFolder
from studio.house.models import StoredFile
from studio.kit.errors import DaybookError

log = logging.getLogger(__name__)
#: every type that a file is kept and served as, and whether a browser may show it: nothing on the list can run there
SHOWN = {"application/pdf": True, "image/png": True, "image/jpeg": True, "image/webp": True, "text/csv": False,
         "application/octet-stream": False}
_ANY = "application/octet-stream"
_NAME = re.compile(r"[^\x00-\x1f\x7f/\\\"<>|:*?]{1,200}")
_SUM = re.compile(r"[0-9a-f]{64}")

#: what is written meanwhile that was not there before, to be taken away again if all of it fails
_written: ContextVar[list[str] | None] = ContextVar("written", default=None)


class FileDamaged(DaybookError):
    """The bytes that lie there are not those that were kept."""


class FileRefused(DaybookError):
    """A file whose name, sum or type no file is kept under."""


def check_described(sha256: str, name: str, media_type: str) -> None:
    """Refuse a description by which no file is kept, before a byte is written. Raises FileRefused."""
    if not _SUM.fullmatch(sha256):
        raise FileRefused(f"“{sha256[:20]}” is no SHA-256 of a file.")
    if not _NAME.fullmatch(name) or name.startswith("."):
        raise FileRefused(f"“{name[:20]}” is no name for a file.")
    if media_type not in SHOWN:
        raise FileRefused(f"“{media_type[:40]}” is no type of a file that is kept: {', '.join(SHOWN)}.")


@contextmanager
def none_left_behind() -> Iterator[None]:
    """Take every file away again that was written meanwhile, if what it was written for fails."""
    token = _written.set([])
    try:
        yield
    except BaseException:
        for name in _written.get() or []:
            try:
                _kept().delete(name)
            except Exception:  # a store that went silent: what failed first is what is told
                log.warning("A kept file could not be taken away again.", exc_info=True)
        raise
    finally:
        _written.reset(token)


def _kept() -> Storage:
    return storages["kept"]


def _name_of(sha256: str) -> str:
    return f"{sha256[:2]}/{sha256}"


def in_folder() -> bool:
    """Say whether kept files lie in the data folder, and not in a store."""
    return isinstance(_kept(), InFolder)


def place() -> str:
    """Return in words where kept files lie."""
    return str(getattr(_kept(), "place", "the store"))


def content_of(sha256: str) -> bytes:
    """Return the bytes that lie under a sum, whatever they are. Raises FileNotFoundError, or what disk or store say."""
    with _kept().open(_name_of(sha256)) as file:
        content: bytes = file.read()
    return content


def put_back(sha256: str, path: Path) -> None:
    """Put a file from a backup under its sum again, unless it is there as it was kept."""
    try:
        if hashlib.sha256(content_of(sha256)).hexdigest() == sha256:
            return
    except FileNotFoundError:
        pass
    with path.open("rb") as file:
        _kept().save(_name_of(sha256), File(file))


def keep(content: bytes, *, name: str, media_type: str, owner_only: bool) -> StoredFile:
    """Store bytes and return their row; the same bytes are kept once, as closed as first kept.

    Raises FileRefused for a name or type that no file is kept under.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    check_described(sha256, name, media_type)
    where, under = _kept(), _name_of(sha256)
    if not where.exists(under):
        where.save(under, ContentFile(content))
        if (written := _written.get()) is not None:
            written.append(under)
    stored, _ = StoredFile.objects.get_or_create(
        sha256=sha256,
        defaults={"name": name, "media_type": media_type, "size_bytes": len(content), "owner_only": owner_only},
    )
    return stored


def read(stored: StoredFile) -> bytes:
    """Return the bytes of a stored file. Raises FileDamaged when they are gone or changed."""
    try:
        content = content_of(stored.sha256)
    except FileNotFoundError as gone:
        raise FileDamaged(f"The file {stored.name} is missing from {place()}.") from gone
    if hashlib.sha256(content).hexdigest() != stored.sha256:
        raise FileDamaged(f"The file {stored.name} is not as it was kept.")
    return content


def served(stored: StoredFile) -> HttpResponse:
    """Return a kept file as an answer: shown only where it cannot run, else to be saved. Raises FileDamaged."""
    media_type = stored.media_type if stored.media_type in SHOWN else _ANY
    response = HttpResponse(read(stored), content_type=media_type)
    response["Content-Disposition"] = content_disposition_header(not SHOWN[media_type], stored.name) or "attachment"
    response["X-Content-Type-Options"] = "nosniff"
    return response
