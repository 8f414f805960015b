"""Pixels of a picture that somebody sent: its size is asked before it is decoded, and one is decoded at a time.

A picture's file says little of what it becomes: a few kilobytes may stand for gigabytes. Bytes, then the size that the
file's head says, are refused first; a JPEG is decoded no larger than it is needed, so that the largest photograph taken
costs a fraction of its pixels.
"""

from __future__ import annotations

import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from threading import RLock

from PIL import Image, ImageFile, UnidentifiedImageError

from studio.kit.errors import DaybookError

#: of a plain JPEG, which is decoded smaller at once
MOST_PIXELS = 80_000_000
#: of what a decoder holds whole before a smaller copy can be made: a JPEG sent in passes, PNG, WebP
MOST_HELD = 40_000_000
#: what is worked with further: more than a phone takes by itself, and than any copy needs
MOST_DECODED = 25_000_000
#: so long another picture may take before a second is sent back
WAIT_SECONDS = 30.0

Image.init()  # without it Pillow does not know the rarer formats until it has met them
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
#: one at a time: for the memory it takes, and because the paper renderer lets Pillow fill half a picture with
#: grey, for the whole process
_reading = RLock()
_NO_PICTURE = (
    UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, KeyError, IndexError, TypeError,
    AttributeError, ZeroDivisionError, MemoryError, OverflowError, struct.error,
)


class NoPicture(DaybookError):
    """A file whose pixels cannot be read."""


class TooLarge(NoPicture):
    """A picture with more pixels, or a file with more bytes, than may be opened."""


class PicturesWait(DaybookError):
    """Another picture is being read for so long that this one was not begun."""


@contextmanager
def reading_a_picture(field: str) -> Iterator[None]:
    """Hold the turn to read a picture, and name what a decoder stumbles over; the same thread may take it twice.

    field: whom a refusal stands beside. Raises NoPicture, TooLarge, PicturesWait.
    """
    if not _reading.acquire(timeout=WAIT_SECONDS):
        raise PicturesWait("Other pictures are being read: wait a moment and send it again.", field)
    lenient, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # damaged metadata does not matter: it is not kept
            yield
    except Image.DecompressionBombError as bomb:
        raise TooLarge("That picture has more pixels than can be opened here.", field) from bomb
    except _NO_PICTURE as unread:
        raise NoPicture("That file is not a picture that can be read.", field) from unread
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = lenient
        _reading.release()


def decoded(content: bytes, formats: tuple[str, ...]) -> Image.Image:
    """Return a picture's pixels as they were sent, not turned, MOST_DECODED at most. Inside `reading_a_picture` alone.
    """
    picture = Image.open(BytesIO(content), formats=formats)
    count, is_plain = picture.width * picture.height, picture.format == "JPEG" and "progressive" not in picture.info
    if count > (MOST_PIXELS if is_plain else MOST_HELD):
        raise Image.DecompressionBombError
    times = next(times for times in (1, 2, 4, 8) if count <= MOST_DECODED * times**2)
    picture.draft(None, (picture.width // times, picture.height // times))  # of a JPEG; any other stays as it is
    picture.load()
    if picture.width * picture.height <= MOST_DECODED * 1.1:
        return picture
    return (picture.convert("RGBA") if picture.mode == "P" else picture).reduce(times)
