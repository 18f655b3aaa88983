"""A photograph is made anew: small, upright, without metadata; what is none, or a trap, is one line."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from web.observations import pictures
from web.observations.pictures import PictureError, clean, small

PLACE = b"GPS somewhere in a yard"
ORIENTATION, GPS, MAKER = 0x0112, 0x8825, 0x010F


def photograph(form: str = "JPEG", size: tuple[int, int] = (2400, 1200), mode: str = "RGB") -> bytes:
    """A picture with a white left half, a place, a maker, a comment, and turned on its side."""
    picture = Image.new(mode, size)
    picture.paste("white", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER] = 6, "Invented Cameras"
    exif.get_ifd(GPS)[1] = PLACE.decode()
    out = io.BytesIO()
    more = {"comment": PLACE, "xmp": PLACE, "icc_profile": PLACE} if form == "JPEG" else {}
    picture.save(out, form, exif=exif, **more)
    assert PLACE in out.getvalue()
    return out.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_photograph_is_small_upright_and_says_nothing_of_its_place(form: str) -> None:
    made = clean(photograph(form))
    assert (made.width_px, made.height_px) == (800, 1600)  # its camera lay on its side
    assert PLACE not in made.image
    assert b"Invented" not in made.image
    with Image.open(io.BytesIO(made.image)) as kept:
        assert (kept.format, kept.size, kept.mode) == ("JPEG", (800, 1600), "RGB")
        assert len(kept.getexif()) == 0
        assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        top, bottom = kept.getpixel((400, 100)), kept.getpixel((400, 1500))
    assert isinstance(top, tuple)
    assert isinstance(bottom, tuple)
    assert min(top) > 250
    assert max(bottom) < 5


def test_a_small_picture_stays_its_size_and_what_is_clear_becomes_white() -> None:
    clear = io.BytesIO()
    Image.new("RGBA", (40, 30), (0, 0, 0, 0)).save(clear, "PNG")
    made = clean(clear.getvalue())
    assert (made.width_px, made.height_px) == (40, 30)
    with Image.open(io.BytesIO(made.image)) as kept:
        assert kept.getpixel((20, 15)) == (255, 255, 255)


def test_a_lists_picture_is_smaller_still() -> None:
    with Image.open(io.BytesIO(small(clean(photograph()).image))) as kept:
        assert kept.size == (160, 320)


def png_header(width: int, height: int) -> bytes:
    """A PNG that says how large it is, with nearly nothing in it."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(100)))


@pytest.mark.parametrize(("width", "height"), [(7200, 7200), (10_000, 10_000), (60_000, 60_000)])
def test_what_would_be_too_large_unpacked_is_never_unpacked(width: int, height: int) -> None:
    with pytest.raises(PictureError, match="expected at most 51 million") as refused:
        clean(png_header(width, height))
    assert "\n" not in str(refused.value)


def test_the_largest_is_just_let_through(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "MOST_PIXELS", 2400 * 1200)
    assert clean(photograph()).width_px == 800
    monkeypatch.setattr(pictures, "MOST_PIXELS", 2400 * 1200 - 1)
    with pytest.raises(PictureError, match="found a picture of 3 million pixels"):
        clean(photograph())


def other(form: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, form)
    return out.getvalue()


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"%PDF-1.7",
        b"\xff\xd8\xff",
        other("GIF"),
        other("TIFF"),
        photograph()[:4000],
        photograph("PNG")[:60],
    ],
    ids=["nothing", "svg", "pdf", "three bytes", "gif", "tiff", "half a jpeg", "half a png"],
)
def test_what_is_no_whole_picture_of_the_three_kinds_is_one_line(raw: bytes) -> None:
    with pytest.raises(PictureError, match=r"^found .*, expected") as refused:
        clean(raw)
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 160
