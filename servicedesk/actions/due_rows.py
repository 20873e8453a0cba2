"""The due items as rows: read, compared and written many at a time."""

import json
from collections.abc import Collection, Iterable
from typing import NamedTuple

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection

from servicedesk.models import DueItem

KEY = ["place_key", "task_id", "occasion"]
DERIVED = ["opens_on", "due_on", "closes_on", "because", "basis", "estimated", "paused", "verify"]
WHERE = ["site_id", "system_id", "position_id", "pond_id", "component_id"]
COLUMNS = [*KEY, *WHERE, *DERIVED]


class Written(NamedTuple):
    added: int = 0
    changed: int = 0
    removed: int = 0


def row_of(place: dict, task_id: int, due) -> tuple:
    """What falls due at a place, in the order of COLUMNS."""
    return (
        place["place_key"],
        task_id,
        due.occasion,
        *(place[name] for name in WHERE),
        due.opens_on,
        due.on,
        due.closes_on,
        due.because,
        due.basis,
        due.estimated,
        due.paused,
        due.verify,
    )


def write_rows(site_ids: Collection[int], rows: Iterable[tuple]) -> Written:
    """Let the due items of some sites be these, touching only those that differ."""
    wanted = {row[: len(KEY)]: row for row in rows}
    stored = DueItem.objects.filter(site_id__in=site_ids).values_list(*COLUMNS, "pk")
    have = {row[: len(KEY)]: row for row in stored}
    fresh = [row for key, row in wanted.items() if key not in have]
    changed = [row for key, row in wanted.items() if key in have and row != have[key][:-1]]
    gone = [row[-1] for key, row in have.items() if key not in wanted]
    if gone:
        DueItem.objects.filter(pk__in=gone).delete()
    if fresh or changed:
        _upsert([*fresh, *changed])
    return Written(len(fresh), len(changed), len(gone))


def _upsert(rows):
    """All rows in one value, which costs far less than a value for every field."""
    names = ", ".join(COLUMNS)
    news = ", ".join(f"{name} = EXCLUDED.{name}" for name in [*DERIVED, *WHERE])
    found = [dict(zip(COLUMNS, row, strict=True)) for row in rows]
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {DueItem._meta.db_table} ({names}) {_select(names)} "
            f"ON CONFLICT ({', '.join(KEY)}) DO UPDATE SET {news}",
            [json.dumps(found, cls=DjangoJSONEncoder)],
        )


def _select(names):
    if connection.vendor == "sqlite":  # which needs a condition before ON CONFLICT
        given = ", ".join(f"json_extract(value, '$.{name}')" for name in COLUMNS)
        return f"SELECT {given} FROM json_each(%s) WHERE true"
    fields = {field.attname: field for field in DueItem._meta.concrete_fields}
    typed = ", ".join(f"{name} {fields[name].db_type(connection)}" for name in COLUMNS)
    return f"SELECT {names} FROM json_to_recordset(%s::json) AS given({typed})"
