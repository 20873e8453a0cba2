"""Each page in the zone and the language of whoever reads it, small, and none without words."""

import re
from ipaddress import ip_address

from django.conf import settings
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render
from django.utils import timezone, translation

from customers.models import Firm


class WhoAsks:
    """Makes REMOTE_ADDR the address that the outermost of our own proxies saw.

    Each proxy writes at the end of the header whom it passes on; what stands before those is
    whatever a stranger wrote there, and is not believed.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        named = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
        if 0 < settings.PROXIES <= len(named) and (seen := _plain(named[-settings.PROXIES])):
            request.META["REMOTE_ADDR"] = seen
        return self.get_response(request)


def _plain(word):
    """An address without brackets and port; empty where it is none."""
    word = word.strip().strip('"')
    if word.startswith("["):
        word = word[1:].partition("]")[0]
    elif word.count(":") == 1:
        word = word.partition(":")[0]
    try:
        return str(ip_address(word))
    except ValueError:
        return ""


class SmallOnTheLine(GZipMiddleware):
    """Packs what is text, for phones with little signal; photos and papers are packed already."""

    PACKED = re.compile(r"text/|image/svg|application/(json|javascript|manifest|gpx)")

    def process_request(self, request):
        """A packed answer bears a weak tag, and static files are asked for by the strong one."""
        if tag := request.META.get("HTTP_IF_NONE_MATCH"):
            request.META["HTTP_IF_NONE_MATCH"] = tag.removeprefix("W/")

    def process_response(self, request, response):
        if response.status_code == 206 or not self.PACKED.match(response.get("Content-Type", "")):
            return response
        return super().process_response(request, response)


class Reader:
    """Sets zone and language of a person who is signed in; afterwards both are as before."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.firm = Firm.objects.first()
        user = request.user
        zone = getattr(user, "time_zone", "") or getattr(request.firm, "time_zone", "UTC")
        if not user.is_authenticated:
            with timezone.override(zone):
                return self.get_response(request)
        with timezone.override(zone), translation.override(user.language):
            request.LANGUAGE_CODE = translation.get_language()
            return self.get_response(request)


class ButtonsAlone:
    """Says what happened to whoever opens, rather than presses, what only a button may reach.

    Somebody whose session ended presses, signs in again, and is led there by a plain GET.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        if response.status_code != 405 or request.method != "GET":
            return response
        page = render(request, "405.html", status=405)
        page["Allow"] = response["Allow"]
        return page
