"""What a file that was sent in really is: parsed, not believed by its name or its first letters."""

from __future__ import annotations

import logging
from io import BytesIO

from PIL import Image
from pypdf import PdfReader
from pypdf.errors import PyPdfError

from studio.kit.errors import DaybookError
from studio.kit.pictures import MOST_PIXELS, NoPicture, TooLarge, reading_a_picture

_PICTURES = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}
MOST_PAGES = 3000
#: pypdf tells of every small fault of a paper; whoever sent it cannot mend it
logging.getLogger("pypdf").setLevel(logging.CRITICAL)


class NotWhatItSays(DaybookError):
    """A file that is not of the type it was sent as."""


def check_content(content: bytes, media_type: str, field: str = "") -> None:
    """Refuse a file that is not of its type; of a type that nothing parses, any is taken. Raises NotWhatItSays."""
    if media_type == "application/pdf":
        _check_pdf(content, field)
    elif media_type in _PICTURES:
        _check_picture(content, media_type, field)


def _check_pdf(content: bytes, field: str) -> None:
    refused = NotWhatItSays("That file is not a PDF that can be read: save it as PDF again, and send that.", field)
    if b"%PDF-" not in content[:1024]:
        raise refused
    try:
        paper = PdfReader(BytesIO(content))
        # locked against changing, as sheets from suppliers often are, its pages cannot be counted without a key
        pages = 1 if paper.is_encrypted and "/Root" in paper.trailer else paper.get_num_pages()
    except (PyPdfError, ValueError, TypeError, KeyError, AttributeError, IndexError, OSError, RecursionError,
            OverflowError, AssertionError, NotImplementedError, MemoryError) as unread:
        raise refused from unread
    if not 1 <= pages <= MOST_PAGES:
        raise refused


def _check_picture(content: bytes, media_type: str, field: str) -> None:
    try:
        with reading_a_picture(field):
            picture = Image.open(BytesIO(content), formats=(_PICTURES[media_type],))
            if picture.width * picture.height > MOST_PIXELS:
                raise Image.DecompressionBombError
            picture.verify()
    except TooLarge as large:
        raise NotWhatItSays("That picture has more pixels than can be opened here.", field) from large
    except NoPicture as unread:
        raise NotWhatItSays("That file is not a picture that can be read.", field) from unread
