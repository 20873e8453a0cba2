"""Load the trade's defaults: tasks with their rhythms, and the standing cautions."""

import tomllib
from pathlib import Path

from django.conf import settings
from django.db import transaction

from servicedesk.models import Caution, Rhythm, Task

DEFAULTS = Path(settings.BASE_DIR) / "fixtures" / "task_defaults.toml"


@transaction.atomic
def load_task_defaults(path: Path = DEFAULTS) -> dict[str, int]:
    """Add the tasks and cautions that are missing; what is there stays as the firm left it."""
    defaults = tomllib.loads(path.read_text(encoding="utf-8"))
    have = set(Task.objects.values_list("slug", flat=True))
    fresh = [row for row in defaults["task"] if row["slug"] not in have]
    for row in fresh:
        row = dict(row)
        rhythms = row.pop("rhythms")
        task = Task.objects.create(**row)
        Rhythm.objects.bulk_create(
            Rhythm(task=task, number=number, **rhythm)
            for number, rhythm in enumerate(rhythms, start=1)
        )
    cautions = set(Caution.objects.values_list("slug", flat=True))
    texts = [Caution(**row) for row in defaults["caution"] if row["slug"] not in cautions]
    Caution.objects.bulk_create(texts)
    return {"tasks": len(fresh), "cautions": len(texts)}
