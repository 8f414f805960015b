"""How a studio begins: once, by whoever reads the secret that the start prints; never in place of one that was lost."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.contrib.auth.hashers import check_password, make_password
from django.db import connection, transaction

from studio.house.models import Person
from studio.house.people import one_time_password
from studio.kit import data_folder
from studio.kit.database_version import has_table
from studio.kit.errors import DaybookError
from studio.kit.locks import one_by_one
from studio.kit.trouble import InTrouble, Trouble

#: the file of its hash
SECRET = "first-owner-secret"  # noqa: S105
LOST = Trouble(title="The studio's database is missing or empty", sentence=(
    "This data folder had a studio, and its database is missing or holds nobody. No other studio begins in its place. "
    "Whoever looks after this server restores the last backup, or puts the database back where it was. To begin "
    "another studio in this data folder all the same: manage.py first_owner --begin-another."))
BEGUN = "Somebody works here already: the owner lets others in under People."


class AlreadyBegun(DaybookError):
    """The studio has its people."""


def folder() -> Path:
    return Path(settings.DATA)


def refuse_lost() -> None:
    """Refuse to begin where a studio was. Raises InTrouble. Asked only while nobody works here."""
    if data_folder.is_marked(folder()):
        raise InTrouble(LOST)


def is_lost() -> bool:
    """Say whether a studio was here whose database is missing or holds nobody."""
    if not data_folder.is_marked(folder()):
        return False
    file = data_folder.database_file(connection.settings_dict["NAME"])
    if file is not None and not file.exists():
        return True
    return not has_table(connection, Person._meta.db_table) or not Person.objects.exists()


def note_begun() -> None:
    """Keep, once somebody works here, that a studio lives in this data folder, and forget the secret."""
    if Person.objects.exists():
        data_folder.mark(folder())
        (folder() / SECRET).unlink(missing_ok=True)


def new_secret() -> str:
    """Return the secret that first ownership needs, to be told once; only its hash is kept. The one before is void."""
    secret = one_time_password()
    data_folder.write_private(folder() / SECRET, make_password(secret))
    return secret


def is_secret(typed: str) -> bool:
    try:
        kept = (folder() / SECRET).read_text(encoding="utf-8")
    except FileNotFoundError:
        return False
    return check_password(typed.strip().casefold(), kept)


@contextmanager
def the_first() -> Iterator[None]:
    """Let one at a time make the first owner, in a transaction. Raises AlreadyBegun, InTrouble."""
    with transaction.atomic():
        one_by_one("first owner")
        if Person.objects.exists():
            raise AlreadyBegun(BEGUN)
        refuse_lost()
        yield
        transaction.on_commit(note_begun)
