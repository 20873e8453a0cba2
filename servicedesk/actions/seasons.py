"""Ask the office for what season windows rest on: the region's usual days, and winter modes."""

from datetime import date, datetime, timedelta

from customers.models import Site
from equipment.kinds import WinterMode
from equipment.models import System
from servicedesk.actions.climates import climate_of
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import DueItem, OfficeTask
from servicedesk.planning.due.sentences import day
from servicedesk.planning.seasons import Season, season_question, season_windows

ASK_BEFORE = timedelta(days=60)  # about the first of September for ice in early December


def ask_about_seasons(*, now: datetime) -> None:
    """Open an office task for each question of a region; one that is answered goes."""
    served = System.objects.filter(pk__in=DueItem.objects.values("system"))
    undecided = served.filter(winter_mode=WinterMode.UNDECIDED)
    regions_undecided = list(undecided.values_list("site__region", flat=True))
    sites = Site.objects.filter(pk__in=served.values("site"), region__isnull=False)
    one_site_each = {site.region_id: site for site in sites.select_related("region")}
    for site in one_site_each.values():
        region, climate = site.region, climate_of(site)
        for season in (Season.WINTER, Season.SPRING):
            question = season_question(season, climate)
            _ask(f"season:{region.pk}:{season}", question and f"{region}: {question}", None, now)
        window = _next_winter(climate, now.date())
        if window:
            count = regions_undecided.count(region.pk)
            text = (
                f"{region}: systems without a winter mode: {count}. Ask their owners before "
                f"{day(window.opens_on)}, when the winter window opens."
            )
            key = f"winter_mode:{region.pk}:{window.opens_on.year}"
            _ask(key, count and text, window.opens_on, now)


def _next_winter(climate, today: date):
    windows = season_windows(Season.WINTER, climate, range(today.year, today.year + 2))
    near = (w for w in windows if w.opens_on - ASK_BEFORE <= today <= w.closes_on)
    return next(near, None)


def _ask(key, text, due_on, now):
    if text:
        fields = {"kind": OfficeTaskKind.OTHER, "text": text, "due_on": due_on, "opened_at": now}
        OfficeTask.objects.get_or_create(key=key, defaults=fields)
    else:
        answered = OfficeTask.objects.filter(key=key, handled_at=None)
        answered.update(handled_at=now, handled_note="It has been entered.")
