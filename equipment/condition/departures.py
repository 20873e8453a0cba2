"""How far the newest readings of a system lie from what was to be expected."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from equipment.condition.bands import band_for
from equipment.condition.baseline import Read, Series, normalised
from equipment.condition.expected import Band, level_pa
from equipment.condition.history import PRESSURES, History, Key, SetRead
from equipment.condition.wording import amount, day, word
from equipment.kinds import Moment

CURRENT = timedelta(days=150)  # an older reading says nothing of today: judgement
HALF = 0.5  # of the tolerance: enough to lend weight to what shows elsewhere, judgement


@dataclass(frozen=True)
class Departure:
    """One reading against its band; `value`, `away` and `before` with the level taken out.

    before: departure of the reading before it in the same series, by the same band; None where
    there is none. explained: what the water's level adds, None where it was not read.
    """

    key: Key
    read: Read
    band: Band
    value: float
    before: float | None = None
    before_on: date | None = None
    explained: float | None = None

    @property
    def away(self) -> float:
        return self.value - self.band.expected

    @property
    def raw_away(self) -> float:
        return self.read.raw - self.band.expected

    @property
    def side(self) -> float:
        """Half the band on the side where the reading lies."""
        up = self.away >= 0
        edge = self.band.high - self.band.expected if up else self.band.expected - self.band.low
        return max(edge, 1e-9)

    @property
    def share(self) -> float:
        """Departure over tolerance, above 0 for more than expected; beyond 1 it says something."""
        return self.away / self.side

    @property
    def earlier(self) -> float | None:
        """What was there already at the reading before, as a share; None where nobody can say."""
        if self.before is None or self.read.on - self.before_on > _ONE_GAP:
            return None
        return self.before / self.away

    @property
    def at_once(self) -> bool:
        """Whether most of it came since the reading before."""
        return self.earlier is not None and self.earlier <= _LITTLE

    @property
    def slowly(self) -> bool:
        """Whether about half of it or more was there at the reading before."""
        return self.earlier is not None and self.earlier >= _MUCH


_LITTLE, _MUCH = 0.35, 0.45  # of a departure: judgement
_ONE_GAP = timedelta(days=150)  # longer, and "at once" means nothing: judgement


def judged_set(history: History, on: date) -> SetRead | None:
    """The set that a verdict speaks of: the newest as found, or whatever was read that day.

    history: everything known of the system.
    on: the day of the verdict.
    Returns the set; None without readings.
    Source: our own rule: what was found is evidence, what was left is the result.
    """
    sets = history.until(on)
    if not sets:
        return None
    today = [s for s in sets if s.on == sets[-1].on]
    found = [s for s in today if s.moment != Moment.AS_LEFT]
    return found[-1] if found else today[-1]


def departures(
    history: History, judged: SetRead, by_key: Mapping[Key, list[Series]]
) -> dict[Key, Departure]:
    """The newest reading of each kind up to a set, against its band.

    history: everything known of the system.
    judged: the set that the verdict speaks of.
    by_key: from `all_series`.
    Returns departures by key; none for what was last read more than 150 days before, or before
        work that made it meaningless.
    Source: our own rule; the 150 days are a judgement.
    """
    found = {}
    for key, series in by_key.items():
        read, own = _newest(series, judged)
        if read is None or judged.on - read.on > CURRENT or _answered(history, key, read, judged):
            continue
        departure = _judged(history, own, read, series)
        if departure:
            found[key] = departure
    return found


def left_departures(
    history: History, judged: SetRead, by_key: Mapping[Key, list[Series]]
) -> dict[Key, Departure]:
    """What was left on the day of a set, against its band.

    history: everything known of the system.
    judged: the set as found.
    by_key: from `all_series`.
    Returns departures by key, only of what was read as left later that day.
    Source: our own rule.
    """
    found = {}
    for key, series in by_key.items():
        for own in series:
            for read in own.reads:
                same_day = read.on == judged.on and read.order > judged.order
                if same_day and read.moment == Moment.AS_LEFT:
                    departure = _judged(history, own, read, series)
                    if departure:
                        found[key] = departure
    return found


def figure(history: History, departure: Departure) -> str:
    """A departure in words with its figures.

    history: with the reader's units.
    departure: of one reading.
    Returns a sentence.
    Source: our own rule.
    """
    key, band = departure.key, departure.band
    read = amount(history, key, departure.read.raw)
    says = f"The {word(key)} was {read} on {day(departure.read.on)}"
    if departure.explained and abs(departure.explained) >= HALF * departure.side:
        level = amount(history, key, abs(departure.explained))
        more = "more" if departure.explained > 0 else "less"
        says += f", {level} {more} by the water's level alone; with that taken out it is"
        says += f" {amount(history, key, departure.value)}"
    low, high = (amount(history, key, value) for value in (band.low, band.high))
    if abs(departure.share) <= 1:
        return f"{says}: inside {low} to {high} ({band.basis})."
    by = amount(history, key, abs(departure.away))
    way = "above" if departure.away > 0 else "below"
    return f"{says}: {by} {way} what is expected, {low} to {high} ({band.basis})."


def _newest(series, judged):
    """The last read of the judged day as found, or before it; and the series it stands in."""
    best = (None, None)
    for own in series:
        for read in own.reads:
            if read.order <= judged.order and (best[0] is None or read.order > best[0].order):
                best = (read, own)
    return best


def _answered(history, key, read, judged):
    """Whether work after an older reading makes it say nothing of today."""
    return any(
        change.touches(*key)
        and not change.before(read.on, read.moment)
        and change.before(judged.on, judged.moment)
        for change in history.changes
    ) or (read.set.configuration != judged.configuration)


def _judged(history, own, read, series):
    band, at = band_for(history, own, read, series)
    if band is None:
        return None
    explained = None
    if own.key[0] in PRESSURES and read.level_m is not None and at.level_m is not None:
        explained = level_pa(read.level_m - at.level_m)
    earlier = [r for r in own.reads if r.order < read.order and r.on < read.on]
    before = earlier[-1] if earlier else None
    return Departure(
        own.key,
        read,
        band,
        normalised(history, own, read, at),
        normalised(history, own, before, at) - band.expected if before else None,
        before.on if before else None,
        explained,
    )
