"""A book by somebody who means harm: refused by its path before a byte is written, and nothing of it stays."""

from __future__ import annotations

import hashlib
import json
from copy import deepcopy
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfWriter

from recipes.models import Solution
from studio.house.kept_files import FileRefused, keep
from studio.house.models import Person, StoredFile
from studio.kit.errors import DaybookError
from studio.whole.book.load import BookError, load_file, studio_is_empty
from studio.whole.book.orders import OrderFileError, read_order
from tests import builders
from tests.kept import path_of
from tests.whole.test_book import FILES, without_jobs

pytestmark = pytest.mark.django_db


def small() -> dict[str, object]:
    """The head, the house and the people of the demo's book: all that files need."""
    document = without_jobs()
    house = {name: value for name, value in document["house"].items() if name != "mark"}
    return {name: document[name] for name in ("format", "version", "written_on")} | {
        "house": house, "people": document["people"], "files": []}


def a_pdf() -> bytes:
    writer, out = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(out)
    return out.getvalue()


def described(content: bytes, **more: object) -> dict[str, object]:
    return {"sha256": hashlib.sha256(content).hexdigest(), "name": "paper.pdf", "media_type": "application/pdf",
            "size_bytes": len(content), "owner_only": True, **more}


@pytest.fixture
def load(tmp_path: Path):
    """Load a book, with files beside it under the sums they have."""
    def loaded(document: object, *files: bytes) -> None:
        path = tmp_path / "book.json"
        path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
        (tmp_path / "book.files").mkdir(exist_ok=True)
        for content in files:
            (tmp_path / "book.files" / hashlib.sha256(content).hexdigest()).write_bytes(content)
        load_file(path)
    return loaded


def nothing_stays(settings: object) -> bool:
    there = Path(settings.FILES)
    return studio_is_empty() and not [path for path in there.rglob("*") if path.is_file()]


@pytest.mark.parametrize("wrong", [
    {"sha256": "../../../etc/passwd"}, {"sha256": "A" * 64}, {"sha256": "0" * 63 + "/"},
    {"name": "../paper.pdf"}, {"name": "a\r\nSet-Cookie: x.pdf"}, {"name": 'a"; filename="b.html'}, {"name": ".hidden"},
    {"name": "a\\b.pdf"}, {"media_type": "text/html"}, {"media_type": "image/svg+xml"},
    {"media_type": "application/pdf\r\nX: y"}, {"media_type": "application/xhtml+xml"}, {"size_bytes": 3},
    {"media_type": "image/png"},
])
def test_a_file_is_described_as_files_are_or_the_book_is_refused(load, settings, wrong):
    good, content = a_pdf(), a_pdf() + b"% another\n"
    document = small() | {"files": [described(good), described(content, **wrong)]}
    with pytest.raises(BookError, match=r"^/files/1"):
        load(document, good, content)
    assert nothing_stays(settings)
    load(small() | {"files": [described(good), described(content)]}, good, content)
    assert StoredFile.objects.count() == 2


@pytest.mark.parametrize("content", [b"<script>alert(1)</script>", b"%PDF-1.7 <script>alert(1)</script>", b""])
def test_a_pdf_is_parsed_and_not_believed_by_its_name(load, settings, content):
    with pytest.raises(BookError, match=r"^/files/0: the file paper\.pdf is no application/pdf"):
        load(small() | {"files": [described(content)]}, content)
    assert nothing_stays(settings)


def test_a_link_beside_a_book_is_not_followed(load, settings, tmp_path):
    secret, content = tmp_path / "secret", a_pdf()
    secret.write_bytes(content)
    (tmp_path / "book.files").mkdir()
    (tmp_path / "book.files" / hashlib.sha256(content).hexdigest()).symlink_to(secret)
    with pytest.raises(BookError, match="not beside the book"):
        load(small() | {"files": [described(content)]})
    assert nothing_stays(settings)


def test_of_a_book_that_is_refused_at_its_end_no_file_stays(load, settings):
    content = a_pdf()
    document = small() | {"files": [described(content)], "places": [{"name": "shelf"}, {"name": "shelf"}]}
    document["materials"] = [{"code": "x", "name": "X"}]
    with pytest.raises(BookError):
        load(document, content)
    assert nothing_stays(settings)
    # what was there before is not taken away with it
    keep(content, name="mine.pdf", media_type="application/pdf", owner_only=True)
    with pytest.raises(BookError):
        load(document, content)
    assert [path.read_bytes() for path in Path(settings.FILES).rglob("*") if path.is_file()] == [content]


def written(place: str) -> str:
    """Return the text of a small book with something written at the tax share of its first rates."""
    rates = deepcopy(without_jobs()["rates"][:1])
    rates[0]["tax_share"] = "HERE"
    return json.dumps(small() | {"rates": rates}).replace('"HERE"', place)


@pytest.mark.parametrize(("figure", "path"), [
    ("1e400000", "/rates/0/tax_share"), ("9" * 5000, "/rates/0/tax_share"), ("-" + "9" * 4000 + ".5", "/rates/0/tax_share"),
    ("NaN", "/rates/0/tax_share"), ("Infinity", "/rates/0/tax_share"), (f'"{"9" * 5000}"', "/rates/0/tax_share"),
    ('"1e400000"', "/rates/0/tax_share"), ('"1E-400000"', "/rates/0/tax_share"), ('"0.\\u0000"', "/rates/0/tax_share"),
    (f'"{"1" * 200}"', "/rates/0"), ('"1e9"', "/rates/0/tax_share"),
])
def test_an_endless_figure_is_refused_by_its_path(load, settings, figure, path):
    with pytest.raises(BookError, match=f"^{path}"):
        load(written(figure))
    assert nothing_stays(settings)


def test_an_endless_amount_with_its_unit_is_refused_by_its_path(load, settings):
    for amount in ("1e400000 mm", "9" * 4000 + " mm", "9" * 90 + " mm", "1e99 mm"):
        rates = deepcopy(without_jobs()["rates"][:1])
        rates[0]["bench_width"] = amount
        with pytest.raises(BookError, match=r"^/rates/0"):
            load(small() | {"rates": rates})
        assert nothing_stays(settings)


@pytest.mark.parametrize(("opens", "closes", "path"), [("[", "]", "/rates/0/tax_share/0/0"), ('{"a":', "}", "/rates/0/tax_share/a/a")])
@pytest.mark.parametrize("levels", [70, 100_000])
def test_deep_nesting_is_refused_by_its_path(load, settings, opens, closes, path, levels):
    with pytest.raises(BookError, match=f"^{path}.*deeper than 60 levels"):
        load(written(opens * levels + "1" + closes * levels))
    assert nothing_stays(settings)


@pytest.mark.parametrize("begins_like_one", ["734e1853-5753-59d9-9c1e-0123456789ab", "3e235a9ace02ac3c270a", "12 e 100"])
def test_a_key_or_sum_that_begins_like_a_figure_is_none(load, begins_like_one):
    document = small()
    document["house"]["terms"] = begins_like_one
    load(document)


def test_brackets_in_a_text_are_no_levels(load):
    document = small()
    document["house"]["terms"] = "[" * 500 + '\\"{{' * 40
    load(document)
    assert Person.objects.exists()
    assert not Solution.objects.exists()


def test_an_order_file_has_the_same_limits(tmp_path):
    path = tmp_path / "order.json"
    path.write_text('{"lines": [{"quantity": ' + "9" * 5000 + "}]}")
    with pytest.raises(OrderFileError, match=r"^/lines/0/quantity"):
        read_order(path)
    path.write_text('{"lines": ' + "[" * 50_000 + "]" * 50_000 + "}")
    with pytest.raises(OrderFileError, match="deeper than 60 levels"):
        read_order(path)


def test_the_demos_own_files_are_what_they_say(load):
    assert FILES.is_dir()
    with pytest.raises(FileRefused):
        keep(b"x", name="a.html", media_type="text/html", owner_only=False)


@pytest.mark.parametrize(("media_type", "name", "shown"), [
    ("text/html", "a.html", "attachment"), ("image/svg+xml", "a.svg", "attachment"), ("text/xml", "a.xml", "attachment"),
    ("application/octet-stream", "original", "attachment"), ("text/csv", "a.csv", "attachment"),
    ("application/pdf", "a.pdf", "inline"), ("image/png", "a.png", "inline"),
    ("application/pdf", 'a"; x="é\r\nX-Y: z.pdf', "inline"),
])
def test_a_kept_file_is_shown_only_where_it_cannot_run(at_owner, media_type, name, shown):
    content = b"<script>alert(1)</script>"  # as an earlier program took it
    stored = StoredFile.objects.create(sha256=hashlib.sha256(content).hexdigest(), name=name, media_type=media_type,
                                       size_bytes=len(content), owner_only=False)
    path_of(stored.sha256).parent.mkdir(parents=True)
    path_of(stored.sha256).write_bytes(content)
    answer = at_owner.get(f"/files/{stored.sha256}/")
    assert answer.status_code == 200
    assert answer["Content-Disposition"].startswith(shown)
    assert "\n" not in answer["Content-Disposition"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    served_as = media_type if shown == "inline" or media_type == "text/csv" else "application/octet-stream"
    assert answer["Content-Type"] == served_as


def test_a_paper_of_a_lot_is_parsed(at_owner, owner, rates, settings):
    lot = builders.Workshop(owner).silver_lot
    for content in (b"%PDF-1.7 <script>alert(1)</script>", b"<html>"):
        sent = BytesIO(content)
        sent.name = "sheet.pdf"
        answer = at_owner.post(f"/stockroom/lots/{lot.pk}/papers/", {"kind": "sheet", "paper": sent}, follow=True)
        assert "not a PDF that can be read" in answer.content.decode()
        assert not lot.papers.exists()
        assert not list(Path(settings.FILES).rglob("*"))
    sent = BytesIO(a_pdf())
    sent.name = "sheet.pdf"
    at_owner.post(f"/stockroom/lots/{lot.pk}/papers/", {"kind": "sheet", "paper": sent})
    assert lot.papers.count() == 1


def test_a_full_disk_leaves_no_piece_of_a_file(settings, monkeypatch):
    def full(*given: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OSError, match="No space left"):
        keep(a_pdf(), name="a.pdf", media_type="application/pdf", owner_only=True)
    assert not [path for path in Path(settings.FILES).rglob("*") if path.is_file()]
    assert not StoredFile.objects.exists()
    assert issubclass(BookError, DaybookError)
