"""Read a book into an empty studio: all of it, or nothing. Errors name the path inside the document."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from django.db import transaction
from jsonschema import Draft202012Validator

from recipes.finding import remember_what_has_none
from recipes.finishes.marking import mark_all_doubts
from studio.house.begun import note_begun
from studio.house.changes import note_change
from studio.house.kept_files import none_left_behind
from studio.house.models import ChangeRecord
from studio.whole.audit import audit
from studio.whole.book.document import read_document
from studio.whole.book.reading import BookError, Reading
from studio.whole.book.rooms import SECTIONS
from studio.whole.book.save import Book, files_beside
from studio.whole.book.schema import book_schema

__all__ = ["BookError", "load_book", "load_file", "read_book", "studio_is_empty"]


def read_book(path: Path) -> Book:
    """Read and check a document against the schema. Raises BookError naming the path inside it."""
    document: Book = read_document(path)
    wrong = min(
        Draft202012Validator(book_schema()).iter_errors(document), key=lambda error: list(map(str, error.path)),
        default=None,
    )
    if wrong is not None:
        raise BookError(f"/{'/'.join(map(str, wrong.absolute_path))}: {wrong.message[:300]}")
    return document


def studio_is_empty() -> bool:
    return not any(section.model._default_manager.exists() for section in SECTIONS)


@none_left_behind()
@transaction.atomic
def load_book(document: Book, files: Path, as_if_today: date | None = None) -> None:
    """Load a checked document into an empty studio.

    files: the folder with the book's files by SHA-256. as_if_today: move all dates so
    that the day the book was written becomes that day.
    Raises BookError; then nothing is loaded.
    """
    if not studio_is_empty():
        raise BookError("This studio already holds something: a book is loaded into an empty one.")
    moved = as_if_today - date.fromisoformat(document["written_on"]) if as_if_today else timedelta(0)
    Reading(moved, files).take_all(SECTIONS, document)
    mark_all_doubts()  # by the rules of this program: the book may be of an earlier one
    remember_what_has_none()
    if found := audit():
        raise BookError("/: the ledger does not tie: " + " ".join(found))


def load_file(path: Path, as_if_today: date | None = None) -> None:
    """Load a book from its file; the record of changes says in a line that all of it came so. Raises as load_book."""
    document = read_book(path)
    with transaction.atomic():
        note_change(ChangeRecord.Kind.SETTINGS, "A book", f"loaded, by command: written on {document['written_on']}, "
                    "with all its settings, rates, prices, recipes and people")
        load_book(document, files_beside(path), as_if_today)
        transaction.on_commit(note_begun)
