"""Fit, move and remove serial units; where each one sat on which day stays on record."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from equipment.kinds import ComponentState
from equipment.models import Component, Fitting, Position


class FittingRefused(Exception):
    """The unit cannot sit there on that day; the text says why and what to do."""


@transaction.atomic
def fit(
    component: Component,
    position: Position,
    *,
    on: date,
    entered_at: datetime,
    meter_start_h: float | None = None,
) -> Fitting:
    """Put a unit at a position from a day on. Raises FittingRefused."""
    _refuse_wrong_kind(component, position)
    _refuse_too_early(position, on)
    _refuse_overlap(component, position, on)
    Component.objects.filter(pk=component.pk).exclude(state=ComponentState.LOANER).update(
        state=ComponentState.IN_SERVICE
    )
    return Fitting.objects.create(
        component=component,
        position=position,
        from_on=on,
        meter_start_h=meter_start_h,
        entered_at=entered_at,
    )


@transaction.atomic
def remove(
    component: Component,
    *,
    on: date,
    state: ComponentState = ComponentState.IN_SHOP,
    meter_end_h: float | None = None,
) -> Fitting:
    """Take a unit out; `on` is the first day without it. A loaner stays a loaner.

    Raises FittingRefused.
    """
    current = Fitting.objects.select_for_update().filter(component=component, to_on=None).first()
    if current is None:
        raise FittingRefused(f"{component} sits nowhere now, so it cannot be taken out.")
    if on < current.from_on:
        raise FittingRefused(
            f"{component} was fitted on {_day(current.from_on)}; it cannot be taken out before. "
            "Check the date."
        )
    current.to_on, current.meter_end_h = on, meter_end_h
    current.save(update_fields=["to_on", "meter_end_h"])
    Component.objects.filter(pk=component.pk).exclude(state=ComponentState.LOANER).update(
        state=state
    )
    return current


@transaction.atomic
def move(component: Component, position: Position, *, on: date, entered_at: datetime) -> Fitting:
    """Take a unit from where it sits to another position on one day, or change nothing.

    Raises FittingRefused.
    """
    remove(component, on=on, state=ComponentState.IN_SERVICE)
    return fit(component, position, on=on, entered_at=entered_at)


def _refuse_wrong_kind(component, position):
    if component.type.kind != position.kind:
        raise FittingRefused(
            f"{component} is a {component.type.kind}, and {position} is a place for a "
            f"{position.kind}. Choose another place."
        )


def _refuse_too_early(position, on):
    if on < position.system.installed_on:
        raise FittingRefused(
            f"{position.system} was installed on {_day(position.system.installed_on)}; nothing "
            "can be fitted before. Check the date."
        )


def _refuse_overlap(component, position, on):
    """No fitting may reach into the days from `on`: of this position, or of this unit."""
    later = Q(to_on=None) | Q(to_on__gt=on)
    there = Fitting.objects.select_for_update().select_related("component", "position")
    taken = there.filter(later, position=position).order_by("from_on").first()
    if taken:
        raise FittingRefused(
            f"{taken.component} sits at {position} {_span(taken)}. Take it out first."
        )
    elsewhere = there.filter(later, component=component).order_by("from_on").first()
    if elsewhere:
        raise FittingRefused(
            f"{component} sits at {elsewhere.position} {_span(elsewhere)}. Move it instead."
        )


def _span(fitting):
    start = f"from {_day(fitting.from_on)}"
    return f"{start} to {_day(fitting.to_on)}" if fitting.to_on else start


def _day(day):
    return f"{day.day} {day:%B %Y}"
