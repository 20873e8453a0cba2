"""What systems still owe after they were put into service, changed or moved."""

from collections.abc import Mapping

from django.db.models import Case, Exists, F, OuterRef, QuerySet, Subquery, When

from equipment.models import Baseline, Configuration, System
from servicedesk.models import Commissioning
from servicedesk.planning.due.facts import Event
from servicedesk.planning.due.sentences import day

SETTLING = "settling"


def with_settling(systems: QuerySet) -> QuerySet:
    """Adds `settles_from`: since when the configuration in force runs without a baseline that a
    person confirmed; and `moved_here`: whether it stood at another site before."""
    confirmed = Baseline.objects.filter(configuration=OuterRef("pk"), confirmed_at__isnull=False)
    in_force = (
        Configuration.objects.filter(system=OuterRef("pk"))
        .order_by("-from_on")
        .annotate(owed=Case(When(Exists(confirmed), then=None), default=F("settles_from_on")))
        .values("owed")[:1]
    )
    moved = Commissioning.objects.filter(system=OuterRef("pk"), moved_from__isnull=False)
    return systems.annotate(settles_from=Subquery(in_force), moved_here=Exists(moved))


def settling_of(system: System) -> tuple[Event, ...]:
    """The second set of readings that is owed; a system that sat elsewhere alone owes none."""
    since = getattr(system, "settles_from", None)
    if since is None:
        return ()
    return (Event(f"{SETTLING}:{since:%Y%m%d}", since, f"full run began on {day(since)}"),)


def was_elsewhere(systems: Mapping) -> list[int]:
    """The systems whose earlier work was done at another site; `systems` holds facts by number."""
    return [pk for pk, facts in systems.items() if getattr(facts.system, "moved_here", False)]
