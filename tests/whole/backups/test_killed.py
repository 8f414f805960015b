"""Killed at a step of it, a backup or a restore leaves the old or the new; `tests.attack.kills` kills at any moment."""

from __future__ import annotations

from pathlib import Path

from tests.attack.kills import changed, die_at, studio_of, whole_backups
from tests.serving import manage, own_database

MAKING, RESTORING = "studio.whole.backups.making", "studio.whole.backups.restoring"


def test_killed_at_any_step_there_is_the_old_or_the_new(tmp_path: Path) -> None:
    with own_database(tmp_path, "daybook_killed", "demo") as environment:
        folder = tmp_path / "backups"
        die_at(environment, MAKING, "_write", "after", "backup", str(folder))
        assert whole_backups(folder) == []
        die_at(environment, MAKING, "put_in_place", "before", "backup", str(folder))
        assert whole_backups(folder) == []
        die_at(environment, MAKING, "put_in_place", "after", "backup", str(folder))
        [backup] = whole_backups(folder)

        manage(environment, "restore", str(backup))
        restored = studio_of(environment)
        changed(environment, "What has been since")
        stands = studio_of(environment)
        swap = "_swap_schemas" if environment.get("DATABASE_URL") else "_swap_databases"
        die_at(environment, RESTORING, swap, "before", "restore", str(backup))
        assert studio_of(environment) == stands
        if environment.get("DATABASE_URL"):  # inside the transaction that renames
            die_at(environment, RESTORING, "_well", "after", "restore", str(backup))
            assert studio_of(environment) == stands
        else:  # the one step between them is done
            die_at(environment, RESTORING, "_well", "before", "restore", str(backup))
            assert studio_of(environment) == restored
        die_at(environment, RESTORING, swap, "after", "restore", str(backup))
        assert studio_of(environment) == restored
        manage(environment, "audit")
