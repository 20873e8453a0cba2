"""Two boat jobs of the coming week: the planner finds who meets there, on which day and when."""

from datetime import date, datetime, timedelta

from equipment.physics.geodesy import great_circle_km
from servicedesk.actions.demo.systems import Built
from servicedesk.models import Stop, Task, Ticket, place_of

WEDNESDAY = 2
SAID = "Two of its rings hardly boil since the storm. Lift the plates from the boat and look."


def order_boat_jobs(
    built: list[Built], *, named: list[str], today: date, now: datetime
) -> list[Ticket]:
    """Open an inspection from the boat at two ponds near each other, due in the coming week.

    named: keys of sites that other stories are told of.
    """
    task = Task.objects.get(slug="membrane_inspection")
    planned = set(Stop.objects.values_list("site", flat=True))
    free = [
        one for one in built if one.place.site.pk not in planned and one.place.site.key not in named
    ]
    if len(free) < 2:
        return []  # the smallest demo
    first = free[0].place.site
    others = [one for one in free if one.place.site != first]
    near = min(
        others,
        key=lambda one: great_circle_km(
            first.lat, first.lon, one.place.site.lat, one.place.site.lon
        ),
    )
    due_on = today - timedelta(days=today.weekday()) + timedelta(days=7 + WEDNESDAY)
    return [
        Ticket.objects.create(
            **place_of(one.system),
            task=task,
            occasion="asked",
            opened_at=now - timedelta(hours=20),
            due_when_opened_on=due_on,
            because=SAID,
        )
        for one in (free[0], near)
    ]
