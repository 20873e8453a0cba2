"""The readings of a system on a page: charts with band and drift, and one row for each set."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from equipment import charts
from equipment.actions.assessment import Judged
from equipment.condition.bands import band_for
from equipment.condition.baseline import all_series
from equipment.condition.causes import KNOWN
from equipment.condition.history import FLOW, MANIFOLD, POWER, RISE, Key
from equipment.condition.wording import amount
from equipment.kinds import Moment, Quantity
from equipment.physics import units

YEAR_D = 365.25
ROWS = 24
SHOWN = {  # what a chart can show, by the word in the address
    "pressure": (MANIFOLD, gettext_lazy("Outlet pressure")),
    "flow": (FLOW, gettext_lazy("Air flow")),
    "power": (POWER, gettext_lazy("Power, volts times amperes")),
    "rise": (RISE, gettext_lazy("Cabinet over outside air")),
}
IN_BAND, BELOW, ABOVE = "in band", "below", "above"


@dataclass(frozen=True)
class Scale:
    """The unit in which a key is printed, and how a stored value gets there."""

    unit: str
    factor: float

    def of(self, value: float) -> float:
        return value * self.factor


def scale_of(key: Key, system: str) -> Scale:
    """Of volts times amperes there is one unit; a rise is a difference, not a temperature."""
    if key == POWER:
        return Scale("VA", 1.0)
    what = units.Dimension.TEMPERATURE_RISE if key == RISE else key[0]
    unit = units.readers_unit(what, system)
    zero = units.from_stored(what, 0.0, unit)
    return Scale(units.unit_name(unit), units.from_stored(what, 1.0, unit) - zero)


class Readings:
    """Everything that the page of a system's readings shows, from what is known of it."""

    def __init__(self, judged: Judged, *, on: date, gauges, visits=()):
        self.history, self.verdict, self.setup = judged.history, judged.verdict, judged.setup
        self.on, self.gauges, self.visits = on, gauges, visits
        self.by_key = all_series(self.history, on)

    def offered(self):
        """(word in the address, name) of what was read at least twice."""
        return [
            (word, name)
            for word, (key, name) in SHOWN.items()
            if sum(len(series.reads) for series in self.by_key.get(key, ())) > 1
        ]

    def chart(self, word: str):
        """One quantity over time; None where it was not read twice."""
        if word not in dict(self.offered()):
            return None
        key, name = SHOWN[word]
        scale = scale_of(key, self.history.units)
        return charts.reading_chart(
            self._points(key, scale),
            name=str(name),
            unit=scale.unit,
            bands=self._bands(key, scale),
            marks=self._marks(key, scale),
            trend=self._trend(key, scale),
        )

    def changes(self, word: str):
        """The numbered lines of the chart, in words."""
        key, _name = SHOWN[word]
        marks = self._marks(key, scale_of(key, self.history.units))
        return [mark for mark in marks if mark.kind in {"configuration", "gauge"}]

    def lines(self):
        """A small chart for each line whose own pressure was read."""
        scale = scale_of((Quantity.LINE_PRESSURE, None), self.history.units)
        keys = sorted(key for key in self.by_key if key[0] == Quantity.LINE_PRESSURE)
        drawn = [
            (key[1], self._points(key, scale), self._bands(key, scale))
            for key in keys
            if sum(len(series.reads) for series in self.by_key[key]) > 1
        ]
        return charts.small_charts(drawn, unit=scale.unit)

    def rows(self, word: str):
        """One row for each reading of a quantity, newest first, with the band it is judged by."""
        wanted = {SHOWN[word][0][0]} if word else set()
        wanted |= {Quantity.LINE_PRESSURE} if Quantity.PRESSURE in wanted else set()
        found = [
            self._row(key, series, read)
            for key, every in self.by_key.items()
            for series in every
            for read in series.reads[-ROWS:]
            if key[0] in wanted
        ]
        found.sort(key=lambda row: (row["read"].order, row["name"]), reverse=True)
        return found[:ROWS]

    def _row(self, key, series, read):
        band, _at = band_for(self.history, series, read, self.by_key[key])
        stands = ""
        if band:
            stands = IN_BAND if band.low <= read.raw <= band.high else BELOW
            stands = ABOVE if read.raw > band.high else stands
        known = self.history.gauges.get(series.gauge)
        return {
            "read": read,
            "name": _name(key),
            "value": amount(self.history, key, read.raw),
            "band": self._between(key, band) if band else "",
            "basis": band.basis if band else "",
            "stands": stands,
            "gauge": known.label if known else "",
            "configuration": self.history.name(series.configuration),
            "visit": self.visits.get(read.set.key) if self.visits else None,
        }

    def _between(self, key, band):
        low, high = (amount(self.history, key, edge) for edge in (band.low, band.high))
        return _("%(low)s to %(high)s") % {"low": low, "high": high}

    def _points(self, key, scale):
        return [
            charts.Point(
                on=read.on,
                value=scale.of(read.raw),
                as_left=read.moment == Moment.AS_LEFT,
                series=f"{series.configuration} {series.gauge} {series.generation}",
            )
            for series in self.by_key[key]
            for read in series.reads
        ]

    def _bands(self, key, scale):
        """A step at each change of what readings are compared with."""
        reads = sorted(
            ((read, series) for series in self.by_key[key] for read in series.reads),
            key=lambda pair: pair[0].order,
        )
        steps, before = [], None
        for read, series in reads:
            if series is before:
                continue
            last = [one for one, own in reads if own is series][-1]
            band, _at = band_for(self.history, series, last, self.by_key[key])
            if band:
                steps.append(
                    charts.Band(
                        from_on=self._begins(read.on, steps),
                        low=scale.of(band.low),
                        high=scale.of(band.high),
                        expected=scale.of(band.expected),
                        confirmed=band.sure,
                    )
                )
            before = series
        return steps

    def _begins(self, on, steps):
        """The change that lies before a reading, if it lies after the step before."""
        begun = [one.from_on for one in self.setup.configurations if one.from_on <= on]
        begun += [gauge.from_on for gauge in self.gauges if gauge.from_on <= on]
        since = max(begun, default=on)
        return since if not steps or since > steps[-1].from_on else on

    def _marks(self, key, scale):
        marks = [
            charts.Mark(one.from_on, "configuration", str(one.name))
            for one in self.setup.configurations
        ]
        own = {key[0], Quantity.PRESSURE} if key[0] == Quantity.LINE_PRESSURE else {key[0]}
        marks += [
            charts.Mark(gauge.from_on, "gauge", _("gauge: %s") % gauge.label)
            for gauge in self.gauges
            if gauge.quantity in own
        ]
        days = {read.on for series in self.by_key[key] for read in series.reads}
        marks += [charts.Mark(on, "visit", _("visit")) for on in sorted(days)]
        marks += [
            charts.Mark(row.on, "baseline", _("baseline"), value=scale.of(row.value))
            for row in self.history.baselines
            if (row.quantity, row.position) == key and key not in (POWER, RISE)
        ]
        first = min(days)
        return sorted((one for one in marks if one.on >= first), key=lambda mark: mark.on)

    def _trend(self, key, scale):
        found = next((one for one in self.verdict.drifts if one.key == key and one.trend), None)
        if found is None:
            return None
        (first, _value), (last, _last) = found.points[0], found.points[-1]
        years = (last - first).days / YEAR_D
        start = median(
            value - found.slope * (on - first).days / YEAR_D for on, value in found.points
        )
        crosses = found.crosses or (None, None)
        return charts.Trend(
            first,
            last,
            scale.of(start),
            *(scale.of(start + rate * years) for rate in (found.slope, found.low, found.high)),
            limit=None if found.limit is None else scale.of(found.limit),
            crosses_from=crosses[0],
            crosses_until=_ahead(crosses[1], last),
        )


def other_causes(ranked: Collection[str]) -> list[tuple[str, str]]:
    """(slug, words) of the causes that are not in the list, by their words."""
    rest = ((slug, known.words) for slug, known in KNOWN.items() if slug not in ranked)
    return sorted(rest, key=lambda pair: pair[1])


def _ahead(on, last):
    """Beyond a few years a day says nothing."""
    return None if on is None or on - last > timedelta(days=5 * 365) else on


def _name(key):
    known = {own: str(name) for own, name in SHOWN.values()}
    if key in known:
        return known[key]
    return _("Pressure of line %s") % key[1] if key[1] else str(key[0]).replace("_", " ")
