"""A proposed repair as the manager reads it: each stop, from and to, and what it costs."""

from collections import Counter
from datetime import date, datetime

from servicedesk.models import Repair, Technician


def repair_shown(repair: Repair) -> dict:
    """Lines of a proposal, with names for numbers. One query."""
    found = repair.proposal
    people = {t.pk: str(t) for t in Technician.objects.select_related("user")}
    moves = [_line(row, people) for row in found["moves"]]
    undone = [_line(row, people) for row in found["undone"]]
    days = Counter(move["is_other_day"] for move in moves)
    mailed = [move for move in moves if move["is_other_day"]]
    owners = sorted({owner for move in mailed for owner in move["owners"]})
    return {
        "moves": moves,
        "undone": undone,
        "other_day": days[True],
        "same_day": days[False],
        "retimed": found["same_day_later"],
        "owners": owners if found["is_published"] else [],
        "unreachable": [m for m in mailed if not m["owners"]] if found["is_published"] else [],
        "promises": len(found["promises_broken"]),
        "km_before": found["km_before"],
        "km_after": found["km_after"],
        "km_more": round(found["km_after"] - found["km_before"], 1),
        "km_less": round(found["km_before"] - found["km_after"], 1),
        "is_published": found["is_published"],
        "nothing": not moves and not undone and not found["same_day_later"],
    }


def _line(row, people):
    return row | {
        "from": _there(row.get("from"), people),
        "to": _there(row.get("to"), people),
        "good_until": date.fromisoformat(row["good_until"]) if row["good_until"] else None,
    }


def _there(place, people):
    if place is None:
        return None
    return {
        "technician": people.get(place["technician"], "?"),
        "day": date.fromisoformat(place["day"]),
        "at": datetime.fromisoformat(place["at"]),
    }
