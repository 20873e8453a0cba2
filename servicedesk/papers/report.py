"""The service report as a tagged PDF (PDF/UA-1), from the facts that its page shows too."""

import io
import json
import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import font_source_sans_pro
import typst
from django.utils.translation import gettext as _
from PIL import Image

from equipment.charts import with_colours
from servicedesk.papers.letters import all_printable

TEMPLATE = Path(__file__).parent / "report.typ"
FONTS = Path(font_source_sans_pro.__file__).parent / "files"
PHOTO_SIDE, PHOTO_QUALITY = 1000, 75  # pixels: half a page wide at 300 dots an inch
PHOTOS = 12  # more are on the page alone


class PaperRefused(Exception):
    """No paper could be made; the text says why."""


def report_paper(facts: dict, photos: Mapping[str, bytes], *, made_at: datetime) -> bytes:
    """The PDF of a report. `photos`: JPEG by the number that the facts name; others are left out.

    The same facts and the same `made_at` give the same bytes. Raises PaperRefused.
    """
    with tempfile.TemporaryDirectory(prefix="report-") as folder:
        root = Path(folder)
        shutil.copy(TEMPLATE, root / TEMPLATE.name)
        laid = {
            photo["uuid"]: name
            for photo in facts["photos"][:PHOTOS]
            if (name := _laid_down(root, photo["uuid"], photos))
        }
        shown = [photo for photo in facts["photos"] if photo["uuid"] in laid]
        told = all_printable(facts | {"photos": shown, "words": _words()} | _head(facts))
        # What programs read, not people, goes in as it is.
        for photo, given in zip(told["photos"], shown, strict=True):
            photo["file"] = laid[given["uuid"]]
        for system, given in zip(told["systems"], facts["systems"], strict=True):
            if given["chart"]:
                system["chart"]["svg"] = with_colours(given["chart"]["svg"])
        return _compiled(root, told, made_at)


def _compiled(root, told, made_at):
    try:
        return typst.compile(
            root / TEMPLATE.name,
            root=root,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            package_path=root,  # nothing is there, and nothing is fetched
            package_cache_path=root,
            pdf_standards=["ua-1"],
            sys_inputs={"facts": json.dumps(told)},
            timestamp=made_at.replace(microsecond=0),  # a PDF knows whole seconds
        )
    except typst.TypstError as error:
        raise PaperRefused(str(error).splitlines()[0][:250]) from None


def _laid_down(root, uuid, photos):
    """The name of the photo's file beside the template; empty where it is not to be had."""
    if uuid not in photos:
        return ""
    try:
        picture = Image.open(io.BytesIO(photos[uuid]), formats=["JPEG"])
        picture.draft("RGB", (PHOTO_SIDE, PHOTO_SIDE))
        picture.thumbnail((PHOTO_SIDE, PHOTO_SIDE))
        picture.convert("RGB").save(root / f"{uuid}.jpg", "JPEG", quality=PHOTO_QUALITY)
    except (OSError, SyntaxError, ValueError):
        return ""
    return f"{uuid}.jpg"


def _head(facts):
    until = f" {_('to')} {facts['until']}" if facts["until"] else ""
    about = [
        (_("Visit"), f"{facts['day']}, {facts['from']}{until} ({facts['zone']})"),
        (_("Who came"), facts["who"]),
        (_("For"), facts["customer"]),
        (_("Entered"), facts["late"]),
    ]
    return {
        "heading": _("Service report"),
        "about": [row for row in about if row[1]],
        "foot": _("%(firm)s. Visit %(number)s, version %(version)s.")
        % {
            "firm": facts["firm"]["name"],
            "number": facts["number"],
            "version": facts["version"],
        },
    }


def _words():
    return {
        "heed": _("Please heed:"),
        "water": _("The water of"),
        "what": _("Reading"),
        "as_found": _("As found"),
        "as_left": _("As left"),
        "last_time": _("Last time"),
        "chart": _("Pressure over the last visits. Rings: as found; dots: as left; band: usual."),
        "done": _("What was done"),
        "parts": _("Parts"),
        "not_done": _("What was not done, and why"),
        "defects": _("To be looked at; we tell you what we propose"),
        "urgent": _("Urgent:"),
        "photos": _("Photos"),
        "next": _("Next time"),
        "questions": _("Questions? Call us:"),
        "emergency": _("A person in danger? Call first:"),
    }
