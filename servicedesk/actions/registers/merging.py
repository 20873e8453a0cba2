"""Brings records in line with a register: adds what is new, changes what differs and tells it."""

from collections.abc import Iterable

from servicedesk.actions.registers.report import Change, Report

BATCH = 500


def merge(kind: str, model, wanted: dict, report: Report, *, known: dict) -> dict:
    """Create or update records.

    kind: the word for people, such as "pond".
    wanted: (row, fields) by key; a field that is None or "" says nothing.
    known: the records there are, by the same keys.
    Returns the records by key.
    """
    count = report.count(kind)
    new, changed, touched = {}, [], set()
    for key, (row, fields) in wanted.items():
        said = {name: value for name, value in fields.items() if value not in (None, "")}
        record = known.get(key)
        if record is None:
            new[key] = model(**said)
            count.new += 1
            continue
        differs = {name: v for name, v in said.items() if getattr(record, name) != v}
        if differs:
            report.changes += _told(row, f"{kind} {_words(key)}", record, differs)
            for name, value in differs.items():
                setattr(record, name, value)
            changed.append(record)
            touched |= set(differs)
            count.changed += 1
        else:
            count.same += 1
    model.objects.bulk_create(new.values(), batch_size=BATCH)
    if changed:
        model.objects.bulk_update(changed, sorted(touched), batch_size=BATCH)
    return {**{key: known[key] for key in wanted if key in known}, **new}


def _told(row, what, record, differs) -> Iterable[Change]:
    for name, value in differs.items():
        yield Change(row, what, name.removesuffix("_id"), str(getattr(record, name)), str(value))


def _words(key):
    return " ".join(map(str, key)) if isinstance(key, tuple) else str(key)


def by_key(model, keys, **fetch) -> dict:
    """The records with these own numbers, by number."""
    return model.objects.in_bulk(list(keys), field_name="key", **fetch)


def filter_in(queryset, field: str, values):
    """Rows whose field is among many values, asked for in parts that any database takes."""
    values = list(values)
    for start in range(0, len(values), BATCH):
        yield from queryset.filter(**{f"{field}__in": values[start : start + BATCH]})
