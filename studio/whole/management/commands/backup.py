"""Keep the whole studio in one file: `manage.py backup FOLDER [--keep N] [--encrypt | --passphrase-file FILE]`."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.kit.errors import DaybookError
from studio.whole.backups.making import make_backup
from studio.whole.backups.sealing import given_passphrase


class Command(BaseCommand):
    help = ("Keep the whole studio, database and kept files, in one file of a folder, while it is in use; it is "
            "restored into a scratch place before it gets its name. With DAYBOOK_PASSPHRASE set it is encrypted.")
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path)
        parser.add_argument("--keep", type=int, default=0, help="keep so many newest in the folder; all without it")
        parser.add_argument("--encrypt", action="store_true", help="ask for a passphrase")
        parser.add_argument("--passphrase-file", type=Path, help="a file whose first line is the passphrase")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            passphrase = given_passphrase(options["passphrase_file"], ask=options["encrypt"], twice=True)
            made = make_backup(options["folder"].resolve(), passphrase=passphrase, keep=options["keep"])
        except DaybookError as refusal:
            raise CommandError(str(refusal)) from refusal
        except OSError as disk:
            raise CommandError(f"The backup could not be written: {disk.strerror or disk}. The earlier ones are as "
                               "they were.") from disk
        held = f"{made.manifest.rows} rows and {made.manifest.kept_files} kept files"
        self.stdout.write(f"{made.path.name}: {held}{', encrypted' if passphrase else ''}. Restored into "
                          f"{made.tried_in}, it is the same.")
        for sentence in made.told:
            self.stderr.write(sentence)
