"""Each page in the zone and the language of whoever reads it, and none without words."""

from django.shortcuts import render
from django.utils import timezone, translation

from customers.models import Firm


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
