"""A studio whose kept files lie in a store is kept in one file and comes back; so it moves from its folder to a store."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.attack.kills import studio_of
from tests.kept import FOLDER, KEYS, store
from tests.serving import HOME, manage, own_database


def test_a_studio_moves_into_a_store_and_is_backed_up_from_there(tmp_path: Path) -> None:
    with store() as running, own_database(tmp_path, "daybook_store", "demo") as in_folder:
        in_store = {**in_folder, **KEYS, "KEPT_FILES": running.kept_files}
        files = Path(in_folder["DAYBOOK_DATA"]) / "files"
        kept = {path.name: path.read_bytes() for path in files.glob("*/*")}
        before = studio_of(in_folder)
        # given a backup of a studio in its folder, restored where a store is named, with one damaged there before
        manage(in_folder, "backup", str(tmp_path / "one"))
        [one] = (tmp_path / "one").iterdir()
        damaged, missing, *_ = sorted(kept)
        running.put(damaged, b"another picture")
        manage(in_store, "restore", str(one))
        # then all of it is in the store, as it was, and nothing of it is asked of the folder
        assert running.names() == sorted(f"{FOLDER}/{name[:2]}/{name}" for name in kept)
        for path in files.glob("*/*"):
            path.unlink()
        assert studio_of(in_store) == before
        assert "is missing" not in manage(in_store, "audit")
        # and a backup from there holds the same, and names what the store has lost
        running.remove(missing)
        told = subprocess.run([sys.executable, "manage.py", "backup", str(tmp_path / "two")], cwd=HOME, env=in_store,
                              capture_output=True, text=True, check=True)
        assert f"({missing[:12]}) is missing from the store: the backup goes without it" in told.stdout + told.stderr
        assert "The audit says" not in told.stdout + told.stderr
        assert f"{len(kept) - 1} kept files" in told.stdout
        # and where the store is silent no backup is made that holds none
        running.stop()
        silent = subprocess.run([sys.executable, "manage.py", "backup", str(tmp_path / "three")], cwd=HOME, env=in_store,
                                capture_output=True, text=True, check=False)
        assert silent.returncode == 1
        assert "KEPT_FILES names it" in silent.stderr
        assert not list((tmp_path / "three").iterdir())
