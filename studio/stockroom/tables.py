"""Tables as CSV, safe to open in a spreadsheet, and pasted tables read back."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO

from studio.kit.asking import in_heaps

#: what a spreadsheet would run as a formula when a cell begins with it (OWASP, CSV injection, from memory)
_RUNS = ("=", "+", "-", "@", "\t", "\r")


def guarded(value: object) -> str:
    """Return a cell that no spreadsheet runs: text that begins like a formula gets a mark before it; numbers stay."""
    text = "" if value is None else str(value)
    if not text.startswith(_RUNS):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text


def as_csv(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table with its head, cells guarded, lines ended as RFC 4180 says."""
    out = StringIO()
    write = csv.writer(out, lineterminator="\r\n")
    write.writerow(head)
    for row in rows:
        write.writerow([guarded(cell) for cell in row])
    return out.getvalue()


#: so many lines of a long table are sent at once
SENT = 200


def csv_lines(head: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Yield what `as_csv` returns, some lines at a time, so that a long table stands nowhere as a whole."""
    return written_lines(head, ([guarded(cell) for cell in row] for row in rows))


def written_lines(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Yield the same of cells that are written and guarded already, where each text stands in many rows."""
    yield _written([head])
    for heap in in_heaps(rows, SENT):
        yield _written(heap)


def _written(rows: Iterable[Sequence[str]]) -> str:
    out = StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return out.getvalue()


def table_rows(text: str) -> list[list[str]]:
    """Return the cells of a pasted table or CSV: tabs, semicolons or commas, whichever it uses."""
    clean = text.strip("\r\n").lstrip("\ufeff")
    if not clean.strip():
        return []
    first = clean.splitlines()[0]
    delimiter = "\t" if "\t" in clean else ";" if ";" in first else ","
    return [[unguarded(cell.strip()) for cell in row] for row in csv.reader(clean.splitlines(), delimiter=delimiter)]


def unguarded(cell: str) -> str:
    """Remove the mark that exports put before a cell which a spreadsheet would run."""
    return cell[1:] if len(cell) > 1 and cell[0] == "'" and cell[1] in "=+-@\t\r" else cell
