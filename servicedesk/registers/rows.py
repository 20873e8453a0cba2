"""One row of a register, checked cell by cell; each refusal says what to do."""

import re
import zoneinfo
from datetime import UTC, date, datetime, time

from dateutil import parser as dateparser
from django import forms

from customers import kinds as parties
from equipment.physics import units
from servicedesk.registers import columns

WEEKDAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
NUMERIC_DATE = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})")
EARLIEST = date(1950, 1, 1)
DEEPER_THAN_POND_M = 0.6
HARD = {  # lowest and highest value accepted, in the stored unit, and how to say so
    "pond_area": (10, 5_000_000, "between 10 m2 and 500 ha"),
    "pond_depth": (0.3, 60, "between 1 ft (0.3 m) and 197 ft (60 m)"),
    "elevation": (-430, 5000, "between -430 m and 5000 m"),
    "pressure_max": (6894.0, 1_034_300.0, "between 1 and 150 psi (7 and 1034 kPa)"),
}
DIMENSIONS = {  # a measure: what it measures, and the column that names its unit
    "pond_area": ("area", "area_unit"),
    "pond_depth": ("length", "depth_unit"),
    "elevation": ("length", "elevation_unit"),
    "pressure_max": ("pressure", "pressure_unit"),
}


class Day(forms.CharField):
    """A day written so that it can be read in one way only."""

    def clean(self, value):
        text = super().clean(value)
        return _day(text) if text else None


def _day(text):
    numeric = NUMERIC_DATE.fullmatch(text)
    try:
        if numeric:
            return _numeric_day(text, *map(int, numeric.groups()))
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return date.fromisoformat(text)
        if re.search(r"[A-Za-z]{3}", text) and re.search(r"\d{4}", text):
            return _written_day(text)
    except (ValueError, OverflowError):
        raise forms.ValidationError(
            f"There is no day {text}. Write the day as 2026-03-14."
        ) from None
    raise forms.ValidationError(f"{text} is not a day. Write it as 2026-03-14.")


def _written_day(text):
    """A day with its month in letters; two different defaults show what was left out."""
    first, second = (
        dateparser.parse(text, default=datetime(2000, month, month, tzinfo=UTC)) for month in (1, 2)
    )
    if first.date() != second.date():
        raise ValueError("not a whole date")
    return first.date()


def _numeric_day(text, first, second, year):
    if first <= 12 and second <= 12 and first != second:
        raise forms.ValidationError(
            f"{text} can be read in two ways: {date(year, first, second):%-d %B} or "
            f"{date(year, second, first):%-d %B}. Write the one you mean as "
            f"{date(year, first, second)} or {date(year, second, first)}."
        )
    day, month = (first, second) if first > 12 else (second, first)
    return date(year, month, day)


class Figure(forms.CharField):
    def __init__(self, low=None, high=None, **fields):
        super().__init__(**fields)
        self.low, self.high = low, high

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        return _within(_number(text), self.low, self.high)


def _number(text):
    try:
        return units.typed_number(text)
    except ValueError as error:
        raise forms.ValidationError(str(error)) from None


def _within(number, low, high):
    if (low is not None and number < low) or (high is not None and number > high):
        raise forms.ValidationError(f"{number:g} must lie between {low:g} and {high:g}.")
    return number


class Word(forms.CharField):
    """One of the words of a column, in any spelling of capitals, spaces and dashes."""

    def __init__(self, words, **fields):
        super().__init__(**fields)
        self.words = {word.lower(): word for word in words}

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return ""
        word = "_".join(text.lower().replace("-", " ").split())
        if word not in self.words:
            raise forms.ValidationError(
                f"{text} is not known here. Write one of: {', '.join(self.words.values())}."
            )
        return self.words[word]


class Clock(forms.CharField):
    def clean(self, value):
        text = super().clean(value)
        try:
            return time.fromisoformat(text.zfill(5)) if text else None
        except ValueError:
            raise forms.ValidationError(f"{text} is no time of day. Write it as 08:00.") from None


class Weekdays(forms.CharField):
    """Days of the week, such as `Mon-Fri` or `Tue, Thu`; gives ISO numbers."""

    def clean(self, value):
        text = super().clean(value)
        days = set()
        for part in filter(None, re.split(r"[,;\s]+", text.replace(" - ", "-"))):
            ends = [WEEKDAYS.index(end[:3].lower()) + 1 for end in part.split("-") if _is_day(end)]
            if len(ends) != len(part.split("-")) or len(ends) > 2 or ends[0] > ends[-1]:
                raise forms.ValidationError(
                    f"{part} names no days of the week. Write Mon-Fri, or Tue, Thu."
                )
            days |= set(range(ends[0], ends[-1] + 1))
        return sorted(days)


def _is_day(text):
    return text[:3].lower() in WEEKDAYS


class Zone(forms.CharField):
    def clean(self, value):
        text = super().clean(value)
        if text and text not in zoneinfo.available_timezones():
            raise forms.ValidationError(
                f"There is no time zone {text}. Write it like America/Chicago."
            )
        return text


class Hazards(forms.CharField):
    """`dog: tied at the barn; soft ground` gives (word, note) pairs."""

    def clean(self, value):
        pairs = []
        for part in filter(None, (part.strip() for part in super().clean(value).split(";"))):
            word, _, note = part.partition(":")
            kind = "_".join(word.lower().split())
            if kind not in set(parties.HazardKind):
                raise forms.ValidationError(
                    f"{word.strip()} is no hazard known here. Write other: and then your words, "
                    f"or one of: {', '.join(parties.HazardKind)}."
                )
            pairs.append((kind, note.strip()[:250]))
        return pairs


class Depths(forms.CharField):
    def clean(self, value):
        parts = [part for part in (p.strip() for p in super().clean(value).split(";")) if part]
        if len(parts) > 24:
            raise forms.ValidationError("A cabinet feeds 24 plates at most. Use a second system.")
        return [_number(part) for part in parts]


def _text(name, length):
    return forms.CharField(
        required=columns.BY_NAME[name].wanted,
        max_length=length,
        error_messages={
            "required": f"This cell is empty. {columns.BY_NAME[name].says}",
            "max_length": f"This is longer than {length} characters. Shorten it.",
        },
    )


def _optional(kind, *arguments):
    return kind(*arguments, required=False)


DAYS = ["installed_on", "filter_changed_on", "last_service", "last_membranes", "last_overhaul"]
DAYS += ["state_since"]


class RowForm(forms.Form):
    """A row of a register. `cleaned_data` holds SI values, days, words; empty means not said."""

    customer_key = _text("customer_key", 40)
    customer = _text("customer", 160)
    customer_kind = _optional(Word, columns.BY_NAME["customer_kind"].words)
    contact = _text("contact", 120)
    contact_email = forms.EmailField(
        required=False,
        error_messages={"invalid": "This is no mail address. Write it like name@example.com."},
    )
    contact_phone = _text("contact_phone", 40)
    contact_role = _optional(Word, columns.BY_NAME["contact_role"].words)
    site_key = _text("site_key", 40)
    site = _text("site", 120)
    street = _text("street", 160)
    town = _text("town", 80)
    postcode = _text("postcode", 20)
    region = _text("region", 80)
    latitude = Figure(-90, 90)
    longitude = Figure(-180, 180)
    elevation = _optional(Figure)
    elevation_unit = _optional(Word, columns.LENGTHS)
    time_zone = _optional(Zone)
    way_in = _text("way_in", 2000)
    gate_code = _text("gate_code", 200)
    hazards = _optional(Hazards)
    open_days = _optional(Weekdays)
    open_from = _optional(Clock)
    open_until = _optional(Clock)
    pond_key = _text("pond_key", 40)
    pond = _text("pond", 120)
    pond_area = _optional(Figure)
    area_unit = _optional(Word, columns.AREAS)
    pond_depth = _optional(Figure)
    fish = _text("fish", 120)
    system_key = _text("system_key", 40)
    system = _text("system", 80)
    installed_on = Day()
    diffuser_depths = _optional(Depths)
    depth_unit = _optional(Word, columns.LENGTHS)
    compressor_maker = _text("compressor_maker", 80)
    compressor_model = _text("compressor_model", 80)
    compressor_kind = _optional(Word, columns.BY_NAME["compressor_kind"].words)
    pressure_max = _optional(Figure)
    pressure_unit = _optional(Word, columns.PRESSURES)
    filter_part = _text("filter_part", 40)
    compressor_serial = _text("compressor_serial", 60)
    compressor_hours = _optional(Figure, 0, 200_000)
    hours_per_day = _optional(Figure, 0, 24)
    filter_changed_on = _optional(Day)
    last_service = _optional(Day)
    last_membranes = _optional(Day)
    last_overhaul = _optional(Day)
    state = _optional(Word, columns.STATES)
    state_since = _optional(Day)
    winter_mode = _optional(Word, columns.BY_NAME["winter_mode"].words)

    def __init__(self, cells, *, today):
        super().__init__(cells)
        self.loaded_on = today

    def clean(self):
        for name in ["installed_on", "latitude", "longitude"]:
            if self.has_error(name, code="required"):
                del self._errors[name]
                self.add_error(name, f"This cell is empty. {columns.BY_NAME[name].says}")
        for name in DIMENSIONS:
            self._measure(name)
        self._depths()
        self._days()
        self._hours()
        self._together()
        self._overhaul()
        return self.cleaned_data

    def _measure(self, name):
        value = self.cleaned_data.get(name)
        if value is None:
            return
        what, unit_name = DIMENSIONS[name]
        unit = self._unit(unit_name)
        if not unit:
            return
        stored = units.to_stored(what, value, unit)
        low, high, words = HARD[name]
        if not low <= stored <= high:
            self.add_error(name, f"{value:g} {unit} cannot be right: it must lie {words}.")
        self.cleaned_data[name] = stored

    def _unit(self, name):
        unit = self.cleaned_data.get(name)
        if unit == "" and not self.has_error(name):
            words = ", ".join(columns.BY_NAME[name].words)
            self.add_error(name, f"The figure needs its unit. Write one of: {words}.")
        return unit

    def _depths(self):
        depths = self.cleaned_data.get("diffuser_depths")
        unit = self._unit("depth_unit") if depths else None
        if not unit:
            return
        stored = [units.to_stored("length", depth, unit) for depth in depths]
        pond = self.cleaned_data.get("pond_depth")
        for typed, depth in zip(depths, stored, strict=True):
            if not 0.2 <= depth <= 60:
                self._depth_error(typed, unit, "it must lie between 0.7 ft (0.2 m) and 60 m.")
            elif pond and depth > pond + DEEPER_THAN_POND_M:
                self._depth_error(typed, unit, "it is deeper than the pond. Check both depths.")
        self.cleaned_data["diffuser_depths"] = stored

    def _depth_error(self, typed, unit, why):
        self.add_error("diffuser_depths", f"A plate at {typed:g} {unit} cannot be right: {why}")

    def _days(self):
        installed = self.cleaned_data.get("installed_on")
        for name in DAYS:
            day = self.cleaned_data.get(name)
            if not day:
                continue
            if day > self.loaded_on:
                self.add_error(name, f"{day} lies in the future. Write the day that it happened.")
            elif day < EARLIEST:
                self.add_error(name, f"{day} is too long ago. Check the year.")
            elif installed and day < installed:
                self.add_error(
                    name, f"{day} is before the installation on {installed}. Correct one of them."
                )

    def _hours(self):
        opens, closes = (self.cleaned_data.get(name) for name in ("open_from", "open_until"))
        if opens and closes and opens >= closes:
            self.add_error("open_until", "The site closes before it opens. Correct the times.")
        if bool(opens) != bool(closes) and not self.errors.keys() & {"open_from", "open_until"}:
            missing = "open_until" if opens else "open_from"
            self.add_error(missing, "Write both times of day, or neither.")
        if self.cleaned_data.get("open_days") and not opens and not self.has_error("open_from"):
            self.add_error("open_from", "Open days need their times, such as 08:00 and 17:00.")

    def _overhaul(self):
        kind = self.cleaned_data.get("compressor_kind")
        if self.cleaned_data.get("last_overhaul") and kind not in columns.OVERHAUL_OF:
            kinds = ", ".join(columns.OVERHAUL_OF)
            says = f"This needs maker, model and kind of a compressor that is overhauled: {kinds}."
            self.add_error("last_overhaul", says)

    def _together(self):
        """Cells that mean nothing without another one."""
        said = self.cleaned_data
        model = [bool(said.get(f"compressor_{part}")) for part in ("maker", "model", "kind")]
        if any(model) and not all(model):
            for part, present in zip(("maker", "model", "kind"), model, strict=True):
                if not present and not self.has_error(f"compressor_{part}"):
                    self.add_error(
                        f"compressor_{part}", "Write maker, model and kind of the compressor."
                    )
        for name in ["compressor_serial", "compressor_hours", "filter_part", "pressure_max"]:
            if said.get(name) not in {None, ""} and not any(model):
                self.add_error(name, "This needs the compressor's maker, model and kind.")
        for name in ["contact_email", "contact_phone", "contact_role"]:
            if said.get(name) and not said.get("contact") and not self.has_error("contact"):
                self.add_error("contact", "Write the name of the contact, too.")
                break
