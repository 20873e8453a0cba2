"""Daily temperatures from an open forecast service that speaks the interface of Open-Meteo.

Only a job asks it, never a page. What it says is checked before it is believed.
"""

import json
import time
from dataclasses import dataclass
from datetime import date

from servicedesk.roads import NoAnswer, fetched

PAST_DAYS, DAYS_AHEAD = 14, 7


@dataclass(frozen=True)
class Day:
    on: date
    low_c: float
    high_c: float


def days_at(url: str, latitude: float, longitude: float, *, within_s: float) -> list[Day]:
    """Lowest and highest temperature of the last days and the next, at a place; one call.

    A day of which the service does not know both is left out. Raises NoAnswer at the latest after
    `within_s` seconds.
    """
    asked = (
        f"?latitude={latitude:.4f}&longitude={longitude:.4f}"
        "&daily=temperature_2m_min,temperature_2m_max&temperature_unit=celsius&timezone=auto"
        f"&past_days={PAST_DAYS}&forecast_days={DAYS_AHEAD}"
    )
    status, body = fetched(url, asked, time.monotonic() + within_s)
    if status != 200:
        raise NoAnswer(f"answered with status {status}")
    try:
        daily = json.loads(body)["daily"]
        lows, highs = daily["temperature_2m_min"], daily["temperature_2m_max"]
        every = list(zip(daily["time"], lows, highs, strict=True))
        found = [
            Day(date.fromisoformat(text), float(low), float(high))
            for text, low, high in every
            if low is not None and high is not None
        ]
    except (ValueError, TypeError, KeyError, RecursionError):
        raise NoAnswer("answered with something else than daily temperatures") from None
    if not all(-70 <= day.low_c <= day.high_c <= 50 for day in found):
        raise NoAnswer("gave temperatures that no day has")
    return found
