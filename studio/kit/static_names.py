"""Static files under names that carry a hash of their content, so that a browser keeps them for good; and compressed.

A server collects them as it starts, into a folder of the program that may be thrown away. Where that cannot be written,
and in a process that serves nobody, files go by their plain names, straight from where they stand.
"""

from __future__ import annotations

import fcntl
import hashlib
import logging
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.management import call_command
from whitenoise.storage import CompressedManifestStaticFilesStorage

log = logging.getLogger(__name__)
#: which files were collected, beside them
_OF = ".of"


class HashedNames(CompressedManifestStaticFilesStorage):
    """Hashed names once `collect` was through, plain ones before."""

    collected = False

    def load_manifest(self) -> tuple[dict[str, str], str]:
        return super().load_manifest() if self.collected else ({}, "")

    def stored_name(self, name: str) -> str:
        return str(super().stored_name(name)) if self.collected else name


def collect() -> None:
    """Collect the static files unless just these stand there; from then on their addresses are hashed ones.

    Several servers may start at once: one collects, the others wait. Nothing of an older program is taken away, since a
    page that it showed may still ask for it.
    """
    if settings.STATIC_ROOT is None:
        return
    root = Path(settings.STATIC_ROOT)
    try:
        root.mkdir(exist_ok=True)
        with (root / ".lock").open("a") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            found, of = _sum_of_sources(), root / _OF
            if not of.exists() or of.read_text() != found:
                of.unlink(missing_ok=True)
                call_command("collectstatic", interactive=False, verbosity=0)
                of.write_text(found)
    except OSError as refused:
        log.warning("Static files keep their plain names: %s", refused)
        return
    HashedNames.collected = True
    storage: Any = staticfiles_storage
    storage.hashed_files, storage.manifest_hash = storage.load_manifest()


def _sum_of_sources() -> str:
    summed = hashlib.sha256()
    for finder in get_finders():
        for path, storage in sorted(finder.list([]), key=lambda each: each[0]):
            summed.update(f"{path}\0".encode())
            with storage.open(path) as file:
                summed.update(hashlib.sha256(file.read()).digest())
    return summed.hexdigest()
