"""Photos as they are kept: looked at, turned upright, made smaller, and without their secrets."""

import io
import warnings
from typing import BinaryIO

from PIL import Image, ImageOps, UnidentifiedImageError

LARGEST_BYTES = 20_000_000
MOST_PIXELS = 60_000_000
LONGEST_SIDE = 1600  # pixels; a nameplate stays readable
QUALITY = 82
FORMATS = ["JPEG", "PNG", "WEBP"]


class NotAPhoto(Exception):
    """The file cannot be kept as a photo; the text says why and what to do."""


def cleaned(file: BinaryIO, size: int) -> bytes:
    """A photo as JPEG, at most LONGEST_SIDE pixels long, with nothing in it but the picture.

    A phone writes where and when a photo was taken, and by which device, into the file; none of
    that is kept. Raises NotAPhoto.
    """
    if size > LARGEST_BYTES:
        raise NotAPhoto(
            f"This photo has {size // 1_000_000} MB; at most {LARGEST_BYTES // 1_000_000} can be "
            "taken. Choose a smaller size in the camera."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            picture = _read(file)
    except NotAPhoto:
        raise
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        OSError,
        SyntaxError,  # what Pillow says of a broken PNG
        ValueError,
        Warning,
    ):
        raise NotAPhoto(
            "This file cannot be read as a photo. Send it as JPEG, PNG or WebP; a phone that takes "
            "other formats has a setting for the most compatible one."
        ) from None
    kept = io.BytesIO()
    picture.save(kept, "JPEG", quality=QUALITY, optimize=True)
    return kept.getvalue()


def _read(file):
    image = Image.open(file, formats=FORMATS)
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise NotAPhoto(
            f"This photo has {width * height // 1_000_000} megapixels; at most "
            f"{MOST_PIXELS // 1_000_000} can be taken. Choose a smaller size in the camera."
        )
    image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG need not be read at full size
    image = ImageOps.exif_transpose(image)
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    image = image.convert("RGBA")
    picture = Image.new("RGB", image.size, "white")  # a new one: nothing else comes along
    picture.paste(image, mask=image.getchannel("A"))
    return picture
