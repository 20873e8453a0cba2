"""The mail before air is started again: the days of the ramp, what is normal, and what is not."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _

from servicedesk.emails import links, rows
from servicedesk.emails.parts import part_of
from servicedesk.models import Restart
from servicedesk.planning.restart.ramps import WHOLE_DAY, Timer, timer


@dataclass(frozen=True)
class RampDay:
    """A day of a ramp in the reader's words."""

    on: date
    words: str
    run: str
    timer: Timer


def restart(contact, lines, *, now, lead=True):
    """When the air starts, how long it runs each day, what to look for, and whom to call."""
    wanted = [line.facts["restart"] for line in lines]
    found = Restart.objects.select_related("system__site", "approved_by").in_bulk(wanted)
    of_lines = [found[line.facts["restart"]] for line in lines]
    places = rows.waters([(r.system.site, r.system_id, None) for r in of_lines])
    made = []
    for line, one in zip(lines, of_lines, strict=True):
        days = planned_days(one)
        urls = links.for_restart(line, until=days[-1].on, now=now)
        made.append(
            rows.Row(
                places[(one.system.site, one.system_id, None)],
                urls | {"calendar": settings.PUBLIC_ADDRESS + calendar_path(urls)},
                {
                    "system": one.system.name,
                    "first": days[0].words,
                    "days": days,
                    "ramp": len(days) > 1,
                },
            )
        )
    return part_of("restart", contact, made, lead=lead)


def planned_days(one: Restart) -> list[RampDay]:
    """Each day of a ramp as it was approved, if all goes well."""
    return [
        ramp_day(one, one.first_on + timedelta(days=n), minutes)
        for n, minutes in enumerate(one.minutes)
    ]


def ramp_day(one: Restart, on: date, minutes: int) -> RampDay:
    """A day of a ramp: its date, and how long the air runs."""
    at = timer(on, minutes, one.starts, one.system.site.time_zone)
    return RampDay(on, rows.day_words(on), run_words(minutes), at)


def run_words(minutes: int) -> str:
    """How long it runs; no minute of the clock, which a timer and a technician keep for us."""
    if minutes >= WHOLE_DAY:
        return _("from the morning on without a break")
    hours, rest = divmod(minutes, 60)
    parts = (hours and f"{hours} h", rest and f"{rest} min")
    return _("%(length)s, from the morning on") % {"length": " ".join(filter(None, parts))}


def calendar_path(urls: dict) -> str:
    """The address of the calendar file behind the same link as the buttons."""
    token = urls["page"].rstrip("/").rpartition("/")[2]
    return reverse("owner_ramp_calendar", args=[token])
