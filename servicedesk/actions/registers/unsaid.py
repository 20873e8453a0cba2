"""What a register does not say of new systems, and what their clocks count from instead."""

from datetime import date

from servicedesk.registers.columns import OVERHAUL_OF

OLD_YEARS = 2  # older than this, unknown wear may be half of a life or more; a judgement
FROM_TODAY = "without a day of the last service: their checks count from today"
FROM_FILTER = "without a day of the last service: their checks count from the last filter change"
WORN = (
    "older than {years} years, and nothing is said of their {what}: enter {column}, or their wear "
    "counts from the day the records begin"
)


def unsaid(entries: dict, *, new: set, today: date) -> list[str]:
    """Warnings, one line each, about the new systems of a register."""
    fresh = {key: entry for (key,), entry in entries["system"].items() if key in new}
    served = [entry for entry in fresh.values() if not entry["last_service"]]
    old = {key: entry for key, entry in fresh.items() if _years(entry, today) > OLD_YEARS}
    membranes = [entry for entry in old.values() if not entry["last_membranes"]]
    overhauls = [
        entry
        for key, entry in old.items()
        if not entry["last_overhaul"] and _kind(entries, key) in OVERHAUL_OF
    ]
    found = [
        (sum(not entry["filter_changed_on"] for entry in served), FROM_TODAY),
        (sum(bool(entry["filter_changed_on"]) for entry in served), FROM_FILTER),
        (len(membranes), _worn("membranes", "last_membranes")),
        (len(overhauls), _worn("overhaul", "last_overhaul")),
    ]
    return [f"{n} system{'s' if n > 1 else ''} {words}." for n, words in found if n]


def _worn(what, column):
    return WORN.format(years=OLD_YEARS, what=what, column=column)


def _years(entry, today):
    return (today - entry["installed_on"]).days / 365.25


def _kind(entries, system_key):
    unit = entries["compressor"].get((system_key,))
    model = unit and entries["model"][unit["compressor_maker"], unit["compressor_model"]]
    return model and model["compressor_kind"]
