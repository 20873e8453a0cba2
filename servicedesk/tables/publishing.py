"""What publishing a week would do, as the manager reads it: the gravest first."""

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from customers.models import Site
from servicedesk.models import Technician

DAY_WORDS = {
    "new": ("due", gettext_lazy("New")),
    "changed": ("late", gettext_lazy("Changed")),
    "unchanged": ("ok", gettext_lazy("As published before")),
    "empty": ("rest", gettext_lazy("Empty now")),
}
CHANGE_WORDS = {
    "gone": ("late", gettext_lazy("Gone")),
    "day": ("due", gettext_lazy("Another day")),
    "person": ("drift", gettext_lazy("Somebody else comes")),
    "new": ("ok", gettext_lazy("New")),
    "time": ("rest", gettext_lazy("Another time")),
}
OWNERS_SHOWN = 60


def preview_shown(preview, week):
    """The lines of a preview. One query."""
    people = {t.pk: str(t) for t in Technician.objects.select_related("user")}
    tellings = preview.tellings
    mails = [row for row in tellings if row.by_mail]
    phones = [row for row in tellings if row.by_phone]
    changes = [change for change in preview.changes if change.kind != "same"]
    return {
        "is_first": preview.is_first,
        "days": [_day(day, people) for day in preview.days],
        "changes": [_change(change, preview.sites, people, week) for change in changes],
        "unchanged_stops": len(preview.changes) - len(changes),
        "broken": preview.broken,
        "confirmed": [row for row in tellings if row.breaks_confirmed_day],
        "mails": _by_owner(mails)[:OWNERS_SHOWN],
        "mail_count": len({row.contact.pk for row in mails}),
        "phones": [_phone(row) for row in phones]
        + [_gone(one, preview.sites) for one in changes if one.kind == "gone"],
        "silent": [row for row in tellings if row.word == "told" and not row.answered],
        "told_count": len({row.contact.pk for row in tellings if row.word == "told"}),
    }


def _day(day, people):
    shape, words = DAY_WORDS[day.word]
    return {"day": day, "name": people.get(day.technician, "?"), "shape": shape, "words": words}


def _change(change, sites, people, week):
    shape, words = CHANGE_WORDS[change.kind]
    return {
        "site": sites.get(change.site),
        "shape": shape,
        "words": words,
        "was": _there(change.was, people),
        "will": _there(change.will, people),
        "shift": _shift(change),
    }


def _there(place, people):
    return place and {"name": people.get(place.technician, "?"), "day": place.day, "at": place.at}


def _shift(change):
    """How much earlier or later, where person and day stay."""
    if change.kind != "time":
        return ""
    hours, minutes = divmod(abs(change.minutes), 60)
    length = f"{hours} h {minutes:02d}" if hours else _("%(minutes)d min") % {"minutes": minutes}
    words = _("%(length)s later") if change.minutes > 0 else _("%(length)s earlier")
    return words % {"length": length}


def _by_owner(rows):
    """One line an owner, with all that he hears: stops whose day changes come first."""
    owners = {}
    for row in sorted(rows, key=lambda one: (one.word != "other_day", one.stop.arrive_at)):
        owners.setdefault(row.contact.pk, []).append(row)
    return [{"contact": rows[0].contact, "rows": _once(rows)} for rows in owners.values()]


def _once(rows):
    """Where several people meet, an owner hears of it once."""
    seen = {(row.stop.site_id, row.stop.route.day, row.word): row for row in reversed(rows)}
    return list(reversed(seen.values()))


def _phone(row):
    stop = row.stop
    return {
        "who": row.contact,
        "site": stop.site,
        "day": stop.route.day,
        "because": _why(row),
    }


def _gone(change, sites):
    """Nobody comes any more, and the owner was told of a day."""
    because = _("was told of this day, and there is no other yet")
    return {"site": sites.get(change.site), "day": change.was.day, "because": because}


def _why(row):
    if row.word == "enough":
        return _("was told of two days by mail already")
    if row.word == "stopped":
        return _("asked for no such mail")
    return ", ".join(row.names) or _("nobody is known there")


def news_shown(route):
    """What changed on a published day, for its technician; nothing where he has seen it."""
    news = route.news
    if not news:
        return None
    sites = Site.objects.in_bulk([*news["new"], *news["gone"]])
    return {
        "new": [sites[pk] for pk in news["new"] if pk in sites],
        "gone": [sites[pk] for pk in news["gone"] if pk in sites],
        "since": datetime.fromisoformat(news["since"]),
    }
