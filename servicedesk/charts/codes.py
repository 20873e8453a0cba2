"""QR codes, as drawings that grow and shrink without loss."""

import segno
from django.utils.safestring import SafeString, mark_safe

CORRECTION = "q"  # a quarter of the words may be lost: sun, scratches and lime on a cabinet
QUIET_MODULES = 4  # ISO/IEC 18004, clause on the quiet zone
LEAST_MODULE_MM = 0.4  # our judgement; printers and phones manage less on a clean desk


def code_of(address: str) -> segno.QRCode:
    """The QR code of an address, as small as its length allows."""
    return segno.make(address, error=CORRECTION, micro=False, boost_error=False)


def modules_across(address: str) -> int:
    """Modules from edge to edge, the quiet zone on both sides with them."""
    return code_of(address).symbol_size(border=QUIET_MODULES)[0]


def code_svg(address: str) -> SafeString:
    """Black on white whatever the page looks like; its size is for the style sheet to give."""
    drawn = code_of(address).svg_inline(
        border=QUIET_MODULES, omitsize=True, dark="#000", light="#fff"
    )
    return mark_safe(drawn)  # drawn by a library from modules; no word of the address is in it
