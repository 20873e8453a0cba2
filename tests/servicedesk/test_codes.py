"""Codes on labels are read back by a program that has nothing to do with the one that drew them."""

import re
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from servicedesk.charts import codes
from servicedesk.forms.labels import SHEETS

ADDRESS = "https://ponds.example.com/q/ABCDEFGH23/"
LONG = "https://service-desk.a-rather-long-name-of-a-pond-company.example.com/q/ABCDEFGH23/"
STYLES = Path(codes.__file__).parent.parent / "static/servicedesk/labels.css"


def picture(svg, scale=4):
    """The drawing as pixels: its path is horizontal strokes of one module, from left to right."""
    side = int(re.search(r'viewBox="0 0 (\d+) \1"', svg)[1])
    image = Image.new("L", (side, side), 255)
    x = y = 0.0
    for verb, numbers in re.findall(r"([Mmh])([-\d. ]+)", svg[svg.index("qrline") :]):
        given = [float(number) for number in numbers.split()]
        if verb == "h":
            for step in range(int(given[0])):
                image.putpixel((int(x) + step, int(y)), 0)
            x += given[0]
        else:
            x, y = given if verb == "M" else (x + given[0], y + given[1])
    return image.resize((side * scale, side * scale), Image.Resampling.NEAREST)


@pytest.mark.parametrize("address", [ADDRESS, LONG, "http://127.0.0.1:8000/q/ZZZZZZZZZZ/"])
def test_what_is_drawn_is_read_back(address):
    # Source: ZXing-C++ 3.1.1, a decoder of its own
    (found,) = zxingcpp.read_barcodes(picture(codes.code_svg(address)))
    assert found.format == zxingcpp.BarcodeFormat.QRCode
    assert found.text == address
    assert found.ec_level == "Q"


def test_a_code_with_a_scratch_is_still_read():
    image = picture(codes.code_svg(ADDRESS))
    middle = image.width // 2
    image.paste(255, (middle, middle, middle + 20, middle + 20))
    (found,) = zxingcpp.read_barcodes(image)
    assert found.text == ADDRESS


def test_four_empty_modules_lie_around_every_code():
    # Source: ISO/IEC 18004, the quiet zone of a QR code is 4 modules wide on all sides
    image = picture(codes.code_svg(ADDRESS), scale=1)
    dark = image.point(lambda level: 255 - level).getbbox()
    assert dark == (4, 4, image.width - 4, image.height - 4)


def test_a_code_of_version_four_is_33_modules_wide():
    # Source: ISO/IEC 18004, version v has 17 + 4 v modules a side; 4-Q holds 46 bytes
    assert len(ADDRESS) <= 46
    assert codes.modules_across(ADDRESS) == 33 + 2 * 4


@pytest.mark.parametrize("kind", SHEETS)
def test_modules_are_wide_enough_to_be_scanned_on_every_sheet(kind):
    for address in [ADDRESS, LONG]:
        module_mm = SHEETS[kind].code_mm / codes.modules_across(address)
        assert module_mm >= codes.LEAST_MODULE_MM


@pytest.mark.parametrize("kind", SHEETS)
def test_the_style_sheet_draws_codes_as_large_as_is_reckoned_with(kind):
    rule = re.search(rf"\.sheet\.{kind} {{ --qr: (\d+)mm", STYLES.read_text())
    assert float(rule[1]) == SHEETS[kind].code_mm
