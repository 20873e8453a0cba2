"""What was read at a visit: as found, as left, last time, and whether it is as usual."""

from collections import defaultdict

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from customers.models import Firm
from equipment import charts
from equipment.actions.assessment import tolerances_of
from equipment.actions.histories import histories_of
from equipment.condition.bands import band_for
from equipment.condition.baseline import all_series
from equipment.condition.history import FLOW, MANIFOLD
from equipment.condition.wording import amount
from equipment.kinds import Moment, Quantity
from equipment.models import Reading
from equipment.physics import units as quantities
from servicedesk.actions.assessing import changes_of
from servicedesk.actions.reports.gather import Gathered
from servicedesk.emails.report import NAMES
from servicedesk.emails.rows import day_words
from servicedesk.planning.calendar import site_date

NAMED = NAMES | {
    Quantity.VOLTAGE: gettext_lazy("Voltage"),
    Quantity.CABINET_AIR: gettext_lazy("Air in the cabinet"),
    Quantity.OUTSIDE_AIR: gettext_lazy("Air outside"),
    Quantity.HEAD_TEMPERATURE: gettext_lazy("Warmth of the compressor"),
    Quantity.WATER_TEMPERATURE: gettext_lazy("Water temperature"),
    Quantity.OXYGEN: gettext_lazy("Oxygen in the water"),
    Quantity.LEVEL: gettext_lazy("Water against its mark"),
    Quantity.SECCHI: gettext_lazy("Clarity of the water"),
    Quantity.ICE: gettext_lazy("Thickness of ice, where it was read"),
    Quantity.OPEN_WATER: gettext_lazy("Width of the open water"),
}
CHARTED = 12  # readings of the last visits: as many as one can tell apart on paper; our judgement
AS_READ = {MANIFOLD[0], FLOW[0], Quantity.LINE_PRESSURE, Quantity.BUBBLES}


class Read:
    """The readings of a visit in the words and units of one reader."""

    def __init__(self, found: Gathered, *, units: str):
        self.found, self.units = found, units
        systems = [system.pk for system in found.systems]
        self.on = site_date(found.ends_at, found.visit.site.time_zone)
        self.histories = histories_of(
            systems,
            until=found.ends_at,
            changes=changes_of(systems, now=found.ends_at),
            tolerances=tolerances_of(Firm.objects.first()),
            units=units,
            for_bands=True,
        )
        self.series = {pk: all_series(one, self.on) for pk, one in self.histories.items()}

    def rows(self, *, system=None, pond=None):
        """One row for each thing that was read at a place."""
        by_what = defaultdict(dict)
        for reading in self.found.readings:
            if (reading.set.system_id, reading.set.pond_id) == (system, pond):
                by_what[reading.quantity, reading.position_id][reading.set.moment] = reading
        order = list(NAMED)
        known = [key for key in by_what if key[0] in NAMED]
        known.sort(key=lambda key: (order.index(key[0]), key[1] or 0))
        return [self._row(system, pond, key, by_what[key]) for key in known]

    def chart(self, system):
        """Pressure over the last visits, where it was read twice: the drawing and its words."""
        every = self.series.get(system, {}).get(MANIFOLD, ())
        reads = [(read, series) for series in every for read in series.reads]
        reads = sorted(reads, key=lambda pair: pair[0].order)[-CHARTED:]
        if len(reads) < 2:
            return None
        name, unit = _("Pressure"), quantities.readers_unit(Quantity.PRESSURE, self.units)
        points = [
            charts.Point(
                read.on,
                self._in_unit(read.raw, unit),
                read.moment == Moment.AS_LEFT,
                f"{series.configuration} {series.gauge} {series.generation}",
            )
            for read, series in reads
        ]
        bands = self._bands(system, reads, unit)
        shown = quantities.unit_name(unit)
        drawn = charts.reading_chart(points, name=name, unit=shown, bands=bands)
        return {"svg": str(drawn), "words": charts.described(points, unit=shown, bands=bands)}

    def _bands(self, system, reads, unit):
        bands, before = [], None
        for read, series in reads:
            if series is before:
                continue
            before = series
            band, _at = band_for(
                self.histories[system], series, read, self.series[system][MANIFOLD]
            )
            if band:
                low, high = (self._in_unit(edge, unit) for edge in (band.low, band.high))
                bands.append(charts.Band(read.on, low, high, confirmed=band.sure))
        return bands

    def _in_unit(self, value, unit):
        return quantities.from_stored(Quantity.PRESSURE, value, unit)

    def _row(self, system, pond, key, by_moment):
        newest = list(by_moment.values())[-1]
        name = str(NAMED[key[0]])
        found, left = by_moment.get(Moment.AS_FOUND), by_moment.get(Moment.AS_LEFT)
        found = found or by_moment.get(Moment.OTHER)
        judged = next((r for r in (left, found) if r and r.value is not None), None)
        last = self.found.before.get((system, pond, *key))
        return {
            "name": f"{name} ({newest.position.label})" if newest.position else name,
            "found": self._value(found),
            "left": self._value(left),
            "last": self._shown(key[0], last[0]) if last else "",
            "last_on": day_words(site_date(last[1], self.found.visit.site.time_zone))
            if last
            else "",
            "says": self._stands(system, judged) if judged and system else "",
        }

    def _value(self, reading: Reading | None):
        if reading is None:
            return ""
        if reading.value is None:
            return _("not read")
        return self._shown(reading.quantity, reading.value)

    def _shown(self, quantity, value):
        return quantities.shown(quantity, value, self.units)

    def _stands(self, system, reading):
        """Whether a reading lies in its usual band, as a sentence; empty where nobody can say."""
        label = reading.position.label if reading.position else None
        key, history = (reading.quantity, label), self.histories.get(system)
        if history is None or reading.quantity not in AS_READ:
            return ""
        every = self.series[system].get(key, ())
        for series in every:
            for read in series.reads:
                if read.set.key == reading.set_id:
                    band, _at = band_for(history, series, read, every)
                    return self._sentence(history, key, read, band) if band else ""
        return ""

    def _sentence(self, history, key, read, band):
        edges = {
            "low": amount(history, key, band.low),
            "high": amount(history, key, band.high),
        }
        if read.raw < band.low:
            return _("Lower than usual; usual here is %(low)s to %(high)s.") % edges
        if read.raw > band.high:
            return _("Higher than usual; usual here is %(low)s to %(high)s.") % edges
        return _("As usual here, which is %(low)s to %(high)s.") % edges
