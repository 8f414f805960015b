"""Do long work, one piece after another, until it is ended: `manage.py long_work`. Several may run at once.

`make start` runs one beside the server. Further ones, here or on other machines, need the same database and data
folder.
"""

from __future__ import annotations

import os
import secrets
import signal
import sys
from types import FrameType
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import OperationalError
from django_tasks_db.management.commands.db_worker import Worker

from studio.house.long_work import doing
from studio.house.long_work.beside import end_with_the_server
from studio.house.long_work.hearts import Heart, gone
from studio.kit.trouble import is_busy
from studio.whole.backups.places import NoBackup, serve_here

_LOOKS_EVERY_SECONDS = 1.0
#: how much a worker beside the server gives way to it
_PAGES_COME_FIRST = 5


class StudioWorker(Worker):
    """The library's worker; asked to end, it puts the work at hand back instead of finishing it.

    A database that somebody holds for long, it looks at again.
    """

    def run(self) -> None:
        while True:
            try:
                return super().run()
            except OperationalError as held:
                if not is_busy(held):
                    raise

    def shutdown(self, signum: int, frame: FrameType | None) -> None:
        doing.ending.set()
        if self.running:
            self.running = False
            if not self.running_task:
                sys.exit(0)


class Command(BaseCommand):
    help = "Do the long work that is asked for, one piece after another, until ended."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--name", default="", help="Of this worker: another than any other's; else one is made.")
        parser.add_argument("--after", default="", help="A worker that ended: what it was at is taken up at once.")
        parser.add_argument("--beside", action="store_true", help="End when standard input closes.")
        parser.add_argument("--all", action="store_true", help="End when nothing waits any more.")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            serve_here()  # nothing is restored under a worker
        except NoBackup as restoring:
            raise CommandError(str(restoring)) from restoring
        name = options["name"] or secrets.token_hex(8)
        worker = StudioWorker(
            queue_names=["default"], excluded_queue_names=[], interval=_LOOKS_EVERY_SECONDS, batch=options["all"],
            backend_name="default", startup_delay=False, max_tasks=None, worker_id=name)
        for each in (signal.SIGINT, signal.SIGTERM):
            signal.signal(each, worker.shutdown)
        if options["beside"]:
            os.nice(_PAGES_COME_FIRST)
            end_with_the_server()
        if options["after"]:
            gone(options["after"])
        heart = Heart(name)
        heart.begin()
        try:
            worker.run()
        finally:
            heart.end()
