"""How a file is written so that it is there whole, and stays so when the machine stops. No Django."""

from __future__ import annotations

import os
from pathlib import Path


def put_in_place(written: Path, target: Path) -> None:
    """Put a file that is written in place of another of the same disk: whoever looks sees the old or the new."""
    with written.open("rb") as file:
        os.fsync(file.fileno())
    os.replace(written, target)
    keep_names(target.parent)


def keep_names(folder: Path) -> None:
    """See to it that a folder's names are on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
