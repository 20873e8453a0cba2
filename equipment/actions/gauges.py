"""Record which gauge hangs where, from a day on; readings of those days belong to it."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q

from customers.models import Trail, User
from equipment.kinds import Quantity
from equipment.models import Gauge, Reading, System

# A line is read at the manifold with its valve alone open: by the manifold's own gauge.
READ_WITH = {Quantity.LINE_PRESSURE: Quantity.PRESSURE}
READ_BY_GAUGE = (
    Quantity.PRESSURE,
    Quantity.LINE_PRESSURE,
    Quantity.FLOW,
    Quantity.CURRENT,
    Quantity.VOLTAGE,
)


class GaugeRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def record_gauge(
    system: System,
    *,
    quantity: str,
    label: str,
    full_scale: float | None,
    error_percent: float | None,
    from_on: date,
    by: User,
    now: datetime,
) -> Gauge:
    """From a day on a quantity is read on this gauge, and a new series of readings begins.

    `full_scale` is in the stored unit of the quantity, `error_percent` of full scale. Readings
    that are on record for those days go over to it. Raises GaugeRefused.
    """
    System.objects.select_for_update().get(pk=system.pk)
    _refuse_faults(system, quantity, full_scale, error_percent, from_on, now)
    own = Gauge.objects.filter(system=system, quantity=quantity)
    later = own.filter(from_on__gt=from_on).order_by("from_on").first()
    own.filter(Q(to_on=None) | Q(to_on__gt=from_on), from_on__lt=from_on).update(to_on=from_on)
    gauge = Gauge.objects.create(
        system=system,
        quantity=quantity,
        label=label.strip()[:80],
        full_scale=full_scale,
        error_percent=error_percent,
        from_on=from_on,
        to_on=later.from_on if later else None,
    )
    _take_over(system, gauge)
    Trail.objects.create(
        at=now,
        by=by,
        did="recorded a gauge",
        about=f"system:{system.pk}",
        after={"gauge": gauge.pk, "quantity": quantity, "from": f"{from_on:%Y-%m-%d}"},
    )
    return gauge


def gauges_on(system: System, day: date) -> dict[str, Gauge]:
    """The gauge of each quantity on a day; a line without one of its own has the manifold's."""
    rows = Gauge.objects.filter(Q(to_on=None) | Q(to_on__gt=day), system=system, from_on__lte=day)
    found = {row.quantity: row for row in rows.order_by("from_on", "pk")}
    for quantity, other in READ_WITH.items():
        if quantity not in found and other in found:
            found[quantity] = found[other]
    return found


def _refuse_faults(system, quantity, full_scale, error_percent, from_on, now):
    if from_on < system.installed_on:
        raise GaugeRefused(f"Nothing stood here before {system.installed_on}. Check the day.")
    if from_on > now.astimezone(ZoneInfo(system.site.time_zone)).date():
        raise GaugeRefused("This day lies ahead. Record a gauge when it hangs there.")
    if full_scale is not None and full_scale <= 0:
        raise GaugeRefused("The end of the scale must be more than 0. Read it off the dial.")
    if error_percent is not None and not 0 < error_percent <= 25:
        raise GaugeRefused("The error lies between 0 and 25 percent of the scale; most are 1 to 3.")
    known = Gauge.objects.filter(system=system, quantity=quantity, from_on=from_on)
    if known.exists():
        raise GaugeRefused(
            "A gauge of this kind is on record from that very day. Choose the day on which the "
            "other one came off."
        )


def _take_over(system, gauge):
    """Readings of its days belong to it; those of a line only where the line has no own gauge."""
    zone = ZoneInfo(system.site.time_zone)
    days = {"set__taken_at__gte": datetime.combine(gauge.from_on, time(), zone)}
    if gauge.to_on:
        days["set__taken_at__lt"] = datetime.combine(gauge.to_on, time(), zone)
    rows = Reading.objects.filter(set__system=system, **days)
    rows.filter(quantity=gauge.quantity).update(gauge=gauge)
    lines = [line for line, read in READ_WITH.items() if read == gauge.quantity]
    common = rows.filter(Q(gauge=None) | Q(gauge__quantity=gauge.quantity), quantity__in=lines)
    common.update(gauge=gauge)
