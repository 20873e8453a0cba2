"""The due items as rows: read, compared and written many at a time."""

import json
from collections.abc import Collection, Iterable
from typing import NamedTuple

from django.db import connection

from servicedesk.models import DueItem

KEY = ["place_key", "task_id", "occasion"]
DERIVED = ["opens_on", "due_on", "closes_on", "because", "basis", "estimated", "paused", "verify"]
WHERE = ["site_id", "system_id", "position_id", "pond_id", "component_id"]
COLUMNS = [*KEY, *WHERE, *DERIVED]
WRITTEN = [*DERIVED, *WHERE]
TABLE = DueItem._meta.db_table


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
    changed = [
        (*row, have[key][-1])
        for key, row in wanted.items()
        if key in have and row != have[key][:-1]
    ]
    gone = [row[-1] for key, row in have.items() if key not in wanted]
    if gone:
        DueItem.objects.filter(pk__in=gone).delete()
    if fresh:
        _insert(fresh)
    if changed:
        _update(changed)
    return Written(len(fresh), len(changed), len(gone))


def _insert(rows):
    """New rows; one that somebody else has just entered is overwritten."""
    names = ", ".join(COLUMNS)
    news = ", ".join(f"{name} = EXCLUDED.{name}" for name in WRITTEN)
    found = [dict(zip(COLUMNS, row, strict=True)) for row in rows]
    _execute(
        f"INSERT INTO {TABLE} ({names}) SELECT {names} FROM {_given(COLUMNS)} WHERE true "
        f"ON CONFLICT ({', '.join(KEY)}) DO UPDATE SET {news}",
        found,
    )


def _update(rows):
    names = [*WRITTEN, "id"]
    at = [*(COLUMNS.index(name) for name in WRITTEN), -1]
    found = [{name: row[n] for name, n in zip(names, at, strict=True)} for row in rows]
    news = ", ".join(f"{name} = given.{name}" for name in WRITTEN)
    _execute(f"UPDATE {TABLE} SET {news} FROM {_given(names)} WHERE {TABLE}.id = given.id", found)


def _execute(statement, found):
    """All rows in one value, which costs far less than a value for every field."""
    with connection.cursor() as cursor:
        cursor.execute(statement, [json.dumps(found, default=_day, ensure_ascii=False)])


def _day(value):
    return value.isoformat()


def _given(names):
    """The rows of that value as a table."""
    if connection.vendor == "sqlite":  # which needs a condition before ON CONFLICT
        given = ", ".join(f"json_extract(value, '$.{name}') AS {name}" for name in names)
        return f"(SELECT {given} FROM json_each(%s)) AS given"
    fields = {field.attname: field for field in DueItem._meta.concrete_fields}
    typed = ", ".join(f"{name} {fields[name].rel_db_type(connection)}" for name in names)
    return f"json_to_recordset(%s::json) AS given({typed})"
