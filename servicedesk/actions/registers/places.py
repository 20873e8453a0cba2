"""Regions, sites with their way in, their owners, and ponds, from a register."""

from datetime import date, datetime

from customers.kinds import SecretKind
from customers.models import (
    Firm,
    Hazard,
    OpeningHours,
    Ownership,
    Pond,
    Region,
    Site,
    SiteSecret,
)
from servicedesk.actions.registers.merging import by_key, filter_in, merge
from servicedesk.actions.registers.report import Change, Report

EVERY_DAY = range(1, 8)


def save_sites(entries: dict, report: Report, *, firm: Firm) -> dict:
    """Sites by their own number."""
    regions = _save_regions(entries, report)
    known = by_key(Site, [key for (key,) in entries["site"]])
    wanted = {}
    for (key,), entry in entries["site"].items():
        fields = {"key": key, "name": entry["site"], "lat": entry["latitude"]}
        fields |= {"lon": entry["longitude"], "elevation_m": entry["elevation"]}
        fields |= {name: entry[name] for name in ("street", "town", "postcode", "way_in")}
        fields["region_id"] = regions[entry["region"]].pk if entry["region"] else None
        fields["time_zone"] = entry["time_zone"] or ("" if key in known else firm.time_zone)
        wanted[key] = (entry.row, fields)
    return merge("site", Site, wanted, report, known=known)


def _save_regions(entries, report):
    named = {}
    for entry in entries["site"].values():
        if entry["region"]:
            named.setdefault(entry["region"], (entry.row, {"name": entry["region"]}))
    known = Region.objects.in_bulk(list(named), field_name="name")
    return merge("region", Region, named, report, known=known)


def save_owners(
    entries: dict, customers: dict, sites: dict, report: Report, *, since: dict, today: date
) -> None:
    """Who has each site. Another owner than before: theirs ends today, the new one's begins.

    since: the day of the first installation by number of the site, where ownerships begin.
    """
    current = {
        ownership.site_id: ownership
        for ownership in filter_in(
            Ownership.objects.filter(to_on=None).select_related("customer"),
            "site_id",
            [site.pk for site in sites.values()],
        )
    }
    new, ended = [], []
    for (key,), entry in entries["site"].items():
        site, customer = sites[key], customers[entry["customer_key"]]
        held = current.get(site.pk)
        if held and held.customer_id == customer.pk:
            continue
        begins = today if held else since.get(key, today)
        if held:
            told = Change(entry.row, f"site {key}", "owner", str(held.customer), str(customer))
            report.changes.append(told)
            begins = max(today, held.from_on)
            ended.append(held)
        new.append(Ownership(customer=customer, site=site, from_on=begins))
    for held in ended:
        _end(held, today)
    Ownership.objects.bulk_create(new)


def _end(ownership, today):
    if ownership.from_on >= today:  # corrected on the day it was entered: it never began
        ownership.delete()
        return
    ownership.to_on = today
    ownership.save(update_fields=["to_on"])


def save_ponds(entries: dict, sites: dict, report: Report) -> dict:
    """Ponds by their own number."""
    wanted = {}
    for (key,), entry in entries["pond"].items():
        fields = {"key": key, "name": entry["pond"], "site_id": sites[entry["site_key"]].pk}
        fields |= {"area_m2": entry["pond_area"], "depth_max_m": entry["pond_depth"]}
        fields["fish"] = entry["fish"]
        wanted[key] = (entry.row, fields)
    return merge("pond", Pond, wanted, report, known=by_key(Pond, wanted))


def save_ways_in(entries: dict, sites: dict, report: Report, *, now: datetime) -> None:
    """Hazards, opening hours and gate codes. What the register says replaces what was there."""
    _Hazards(sites).save(entries, report)
    _Hours(sites).save(entries, report)
    _save_gate_codes(entries, sites, report, now)


class _Lines:
    """Small rows of a site that stand or fall together."""

    def __init__(self, sites):
        self.sites = sites
        self.known = {}
        keys = [site.pk for site in sites.values()]
        for line in filter_in(self.model.objects.order_by("pk"), "site_id", keys):
            self.known.setdefault(line.site_id, []).append(self.values(line))

    def save(self, entries, report):
        new, replaced = [], []
        for (key,), entry in entries["site"].items():
            said = self.said(entry)
            before = self.known.get(self.sites[key].pk, [])
            if not said or sorted(said) == sorted(before):
                continue
            if before:
                words = [", ".join(map(self.words, lines)) for lines in (before, said)]
                report.changes.append(Change(entry.row, f"site {key}", self.column, *words))
                replaced.append(self.sites[key].pk)
            new += [self.line(self.sites[key], values) for values in said]
        self.model.objects.filter(site_id__in=replaced).delete()
        self.model.objects.bulk_create(new, batch_size=500)


class _Hazards(_Lines):
    model, column = Hazard, "hazards"

    def values(self, line):
        return (line.kind, line.note)

    def said(self, entry):
        return entry["hazards"]

    def words(self, values):
        return ": ".join(filter(None, values))

    def line(self, site, values):
        return Hazard(site=site, kind=values[0], note=values[1])


class _Hours(_Lines):
    model, column = OpeningHours, "open_from"

    def values(self, line):
        return (line.weekday, line.opens, line.closes)

    def said(self, entry):
        if not entry["open_from"]:
            return []
        days = entry["open_days"] or EVERY_DAY
        return [(day, entry["open_from"], entry["open_until"]) for day in days]

    def words(self, values):
        return "day {} {:%H:%M}-{:%H:%M}".format(*values)

    def line(self, site, values):
        return OpeningHours(site=site, weekday=values[0], opens=values[1], closes=values[2])


def _save_gate_codes(entries, sites, report, now):
    coded = {key: entry for (key,), entry in entries["site"].items() if entry["gate_code"]}
    secrets = SiteSecret.objects.filter(kind=SecretKind.GATE_CODE).order_by("pk")
    keys = [sites[key].pk for key in coded]
    known = {secret.site_id: secret for secret in filter_in(secrets, "site_id", keys)}
    new = []
    for key, entry in coded.items():
        before = known.get(sites[key].pk)
        if before and before.text == entry["gate_code"]:
            continue
        if before:
            hidden = Change(entry.row, f"site {key}", "gate_code", "(hidden)", "(hidden)")
            report.changes.append(hidden)
        new.append(
            SiteSecret(
                site=sites[key],
                kind=SecretKind.GATE_CODE,
                text=entry["gate_code"],
                given_by="register",
                entered_at=now,
            )
        )
    SiteSecret.objects.bulk_create(new)
