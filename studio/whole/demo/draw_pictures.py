"""Draw the demo's pictures of finishes: illustrations made from seeded noise, each marked as one.

    python -m studio.whole.demo.draw_pictures FOLDER
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageChops, ImageDraw, ImageEnhance, ImageFilter, ImageFont, ImageOps
from PIL.Image import Image as Picture

SIDE = 720
MARK = "Illustration, not a photograph"
FACE = Path(__file__).resolve().parents[3] / "static" / "fonts" / "sans" / "SourceSansPro-Semibold.ttf"


def cloud(rng: random.Random, cells: int, high: int | None = None) -> Picture:
    """Return smooth grey noise: random cells drawn large. high: cells down the other side."""
    rows = high or cells
    return Image.frombytes("L", (cells, rows), rng.randbytes(cells * rows)).resize(
        (SIDE, SIDE), Image.Resampling.BICUBIC
    )


def clouds(rng: random.Random, *sizes: int) -> Picture:
    """Return clouds of several sizes laid over one another, the coarse ones counting more."""
    layer = cloud(rng, sizes[0])
    for size in sizes[1:]:
        layer = Image.blend(layer, cloud(rng, size), 0.35)
    return ImageOps.autocontrast(layer)


def silver(rng: random.Random) -> Picture:
    """Return a plain silvered ground with the soft light of a room in it."""
    light = ImageOps.colorize(clouds(rng, 3, 5), "#8d979c", "#e9edee")
    return light.filter(ImageFilter.GaussianBlur(18))


def over(ground: Picture, colour: str, mask: Picture) -> Picture:
    return Image.composite(Image.new("RGB", ground.size, colour), ground, mask)


def steep(mask: Picture, threshold: int, softness: int = 30) -> Picture:
    """Return a mask that turns on around a threshold."""
    return mask.point(lambda level: max(0, min(255, int((level - threshold) * 255 / softness))))


def edges(rng: random.Random, width: int) -> Picture:
    """Return a mask that is strong along the rim, uneven as a hand leaves it."""
    rim = Image.new("L", (SIDE, SIDE), 255)
    ImageDraw.Draw(rim).rounded_rectangle((width, width, SIDE - width, SIDE - width), width, fill=0)
    rim = rim.filter(ImageFilter.GaussianBlur(width * 0.8))
    return ImageChops.multiply(rim, clouds(rng, 9, 23, 60))


def foxed(rng: random.Random) -> Picture:
    picture = over(silver(rng), "#4b4338", steep(edges(rng, 70), 60, 70))
    picture = over(picture, "#6b5a41", steep(clouds(rng, 40, 110), 190, 40).point(lambda level: level // 2))
    return over(picture, "#2b2722", steep(clouds(rng, 90, 200), 214, 20))


def ridged(rng: random.Random) -> Picture:
    lines = ImageChops.offset(cloud(rng, 4, 38), 20, 0).filter(ImageFilter.GaussianBlur(2))
    picture = Image.blend(silver(rng), ImageOps.colorize(lines, "#5a656b", "#f4f6f6"), 0.55)
    return over(picture, "#3d4a52", steep(cloud(rng, 3, 60), 205, 25).point(lambda level: level // 2))


def quiet(rng: random.Random) -> Picture:
    return ImageEnhance.Brightness(silver(rng)).enhance(1.05)


def smoke(rng: random.Random) -> Picture:
    veil = clouds(rng, 5, 9, 20)
    return over(over(silver(rng), "#5b4636", steep(veil, 110, 150)), "#24303b", steep(veil, 205, 60))


def salt(rng: random.Random) -> Picture:
    grains = steep(clouds(rng, 70, 160), 168, 50)
    return over(over(silver(rng), "#cfd6d8", grains), "#7b868b", steep(clouds(rng, 120, 220), 210, 20))


def drowned(rng: random.Random) -> Picture:
    clear = steep(clouds(rng, 6, 13, 30), 128, 60)
    picture = over(silver(rng), "#39453f", clear)
    return over(picture, "#a9925c", steep(edges(rng, 110), 90, 60).point(lambda level: level // 2))


def bronze(rng: random.Random) -> Picture:
    return ImageOps.colorize(ImageOps.grayscale(foxed(rng)), "#2a2017", "#d8b98e", "#8f7450")


def ember(rng: random.Random) -> Picture:
    picture = over(silver(rng), "#7b3a1f", steep(edges(rng, 120), 70, 80))
    return over(picture, "#1d1a19", steep(edges(rng, 60), 95, 50))


DRAWN: dict[str, Callable[[random.Random], Picture]] = {
    "foxed-harbour": foxed, "ridge-water": ridged, "quiet-silver": quiet, "smoke-veil": smoke, "winter-salt": salt,
    "drowned-leaf": drowned, "bronze-tide": bronze, "ember-edge": ember,
}


def _back(front: Picture) -> Picture:
    """Return the back: mirrored, duller and warmer, as the coated side looks."""
    dull = ImageEnhance.Contrast(ImageOps.mirror(front)).enhance(0.6)
    return Image.blend(dull, Image.new("RGB", dull.size, "#8a8378"), 0.35)


def _marked(picture: Picture) -> Picture:
    font, draw = ImageFont.truetype(FACE, 20), ImageDraw.Draw(picture)
    draw.rectangle((0, SIDE - 34, SIDE, SIDE), fill="#F7F5EF")
    draw.text((14, SIDE - 30), MARK, fill="#1E2327", font=font)
    return picture


def drawn(code: str, side: str) -> bytes:
    """Return the JPEG of a finish's side; the same every time."""
    front = DRAWN[code](random.Random(code))
    content = BytesIO()
    _marked(front if side == "front" else _back(front)).save(content, "JPEG", quality=82)
    return content.getvalue()


def drawn_trial(code: str, number: int, side: str, strength: float) -> bytes:
    """Return the JPEG of a trial's side: its finish's effect, stronger or weaker, marked as an illustration."""
    rng = random.Random(f"{code}-{number}")
    front = Image.blend(silver(rng), DRAWN[code](rng), strength)
    content = BytesIO()
    picture = _marked(front if side == "front" else _back(front)).resize((420, 420), Image.Resampling.LANCZOS)
    picture.save(content, "JPEG", quality=74)
    return content.getvalue()


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name in DRAWN:
        for which in ("front", "back"):
            (folder / f"{name}-{which}.jpg").write_bytes(drawn(name, which))
