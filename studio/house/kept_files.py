"""Keep files by their content: the bytes under their SHA-256 in the data folder, a row beside."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

from django.conf import settings

from studio.house.models import StoredFile
from studio.kit.errors import DaybookError


class FileDamaged(DaybookError):
    """The bytes in the data folder are not those that were kept."""


def path_of(sha256: str) -> Path:
    return Path(settings.FILES) / sha256[:2] / sha256


def keep(content: bytes, *, name: str, media_type: str, owner_only: bool) -> StoredFile:
    """Store bytes and return their row; the same bytes are kept once, as closed as first kept."""
    sha256 = hashlib.sha256(content).hexdigest()
    path = path_of(sha256)
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.replace(temporary, path)
    stored, _ = StoredFile.objects.get_or_create(
        sha256=sha256,
        defaults={"name": name, "media_type": media_type, "size_bytes": len(content), "owner_only": owner_only},
    )
    return stored


def read(stored: StoredFile) -> bytes:
    """Return the bytes of a stored file. Raises FileDamaged when they are gone or changed."""
    try:
        content = path_of(stored.sha256).read_bytes()
    except FileNotFoundError as gone:
        raise FileDamaged(f"The file {stored.name} is missing from the data folder.") from gone
    if hashlib.sha256(content).hexdigest() != stored.sha256:
        raise FileDamaged(f"The file {stored.name} is not as it was kept.")
    return content
