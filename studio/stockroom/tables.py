"""Tables as CSV, safe to open in a spreadsheet, and pasted tables read back."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO

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


class _Line:
    """What a writer writes to: it hands back the line."""

    def write(self, line: str) -> str:
        return line


def csv_lines(head: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Yield what `as_csv` returns, line by line, so that a long table stands nowhere as a whole."""
    write = csv.writer(_Line(), lineterminator="\r\n")
    yield write.writerow(head)
    for row in rows:
        yield write.writerow([guarded(cell) for cell in row])


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
