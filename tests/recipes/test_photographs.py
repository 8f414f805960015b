"""Photographs from phones: set upright, freed of metadata, sized; what is none is refused and nothing is kept."""

from __future__ import annotations

import struct
import subprocess
import sys
import time
import zlib
from fractions import Fraction
from io import BytesIO
from threading import Thread

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile
from PIL.TiffImagePlugin import IFDRational

from recipes.models import TrialPhotograph
from recipes.photographs import (
    ALIGNED_PX,
    PRINT_PX,
    SCREEN_PX,
    Crop,
    NotAPhotograph,
    aligned,
    copies_of,
    open_photograph,
)
from recipes.trials.conducting import add_photograph, crop_photograph
from studio.house.kept_files import read
from studio.kit.pictures import PicturesWait, reading_a_picture
from tests import builders
from tests.serving import HOME

ORIENTATION, MAKE, GPS, COMMENT = 0x0112, 0x010F, 0x8825, b"taken by the back door"


def phone_photograph(orientation: int = 6, size: tuple[int, int] = (1600, 1200)) -> bytes:
    """A picture whose left half is red as the sensor saw it, with what a phone writes beside it."""
    picture = Image.new("RGB", size, "#2040c0")
    picture.paste((220, 30, 30), (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKE] = orientation, "Harbour Phones"
    exif.get_ifd(GPS)[2] = (IFDRational(51), IFDRational(30), IFDRational(0))
    content = BytesIO()
    picture.save(content, "JPEG", exif=exif, comment=COMMENT)
    return content.getvalue()


def opened(content: bytes) -> Image.Image:
    picture = Image.open(BytesIO(content))
    picture.load()
    return picture


@pytest.mark.parametrize(("orientation", "size", "red_at"), [
    # EXIF 2.3, tag 274: 1 as it is, 3 turned by 180°, 6 turned clockwise, 8 counter-clockwise
    (1, (1200, 900), (50, 450)), (3, (1200, 900), (1150, 450)), (6, (900, 1200), (450, 50)), (8, (900, 1200), (450, 1150)),
])
def test_orientation_is_applied(orientation, size, red_at):
    screen = opened(copies_of(phone_photograph(orientation))[0].screen_copy)
    assert screen.size == size
    red, _, blue = screen.getpixel(red_at)
    assert red > 180 > 120 > blue


def test_no_copy_carries_place_device_or_words():
    original = phone_photograph()
    assert b"Harbour Phones" in original
    assert COMMENT in original
    copies, _ = copies_of(original)
    for content in (copies.print_copy, copies.screen_copy, copies.aligned_copy):
        assert b"Harbour" not in content
        assert COMMENT not in content
        assert b"Exif" not in content
        assert not opened(content).getexif()


def test_sizes_for_paper_and_screen():
    copies, crop = copies_of(phone_photograph(1, (4000, 3000)))
    assert max(opened(copies.print_copy).size) == PRINT_PX
    assert max(opened(copies.screen_copy).size) == SCREEN_PX
    assert opened(copies.aligned_copy).size == (ALIGNED_PX, ALIGNED_PX)
    assert crop == Crop(left=Fraction(1, 8), top=Fraction(0), side=Fraction(1))


def bomb() -> bytes:
    """A PNG of a few hundred bytes that says it is 60,000 by 60,000 pixels."""
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 999)) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("content", "sentence"), [
    (b"", "not a photograph"), (b"<svg xmlns='http://www.w3.org/2000/svg'></svg>", "not a photograph"), (b"%PDF-1.7", "not a photograph"),
    (b"GIF89a\x01\x00\x01\x00\x00\x00\x00;", "not a photograph"), (bomb(), "more pixels"), (phone_photograph()[:6000], "not a photograph"),
    (b"\xff" * 31_000_000, "larger than 30 MB"), (builders.photograph(8, 8), "too small"),
])
def test_what_is_no_photograph_is_refused(content, sentence):
    with pytest.raises(NotAPhotograph, match=sentence):
        open_photograph(content)


_ON_ITS_OWN = """
import resource, sys
from io import BytesIO
from PIL import Image
if sys.argv[1] == "make":
    Image.MAX_IMAGE_PIXELS = None
    picture = Image.new("L", (10266, 7700), 90)
    picture.paste(200, (0, 0, 5000, 7700))
    picture.save(sys.argv[2], sys.argv[3], **({"progressive": True} if sys.argv[4:] else {}))
else:
    from recipes.photographs import NotAPhotograph, copies_of
    content = open(sys.argv[2], "rb").read()
    copies_of(open(sys.argv[3], "rb").read())  # what any photograph takes
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    try:
        print(Image.open(BytesIO(copies_of(content)[0].print_copy)).size)
    except NotAPhotograph as refused:
        print(refused)
    print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.parametrize(("how", "said"), [
    (["JPEG"], "(2400, 1800)"), (["JPEG", "in passes"], "more pixels than can be opened here"),
    (["PNG"], "more pixels than can be opened here"),
])
def test_a_photograph_of_79_million_pixels_takes_no_gigabyte(tmp_path, how, said):
    large, small = tmp_path / "large", tmp_path / "small"
    small.write_bytes(phone_photograph())
    subprocess.run([sys.executable, "-c", _ON_ITS_OWN, "make", str(large), *how], cwd=HOME, check=True)
    read_by = subprocess.run([sys.executable, "-c", _ON_ITS_OWN, "read", str(large), str(small)], cwd=HOME, check=True,
                             capture_output=True, text=True)
    sentence, megabytes = read_by.stdout.splitlines()
    assert said in sentence
    assert int(megabytes) < 300


def test_one_picture_is_read_at_a_time(monkeypatch):
    inside, most = [], []
    reading = JpegImageFile.load

    def watched(picture):
        inside.append(picture)
        most.append(len(inside))
        time.sleep(0.05)
        inside.remove(picture)
        return reading(picture)

    monkeypatch.setattr("PIL.JpegImagePlugin.JpegImageFile.load", watched)
    threads = [Thread(target=open_photograph, args=[phone_photograph()]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(most) == 1
    monkeypatch.setattr("studio.kit.pictures.WAIT_SECONDS", 0.01)
    with reading_a_picture("photograph"):
        refused: list[str] = []

        def another() -> None:
            try:
                open_photograph(phone_photograph())
            except PicturesWait as waits:
                refused.append(str(waits))

        other = Thread(target=another)
        other.start()
        other.join()
    assert refused == ["Other pictures are being read: wait a moment and send it again."]


def test_a_large_drawing_in_few_colours_is_made_smaller(tmp_path):
    content = BytesIO()
    Image.new("P", (7000, 5000)).save(content, "PNG")
    assert open_photograph(content.getvalue()).size == (3500, 2500)


@given(st.binary(max_size=300), st.integers(0, 2000))
def test_a_damaged_file_is_refused_never_an_error(noise, at):
    whole = phone_photograph(1, (64, 48))
    try:
        picture = open_photograph(whole[:at] + noise + whole[at + len(noise):])
    except NotAPhotograph:
        return
    assert picture.mode == "RGB"


@given(st.fractions(0, 1), st.fractions(0, 1), st.fractions("0.05", 1))
def test_any_crop_is_a_square_inside_the_picture(left, top, side):
    square = opened(aligned(Image.new("RGB", (300, 200)), Crop(left=left, top=top, side=side)))
    assert square.width == square.height >= 16


@pytest.mark.django_db
def test_the_original_is_kept_for_the_owner_alone(owner, rates, at_helper):
    trial = builders.trial(builders.Workshop(owner).recipe, owner)
    content, key = phone_photograph(), builders.key()
    for _ in range(2):
        photograph = add_photograph(key=key, trial=trial, by=owner, side="front", content=content)
    assert TrialPhotograph.objects.count() == 1
    assert read(photograph.original) == content
    assert at_helper.get(f"/files/{photograph.original.sha256}/").status_code == 404
    shown = at_helper.get(f"/files/{photograph.screen_copy.sha256}/")
    assert b"Harbour" not in shown.content
    before = photograph.aligned_copy_id
    crop_photograph(photograph, Crop(left=Fraction(1, 4), top=Fraction(1, 4), side=Fraction(1, 2)))
    photograph.refresh_from_db()
    assert photograph.aligned_copy_id != before
    assert read(photograph.original) == content


@pytest.mark.django_db
def test_a_refused_file_stands_beside_its_reason_and_nothing_is_kept(owner, rates, at_owner):
    from django.core.files.uploadedfile import SimpleUploadedFile

    trial = builders.trial(builders.Workshop(owner).recipe, owner)
    answer = at_owner.post(f"/finishes/trials/{trial.number}/photograph/", {
        "key": builders.key(), "side": "front", "photograph": SimpleUploadedFile("x.jpg", bomb(), "image/jpeg")})
    assert answer.status_code == 422
    assert "more pixels" in answer.content.decode()
    assert not TrialPhotograph.objects.exists()
