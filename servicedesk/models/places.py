"""The place that a task, a ticket, a decision or a work belongs to."""

from django.db import models

from customers.models import Pond, Site
from equipment.models import Component, Position, System
from servicedesk.kinds import PlaceKind


class AtPlace(models.Model):
    """`place_key` names the place and is never null; the keys beside it are for joins."""

    place_key = models.CharField(max_length=40, db_index=True)  # such as "position:17"
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    system = models.ForeignKey(
        System, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    position = models.ForeignKey(
        Position, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    pond = models.ForeignKey(
        Pond, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    component = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        abstract = True

    @property
    def place(self):
        """The fields that say where this is, to hand to another record of the same place."""
        names = ["place_key", "site_id", "system_id", "position_id", "pond_id", "component_id"]
        return {name: getattr(self, name) for name in names}


def place_of(thing, *, site=None):
    """The fields of AtPlace for a position, system, pond, site or serial unit.

    `site` is needed for a serial unit alone, which knows none by itself.
    """
    blank = dict.fromkeys(["system_id", "position_id", "pond_id", "component_id"])
    if isinstance(thing, Position):
        key, where = (
            PlaceKind.POSITION,
            {
                "site_id": thing.system.site_id,
                "system_id": thing.system_id,
                "position_id": thing.pk,
                "pond_id": thing.pond_id,
            },
        )
    elif isinstance(thing, System):
        key, where = PlaceKind.SYSTEM, {"site_id": thing.site_id, "system_id": thing.pk}
    elif isinstance(thing, Pond):
        key, where = PlaceKind.POND, {"site_id": thing.site_id, "pond_id": thing.pk}
    elif isinstance(thing, Component):
        key, where = PlaceKind.UNIT, {"site_id": site.pk, "component_id": thing.pk}
    else:
        key, where = PlaceKind.SITE, {"site_id": thing.pk}
    return {"place_key": f"{key}:{thing.pk}", **blank, **where}
