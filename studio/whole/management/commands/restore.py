"""Put a backup in the place of the studio: `manage.py restore FILE [--look] [--passphrase-file FILE]`."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.kit.errors import DaybookError
from studio.whole.backups.restoring import look_at, restore


class Command(BaseCommand):
    help = ("Put a backup in the place of the studio, which is kept aside. The server is stopped meanwhile. The "
            "passphrase of an encrypted one is taken from DAYBOOK_PASSPHRASE, a file or a prompt.")
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--look", action="store_true", help="try it in a scratch place, and change nothing")
        parser.add_argument("--passphrase-file", type=Path, help="a file whose first line is the passphrase")

    def handle(self, *args: Any, **options: Any) -> None:
        act = look_at if options["look"] else restore
        try:
            done = act(options["file"].resolve(), options["passphrase_file"])
        except DaybookError as refusal:
            raise CommandError(str(refusal)) from refusal
        except OSError as disk:
            raise CommandError(f"{disk.strerror or disk}. The studio is as it was.") from disk
        manifest = done.manifest
        made_at = f"{manifest.made_at[:16].replace('T', ' ')} UTC"
        held = f"of {made_at}, {manifest.rows} rows, {manifest.kept_files} kept files"
        self.stdout.write(f"The backup is good: {held}." if options["look"] else f"Restored: the studio {held}.")
        if done.aside:
            self.stdout.write(f"The studio that was here is kept aside: {done.aside}")
        for sentence in done.told:
            self.stderr.write(sentence)
