"""The whole studio as one document, as its rooms say. What it names, it names by code, number or key."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from operator import attrgetter
from pathlib import Path
from typing import Any

from studio.house.clock import today
from studio.house.kept_files import read
from studio.house.models import StoredFile
from studio.kit.asking import fetched, heaps_of
from studio.kit.book import Entry, Row, Section, Through, reach
from studio.kit.book_values import STOCK, as_book_value, is_left_out
from studio.kit.one_moment import one_moment
from studio.kit.whole_files import put_in_place
from studio.whole.book.rooms import NAMES, SECTIONS

#: so many rows of a section are held at once, with all that hangs on them
HELD_ROWS = 25
FORMAT, VERSION = "silvering daybook", 1
Book = Entry


def book() -> Book:
    """Return the studio as a book, in a fixed order: equal studios give equal documents."""
    document: Book = {"format": FORMAT, "version": VERSION, "written_on": today().isoformat()}
    for section in SECTIONS:
        entries = list(_entries(section))
        if not section.single:
            document[section.name] = entries
        elif entries:
            document[section.name] = entries[0]
    return document


def save_book(path: Path, say: Callable[[int, int, str], None] = lambda done, of, what: None) -> None:
    """Write the book, a heap of rows at a time, and its files by SHA-256 in a folder beside it: all of one moment.

    It takes its name when it is whole. Where it fails, the former book stays, and nothing of the new one.
    say: told how many sections and files of all are written, and what is begun.
    """
    beside, folder = path.with_name(f".{path.name}.part"), files_beside(path)
    new_folder = not folder.exists()
    written: list[Path] = []
    try:
        with one_moment():
            parts = len(SECTIONS) + StoredFile.objects.count()
            with beside.open("w", encoding="utf-8") as file:
                file.writelines(pieces(lambda done, name: say(done, parts, name)))
            for done, stored in enumerate(StoredFile.objects.order_by("sha256"), start=len(SECTIONS)):
                say(done, parts, f"file {stored.name}")
                folder.mkdir(exist_ok=True)
                content, kept = read(stored), folder / stored.sha256
                if not (kept.exists() and kept.read_bytes() == content):
                    written.append(kept)
                    kept.write_bytes(content)
        put_in_place(beside, path)
    except BaseException:
        for one in (beside, *written):
            one.unlink(missing_ok=True)
        if new_folder and folder.exists():
            folder.rmdir()
        raise


def pieces(say: Callable[[int, str], None] = lambda done, name: None) -> Iterator[str]:
    """Yield what `canonical` makes of the `book`, section by section and entry by entry.

    say: told before each entry how many sections are written, and in which one it stands.
    """
    words = {"format": FORMAT, "version": VERSION, "written_on": today().isoformat()}
    sections = {section.name: section for section in SECTIONS}
    between, written = "{", 0
    for name in sorted(words.keys() | sections.keys()):
        if name in words:
            yield f'{between}\n "{name}": {_written(words[name], 1)}'
            between = ","
            continue
        say(written, name)
        written += 1
        if sections[name].single:
            first = next(_entries(sections[name]), None)
            if first is None:
                continue
            yield f'{between}\n "{name}": {_written(first, 1)}'
        else:
            yield f'{between}\n "{name}": ['
            comma = ""
            for entry in _entries(sections[name]):
                say(written - 1, name)
                yield f"{comma}\n  {_written(entry, 2)}"
                comma = ","
            yield "\n ]" if comma else "]"
        between = ","
    yield "\n}\n"


def _written(value: Any, deep: int) -> str:
    """Return a value as `canonical` writes it so deep in a document: no line breaks stand inside JSON's words."""
    return json.dumps(value, indent=1, ensure_ascii=False, sort_keys=True).replace("\n", "\n" + " " * deep)


def _entries(section: Section) -> Iterator[Any]:
    """Yield a section's entries in their order, a heap of rows read at a time."""
    keys = list(section.model._default_manager.order_by(*section.order).values_list("pk", flat=True))
    paths = list(_paths(section))
    for part in heaps_of(section.model._default_manager.all(), keys, HELD_ROWS):
        yield from (_entry(section, row) for row in fetched(part, *paths))


def canonical(document: Book) -> str:
    return json.dumps(document, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def files_beside(path: Path) -> Path:
    return path.with_suffix(".files")


def _paths(section: Section) -> Iterator[str]:
    """Return what is fetched to write a section's rows, as prefetch paths from them."""
    for column in section.columns:
        if column.refers_to is not None:
            yield column.attribute
            yield from (f"{column.attribute}__{need}" for need in NAMES[column.refers_to].needs)
    if "." in section.unit:
        yield section.unit.rpartition(".")[0].replace(".", "__")
    yield from (f"{link.attribute}__{link.back}" for link in section.through)
    within = [*section.inside, *((listed.accessor, listed) for listed in section.lists)]
    for name, part in within:
        yield name
        yield from (f"{name}__{path}" for path in _paths(part))


def _entry(section: Section, row: Row) -> Any:
    """Return a row as it stands in the book; what is empty, or as by default, is left out."""
    entry: Entry = dict(_columns(section, row))
    if section.bare:
        return next(iter(entry.values()))
    for link in section.through:
        if name := _name_through(link, row):
            entry[link.name] = name
    for attribute, part in section.inside:
        if (rested_on := getattr(row, attribute)) is not None:
            entry[part.name] = _entry(part, rested_on)
    for part in section.lists:
        rows = _hanging(part, row)
        if rows:
            entries = [_entry(part, hanging) for hanging in rows]
            entry[part.name] = entries[0] if part.single else entries
    return entry


def _columns(section: Section, row: Row) -> Iterable[tuple[str, Any]]:
    own_unit = reach(row, section.unit) if section.unit else ""
    for column in section.columns:
        value = getattr(row, column.attribute)
        if is_left_out(column, value):
            continue
        if column.refers_to is not None:
            yield column.name, NAMES[column.refers_to].of(value)
        else:
            yield column.name, as_book_value(value, own_unit if column.unit == STOCK else column.unit)


def _name_through(link: Through, row: Row) -> Any:
    third = reach(row, f"{link.attribute}.{link.back}")
    return None if third is None else NAMES[link.to].of(third)


def _hanging(part: Section, row: Row) -> list[Row]:
    if part.single:
        only = getattr(row, part.accessor, None)
        return [] if only is None else [only]
    rows = list(getattr(row, part.accessor).all())
    return sorted(rows, key=attrgetter(*part.order)) if part.order else rows
