"""The file of a backup: a plain tar, so that it can be opened without this program.

    database/TABLE.jsonl.gz    a table's rows, a line each
    files/SHA256               a kept file
    manifest.json              what made it, when, at which migrations, every table, and the SHA-256 of every part
    manifest.json.sha256       of the manifest, as sha256sum writes it: the last part, so that a file cut short lacks it

Nothing of it is believed before its sums are checked, and no name in it becomes a path but these.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import re
import tarfile
import zlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from studio.whole.backups.places import PIECE, NoBackup
from studio.whole.backups.rows import Node, Table, file_of

FORMAT, VERSION = "silvering daybook backup", 1
MANIFEST, SUM = "manifest.json", "manifest.json.sha256"
_TABLE = re.compile(r"[a-z][a-z0-9_]{0,62}")
_PART = re.compile(r"database/[a-z][a-z0-9_]{0,62}\.jsonl\.gz|files/[0-9a-f]{64}|manifest\.json(\.sha256)?")
_UNREADABLE = (tarfile.TarError, EOFError, ValueError, KeyError, TypeError, AttributeError, zlib.error,
               gzip.BadGzipFile, RecursionError)


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What a backup says of itself. made_at: ISO, with its zone; missing: kept files it could not take, and why."""

    program: str
    made_at: str
    database: str
    migrations: list[Node]
    tables: list[Table]
    missing: list[dict[str, str]] = field(default_factory=list)
    parts: dict[str, str] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables)

    @property
    def kept_files(self) -> int:
        return sum(name.startswith("files/") for name in self.parts)

    def as_document(self) -> dict[str, Any]:
        return {"format": FORMAT, "version": VERSION, **asdict(self), "rows": self.rows}


class Packing:
    """A tar being written, and the SHA-256 of each part."""

    def __init__(self, file: BinaryIO) -> None:
        self._tar = tarfile.open(fileobj=file, mode="w")  # noqa: SIM115  (closed by `finish`)
        self.parts: dict[str, str] = {}

    def add(self, name: str, content: bytes) -> None:
        self.parts[name] = hashlib.sha256(content).hexdigest()
        self._put(name, content)

    def add_file(self, name: str, path: Path) -> None:
        with path.open("rb") as file:
            self.parts[name] = hashlib.file_digest(file, "sha256").hexdigest()
            file.seek(0)
            self._tar.addfile(_head(name, path.stat().st_size), file)

    def finish(self, manifest: Manifest) -> None:
        document = json.dumps(manifest.as_document(), indent=1, sort_keys=True, ensure_ascii=False).encode()
        self._put(MANIFEST, document)
        self._put(SUM, f"{hashlib.sha256(document).hexdigest()}  {MANIFEST}\n".encode())
        self._tar.close()

    def _put(self, name: str, content: bytes) -> None:
        self._tar.addfile(_head(name, len(content)), io.BytesIO(content))


def _head(name: str, size: int) -> tarfile.TarInfo:
    head = tarfile.TarInfo(name)
    head.size, head.mode = size, 0o600
    return head


def unpack(file: BinaryIO, folder: Path) -> Manifest:
    """Unpack a backup into an empty folder, every sum checked; return its manifest. Raises NoBackup.

    Kept files lie as the data folder has them: files/ab/SHA256.
    """
    try:
        sums = _unpacked(file, folder)
        return _checked(sums, folder)
    except NoBackup:
        raise
    except _UNREADABLE as damaged:
        raise NoBackup("This backup is damaged, or is none: it cannot be read to its end.") from damaged


def _unpacked(file: BinaryIO, folder: Path) -> dict[str, str]:
    sums: dict[str, str] = {}
    (folder / "database").mkdir()
    with tarfile.open(fileobj=file, mode="r|") as tar:
        for member in tar:
            content = tar.extractfile(member) if member.isreg() else None
            if content is None or not _PART.fullmatch(member.name) or member.name in sums:
                raise NoBackup(f"This backup is damaged: {member.name[:80]!r} does not belong in one.")
            sums[member.name] = _copied(content, folder / place_of(member.name))
    return sums


def place_of(name: str) -> str:
    """Return where a part lies once it is unpacked."""
    return f"files/{name[6:8]}/{name[6:]}" if name.startswith("files/") else name


def _copied(content: Any, path: Path) -> str:
    path.parent.mkdir(parents=True, exist_ok=True)
    sums = hashlib.sha256()
    with path.open("wb") as out:
        while piece := content.read(PIECE):
            sums.update(piece)
            out.write(piece)
    return sums.hexdigest()


def _checked(sums: dict[str, str], folder: Path) -> Manifest:
    if MANIFEST not in sums or SUM not in sums:
        raise NoBackup("This backup is damaged: it was cut short.")
    if (folder / SUM).read_text().split()[:1] != [sums.pop(MANIFEST)]:
        raise NoBackup("This backup is damaged: its manifest is not as it was written.")
    del sums[SUM]
    document = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    if document.get("format") != FORMAT:
        raise NoBackup("This file is no backup of a Daybook.")
    if document["version"] > VERSION:
        raise NoBackup(f"This backup was made by a newer program ({str(document['program'])[:40]}): restore it with "
                       "that one.")
    manifest = manifest_of(document)
    if wrong := sorted({*sums.items()} ^ {*manifest.parts.items()}):
        raise NoBackup(f"This backup is damaged: {wrong[0][0]} is not as it was written.")
    return manifest


def manifest_of(document: dict[str, Any]) -> Manifest:
    """Return the manifest of its document. Raises NoBackup, or what a document of another shape raises."""
    tables = [Table(**table) for table in document["tables"]]
    if any(not _TABLE.fullmatch(table.table) for table in tables):
        raise NoBackup("This backup is damaged: its tables have no names.")
    if {f"database/{file_of(table.table)}" for table in tables} != {
            name for name in document["parts"] if name.startswith("database/")}:
        raise NoBackup("This backup is damaged: it names other tables than it holds.")
    return Manifest(
        program=str(document["program"]), made_at=str(document["made_at"]), database=str(document["database"]),
        migrations=[(str(app), str(name)) for app, name in document["migrations"]], tables=tables,
        missing=list(document["missing"]), parts=dict(document["parts"]),
    )


def told(manifest: Manifest, audit: Iterable[str]) -> list[str]:
    """Return a sentence for each kept file that a backup could not take, and what else the audit of its copy says."""
    known = {f"The file {one['name']} is missing from the data folder." for one in manifest.missing}
    return [
        *(f"The kept file {one['name']} ({one['sha256'][:12]}) is {one['why']}: the backup goes without it."
          for one in manifest.missing),
        *(f"The audit says: {sentence}" for sentence in audit if sentence not in known),
    ]
