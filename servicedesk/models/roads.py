"""What a routing service said of a drive, kept so that it is asked once in a while only."""

from django.db import models


class RoadTime(models.Model):
    """One drive, from one place to another; a place is known by its coordinates alone.

    So a site that moves has new rows, and the old ones go when nobody has asked for them for long.
    """

    from_key = models.BigIntegerField()
    to_key = models.BigIntegerField()
    seconds = models.FloatField(null=True, blank=True, help_text="Empty: there is no road.")
    metres = models.FloatField(null=True, blank=True)
    asked_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["from_key", "to_key"], name="one_road_time_per_drive")
        ]
