"""Temperature and oxygen from the surface down, kept as typed depth by depth."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from customers.models import Pond, User
from equipment.kinds import Moment, Quantity
from equipment.models import ProfilePoint, ReadingSet
from equipment.physics import limits, units
from equipment.physics.atmosphere import air_pressure_pa


@dataclass(frozen=True)
class Probe:
    """What a probe showed at one depth, as a person wrote it; empty where it was not measured."""

    depth: str
    temperature: str = ""
    oxygen: str = ""


class ProfileRefused(Exception):
    """Sentences about a profile; `question` when confirming it as it is settles them."""

    def __init__(self, says: Sequence[str], *, question: bool):
        super().__init__(" ".join(says))
        self.says, self.question = list(says), question


@transaction.atomic
def record_profile(
    pond: Pond,
    *,
    taken_at: datetime,
    entered_at: datetime,
    probes: Sequence[Probe],
    depth_unit: str,
    temperature_unit: str,
    taken_by: User | None,
    key: uuid.UUID | None = None,
    confirmed: bool = False,
) -> ReadingSet:
    """Keep a profile of a pond, all depths or none; the same one sent twice is kept once.

    Raises ProfileRefused for what cannot be, and for what is odd until it is `confirmed`.
    """
    key = key or uuid.uuid4()
    if known := ReadingSet.objects.filter(uuid=key).first():
        return known
    points = _points(probes, depth_unit, temperature_unit)
    said = limits.profile_doubts(
        points,
        depth_max_m=pond.depth_max_m,
        air_pa=air_pressure_pa(pond.site.elevation_m or 0.0),
    )
    if said and not confirmed:
        raise ProfileRefused(said, question=True)
    new = ReadingSet.objects.create(
        uuid=key,
        pond=pond,
        moment=Moment.OTHER,
        taken_at=taken_at,
        entered_at=entered_at,
        taken_by=taken_by,
    )
    ProfilePoint.objects.bulk_create(
        ProfilePoint(set=new, depth_m=depth, temperature_c=warmth, oxygen_mg_l=oxygen)
        for depth, warmth, oxygen in points
    )
    return new


def _points(probes, depth_unit, temperature_unit):
    """Depth, temperature and oxygen of each probe in the stored units."""
    said, points = [], []
    for probe in probes:
        try:
            depth = units.to_stored("length", units.typed_number(probe.depth), depth_unit)
            warmth = _value(Quantity.WATER_TEMPERATURE, probe.temperature, temperature_unit)
            points.append((depth, warmth, _value(Quantity.OXYGEN, probe.oxygen, "mg/L")))
        except ValueError as error:
            said.append(f"At {probe.depth.strip() or 'no depth'}: {error}")
    depths = [depth for depth, _, _ in points]
    if any(depth < 0 for depth in depths):
        said.append("Depths count down from the surface: write them without a sign.")
    if len(set(depths)) < len(depths):
        said.append("One depth stands twice. Keep one of the two.")
    if not probes or any(warmth is None and oxygen is None for _, warmth, oxygen in points):
        said.append("Each depth needs a temperature or an oxygen reading.")
    if said:
        raise ProfileRefused(said, question=False)
    return points


def _value(quantity, text, unit):
    if not text.strip():
        return None
    value = units.typed_number(text)
    if says := limits.refusal(quantity, value, unit):
        raise ValueError(says)
    return units.to_stored(quantity, value, unit)
