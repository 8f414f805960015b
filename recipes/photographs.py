"""Photographs as they come from a phone: refused when they are none, set upright, freed of metadata, sized.

The original stays as it came, for the owner alone; every copy that a page, paper or customer sees is made again
from the pixels, so that place, time and device do not travel with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from io import BytesIO

from PIL import Image, ImageCms, ImageOps

from studio.kit.errors import DaybookError
from studio.kit.pictures import MOST_HELD, NoPicture, TooLarge, decoded, reading_a_picture

MOST_BYTES = 30_000_000
PRINT_PX, SCREEN_PX, ALIGNED_PX = 2400, 1200, 900
#: what phones and cameras send
FORMATS = ("JPEG", "PNG", "WEBP")
MEDIA_TYPE = "image/jpeg"


class NotAPhotograph(DaybookError):
    """A file that is not a picture, or one too large to be opened safely."""


@dataclass(frozen=True, kw_only=True)
class Crop:
    """A square to compare by: left and top as shares of width and height, side as a share of the shorter side."""

    left: Fraction
    top: Fraction
    side: Fraction


@dataclass(frozen=True, kw_only=True)
class Copies:
    """JPEG bytes without metadata: for paper, for the screen, and the square crop that comparisons align by."""

    print_copy: bytes
    screen_copy: bytes
    aligned_copy: bytes


def centre_crop(width: int, height: int) -> Crop:
    """Return the largest square in the middle."""
    side = min(width, height)
    return Crop(left=Fraction(width - side, 2 * width), top=Fraction(height - side, 2 * height), side=Fraction(1))


def open_photograph(content: bytes) -> Image.Image:
    """Return a picture's pixels, upright, in sRGB, without anything else that was in the file.

    Raises NotAPhotograph.
    """
    if len(content) > MOST_BYTES:
        raise NotAPhotograph(f"That file is larger than {MOST_BYTES // 1_000_000} MB: send a smaller photograph.",
                             "photograph")
    try:
        with reading_a_picture("photograph"):
            sent = decoded(content, FORMATS)
            plain = _in_srgb(ImageOps.exif_transpose(sent), sent.info.get("icc_profile"))
    except TooLarge as large:
        raise NotAPhotograph(_TOO_MANY, "photograph") from large
    except NoPicture as unread:
        raise NotAPhotograph("That file is not a photograph that can be read: send a JPEG, PNG or WebP.",
                             "photograph") from unread
    if plain.width < 32 or plain.height < 32:
        raise NotAPhotograph("That picture is too small to show anything.", "photograph")
    plain.info = {}
    return plain


_TOO_MANY = (f"That picture has more pixels than can be opened here: send it with {MOST_HELD // 1_000_000} million at "
             "most.")


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    if picture.mode in ("RGBA", "LA", "PA", "P"):
        layered = picture.convert("RGBA")
        ground = Image.new("RGBA", layered.size, "white")
        picture = Image.alpha_composite(ground, layered)
    flat = picture.convert("RGB")
    if not profile:
        return flat
    try:
        own = ImageCms.ImageCmsProfile(BytesIO(profile))
        return ImageCms.profileToProfile(flat, own, ImageCms.createProfile("sRGB")) or flat
    except (ImageCms.PyCMSError, OSError):  # a broken or grey profile: the pixels are taken as they are
        return flat


def copies_of(content: bytes, crop: Crop | None = None) -> tuple[Copies, Crop]:
    """Return the copies of a photograph and the crop they were made with (the middle, where none is given).

    Raises NotAPhotograph.
    """
    with reading_a_picture("photograph"):
        picture = open_photograph(content)
        kept = crop or centre_crop(picture.width, picture.height)
        return Copies(
            print_copy=_sized(picture, PRINT_PX), screen_copy=_sized(picture, SCREEN_PX),
            aligned_copy=aligned(picture, kept),
        ), kept


def aligned(picture: Image.Image, crop: Crop) -> bytes:
    """Return the square that comparisons align by, cut where the crop says, inside the picture."""
    side = max(int(crop.side * min(picture.width, picture.height)), 16)
    left = min(int(crop.left * picture.width), picture.width - side)
    top = min(int(crop.top * picture.height), picture.height - side)
    square = picture.crop((max(left, 0), max(top, 0), max(left, 0) + side, max(top, 0) + side))
    wanted = min(side, ALIGNED_PX)  # never drawn larger than it was taken
    return _jpeg(square.resize((wanted, wanted), Image.Resampling.LANCZOS) if wanted < side else square)


def _sized(picture: Image.Image, longest: int) -> bytes:
    smaller = picture.copy()
    smaller.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    return _jpeg(smaller)


def _jpeg(picture: Image.Image) -> bytes:
    picture.info = {}
    out = BytesIO()
    picture.save(out, "JPEG", quality=86, optimize=True)
    return out.getvalue()
