"""No loophole is open by a book, read by the program or by the command: it is refused, and nothing is loaded."""

from __future__ import annotations

import copy
import json
import re

import pytest
from django.core.management import CommandError, call_command, get_commands
from django.db import transaction
from django.test import override_settings

from studio.stockroom.materials import storage_findings, stored_materials
from studio.stockroom.models import Material
from studio.whole.book.load import BookError, load_book, read_book
from studio.whole.book.save import canonical
from tests import builders
from tests.whole.loopholes.by_book import EDITS, written

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def document(django_db_setup, django_db_blocker, tmp_path_factory):
    with django_db_blocker.unblock(), override_settings(FILES=tmp_path_factory.mktemp("files")), transaction.atomic():
        builders.house()
        builders.rates()
        saved = json.loads(canonical(written(builders.person("maud", "owner"))))
        transaction.set_rollback(True)
    return saved


@pytest.fixture
def file(document, tmp_path):
    """Write an edited copy of the book."""
    def write(edit):
        changed = copy.deepcopy(document)
        edit(changed)
        (tmp_path / "book.json").write_text(json.dumps(changed), encoding="utf-8")
        return tmp_path / "book.json"

    return write


def test_the_book_is_sound_before_it_is_edited(file):
    load("book", file(lambda book: None))
    assert Material.objects.exists()


def load(door, path):
    """Load a book as the program does, or by `load_book`: the one command that writes what this table is about."""
    if door == "command":
        call_command("load_book", str(path))
    else:
        load_book(read_book(path), path.with_suffix(".files"))


@pytest.mark.parametrize("door", ["book", "command"])
@pytest.mark.parametrize("loophole", [loophole for loophole, (_, sentence) in EDITS.items() if sentence])
def test_an_edited_book_is_refused_and_nothing_is_loaded(file, loophole, door):
    edit, sentence = EDITS[loophole]
    with pytest.raises(CommandError if door == "command" else BookError) as refused:
        load(door, file(edit))
    assert re.search(sentence, str(refused.value))
    assert not Material.objects.exists()


def test_every_command_is_known():
    ours = {name for name, app in get_commands().items() if app == "studio.whole"}
    writing = {"load_book", "load_demo", "demo_people", "first_owner", "long_work", "migrate", "plan_week", "restore", "remove_second_step"}
    assert ours == writing | {"access", "audit", "backup", "book_schema", "estimate", "save_book", "save_papers"}


@pytest.mark.parametrize("door", ["book", "command"])
def test_what_stands_together_is_loaded_and_said(file, door):
    load(door, file(EDITS["stored beside"][0]))
    assert any("chloramine" in finding.sentence for finding in storage_findings(stored_materials()))
