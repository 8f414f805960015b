"""Says in words what is broken under the program, on a page that needs no database."""

from __future__ import annotations

import logging
import shutil
import threading
from collections.abc import Callable

from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string

from studio.house import wall_clock
from studio.kit import data_folder, database_rules
from studio.kit.database_version import has_table, unknown_migrations
from studio.kit.trouble import FULL, GONE, MISSING, NEWER, NO_RULES, InTrouble, Trouble, trouble_of

log = logging.getLogger(__name__)
#: below this the next photograph may not fit
LEAST_FREE_BYTES = 50 * 1024 * 1024
#: what SQLite makes beside its file when it opens it, and some more
LEAST_TO_OPEN_BYTES = 256 * 1024
NEARLY_FULL = "The disk is nearly full. Whoever looks after this server makes room, before nothing can be saved."
HEALTH = "/health/"


def in_words(request: HttpRequest, trouble: Trouble) -> HttpResponse:
    """Answer with a page of its own; a part of a page that asked gets the sentence alone, which its script shows."""
    said = f"{trouble.title}. {trouble.sentence}"
    if request.path == HEALTH:
        return JsonResponse({"well": False, "trouble": said}, status=trouble.status)
    if request.headers.get("HX-Request"):
        return HttpResponse(said, content_type="text/plain; charset=utf-8", status=trouble.status)
    return HttpResponse(render_to_string("whole/trouble.html", {"trouble": trouble}), status=trouble.status)


def server_warnings() -> list[str]:
    """Return what stands in the way of tomorrow though pages still answer: the clock, and the room on the disk."""
    try:
        found = [wall_clock.gone_back()]
        if shutil.disk_usage(settings.DATA).free < LEAST_FREE_BYTES:
            found.append(NEARLY_FULL)
    except OSError as refused:
        trouble = trouble_of(refused)
        found = [f"{trouble.title}. {trouble.sentence}" if trouble else f"The data folder cannot be used: {refused}."]
    return [sentence for sentence in found if sentence]


class _Seen(threading.local):
    """The connection of a thread that was looked at, and the file it was opened on."""

    connection: object = None
    file: tuple[int, int] | None = None


class TroubleMiddleware:
    """See before each answer that the database is there and is one of this program's."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self._seen = _Seen()

    def __call__(self, request: HttpRequest) -> HttpResponse:
        try:
            self._look(request)
        except Exception as broken:
            trouble = _of_the_disk(trouble_of(broken))
            if trouble is None:
                raise
            log.error("%s: %s", trouble.title, broken)
            return in_words(request, trouble)
        request.server_warnings = server_warnings()  # type: ignore[attr-defined]
        return self.get_response(request)

    def _look(self, request: HttpRequest) -> None:
        file = _file()
        if connection.connection is self._seen.connection and file != self._seen.file:
            connection.close()  # another file stands in its place: what is written to the old one would be lost
        connection.close_if_health_check_failed()
        connection.ensure_connection()
        if connection.connection is not self._seen.connection:
            try:
                _check(request)
            except Exception:
                connection.close()
                raise
            if request.path != HEALTH:
                self._seen.connection, self._seen.file = connection.connection, file


def _of_the_disk(trouble: Trouble | None) -> Trouble | None:
    """Return what is behind a trouble: a disk so full that SQLite cannot even open what is there says only that."""
    file = data_folder.database_file(connection.settings_dict["NAME"])
    if trouble in (GONE, MISSING) and file is not None and file.exists():
        return FULL if shutil.disk_usage(file.parent).free < LEAST_TO_OPEN_BYTES else trouble
    return trouble


def _file() -> tuple[int, int] | None:
    """Return which file the database lives in, by its number; None where it lives in none. Raises InTrouble."""
    path = data_folder.database_file(connection.settings_dict["NAME"])
    if path is None:
        return None
    try:
        found = path.stat()
    except OSError as missing:
        connection.close()
        raise InTrouble(MISSING) from missing
    return found.st_dev, found.st_ino


def _check(request: HttpRequest) -> None:
    """Refuse a database that a newer program changed, or whose upgrade was cut off. Raises InTrouble."""
    if unknown_migrations(connection):
        raise InTrouble(NEWER)
    if request.path == HEALTH:
        return  # it names the rules that are missing
    if has_table(connection, "studio_person") and database_rules.missing(connection):
        raise InTrouble(NO_RULES)
