"""What is known of the winters of many systems at once, in a bounded number of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from statistics import fmean

from customers.models import Ownership, Pond
from equipment.kinds import RUNNING
from equipment.models import Position, ProfilePoint, StateChange, System
from servicedesk.actions.facts import climate_of
from servicedesk.kinds import AnswerKind, DefectSign, IceSeen, RefusalKind, YesNo
from servicedesk.models import (
    BankLook,
    Defect,
    IceRules,
    NoticeDelivery,
    OwnerAnswer,
    RefusedNote,
    RuleTick,
    ThinIceNotice,
    WinterDecision,
    WinterLifted,
    Work,
)
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible
from servicedesk.planning.season_plan import winter_of
from servicedesk.planning.seasons import Climate, winter_begins

LOOK_COUNTS = timedelta(days=1)  # what was seen of ice and people is old the day after
OXYGEN_COUNTS = timedelta(days=14)  # judgement
LEAK_LOOK = "airline_check"
BARS = (RefusalKind.SIGNS, RefusalKind.NOTICE, RefusalKind.SHUT_DOWN)


@dataclass
class KnownWinter:
    """One system and the winter it is in or before, with all that its plan rests on."""

    system: System
    climate: Climate
    year: int
    on: date
    ponds: list[Pond] = field(default_factory=list)
    rules: IceRules | None = None
    ticked: set[str] = field(default_factory=set)
    decision: WinterDecision | None = None
    lifted: list[WinterLifted] = field(default_factory=list)
    refusals: list[RefusedNote] = field(default_factory=list)
    look: BankLook | None = None
    signs_looks: list[BankLook] = field(default_factory=list)
    deliveries: list[NoticeDelivery] = field(default_factory=list)
    told_waters: set[int] = field(default_factory=set)
    ice_is_used: bool = False
    states: list[StateChange] = field(default_factory=list)
    leaks: bool = False
    leak_looked: bool = False
    oxygen_mg_l: float | None = None
    wish: OwnerAnswer | None = None

    @property
    def ice_possible(self) -> bool:
        return ice_possible(self.climate, self.on)

    @property
    def lines_open(self) -> list[str]:
        return [
            line for line in (self.rules.checklist if self.rules else []) if not self.done(line)
        ]

    def done(self, line: str) -> bool:
        return all((pond.pk, line) in self.ticked for pond in self.ponds)


def known_winters(systems: Iterable[System], *, now: datetime) -> list[KnownWinter]:
    """The winter of each system, in their order; as many queries for one as for a hundred."""
    found = [_begun(system, now) for system in systems]
    if not found:
        return found
    ids = [known.system.pk for known in found]
    _add_ponds(found, ids)
    _add_rules(found)
    _add_decisions(found, ids)
    _add_states(found, ids, now)
    _add_leaks(found, ids, now)
    ponds = {pond.pk for known in found for pond in known.ponds}
    _add_notices(found, ponds)
    _add_looks(found, ponds, now)
    _add_refusals(found, ponds)
    _add_oxygen(found, ponds, now)
    _add_answers(found)
    return found


def with_sites(systems):
    return systems.select_related("site__region")


def _begun(system, now):
    climate = climate_of(system.site)
    today = site_date(now, system.site.time_zone)
    return KnownWinter(system, climate, winter_of(today, climate.latitude), today)


def _add_ponds(found, ids):
    lying = Position.objects.lying().filter(system__in=ids).select_related("pond__site")
    by_system = defaultdict(dict)
    for position in lying.order_by("pond__name", "pond_id"):
        by_system[position.system_id][position.pond_id] = position.pond
    for known in found:
        known.ponds = list(by_system[known.system.pk].values())


def _add_rules(found):
    sites = {known.system.site_id for known in found}
    regions = {known.system.site.region_id for known in found}
    of_site = {r.site_id: r for r in IceRules.objects.filter(site__in=sites)}
    of_region = {r.region_id: r for r in IceRules.objects.filter(region__in=regions - {None})}
    for known in found:
        site = known.system.site
        known.rules = of_site.get(site.pk) or of_region.get(site.region_id)
    ponds = [pond.pk for known in found for pond in known.ponds]
    ticks = RuleTick.objects.filter(pond__in=ponds, year__in={known.year for known in found})
    by_year = defaultdict(set)
    for pond, year, line in ticks.values_list("pond_id", "year", "line"):
        by_year[year].add((pond, line))
    for known in found:
        known.ticked = by_year[known.year]


def _add_decisions(found, ids):
    years = {known.year for known in found}
    standing = WinterDecision.objects.standing().filter(system__in=ids, year__in=years)
    decided = {(d.system_id, d.year): d for d in standing.select_related("recorded_by")}
    lifted = defaultdict(list)
    rows = WinterLifted.objects.filter(system__in=ids, year__in=years).select_related("by")
    for row in rows.order_by("at", "pk"):
        lifted[row.system_id, row.year].append(row)
    for known in found:
        known.decision = decided.get((known.system.pk, known.year))
        known.lifted = lifted[known.system.pk, known.year]


def _add_states(found, ids, now):
    rows = StateChange.objects.standing().filter(system__in=ids, at__lte=now)
    by_system = defaultdict(list)
    for change in rows.order_by("at", "state"):
        by_system[change.system_id].append(change)
    for known in found:
        known.states = by_system[known.system.pk]


def _add_leaks(found, ids, now):
    leaking = Defect.objects.filter(system__in=ids, sign=DefectSign.LEAK, mended_at=None)
    leaking = set(leaking.values_list("system_id", flat=True))
    looks = Work.objects.counting().filter(system__in=ids, task__slug=LEAK_LOOK, done_at__lte=now)
    last = {}
    for system, done_at in looks.order_by("done_at").values_list("system_id", "done_at"):
        last[system] = done_at
    for known in found:
        known.leaks = known.system.pk in leaking
        looked = last.get(known.system.pk)
        begins = winter_begins(known.year, known.climate.latitude)
        known.leak_looked = bool(looked and looked.date() >= begins)


def _add_notices(found, ponds):
    years = {known.year for known in found}
    owners = _owners(ponds)
    standing = ThinIceNotice.objects.filter(pond__in=ponds, year__in=years, ended_at=None)
    told = defaultdict(set)
    for pond, year, customer in standing.values_list("pond_id", "year", "customer_id"):
        if owners.get(pond) in (None, customer):
            told[year].add(pond)
    rows = NoticeDelivery.objects.standing().filter(notice__pond__in=ponds, notice__year__in=years)
    by_pond = defaultdict(list)
    for row in rows.select_related("contact", "notice__pond", "called_by").order_by("pk"):
        by_pond[row.notice.pond_id, row.notice.year].append(row)
    for known in found:
        for pond in known.ponds:
            known.deliveries += by_pond[pond.pk, known.year]
            known.told_waters |= {pond.pk} & told[known.year]


def _owners(ponds):
    """Who owns each water today by any register entry that stands open."""
    rows = Ownership.objects.filter(to_on=None)
    found = {}
    for pond in Pond.objects.filter(pk__in=ponds).values_list("pk", "site_id"):
        found[pond[0]] = pond[1]
    by_site = dict(rows.filter(site__in=set(found.values())).values_list("site_id", "customer_id"))
    by_pond = dict(rows.filter(pond__in=ponds).values_list("pond_id", "customer_id"))
    return {pond: by_pond.get(pond) or by_site.get(site) for pond, site in found.items()}


def _add_looks(found, ponds, now):
    rows = BankLook.objects.filter(pond__in=ponds, at__lte=now).select_related("by", "photo")
    by_pond = defaultdict(list)
    for look in rows.order_by("at", "pk"):
        by_pond[look.pond_id].append(look)
    for known in found:
        begins = winter_begins(known.year, known.climate.latitude)
        looks = [
            [look for look in by_pond[pond.pk] if look.at.date() >= begins] for pond in known.ponds
        ]
        known.signs_looks = [look for of_pond in looks for look in of_pond]
        if looks and all(looks):
            known.look = max((of_pond[-1] for of_pond in looks), key=_worst)


def _worst(look):
    """Of two waters the worse one speaks for their cabinet."""
    order = [IceSeen.NONE, IceSeen.FORMING, IceSeen.COVERED, IceSeen.UNKNOWN]
    return order.index(look.ice), look.people_on_ice != YesNo.NO, -look.at.timestamp()


def _add_refusals(found, ponds):
    rows = RefusedNote.objects.filter(pond__in=ponds, ended_at=None, kind__in=BARS)
    by_pond = defaultdict(list)
    for note in rows.select_related("pond").order_by("pk"):
        by_pond[note.pond_id, note.year].append(note)
    for known in found:
        known.refusals = [note for pond in known.ponds for note in by_pond[pond.pk, known.year]]


def _add_oxygen(found, ponds, now):
    rows = ProfilePoint.objects.filter(
        set__pond__in=ponds,
        set__taken_at__gt=now - OXYGEN_COUNTS,
        set__taken_at__lte=now,
        oxygen_mg_l__isnull=False,
    ).values_list("set__pond_id", "set__taken_at", "oxygen_mg_l")
    by_pond = defaultdict(lambda: defaultdict(list))
    for pond, taken_at, oxygen in rows:
        by_pond[pond][taken_at].append(oxygen)
    for known in found:
        means = [
            fmean(by_pond[pond.pk][max(by_pond[pond.pk])]) if by_pond[pond.pk] else None
            for pond in known.ponds
        ]
        known.oxygen_mg_l = None if None in means or not means else min(means)


def _add_answers(found):
    """What owners pressed: the ice is used, until the office has handled it; and their wish."""
    kinds = (AnswerKind.WINTER_SHALLOW, AnswerKind.WINTER_SHUT, AnswerKind.WINTER_DEEP)
    rows = OwnerAnswer.objects.standing().filter(kind__in=[*kinds, AnswerKind.ICE_IS_USED])
    earliest = min(winter_begins(known.year, known.climate.latitude) for known in found)
    rows = rows.filter(recorded_at__date__gte=earliest).select_related("contact")
    used, wishes = set(), {}
    for answer in rows.order_by("recorded_at", "pk"):
        if answer.kind == AnswerKind.ICE_IS_USED:
            if answer.handled_at is None:
                used.add(answer.said.get("pond"))
            continue
        for system in answer.said.get("systems", ()):
            wishes[system] = answer
    for known in found:
        known.ice_is_used = any(pond.pk in used for pond in known.ponds)
        known.wish = wishes.get(known.system.pk)


def stopped_at(known: KnownWinter) -> datetime | None:
    """The newest stop of this winter while there may have been ice; None where there was none."""
    begins = winter_begins(known.year, known.climate.latitude)
    stops = [
        change.at
        for before, change in zip([None, *known.states], known.states, strict=False)
        if change.state not in RUNNING
        and (before is None or before.state in RUNNING)
        and change.at.date() >= begins
        and ice_possible(known.climate, change.at.date())
    ]
    return stops[-1] if stops else None
