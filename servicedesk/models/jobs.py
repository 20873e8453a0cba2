"""Signs of life of the background jobs."""

from django.db import models


class JobBeat(models.Model):
    """When a job last came round; an old beat means that nothing is being done."""

    name = models.CharField(max_length=60, unique=True)
    beat_at = models.DateTimeField()
    says = models.CharField(max_length=250, blank=True)
    reached = models.BigIntegerField(
        default=0, help_text="Where the round under way has come to; 0 between rounds."
    )
