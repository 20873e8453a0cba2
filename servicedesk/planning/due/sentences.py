"""The sentence behind a due day, for a manager who asks why."""

from datetime import date
from functools import lru_cache

from servicedesk.kinds import DecisionKind, DoneBy
from servicedesk.planning.due.facts import STATE_WORDS

UNITS = {"h": "run hours", "d": "days", "month": "months"}
CLAIMS = {
    DoneBy.OWNER: "which the owner says he did, not yet seen by us",
    DoneBy.OTHER_FIRM: "which another firm says it did, not yet seen by us",
}


@lru_cache(maxsize=10_000)
def day(on: date) -> str:
    """A day in words.

    on: the day.
    Returns text such as "3 August 2026".
    Source: our own rule.
    """
    return f"{on.day} {on:%B} {on.year}"


def small(name: str) -> str:
    """A name inside a sentence.

    name: such as "Filter change" or "GFCI trip test".
    Returns it with a small first letter, unless it begins with initials.
    Source: our own rule.
    """
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def since_work(done) -> str:
    """What a work is called where an interval counts from it.

    done: the work.
    Returns words such as "the filter change of 3 August 2026".
    Source: our own rule.
    """
    words = f"the {small(done.name)} of {day(done.on)}"
    claim = "" if done.verified else CLAIMS.get(done.by, "not yet seen by us")
    return f"{words} ({claim})" if claim else words


def interval(rhythm) -> str:
    """An interval in words.

    rhythm: the rhythm, with its unit.
    Returns words such as "120 running days" or "2,900 run hours".
    Source: our own rule.
    """
    unit = "running days" if rhythm.clock == "op" else UNITS[rhythm.unit]
    return f"{rhythm.every:,g} {unit}"


def counted(words: str, start, pauses: dict, rate: float | None, basis: dict | None = None) -> str:
    """Why a counting clock strikes.

    words: the interval in words.
    start: what it counts from.
    pauses: days of pause, by state.
    rate: hours a day [h/d] for a clock of run hours, else None.
    basis: its figures, for the day until which a meter was read.
    Returns a sentence without its full stop.
    Source: our own rule.
    """
    parts = [f"{words} since {start.words}"]
    if rate is not None:
        until = (basis or {}).get("metered_until")
        how = f"metered until {day(date.fromisoformat(until))}" if until else "estimated"
        parts.append(f"at {rate:g} h a day ({how})")
    parts += [
        f"paused {days:,} days while {STATE_WORDS.get(state, 'in another mode')}"
        for state, days in sorted(pauses.items())
    ]
    return ", ".join(parts) + _unknown(start)


def stands_still(words: str, start, still, left: float, unit: str) -> str:
    """Why a clock has no due day.

    words: the interval in words.
    start: what it counts from.
    still: (since when, in which state) it stands still, or None when its end is out of sight.
    left: what is left of the interval, in its unit.
    unit: h or d.
    Returns a sentence without its full stop.
    Source: our own rule.
    """
    since = f"{words} since {start.words}"
    if not still:
        return f"{since} are not in sight at the hours it runs{_unknown(start)}"
    state = STATE_WORDS.get(still[1], "not in the mode that counts")
    head = f"paused since {day(still[0])}, {state}"
    if left <= 0:
        return f"{head}; {since} are over, so it waits for the restart{_unknown(start)}"
    kind = "run hours" if unit == "h" else "running days"
    return f"{head}, with {left:,.0f} {kind} left of {since}{_unknown(start)}"


def _unknown(start):
    return "; what was done before is not on record" if start.assumed else ""


def fixed(interval: str, since_what: str, anchor: date, start) -> str:
    """Why a yearly series comes round.

    interval: its step in words, such as "12 months".
    since_what: what the series is anchored at, such as commissioning.
    anchor: the day of that.
    start: what was done last.
    Returns a sentence without its full stop.
    Source: our own rule.
    """
    last = f"last was {start.words}" if start.last or start.waived else "never recorded so far"
    if start.assumed:
        last = f"{last}, and {start.words}"
    return f"every {interval}, counted from {since_what} on {day(anchor)}; {last}"


def season(window, start) -> str:
    """Why a season task falls due.

    window: its season window.
    start: what was done last.
    Returns a sentence without its full stop.
    Source: our own rule.
    """
    last = f"; last was {start.words}" if start.last else ""
    return f"window from {day(window.opens_on)} to {day(window.closes_on)}: {window.because}{last}"


def decided(verdict, because: str, due_on: date | None) -> str:
    """What a decision adds to the sentence.

    verdict: the decision.
    because: the sentence before it.
    due_on: the day before it; None when it was not moved.
    Returns the whole sentence.
    Source: our own rule.
    """
    until = f" until {day(verdict.until_on)}" if verdict.until_on else ""
    verb = {
        DecisionKind.POSTPONED: f"Postponed{until}",
        DecisionKind.WAIVED: f"Waived{until}",
        DecisionKind.OVERRIDDEN: f"Set to {day(verdict.until_on or verdict.about_on)}",
        DecisionKind.BLOCKED: f"Blocked{until}",
    }[verdict.kind]
    was = f" It was due on {day(due_on)}." if due_on else ""
    return f"{verb} by {verdict.by}: {verdict.reason.rstrip('.')}.{was} {because}"


def sentence(text: str) -> str:
    """A whole sentence.

    text: words without a full stop.
    Returns them with a capital and a full stop.
    Source: our own rule.
    """
    return f"{text[:1].upper()}{text[1:].rstrip('.')}." if text else ""
