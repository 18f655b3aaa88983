"""A photograph from a phone, made into one that may be kept: decoded, made small, written anew as JPEG.

Nothing that a stranger sent is ever kept or served as it came. What is kept has no metadata (no place, no
time, no camera, no comment), stands upright, and is at most 1600 pixels wide or high. What is no picture, or
would be too large once unpacked, is refused in one line, before it is unpacked.
"""

from __future__ import annotations

import io
import warnings
from typing import NamedTuple

from PIL import Image, ImageOps, UnidentifiedImageError

FORMATS = ("JPEG", "PNG", "WEBP")
# What a phone's camera makes today (50 million); unpacked it is 150 MB, which a small computer bears once.
MOST_PIXELS = 51_000_000
LARGEST_PX = 1600  # twice a phone's screen: a crack can be looked at closely
SMALL_PX = 320
QUALITY = 82  # beyond this the file grows and the eye sees nothing; common practice, no source


class PictureError(Exception):
    """What was sent is no picture that can be kept: one line for a person."""


class Picture(NamedTuple):
    """A JPEG of our own making."""

    width_px: int
    height_px: int
    image: bytes


def clean(raw: bytes) -> Picture:
    """Return a picture that may be kept. Raises PictureError."""
    return _jpeg(raw, LARGEST_PX)


def small(kept: bytes) -> bytes:
    """Return a picture of ours as small as a list shows it."""
    return _jpeg(kept, SMALL_PX).image


def _jpeg(raw: bytes, largest_px: int) -> Picture:
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(raw), formats=FORMATS) as opened:
                _not_too_large(opened)
                return _written(_upright(opened, largest_px))
        except PictureError:
            raise
        except (Image.DecompressionBombWarning, Image.DecompressionBombError):
            raise PictureError(_too_large("far too many")) from None
        except UnidentifiedImageError:
            raise PictureError("found no picture, expected a JPEG, PNG or WebP") from None
        except Exception as error:  # a decoder's own words for a file that is broken, or made to break it
            raise PictureError(f"found a broken picture ({_few(error)}), expected a whole one") from None


def _not_too_large(opened: Image.Image) -> None:
    pixels = opened.width * opened.height
    if pixels > MOST_PIXELS:
        raise PictureError(_too_large(f"{pixels / 1e6:.0f} million"))


def _too_large(found: str) -> str:
    return f"found a picture of {found} pixels, expected at most {MOST_PIXELS / 1e6:.0f} million"


def _upright(opened: Image.Image, largest_px: int) -> Image.Image:
    """Return the picture as it is looked at, small, in plain red, green and blue on white."""
    opened.draft("RGB", (largest_px, largest_px))  # a JPEG is unpacked no larger than need be
    picture = ImageOps.exif_transpose(opened)
    picture.thumbnail((largest_px, largest_px))
    if picture.mode in ("RGBA", "LA", "PA", "P"):
        picture = picture.convert("RGBA")
        ground = Image.new("RGB", picture.size, "white")
        ground.paste(picture, mask=picture.getchannel("A"))
        return ground
    return picture.convert("RGB")


def _written(picture: Image.Image) -> Picture:
    bare = Image.new("RGB", picture.size)
    bare.paste(picture)  # the pixels, and nothing that came with them
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Picture(bare.width, bare.height, out.getvalue())


def _few(error: Exception) -> str:
    return " ".join(str(error).split())[:80] or type(error).__name__
