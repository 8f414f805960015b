"""A backup of an earlier program's database, which nobody has migrated yet, is restored as this program's."""

from __future__ import annotations

import lzma
import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.serving import manage
from tests.upgrade.earlier import DATABASE


@pytest.mark.whichever_database
def test_an_earlier_studio_is_kept_as_it_is_and_restored_as_todays(tmp_path: Path) -> None:
    environment = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "SECRET_KEY")}
    environment |= {"DAYBOOK_DATA": str(tmp_path / "daybook"), "DJANGO_SETTINGS_MODULE": "studio.settings"}
    database = tmp_path / "daybook" / "daybook.sqlite3"
    database.parent.mkdir()
    database.write_bytes(lzma.decompress(DATABASE.read_bytes()))
    with closing(sqlite3.connect(database)) as earlier:
        before = earlier.execute("SELECT username, password FROM studio_person ORDER BY 1").fetchall()
    said = manage(environment, "backup", str(tmp_path / "kept"))
    assert "it is the same" in said
    manage(environment, "restore", str(next((tmp_path / "kept").iterdir())))
    with closing(sqlite3.connect(database)) as restored:
        assert restored.execute("SELECT username, password FROM studio_person ORDER BY 1").fetchall() == before
    assert "[ ]" not in manage(environment, "showmigrations", "--list")
    assert (tmp_path / "daybook" / "before-restores").exists()
