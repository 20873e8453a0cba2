"""On paper labels lie where the sheets have them, and no page carries anything else."""

import re

import pytest
import zxingcpp
from PIL import Image

from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
SHEETS = {  # (labels, page in points, first label's corner and size in mm)
    # Source of the page sizes: ISO 216 (A4) and ANSI/ASME Y14.1 (Letter); those of labels are
    # common practice, no source
    "a4-21": (21, (595, 842), (7.2, 15.1, 63.5, 38.1)),
    "a4-8": (8, (595, 842), (4.65, 13.1, 99.1, 67.7)),
    "letter-10": (10, (612, 792), (4.0, 12.7, 101.6, 50.8)),
    "letter-6": (6, (612, 792), (4.0, 12.7, 101.6, 84.6)),
}
FIRST = """() => { const r = document.querySelector('.sheet li').getBoundingClientRect();
  return [r.x, r.y, r.width, r.height].map(px => px * 25.4 / 96); }"""


@pytest.mark.parametrize("kind", SHEETS)
def test_labels_lie_where_the_sheet_has_them(page, sign_in, kind, tmp_path):
    each, paper, corner = SHEETS[kind]
    make.firm()
    for _ in range(each + 1):
        make.system()
    sign_in(page, make.manager())
    page.goto("/labels/")
    page.check("input[name=which][value=all]")
    page.select_option("#id_sheet", kind)
    page.get_by_role("button", name="Lay out the labels").click()
    page.wait_for_selector(".sheet")
    printed = page.pdf(prefer_css_page_size=True)
    sizes = [tuple(map(float, box.split())) for box in re.findall(rb"/MediaBox \[([^]]+)", printed)]
    assert len(sizes) == 2
    assert {(round(wide), round(high)) for _x, _y, wide, high in sizes} == {paper}
    page.emulate_media(media="print")
    page.set_viewport_size({"width": round(paper[0] / 0.75), "height": round(paper[1] / 0.75)})
    assert page.evaluate(FIRST) == pytest.approx(corner, abs=0.3)
    page.screenshot(path=tmp_path / "sheet.png")
    with Image.open(tmp_path / "sheet.png") as picture:
        found = zxingcpp.read_barcodes(picture)
    assert len({code.text for code in found}) == each
