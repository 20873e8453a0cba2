"""What a phone keeps for a day without signal: which files, which pages, and until when."""

import hashlib
import json
from datetime import datetime, time, timedelta
from functools import cache

from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse

FILES = [
    "servicedesk/sheet.css",
    "servicedesk/phone.css",
    "servicedesk/phone_words.js",
    "servicedesk/phone_asks.js",
    "servicedesk/phone.js",
    "servicedesk/phone_outbox.js",
    "servicedesk/phone_alone.js",
    "servicedesk/phone_day.js",
    "servicedesk/icon.svg",
]
SCRIPTS = [name for name in FILES if name.endswith(".js")]
KEEP = "X-Keep"  # on an answer: whose page it is, of which day, for how many seconds
KEEPING = "X-Keeping"  # on a request: fetched to be kept, not to be read now
GRACE = timedelta(hours=4)  # a day in the field may end after midnight


@cache
def edition() -> str:
    """A word that changes whenever one of the phone's files does."""
    digest = hashlib.sha256()
    for name in FILES:
        digest.update(_content(name))
    return digest.hexdigest()[:12]


def asset(name: str) -> str:
    """The address of a file; a script without a hash in its name carries the edition."""
    address = staticfiles_storage.url(name)
    plain = address.endswith(name)
    return f"{address}?v={edition()}" if plain and name in SCRIPTS else address


def assets() -> str:
    """The addresses of all the phone's files, as JSON."""
    return json.dumps([asset(name) for name in FILES])


def kept(
    request: HttpRequest, page: HttpResponse, *, now: datetime, mine: bool = True
) -> HttpResponse:
    """Mark a page of today's own route as one that the phone may keep until the day is over.

    Nothing is marked that carries a message: it would be said again without signal.
    """
    said = getattr(getattr(request, "_messages", None), "used", False)
    if mine and page.status_code == 200 and not said:
        day = now.date() + timedelta(days=1)
        left = datetime.combine(day, time(), tzinfo=now.tzinfo) + GRACE - now
        page[KEEP] = f"{request.user.pk}/{now.date()}/{int(left.total_seconds())}"
    return page


def quiet(request: HttpRequest) -> dict:
    """Messages stay for the page that is read, not for one that is only kept."""
    return {"messages": ()} if KEEPING in request.headers else {}


def _content(name):
    found = finders.find(name)
    if found:
        with open(found, "rb") as file:
            return file.read()
    with staticfiles_storage.open(name) as file:
        return file.read()
