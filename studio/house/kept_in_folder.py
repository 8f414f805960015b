"""Kept files in the data folder, by Django's storage API: whole under their name or not there at all."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files import File
from django.core.files.storage import FileSystemStorage

from studio.kit.data_folder import FOLDER
from studio.kit.whole_files import put_in_place


class InFolder(FileSystemStorage):
    """The folder of kept files: for its owner alone, a file written beside and renamed, over the same bytes if any."""

    place = "the data folder"

    @property
    def base_location(self) -> str:  # Django keeps what it is at first
        return os.fspath(settings.FILES)

    @property
    def location(self) -> str:
        return os.path.abspath(self.base_location)

    def get_available_name(self, name: str, max_length: int | None = None) -> str:
        """Return the name as it is: it is the sum of the content, so what lies under it is the same, or damaged."""
        return name

    def _save(self, name: str, content: File[Any]) -> str:
        path = Path(self.path(name))
        path.parent.mkdir(parents=True, exist_ok=True, mode=FOLDER)
        handle, temporary = tempfile.mkstemp(dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                for piece in content.chunks():
                    file.write(piece)
            put_in_place(Path(temporary), path)
        except BaseException:  # a full disk, say
            Path(temporary).unlink(missing_ok=True)
            raise
        return name

    def delete(self, name: str) -> None:
        """Take a file away, and the folder that held it alone."""
        super().delete(name)
        with suppress(OSError):
            Path(self.path(name)).parent.rmdir()
