"""Fill a fresh place from an unpacked backup: `python -m studio.whole.backups.filling FOLDER ANSWER`.

A process of its own, whose environment names the fresh place and nothing else, so that nothing here can touch the
studio. Tables are made as the migrations the backup stood at leave them, filled, compared line for line, and then
brought up to this program; the audit runs on what came out.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import django


def fill_here(folder: Path) -> dict[str, Any]:
    """Fill this process's own studio, which is empty; return what `scratch.Filled` says."""
    from django.core.management import call_command
    from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection
    from django.db.migrations.loader import MigrationLoader

    from studio.kit.tables_at_once import make_tables
    from studio.whole.audit import audit
    from studio.whole.backups.archive import MANIFEST, manifest_of
    from studio.whole.backups.rows import apart, clear_what_is_left_out, ends, models_at, read_tables, tables_of

    manifest = manifest_of(json.loads((folder / MANIFEST).read_text(encoding="utf-8")))
    loader = MigrationLoader(connection)
    last = ends(loader, manifest.migrations)
    all_of_them = {*manifest.migrations, *(node for end in last for node in loader.graph.forwards_plan(end))}
    make_tables(connection, loader, loader.project_state(last), all_of_them)
    models = models_at(loader, manifest.migrations)
    if not {table.table for table in manifest.tables} <= {model._meta.db_table for model in models}:
        return {"refused": "This backup is damaged: it holds tables that its program did not have.", "apart": [],
                "audit": []}
    try:
        read_tables(models, manifest.tables, connection, folder / "database")
    except (DatabaseError, ValueError, TypeError) as refused:
        return {"refused": f"This backup cannot be restored: {str(refused).strip()[:300]}", "apart": [], "audit": []}
    differing = apart(manifest.tables, tables_of(models, DEFAULT_DB_ALIAS))
    clear_what_is_left_out(models, DEFAULT_DB_ALIAS)
    call_command("migrate", verbosity=0)
    return {"apart": differing, "audit": audit()}


if __name__ == "__main__":
    django.setup()
    Path(sys.argv[2]).write_text(json.dumps(fill_here(Path(sys.argv[1]))), encoding="utf-8")
