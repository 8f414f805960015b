"""The data folder is for its owner alone, and says what to do about an empty key."""

from __future__ import annotations

import os
import stat
import subprocess
import sys

import pytest

from studio.house.checks import data_folder_is_private
from studio.kit import data_folder
from tests.serving import DATA, HOME, own_database, served


@pytest.fixture(autouse=True)
def usual_mask():
    before = os.umask(0o022)
    yield
    os.umask(before)


def modes(folder) -> dict[str, str]:
    return {str(path.relative_to(folder.parent)): f"{stat.S_IMODE(path.lstat().st_mode):o}"
            for path in (folder, *folder.rglob("*")) if not path.is_symlink()}


def test_a_folder_that_is_open_is_shut_and_what_is_made_next_is_too(tmp_path):
    folder = tmp_path / "data"
    (folder / "files" / "ab").mkdir(parents=True)
    (folder / "files" / "ab" / "abcd").write_text("a photograph")
    (folder / "elsewhere").symlink_to(tmp_path)
    data_folder.make_private(folder)
    (folder / "later").write_text("made later")
    assert modes(folder) == {"data": "700", "data/files": "700", "data/files/ab": "700", "data/files/ab/abcd": "600",
                             "data/later": "600"}


def test_what_cannot_be_shut_is_found_by_the_check(settings):
    assert data_folder_is_private() == []
    (settings.DATA / "open").touch(mode=0o644)
    assert data_folder_is_private()[0].id == "studio.E003"


def test_a_running_studio_leaves_nothing_open(tmp_path):
    with own_database(tmp_path, "daybook_private") as environment:
        os.chmod(tmp_path / DATA, 0o755)
        for path in (tmp_path / DATA).rglob("*"):
            path.chmod(0o755 if path.is_dir() else 0o644)
        with served(environment):
            found = modes(tmp_path / DATA)
    assert set(found.values()) == {"700", "600"}, found
    assert len(found) >= 2


@pytest.mark.parametrize("content", ["", "\n"])
def test_an_empty_key_file_is_refused_with_its_cure(tmp_path, content):
    (tmp_path / "secret-key").write_text(content)
    environment = {key: value for key, value in os.environ.items() if key != "SECRET_KEY"}
    said = subprocess.run([sys.executable, "manage.py", "migrate"], cwd=HOME, capture_output=True, text=True, check=False,
                          env={**environment, "DAYBOOK_DATA": str(tmp_path)})
    assert said.returncode == 1
    assert said.stderr.startswith(f"The key file {tmp_path}/secret-key is empty. Put it back from a copy")
    assert "Traceback" not in said.stderr


def test_a_key_is_made_once(tmp_path):
    first = data_folder.secret_key(tmp_path)
    assert len(first) > 60
    assert data_folder.secret_key(tmp_path) == first
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["secret-key"]
