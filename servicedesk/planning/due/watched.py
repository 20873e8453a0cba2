"""A day that keeps watch over its own use: until when would another day have given the same?"""

from datetime import date, timedelta

TOMORROW = timedelta(days=1)


class WatchedDay(date):
    """Today, for a calculation whose answer is to be kept.

    Each comparison notes the first later day on which it would come out otherwise; whatever else
    is asked of it holds for this day, month or year alone. So the same calculation gives the same
    answer on every day from this one to the day before `until`.
    """

    def __new__(cls, day: date):
        watched = super().__new__(cls, day.year, day.month, day.day)
        watched.plain = day
        watched.until = date.max
        return watched

    def _only_before(self, day):
        self.until = min(self.until, day)

    def _only_today(self):
        self._only_before(self.plain + TOMORROW)

    def __lt__(self, other):
        if other is self:
            return False
        if self.plain < other:
            self._only_before(other)
            return True
        return False

    def __ge__(self, other):
        return not self < other

    def __le__(self, other):
        if other is self:
            return True
        if self.plain <= other:
            self._only_before(other + TOMORROW)
            return True
        return False

    def __gt__(self, other):
        return not self <= other

    def __eq__(self, other):
        if other is self:
            return True
        if self.plain == other:
            self._only_today()
            return True
        if isinstance(other, date) and self.plain < other:
            self._only_before(other)
        return False

    def __ne__(self, other):
        return not self == other

    def __hash__(self):
        self._only_today()
        return hash(self.plain)

    @property
    def year(self):
        self._only_before(date(self.plain.year + 1, 1, 1))
        return self.plain.year

    @property
    def month(self):
        first = self.plain.replace(day=1) + timedelta(days=32)
        self._only_before(first.replace(day=1))
        return self.plain.month


def _for_today_alone(name):
    plain = getattr(date, name)

    def method(self, *args, **kwargs):
        self._only_today()
        return plain(self.plain, *args, **kwargs)

    return method


for _name in (
    *("__add__", "__radd__", "__sub__", "__rsub__", "__str__", "__repr__", "__format__"),
    *("__reduce__", "ctime", "isocalendar", "isoformat", "isoweekday", "replace", "strftime"),
    *("timetuple", "toordinal", "weekday"),
):
    setattr(WatchedDay, _name, _for_today_alone(_name))
WatchedDay.day = property(lambda self: _for_today_alone("toordinal")(self) and self.plain.day)
