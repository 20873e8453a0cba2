"""The readings on the closing page, each with its unit and what was read last time."""

import json
from collections import defaultdict
from datetime import timedelta
from functools import cached_property

from django.db.models import Q
from django.utils.translation import gettext as _

from equipment.actions.known import OF_THE_WEATHER
from equipment.kinds import PositionKind, Quantity
from equipment.models import Reading
from equipment.physics import limits, slips, units
from servicedesk.actions.visits.measured import OF_A_SYSTEM
from servicedesk.forms.blocks import BandShown, ReadingLine
from servicedesk.forms.words import BUBBLES, LOOK_AT, NAMES, OF_A_POND

RAIL_ROOM = 0.6  # of the band's width, at both ends
SILENT = slips.UNASKED | OF_THE_WEATHER  # what last time proves nothing of
ONE_VISIT = timedelta(hours=12)  # as found and as left are one visit: judgement


class Gauges:
    """`field` makes the fields of the page, `positions` are those in use by system id."""

    def __init__(self, field, *, positions, ponds, reader_units, bands=None):
        self.field, self.positions, self.ponds = field, positions, ponds
        self.reader_units, self.bands = reader_units, bands or {}

    def of_system(self, system, tasks):
        """The readings that tasks ask for, and those that may be taken beside them."""
        words = dict.fromkeys(word for task in tasks for word in task.readings)
        meters = self._keys(system, PositionKind.METER, Quantity.RUN_HOURS)
        plates = self._keys(system, PositionKind.DIFFUSER, Quantity.LINE_PRESSURE)
        asked = [word for word in words if word in OF_A_SYSTEM]
        asked += meters if Quantity.RUN_HOURS in words else []
        possible = [name for name in NAMES if name in OF_A_SYSTEM] + [*meters]
        possible += plates if Quantity.LINE_PRESSURE in words else []
        more = [key for key in possible if key not in asked]
        labels = (meters if len(meters) > 1 else {}) | {
            key: f"{NAMES[Quantity.LINE_PRESSURE]}, {label}" for key, label in plates.items()
        }
        start = f"systems.{system.pk}.left"
        lines = {
            key: self._line(start, key, self._read["system", system.pk, key], labels)
            for key in [*asked, *more]
        }
        for key, line in lines.items():
            quantity, _colon, number = key.partition(":")
            label = plates.get(key) if number else None
            band = self.bands.get(system.pk, {}).get((quantity, label))
            last = next(iter(self._read["system", system.pk, key]), None)
            if band is not None and (label or not number):
                line.band = _shown(quantity, band, line, last)
                if band.sure:
                    line.usual = _in_each(quantity, band.expected)
        return [lines[key] for key in asked], [lines[key] for key in more]

    def of_pond(self, pond, tasks):
        """What tasks ask for at the water itself; nothing of it is demanded."""
        words = dict.fromkeys(word for task in tasks for word in task.readings)
        return [
            self._line(f"ponds.{pond.pk}", word, self._read["pond", pond.pk, word], {})
            for word in words
            if word in OF_A_POND
        ]

    def bubbles(self, system):
        """A score for each plate, with that of last time."""
        lines = []
        for position in self.positions[system.pk]:
            if position.kind == PositionKind.DIFFUSER:
                key = f"{Quantity.BUBBLES}:{position.pk}"
                name = f"systems.{system.pk}.found.{key}.typed"
                last = next(iter(self._read["system", system.pk, key]), None)
                field = self.field(name, options=BUBBLES)
                lines.append({"position": position, "field": field, "last": last})
        return lines

    def _keys(self, system, kind, quantity):
        """Keys of a quantity that is read place by place, with the labels of the places."""
        places = [p for p in self.positions[system.pk] if p.kind == kind]
        return {f"{quantity}:{place.pk}": place.label for place in places}

    @cached_property
    def _read(self):
        """The standing readings of each system and pond by key, newest first, one a visit."""
        here = Q(set__system__in=[*self.positions]) | Q(set__pond__in=[p.pk for p in self.ponds])
        rows = (
            Reading.objects.standing()
            .filter(here, value__isnull=False, doubtful=False)
            .select_related("set")
            .order_by("-set__taken_at", "-pk")
        )
        read = defaultdict(list)
        for row in rows:
            key = f"{row.quantity}:{row.position_id}" if row.position_id else row.quantity
            side = ("system", row.set.system_id) if row.set.system_id else ("pond", row.set.pond_id)
            visits = read[*side, key]
            if not visits or visits[-1].set.taken_at - row.set.taken_at > ONE_VISIT:
                visits.append(row)
        return read

    def _line(self, start, key, read, labels):
        quantity, last = key.partition(":")[0], next(iter(read), None)
        name, offered = f"{start}.{key}", units.offered(quantity)
        unit = units.readers_unit(quantity, self.reader_units)
        if last is not None and last.typed_unit in offered:
            unit = last.typed_unit  # what the gauge shows
        line = ReadingLine(
            label=labels.get(key) or NAMES[Quantity(quantity)],
            typed=self.field(f"{name}.typed"),
            unit=self.field(f"{name}.unit", unit, [(u, units.unit_name(u)) for u in offered]),
            answer=self.field(f"{name}.answer"),
            quantity=quantity,
            hard=_hard(quantity),
            warmth=slips.WARMTH.get(Quantity(quantity), ()),
        )
        if last is not None:
            line.lasts = _in_each(quantity, last.value)
            shown = line.unit.value if line.unit.value in offered else unit
            line.last = units.printed(json.loads(line.lasts)[shown], shown, quantity)
            line.last_at = last.set.taken_at
            if quantity not in SILENT and abs(last.value) >= slips.SMALLEST.get(quantity, 0):
                line.usual = line.lasts
            line.twice = slips.looks_copied(quantity, last.value, [row.value for row in read])
        return line


def _in_each(quantity, value):
    """A stored value in every unit that is offered, for the script."""
    offered = units.offered(quantity)
    return json.dumps({u: round(units.from_stored(quantity, value, u), 4) for u in offered})


def _hard(quantity):
    """The lowest and highest number that is taken, in every unit that is offered."""
    limit = limits.HARD[Quantity(quantity)]
    edges = [units.to_stored(quantity, edge, limit.unit) for edge in (limit.low, limit.high)]
    offered = units.offered(quantity)
    return json.dumps(
        {u: [round(units.from_stored(quantity, edge, u), 2) for edge in edges] for u in offered}
    )


def _shown(quantity, band, line, last):
    """The band in every unit that is offered, and where it and the last value lie on a rail."""
    ends = [band.low, band.high] + ([last.value] if last is not None else [])
    room = max(band.high - band.low, 1e-9) * RAIL_ROOM
    first, after = max(0.0, min(ends) - room), max(ends) + room
    rails = {
        unit: [round(units.from_stored(quantity, edge, unit), 4) for edge in edges]
        for unit in units.offered(quantity)
        for edges in [(band.low, band.high, first, after)]
    }
    unit = line.unit.value if line.unit.value in rails else next(iter(rails))
    low, high = (units.printed(edge, unit, quantity) for edge in rails[unit][:2])

    def at(value):
        return round(100 * (value - first) / (after - first), 1)

    below, above = LOOK_AT.get(Quantity(quantity), ("", ""))
    return BandShown(
        words=_("Normal %(low)s to %(high)s") % {"low": low, "high": high},
        basis=band.basis,
        low=low.partition("\u00a0")[0],
        high=high.partition("\u00a0")[0],
        rails=json.dumps(rails),
        start=at(band.low),
        width=round(at(band.high) - at(band.low), 1),
        last=None if last is None else at(last.value),
        below=str(below),
        above=str(above),
    )
