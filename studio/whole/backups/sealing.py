"""A backup behind a passphrase, in the open age format: any program that reads age opens it without this one.

    identity.age    a key made for this backup alone, behind the passphrase (scrypt)
    content.age     the backup, to that key: a stream, so that no studio is too large for memory

Both stand in a plain tar: `age -d identity.age > key; age -d -i key content.age > backup.tar`.
"""

from __future__ import annotations

import getpass
import io
import os
import sys
import tarfile
from pathlib import Path

import pyrage

from studio.kit.trouble import trouble_of
from studio.whole.backups.places import PIECE, NoBackup

VARIABLE = "DAYBOOK_PASSPHRASE"
LEAST = 12
_IDENTITY, _CONTENT = "identity.age", "content.age"


def given_passphrase(file: Path | None, *, ask: bool, twice: bool = False) -> str:
    """Return the passphrase of a file's first line, the environment or a prompt; "" for none. Raises NoBackup.

    It is never an argument: those stand in the list of processes.
    """
    if file is not None:
        try:
            found = file.read_text(encoding="utf-8").split("\n", 1)[0].strip()
        except (OSError, UnicodeDecodeError) as unread:
            raise NoBackup(f"The passphrase cannot be read from {file.name}.") from unread
        if not found:
            raise NoBackup(f"{file.name} holds no passphrase.")
        return found
    if found := os.environ.get(VARIABLE, ""):
        return found
    if not ask:
        return ""
    if not sys.stdin.isatty():
        raise NoBackup(f"This needs a passphrase: set {VARIABLE}, or name its file with --passphrase-file.")
    found = getpass.getpass("Passphrase: ")
    if twice and getpass.getpass("Again: ") != found:
        raise NoBackup("The two passphrases differ.")
    return found


def seal(plain: Path, sealed: Path, passphrase: str) -> None:
    """Write a backup behind a passphrase. Raises NoBackup for a short one."""
    if len(passphrase) < LEAST:
        raise NoBackup(f"A passphrase of a backup has at least {LEAST} characters: a few plain words.")
    key = pyrage.x25519.Identity.generate()
    behind = pyrage.passphrase.encrypt(str(key).encode(), passphrase)
    body = sealed.with_name(f"{sealed.name}.content")
    with plain.open("rb") as content, body.open("wb") as out:
        pyrage.encrypt_io(content, out, [key.to_public()])
    with tarfile.open(sealed, "w") as tar, body.open("rb") as content:
        head = tarfile.TarInfo(_IDENTITY)
        head.size, head.mode = len(behind), 0o600
        tar.addfile(head, io.BytesIO(behind))
        head = tarfile.TarInfo(_CONTENT)
        head.size, head.mode = body.stat().st_size, 0o600
        tar.addfile(head, content)
    body.unlink()


def is_sealed(path: Path) -> bool:
    """Say whether a backup is behind a passphrase. Raises NoBackup for what is no tar at all."""
    try:
        with tarfile.open(path, "r:") as tar:
            first = tar.next()
    except (tarfile.TarError, EOFError, ValueError) as damaged:
        raise NoBackup("This file is no backup, or its beginning is damaged.") from damaged
    except OSError as unread:
        raise NoBackup(f"{path.name} cannot be read.") from unread
    return first is not None and first.name == _IDENTITY


def unseal(sealed: Path, plain: Path, passphrase: str) -> None:
    """Write what is behind a passphrase. Raises NoBackup for another passphrase, or a damaged file.

    A disk that is full or may not be written is said as such: the backup is not to blame.
    """
    try:
        with tarfile.open(sealed, "r:") as tar:
            identity, content = tar.extractfile(_IDENTITY), tar.extractfile(_CONTENT)
            if identity is None or content is None:
                raise NoBackup("This backup is damaged.")
            behind, body = identity.read(PIECE), plain.with_name(f"{plain.name}.age")
            with body.open("wb") as out:
                while piece := content.read(PIECE):
                    out.write(piece)
        key = pyrage.x25519.Identity.from_str(pyrage.passphrase.decrypt(behind, passphrase).decode())
        with body.open("rb") as content_file, plain.open("wb") as out:
            pyrage.decrypt_io(content_file, out, [key])
        body.unlink()
    except (pyrage.DecryptError, pyrage.IdentityError) as refused:
        raise NoBackup("The passphrase is another, or this backup is damaged.") from refused
    except (tarfile.TarError, KeyError, EOFError, ValueError, OSError) as damaged:
        if trouble_of(damaged) is not None:
            raise
        raise NoBackup("This backup is damaged: it cannot be read to its end.") from damaged
