"""When a task falls due at a place, from dated facts alone, in whatever order they came in."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from servicedesk.kinds import Clock, DecisionKind, DoneBy, Join
from servicedesk.planning.due import sentences
from servicedesk.planning.due.clocks import Start, strike
from servicedesk.planning.due.facts import Done, Due, Place, TaskRule, Verdict

MOST_PROJECTED = 400


def due(rule: TaskRule, place: Place, today: date) -> Due | None:
    """The next undone occasion of a task at a place.

    rule: the task with its rhythms and tolerance [days].
    place: all that is known there; the order of its works, decisions and events is irrelevant.
    today: a date at the site. It decides which yearly occasion is meant and which decisions are
        over; a counted due day does not depend on it.
    Returns a Due, whose `on` is empty while its clocks stand still; None when nothing is owed.
    Source: our own rule.
    """
    event_rhythms = [r for r in rule.rhythms if r.clock == Clock.EVENT]
    if event_rhythms:
        return _after_event(rule, event_rhythms, place, today)
    if place.since is None:
        return None
    start = _start(place)
    strikes = [strike(r, rule, place, start, today) for r in rule.rhythms]
    chosen = _joined([s for s in strikes if s.because], rule.join)
    if chosen is None:
        return None
    basis = {**chosen.basis, "since": start.on.isoformat(), "others": _others(strikes, chosen)}
    found = Due(
        on=chosen.on,
        opens_on=chosen.opens_on,
        closes_on=chosen.closes_on,
        because=sentences.sentence(chosen.because),
        basis=basis,
        estimated=chosen.estimated,
        paused=chosen.on is None,
        verify=bool(start.last and not start.last.verified),
    )
    return _decided(found, rule, _relevant(place, start), today)


def projected(rule: TaskRule, place: Place, today: date, until: date) -> list[Due]:
    """The next undone occasion and those after it, if each is done on its day.

    rule, place, today: as for due().
    until: the last day of the horizon.
    Returns the occasions that fall due by then, in order, each counted from the one before.
    Source: our own rule.
    """
    found: list[Due] = []
    while len(found) < MOST_PROJECTED:
        item = due(rule, place, max(today, found[-1].on) if found else today)
        if item is None or item.on is None or item.on > until:
            break
        if found and item.on <= found[-1].on:
            break
        found.append(item)
        on = max(item.on, today) if not found[1:] else item.on
        done = Done(
            at=datetime.combine(on, time(12), UTC),
            on=on,
            key=f"projected-{len(found)}",
            name=rule.name,
            by=DoneBy.TECHNICIAN,
            occasion=item.occasion,
        )
        place = replace(place, done=(*place.done, done))
    return found


def _start(place):
    """The last work or waived occasion, else the beginning. Ties are broken by what, not when
    it was entered."""
    last = max(place.done, key=lambda d: (d.on, d.at, d.verified, d.key), default=None)
    start = Start(place.since, f"{place.since_what} on {sentences.day(place.since)}")
    if last and last.on >= place.since:
        start = Start(last.on, sentences.since_work(last), last)
    elif place.records_from and place.records_from > place.since:
        words = f"the records begin on {sentences.day(place.records_from)}"
        start = Start(place.records_from, words, assumed=True)
    for verdict in _relevant(place, start):
        if verdict.kind == DecisionKind.WAIVED and verdict.until_on is None:
            words = f"the waived occasion of {sentences.day(verdict.about_on)}"
            start = Start(verdict.about_on, words, start.last, waived=True)
    return start


def _relevant(place, start):
    """Decisions made after the last work, about a day after it: what came before is history."""
    if not place.verdicts:
        return []
    after = start.last.at if start.last else datetime.min.replace(tzinfo=UTC)
    found = [v for v in place.verdicts if v.at > after and v.about_on >= start.on]
    return sorted(found, key=_by_content)


def _by_content(verdict):
    return (
        verdict.at,
        verdict.about_on,
        verdict.kind,
        verdict.until_on or date.max,
        verdict.reason,
    )


def _joined(strikes, join):
    going = [s for s in strikes if s.on]
    if join == Join.LAST and len(going) < len(strikes):
        going = []
    if going:
        pick = min if join == Join.FIRST else max
        return pick(going, key=lambda s: s.on)
    return min(strikes, key=lambda s: s.left, default=None)


def _others(strikes, chosen):
    return [
        {"clock": s.basis["clock"], "on": s.on.isoformat() if s.on else None}
        for s in strikes
        if s is not chosen and s.basis
    ]


def _after_event(rule, rhythms, place, today):
    """The first undone step of the oldest open event; a step is an occasion of its own."""
    waived = (v for v in place.verdicts if v.kind == DecisionKind.WAIVED and not v.until_on)
    settled = {d.occasion for d in place.done} | {v.occasion for v in waived}
    for event in sorted(place.events, key=lambda e: (e.on, e.occasion)):
        for rhythm in rhythms:
            days = int(rhythm.every or 0)
            step = f":{days}" if len(rhythms) > 1 else ""
            occasion, *others = (f"{name}{step}" for name in (event.occasion, *event.also))
            if not settled.isdisjoint([occasion, *others]):
                continue
            on = event.on + timedelta(days=days)
            when = f"day {days} after {event.what}" if days else f"called for by {event.what}"
            found = Due(
                on=on,
                opens_on=on - timedelta(days=rule.early_days),
                closes_on=on + timedelta(days=rule.late_days),
                because=sentences.sentence(when),
                basis={"clock": "event", "since": event.on.isoformat()}
                | ({"known_as": others} if others else {}),
                occasion=occasion,
            )
            named = (v for v in place.verdicts if v.occasion in {occasion, *others})
            about = sorted(named, key=_by_content)
            return _decided(found, rule, about, today)
    return None


def _decided(found, rule, verdicts, today):
    for verdict in verdicts:
        if verdict.kind == DecisionKind.BLOCKED:
            if verdict.until_on is None or verdict.until_on >= today:
                found = _blocked(found, verdict)
        elif moved_to := _moved_to(found, verdict):
            found = replace(
                found,
                on=moved_to,
                opens_on=moved_to - timedelta(days=rule.early_days),
                closes_on=moved_to + timedelta(days=rule.late_days),
                because=sentences.decided(verdict, found.because, found.on),
                basis={**found.basis, "decision": str(verdict.kind)},
                paused=False,
            )
    return found


def _moved_to(found, verdict: Verdict) -> date | None:
    """A postponed or waived task is not due before its day; an overridden one is due on it."""
    if verdict.until_on is None:
        return verdict.about_on if verdict.kind == DecisionKind.OVERRIDDEN else None
    if verdict.kind == DecisionKind.OVERRIDDEN:
        return verdict.until_on
    return verdict.until_on if found.on and found.on < verdict.until_on else None


def _blocked(found, verdict):
    until = verdict.until_on.isoformat() if verdict.until_on else None
    return replace(
        found,
        because=sentences.decided(verdict, found.because, None),
        basis={**found.basis, "blocked": verdict.reason, "blocked_until": until},
    )
