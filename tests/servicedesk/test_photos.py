"""Photos: only pictures come in, small and without what a phone writes into them."""

import io
import zlib

import pytest
from PIL import Image

from servicedesk import photos

GPS, TAKEN_AT, ORIENTATION, MODEL = 0x8825, 0x0132, 0x0112, 0x0110


def phone_photo(size=(3000, 2000), turned=6):
    """A JPEG with the place, the time and the device in it, lying on its side."""
    exif = Image.Exif()
    exif[ORIENTATION], exif[TAKEN_AT], exif[MODEL] = turned, "2026:05:04 10:00:00", "Pocket 3"
    exif.get_ifd(GPS).update({1: "N", 2: (44.0, 30.0, 43.2), 3: "W", 4: (94.0, 14.0, 27.6)})
    made = io.BytesIO()
    colours = Image.linear_gradient("L").resize(size).convert("RGB")
    colours.save(made, "JPEG", exif=exif, comment=b"Gate code 4711")
    return made.getvalue()


def kept(content):
    return Image.open(io.BytesIO(photos.cleaned(io.BytesIO(content), len(content))))


def test_photo_keeps_the_picture_and_loses_place_time_and_device():
    content = phone_photo()
    assert Image.open(io.BytesIO(content)).getexif().get_ifd(GPS)

    found = kept(content)

    assert dict(found.getexif()) == {}
    assert "exif" not in found.info
    assert "comment" not in found.info
    assert "icc_profile" not in found.info
    assert b"4711" not in photos.cleaned(io.BytesIO(content), len(content))


def test_photo_stands_upright_and_is_made_smaller():
    found = kept(phone_photo())

    assert found.format == "JPEG"
    assert found.size == (1067, 1600)


def test_small_photo_is_not_blown_up():
    assert kept(phone_photo((640, 480), turned=1)).size == (640, 480)


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "L", "CMYK", "1"])
def test_every_kind_of_picture_becomes_a_plain_photo(mode):
    made = io.BytesIO()
    Image.new("L", (40, 30), 200).convert("RGB").convert(mode).save(
        made, "JPEG" if mode == "CMYK" else "PNG"
    )

    assert kept(made.getvalue()).mode == "RGB"


def test_what_is_seen_through_becomes_white():
    made = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(made, "PNG")

    assert kept(made.getvalue()).getpixel((10, 10)) == (255, 255, 255)


def bomb():
    """A PNG of a few bytes that claims to be 40 000 pixels wide and high."""
    made = io.BytesIO()
    Image.new("L", (1, 1)).save(made, "PNG")
    content = bytearray(made.getvalue())
    content[16:24] = (40_000).to_bytes(4, "big") * 2
    content[29:33] = zlib.crc32(content[12:29]).to_bytes(4, "big")
    return bytes(content)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"%PDF-1.7 not a photo",
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        b"GIF89a\x01\x00\x01\x00\x00\x00\x00;",
        phone_photo()[:2000],
        bomb(),
    ],
    ids=["empty", "pdf", "svg", "gif", "cut off", "bomb"],
)
def test_what_is_no_photo_is_refused_with_what_to_do(content):
    with pytest.raises(photos.NotAPhoto, match="as JPEG, PNG or WebP"):
        kept(content)


def test_photo_that_is_too_large_is_refused_before_it_is_read():
    with pytest.raises(photos.NotAPhoto, match="21 MB; at most 20"):
        photos.cleaned(io.BytesIO(b""), 21_500_000)


def test_photo_with_too_many_pixels_is_refused():
    made = io.BytesIO()
    Image.new("1", (9_000, 9_000)).save(made, "PNG")

    with pytest.raises(photos.NotAPhoto, match="81 megapixels; at most 60"):
        kept(made.getvalue())
