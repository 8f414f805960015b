"""How answers leave: HEAD without a body, nothing of people kept by browsers, no letter taken that nobody types."""

from __future__ import annotations

import gzip
import http.client
from urllib.parse import urlsplit

import pytest

from jobs.models import Customer
from studio.house.kept_files import keep
from tests import builders
from tests.serving import own_database, served

pytestmark = pytest.mark.django_db


def test_a_head_has_no_body_whatever_the_page_and_whoever_serves_it(tmp_path):
    with own_database(tmp_path, "daybook_heads") as environment, served(environment) as address:
        for path in ("/log-in/", "/health/", "/guides/", "/no-such-page/", "/", "/static/studio/bench.js", "/bench/worker.js"):
            plain = http.client.HTTPConnection(urlsplit(address).netloc, timeout=30)
            plain.request("GET", path)
            shown = plain.getresponse().read()
            plain.close()
            bare = http.client.HTTPConnection(urlsplit(address).netloc, timeout=30)
            bare.connect()
            bare.sock.sendall(f"HEAD {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n".encode())
            answer = b""
            while piece := bare.sock.recv(65536):
                answer += piece
            bare.close()
            heads, _, body = answer.partition(b"\r\n\r\n")
            assert heads.startswith(b"HTTP/1.1 "), path
            assert body == b"", path
            length = next(line for line in heads.lower().split(b"\r\n") if line.startswith(b"content-length:"))
            assert abs(int(length.partition(b":")[2]) - len(shown)) < 300, path  # the same but for a token


def test_a_head_is_bare_in_the_test_client_too(at_owner):
    assert at_owner.head("/").content == b""
    assert at_owner.get("/").content


def test_text_goes_out_compressed_its_length_telling_nothing_and_papers_as_they_are(at_owner, rates):
    asked = {"Accept-Encoding": "gzip"}
    pages = [at_owner.get("/stockroom/", headers=asked) for _ in range(12)]
    assert {page["Content-Encoding"] for page in pages} == {"gzip"}
    assert "Stockroom" in gzip.decompress(pages[0].content).decode()
    # the same page: its token is masked anew and bytes of chance stand in its head
    assert len({len(page.content) for page in pages}) > 3
    paper = keep(b"%PDF-1.4 " + b"net price " * 500, name="quote.pdf", media_type="application/pdf", owner_only=True)
    assert "Content-Encoding" not in at_owner.get(f"/files/{paper.sha256}/", headers=asked)
    assert "Content-Encoding" not in at_owner.get("/stockroom/")


def test_no_page_of_people_and_no_file_of_the_owner_is_kept_by_a_browser(at_owner, at_helper, owner, rates):
    customer = Customer.objects.create(name="Ida Moss", email="ida@example.com")
    secret = keep(b"%PDF-1.4 net price", name="quote.pdf", media_type="application/pdf", owner_only=True)
    for client, path in ((at_owner, "/"), (at_owner, f"/jobs/customers/{customer.pk}/"), (at_owner, "/jobs/"), (at_owner, "/studio/rates/"),
                         (at_owner, f"/files/{secret.sha256}/"), (at_helper, "/"), (at_helper, "/stockroom/"), (at_helper, "/bench/"),
                         (at_owner, "/no-such-page/"), (at_owner, "/jobs/customers/"), (at_helper, "/jobs/")):
        assert "no-store" in client.get(path)["Cache-Control"], path
    for path in ("/log-in/", "/first-owner/"):
        assert "no-store" in at_owner.get(path)["Cache-Control"], path


def test_the_bench_s_stored_plan_is_kept_by_its_worker_and_holds_no_price_and_no_contact(at_helper, morning_workshop):
    run = morning_workshop.run(morning_workshop.line())
    run.ticket.job.order.customer.email, run.ticket.job.order.customer.phone = "ida@example.com", "0100 55512"
    run.ticket.job.order.customer.save()
    plan = at_helper.get(f"/bench/{run.pk}/steps/")
    assert plan["Cache-Control"] == "private, no-cache"
    shown = plan.content.decode()
    assert not [word for word in ("ida@example.com", "0100 55512", "£", "GBP", "price") if word in shown]


def test_a_letter_that_nobody_types_is_refused_at_every_door_and_what_was_typed_comes_back(at_owner, rates):
    for path in ("/find/?q=a%00b", "/jobs/?q=%00", "/stockroom/?of=%00", "/bench/1/panes/%00/", "/files/a%00/"):
        answer = at_owner.get(path)
        assert answer.status_code in (400, 404), path
        assert "</html>" in answer.content.decode(), path
    material = builders.material("Salt")
    answer = at_owner.post("/stockroom/storage/place/", {"place": "shelf\x00 two", "material": material.pk})
    assert answer.status_code == 422
    assert "There is a letter in it that cannot be kept" in answer.content.decode()
    assert "shelf two" in answer.content.decode()
