"""Kept files lie in the data folder or in an S3-compatible store, and are kept alike: whole, once, and looked at as read."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.core.files.storage import storages
from django.db import transaction

from studio.house.kept_files import FileDamaged, content_of, in_folder, keep, none_left_behind, read
from studio.house.models import StoredFile
from studio.kit.data_folder import Unfit
from studio.kit.kept_where import storage
from studio.kit.trouble import InTrouble, trouble_of
from studio.whole.audit import audit
from tests.kept import BUCKET, FOLDER, Store, path_of, store

PAPER = {"name": "procedure.pdf", "media_type": "application/pdf", "owner_only": False}


@dataclass
class Place:
    """A place of kept files, and the hand that does harm there."""

    names: Callable[[], list[str]]
    put: Callable[[str, bytes], object]
    remove: Callable[[str], object]
    words: str


@pytest.fixture(scope="module")
def running_store() -> Iterator[Store]:
    with store() as running:
        yield running


@pytest.fixture
def in_store(settings, running_store: Store) -> Iterator[Place]:
    settings.STORAGES = {**settings.STORAGES, "kept": storage(running_store.kept_files)}
    yield Place(names=lambda: [name.removeprefix(f"{FOLDER}/") for name in running_store.names()],
                put=running_store.put, remove=running_store.remove, words="the store")
    running_store.empty()


@pytest.fixture
def in_the_folder(settings) -> Place:
    there = Path(settings.FILES)
    return Place(names=lambda: sorted(str(path.relative_to(there)) for path in there.rglob("*") if path.is_file()),
                 put=lambda sha256, content: path_of(sha256).write_bytes(content),
                 remove=lambda sha256: path_of(sha256).unlink(), words="the data folder")


@pytest.fixture(params=["in_the_folder", "in_store"])
def place(request: pytest.FixtureRequest) -> Place:
    found: Place = request.getfixturevalue(request.param)
    return found


@pytest.mark.django_db
def test_the_same_bytes_lie_there_once_under_their_sum(place):
    content = b"%PDF-1.7 made safe in the same shift" * 40_000
    one, other = keep(content, **PAPER), keep(content, **PAPER | {"name": "another.pdf"})
    assert one == other
    assert one.sha256 == hashlib.sha256(content).hexdigest()
    assert place.names() == [f"{one.sha256[:2]}/{one.sha256}"]
    assert read(one) == content == content_of(one.sha256)
    assert in_folder() == (place.words == "the data folder")
    # and by the storage itself
    where = storages["kept"]
    assert where.listdir("") == ([one.sha256[:2]], [])
    assert where.listdir(one.sha256[:2]) == ([], [one.sha256])
    assert where.size(f"{one.sha256[:2]}/{one.sha256}") == len(content)


@pytest.mark.django_db
@pytest.mark.parametrize("harm", ["missing", "damaged", "cut short"])
def test_one_that_is_missing_or_damaged_is_named_and_stops_nothing_else(place, at_owner, rates, harm):
    kept = keep(b"%PDF-1.7 paper", **PAPER)
    place.remove(kept.sha256) if harm == "missing" else place.put(kept.sha256, b"" if harm == "cut short" else b"%PDF-forged")
    said = f"The file procedure.pdf is missing from {place.words}." if harm == "missing" else (
        "The file procedure.pdf is not as it was kept.")
    with pytest.raises(FileDamaged) as damage:
        read(kept)
    assert str(damage.value) == said
    answer = at_owner.get(f"/files/{kept.sha256}/")
    assert (answer.status_code, said in answer.content.decode()) == (404, True)
    assert at_owner.get("/").status_code == 200
    assert said in audit()


@pytest.mark.django_db
def test_nothing_is_left_of_files_that_were_written_for_something_that_failed(place):
    before = keep(b"%PDF-1.7 before", **PAPER)

    @transaction.atomic
    @none_left_behind()
    def fails_at_its_end() -> None:
        keep(b"%PDF-1.7 before", **PAPER)
        keep(b"%PDF-1.7 meanwhile", **PAPER)
        assert len(place.names()) == 2
        raise ValueError("the last row")

    with pytest.raises(ValueError, match="the last row"):
        fails_at_its_end()
    assert place.names() == [f"{before.sha256[:2]}/{before.sha256}"]
    assert [stored.pk for stored in StoredFile.objects.all()] == [before.pk]


@pytest.mark.django_db
def test_the_folder_is_its_owners_alone(in_the_folder):
    path = path_of(keep(b"%PDF-1.7", **PAPER).sha256)
    assert [stat.S_IMODE(one.stat().st_mode) for one in (path, path.parent, path.parent.parent)] == [0o600, 0o700, 0o700]


@pytest.mark.django_db
def test_a_store_that_refuses_is_told_in_words_and_keeps_no_row(in_store, at_owner, rates, running_store):
    kept = keep(b"%PDF-1.7", **PAPER)
    running_store.empty()
    running_store.client.delete_bucket(Bucket=BUCKET)
    try:
        for act in (lambda: read(kept), lambda: keep(b"%PDF-1.7 new", **PAPER)):
            with pytest.raises(InTrouble, match="KEPT_FILES names it"):
                act()
        assert StoredFile.objects.count() == 1
        answer = at_owner.get(f"/files/{kept.sha256}/")
        assert (answer.status_code, "The store of kept files does not answer" in answer.content.decode()) == (503, True)
        assert at_owner.get("/").status_code == 200
        assert audit() == ["The store of kept files does not answer: kept files were not looked at."]
    finally:
        running_store.client.create_bucket(Bucket=BUCKET)


@pytest.mark.django_db
def test_a_store_that_is_not_there_is_told_in_words(settings, monkeypatch, running_store):
    monkeypatch.setenv("AWS_MAX_ATTEMPTS", "1")
    settings.STORAGES = {**settings.STORAGES, "kept": storage("s3://nobody?endpoint=http://127.0.0.1:9&region=us-east-1")}
    with pytest.raises(InTrouble) as silent:
        keep(b"%PDF-1.7", **PAPER)
    told = trouble_of(silent.value)
    assert told is not None
    assert (told.status, told.title) == (503, "The store of kept files does not answer")


@pytest.mark.parametrize("said", [
    "daybook", "s3://", "s3:///folder", "https://store.example/daybook", "s3://key:secret@daybook", "s3://daybook?endpoint=",
    "s3://daybook?key=AKIA", "s3://daybook:9000/folder",
])
def test_what_names_no_store_is_refused_as_the_program_starts(said):
    with pytest.raises(Unfit, match=r"KEPT_FILES is s3://BUCKET"):
        storage(said)


def test_a_store_is_named_by_one_variable():
    assert storage("") == {"BACKEND": "studio.house.kept_in_folder.InFolder"}
    assert storage("s3://daybook/one/studio/?endpoint=https://store.example:9000&region=eu")["OPTIONS"] == {
        "bucket_name": "daybook", "location": "one/studio", "endpoint_url": "https://store.example:9000", "region_name": "eu"}
