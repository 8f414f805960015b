"""What is too long is refused before it is read, in words, with what was typed."""

from __future__ import annotations

from io import BytesIO
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from jobs.models import Customer, Job, JobPhotograph
from tests import builders


def _said(response: object) -> str:
    return " ".join(response.content.decode().split())


def test_a_note_of_ten_megabytes_is_refused_and_what_was_typed_beside_it_is_shown(at_owner, rates):
    sent = {"name": "Ada Fenwick", "notes": "blank & blotchy " * 650_000, "key": str(builders.key())}
    answer = at_owner.generic("POST", "/jobs/customers/1/", urlencode(sent),
                              content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 413
    said = _said(answer)
    assert "That is more text than can be saved at once: 1.5 MB" in said
    assert "<dd>Ada Fenwick</dd>" in said
    assert "blank &amp; blotchy" in said
    assert "… and so on" in said
    assert len(answer.content) < 100_000
    assert not Customer.objects.exists()


def test_a_long_text_beside_a_picture_is_refused_too(at_owner, rates):
    answer = at_owner.post("/jobs/customers/1/", {"name": "Ada", "notes": "x" * 10_000_000})
    assert answer.status_code == 413
    assert "more text than can be saved at once" in _said(answer)
    by_script = at_owner.post("/jobs/customers/1/", {"name": "Ada", "notes": "x" * 2_000_000},
                              headers={"HX-Request": "true"})
    assert by_script.status_code == 422  # the page's script shows no other refusal


class Unread(BytesIO):
    """A body that must not be read."""

    def read(self, *given: object) -> bytes:
        raise AssertionError("It was read before it was refused.")


@pytest.mark.parametrize(("logged_in", "length", "most"), [(True, 66_000_000, "65 MB"), (False, 300_000, "0.2 MB")])
def test_by_its_length_it_is_refused_before_a_byte_is_read(at_owner, logged_in, length, most):
    client = at_owner if logged_in else Client()
    answer = client.generic("POST", "/log-in/", b"", content_type="multipart/form-data; boundary=x",
                            CONTENT_LENGTH=str(length), **{"wsgi.input": Unread()})
    assert answer.status_code == 413
    assert f"larger than {most}" in _said(answer)


def test_no_file_is_left_by_an_upload_that_failed(at_owner, owner, rates, settings, tmp_path):
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path / "sent")
    (tmp_path / "sent").mkdir()
    job = builders.Workshop(owner).order().job
    assert isinstance(job, Job)
    for content in (b"\xff" * 31_000_000, b"no picture " * 400_000):
        picture = SimpleUploadedFile("IMG_1.jpg", content, "image/jpeg")
        answer = at_owner.post(f"/jobs/{job.number}/photographs/", {"photograph": picture, "kind": "site",
                                                                   "key": str(builders.key())})
        assert answer.status_code in (200, 422)
    assert not JobPhotograph.objects.exists()
    assert not [path for path in tmp_path.rglob("*") if path.is_file() and path.name != "latest-time-seen"]
