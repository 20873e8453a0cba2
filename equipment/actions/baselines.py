"""Confirm a set of readings as the baseline: what later readings are compared with."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from customers.models import Trail, User
from equipment.actions.gauges import gauges_on
from equipment.kinds import RUNNING, Quantity, SystemState
from equipment.models import (
    Baseline,
    Configuration,
    Position,
    Reading,
    ReadingSet,
    StateChange,
)

SETTLING_DAYS = 7  # common practice, no source: new membranes settle, the pond is mixed
LATE_AFTER_DAYS = 30  # common practice, no source: then wear may have begun
LEVEL_WITHIN = timedelta(days=1)  # judgement: a level of another day says little of this one
STARTING = frozenset({SystemState.COMMISSIONING, SystemState.RAMPING})
COMPARED = (
    Quantity.PRESSURE,
    Quantity.LINE_PRESSURE,
    Quantity.FLOW,
    Quantity.CURRENT,
    Quantity.VOLTAGE,
    Quantity.CABINET_AIR,
    Quantity.OUTSIDE_AIR,
    Quantity.HEAD_TEMPERATURE,
    Quantity.BUBBLES,
)


class BaselineRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def confirm_baseline(
    configuration: Configuration, reading_set: ReadingSet, *, by: User, now: datetime
) -> list[Baseline]:
    """Let a set of readings be what its configuration is compared with from now on.

    One row for each quantity and position, with the level of the water and the gauge of that
    day. An earlier baseline stays on record; the one confirmed last holds. The same set confirmed
    again changes nothing. Raises BaselineRefused.
    """
    Configuration.objects.select_for_update().get(pk=configuration.pk)
    kept = Baseline.objects.filter(configuration=configuration, from_set=reading_set)
    if before := list(kept.exclude(confirmed_at=None)):
        return before
    if refusal := refusal_of(configuration, reading_set):
        raise BaselineRefused(refusal)
    system = configuration.system
    taken_on = _day_at_site(system, reading_set.taken_at)
    gauges, level_m = gauges_on(system, taken_on), level_at(reading_set)
    made = Baseline.objects.bulk_create(
        Baseline(
            configuration=configuration,
            quantity=reading.quantity,
            position=reading.position,
            value=reading.value,
            level_m=level_m,
            gauge=reading.gauge or gauges.get(reading.quantity),
            from_set=reading_set,
            confirmed_at=now,
            confirmed_by=by,
        )
        for reading in _compared(reading_set)
    )
    Trail.objects.create(
        at=now,
        by=by,
        did="confirmed a baseline",
        about=f"system:{system.pk}",
        after={"configuration": configuration.pk, "set": reading_set.pk, "rows": len(made)},
    )
    return made


def refusal_of(configuration: Configuration, reading_set: ReadingSet) -> str:
    """Why a set cannot be the baseline of a configuration; empty when it can."""
    if reading_set.configuration_id != configuration.pk:
        return (
            "These readings were taken in another configuration. Take a set in the one that "
            "holds now."
        )
    if not any(reading.quantity == Quantity.PRESSURE for reading in _compared(reading_set)):
        return (
            "There is no pressure in this set, or it is marked as doubtful. Choose a set with a "
            "pressure that was confirmed."
        )
    settles_from = configuration.settles_from_on
    taken_on = _day_at_site(configuration.system, reading_set.taken_at)
    if settles_from and taken_on < settles_from + timedelta(days=SETTLING_DAYS):
        return (
            f"First readings are provisional: new membranes settle for {SETTLING_DAYS} days after "
            f"full run began on {_day(settles_from)}. Take another set on or after "
            f"{_day(settles_from + timedelta(days=SETTLING_DAYS))}."
        )
    return _refusal_of_state(configuration, reading_set)


def remark_on(configuration: Configuration, reading_set: ReadingSet) -> str:
    """What a person should know before he confirms; empty when there is nothing."""
    settles_from = configuration.settles_from_on
    taken_on = _day_at_site(configuration.system, reading_set.taken_at)
    if settles_from and taken_on > settles_from + timedelta(days=LATE_AFTER_DAYS):
        days = (taken_on - settles_from).days
        return (
            f"Taken {days} days after full run began; usual are {SETTLING_DAYS} to "
            f"{LATE_AFTER_DAYS} (common practice, no source). Wear may have begun already."
        )
    if level_at(reading_set) is None:
        return "No water level was read that day: later levels cannot be allowed for."
    return ""


def level_at(reading_set: ReadingSet) -> float | None:
    """The water against its mark when a set was taken; metres, None where nobody read it.

    Where a system feeds two ponds, the mean of both.
    """
    near = Reading.objects.standing().filter(quantity=Quantity.LEVEL, value__isnull=False)
    near = near.filter(doubtful=False)
    if own := near.filter(set=reading_set).first():
        return own.value
    at = reading_set.taken_at
    ponds = Position.objects.lying().filter(system=reading_set.system_id).values("pond")
    rows = near.filter(
        set__pond__in=ponds, set__taken_at__range=(at - LEVEL_WITHIN, at + LEVEL_WITHIN)
    )
    newest = {}
    for row in rows.select_related("set"):
        apart = abs(row.set.taken_at - at)
        if row.set.pond_id not in newest or apart < newest[row.set.pond_id][0]:
            newest[row.set.pond_id] = (apart, row.value)
    return sum(value for _, value in newest.values()) / len(newest) if newest else None


def _refusal_of_state(configuration, reading_set):
    """Only full run compares: not the start by steps, and not a system that stands still."""
    states = StateChange.objects.standing().filter(
        system=configuration.system, at__lte=reading_set.taken_at
    )
    state = states.order_by("-at", "-state").values_list("state", flat=True).first()
    if state in STARTING:
        return (
            "The system was still being brought up by steps when these readings were taken. Take "
            "a set at full run."
        )
    if state is not None and state not in RUNNING:
        return "By its record the system stood still then. Correct the state, or take another set."
    return ""


def _compared(reading_set):
    rows = Reading.objects.standing().filter(
        set=reading_set, quantity__in=COMPARED, value__isnull=False, doubtful=False
    )
    return list(rows.select_related("gauge", "position").order_by("quantity", "pk"))


def _day_at_site(system, at):
    return at.astimezone(ZoneInfo(system.site.time_zone)).date()


def _day(day):
    return f"{day.day} {day:%B %Y}"
