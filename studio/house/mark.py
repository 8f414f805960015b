"""The studio's mark for the head of papers: a picture, made again from its pixels, kept by its content.

Pixels alone are kept: what else stood in the file (place, program, a second picture) does not travel on papers. SVG is
not taken: it may fetch things and hold scripts.
"""

from __future__ import annotations

from io import BytesIO

from PIL import Image, ImageOps

from studio.house.kept_files import keep
from studio.house.models import StoredFile
from studio.kit.errors import DaybookError
from studio.kit.pictures import NoPicture, TooLarge, decoded, reading_a_picture

MOST_BYTES, LARGEST_PX, SMALLEST_PX = 5_000_000, 1200, 16
FORMATS = ("PNG", "JPEG")


class NoMark(DaybookError):
    """A file that is no picture for a mark, or one too large to be opened safely."""


def mark_from(content: bytes) -> bytes:
    """Return a mark as PNG, upright, 1,200 pixels at most, see-through where it was. Raises NoMark."""
    if len(content) > MOST_BYTES:
        raise NoMark(f"That file is larger than {MOST_BYTES // 1_000_000} MB: send a smaller picture.", "picture")
    try:
        picture = _read(content)
    except TooLarge as large:
        raise NoMark("That picture has more pixels than a mark needs: send a smaller one.", "picture") from large
    except NoPicture as unread:
        raise NoMark("That file is not a picture that can be read: send a PNG or JPEG.", "picture") from unread
    if min(picture.size) < SMALLEST_PX:
        raise NoMark("That picture is too small to print.", "picture")
    picture.thumbnail((LARGEST_PX, LARGEST_PX))
    made = BytesIO()
    picture.save(made, "PNG", optimize=True)
    return made.getvalue()


def _read(content: bytes) -> Image.Image:
    with reading_a_picture("picture"):
        upright = ImageOps.exif_transpose(decoded(content, FORMATS))
        plain = upright.convert("RGBA" if "A" in upright.mode or "transparency" in upright.info else "RGB")
    plain.info = {}
    return plain


def keep_mark(png: bytes) -> StoredFile:
    """Keep a mark; everybody at the desk sees it, since it stands on tickets too."""
    return keep(png, name="mark.png", media_type="image/png", owner_only=False)
