"""Whether there may be ice at a site: warnings speak of it rather too early than too late."""

from datetime import date, timedelta

from servicedesk.planning.seasons import Climate, Season, season_windows

AFTER_ICE_OUT = timedelta(days=21)
ICE_SEEN_LASTS = timedelta(days=45)
COLD_MONTHS = {11, 12, 1, 2, 3, 4}  # November to April, where no days of the region are known


def ice_possible(climate: Climate, on: date) -> bool:
    """Whether there may be ice on a pond.

    climate: the region's usual days; where they are not known, November to April counts, half a
        year later in the south.
    on: the day.
    Returns True from the day by which winter work must be done until three weeks after ice
        usually leaves; never where ponds do not freeze. Ice that was seen, with no ice-out since,
        is there for 45 days whatever is usual.
    Source: our own rule; the days are a judgement, common practice, no source.
    """
    seen = climate.ice_seen_on
    if seen and seen <= on <= seen + ICE_SEEN_LASTS:
        return True
    if not climate.has_winter:
        return False
    years = range(on.year - 1, on.year + 2)
    winters = season_windows(Season.WINTER, climate, years)
    springs = season_windows(Season.SPRING, climate, years)
    if not winters or not springs:
        return (on.month - (6 if climate.latitude < 0 else 0) - 1) % 12 + 1 in COLD_MONTHS
    for winter in winters:
        outs = [spring.opens_on for spring in springs if spring.opens_on > winter.closes_on]
        if outs and winter.closes_on <= on <= min(outs) + AFTER_ICE_OUT:
            return True
    return False
