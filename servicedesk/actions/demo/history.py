"""Two years of visits: who came when, what was measured, found, done and used."""

import uuid
from bisect import bisect
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from equipment.kinds import FilterCondition, Moment, PartRole, Quantity
from equipment.models import Baseline, PartFor, Reading, ReadingSet, SignSeen
from equipment.physics import units
from equipment.physics.geodesy import great_circle_km
from servicedesk.actions.assessing import CHANGES
from servicedesk.actions.demo.measures import Measured, measure
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.rounds import Days, Job
from servicedesk.actions.demo.systems import Built, at
from servicedesk.kinds import DoneBy, LeftOffReason, Outcome, TicketEnd
from servicedesk.models import PartUsed, SystemCheck, Ticket, Visit, Work, place_of

SETUP_MIN = 10
STRAIGHT_KM_H = 38.0  # along the straight line, on invented roads
SHORTEST_DRIVE_H = 0.1
DAY_STARTS_H, DAY_ENDS_H = 8.0, 16.2
TICKETS_FOR_DAYS = 60  # closed tickets are told for so long
BATCH = 500
SETTLES = timedelta(days=7)
OF_THE_GAUGE = frozenset({Quantity.PRESSURE, Quantity.LINE_PRESSURE})
COMPARED = (
    Quantity.PRESSURE,
    Quantity.CURRENT,
    Quantity.VOLTAGE,
    Quantity.FLOW,
    Quantity.CABINET_AIR,
    Quantity.OUTSIDE_AIR,
)
CONDITIONS = [FilterCondition.LIGHT] * 5 + [FilterCondition.LOADED] * 4 + [FilterCondition.CLEAN]


@dataclass
class Written:
    """Rows of the history, gathered and then written in batches."""

    visits: list[Visit] = field(default_factory=list)
    sets: list[ReadingSet] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    signs: list[SignSeen] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
    tickets: list[Ticket] = field(default_factory=list)
    checks: list[SystemCheck] = field(default_factory=list)
    parts: list[PartUsed] = field(default_factory=list)
    set_of_visit: list[tuple[Visit, ReadingSet]] = field(default_factory=list)

    def save(self):
        Ticket.objects.bulk_create(self.tickets, batch_size=BATCH)
        Visit.objects.bulk_create(self.visits, batch_size=BATCH)
        ReadingSet.objects.bulk_create(self.sets, batch_size=BATCH)
        Reading.objects.bulk_create(self.readings, batch_size=BATCH)
        SignSeen.objects.bulk_create(self.signs, batch_size=BATCH)
        Work.objects.bulk_create(self.works, batch_size=BATCH)
        SystemCheck.objects.bulk_create(self.checks, batch_size=BATCH)
        PartUsed.objects.bulk_create(self.parts, batch_size=BATCH)
        link = Visit.reading_sets.through
        link.objects.bulk_create(
            (link(visit_id=v.pk, readingset_id=s.pk) for v, s in self.set_of_visit),
            batch_size=BATCH,
        )


def write_history(
    draw: Random, days: Days, crew: Crew, *, today: date, progress: Callable[[int, int], None]
) -> None:
    """Write every visit with its readings and work, and what was done before."""
    told = _History(draw, crew, today)
    chunk = Written()
    for number, ((_, day), jobs) in enumerate(sorted(days.visits.items(), key=_by_day), start=1):
        told.visit(chunk, day, jobs)
        if len(chunk.visits) >= BATCH:
            chunk.save()
            chunk = Written()
            progress(number, len(days.visits))
    chunk.works += [told.from_books(day, job) for day, job in days.before]
    chunk.save()
    _save_baselines(crew)
    progress(len(days.visits), len(days.visits))


def _by_day(item):
    (site, day), _ = item
    return day, site


class _History:
    def __init__(self, draw, crew, today):
        self.draw, self.crew, self.told_until = draw, crew, today
        self.levels = set()  # (visit, pond) whose water was read
        self.free_from = defaultdict(lambda: DAY_STARTS_H)  # hour, by technician and day
        self.last_site = {}  # by technician and day
        self.elements = {
            fits.component_type.model: fits.part
            for fits in PartFor.objects.filter(role=PartRole.FILTER_ELEMENT).select_related(
                "component_type", "part"
            )
        }

    def visit(self, out: Written, day: date, jobs: list[Job]):
        minutes = SETUP_MIN + sum(job.task.minutes for job in jobs)
        user, starts = self._who(day, jobs, minutes)
        arrived = at(day, starts)
        left = arrived + timedelta(minutes=minutes)
        visit = Visit(
            uuid=self._uuid(),
            site=jobs[0].built.place.site,
            technician=user,
            arrived_at=arrived,
            left_at=left,
            received_at=left + timedelta(minutes=self.draw.randrange(1, 90)),
            accepted_at=left + timedelta(minutes=90),
        )
        out.visits.append(visit)
        here = {}
        for job in jobs:
            here.setdefault(id(job.built), (job.built, []))[1].append(job)
        done_at = arrived + timedelta(minutes=SETUP_MIN)
        for built, there in here.values():
            self._measure(out, visit, built, day)
            for job in there:
                done_at += timedelta(minutes=job.task.minutes)
                self._work(out, visit, job, done_at, day)

    def _who(self, day, jobs, minutes):
        """The technician of the region where he has room that day, else whoever starts first."""
        first = int(jobs[0].built.place.site.key[2:]) % len(self.crew.technicians)
        order = self.crew.technicians[first:] + self.crew.technicians[:first]
        hours, site = minutes / 60, jobs[0].built.place.site
        there = {u.pk: self.free_from[u.pk, day] + self._drive_h(u, day, site) for u in order}
        free = [u for u in order if there[u.pk] + hours <= DAY_ENDS_H]
        user = free[0] if free else min(order, key=lambda u: there[u.pk])
        starts = min(there[user.pk], 22.0 - hours)
        self.free_from[user.pk, day] = starts + hours
        self.last_site[user.pk, day] = site
        return user, starts

    def _drive_h(self, user, day, site):
        """From where he was; the first drive of a day is over when it begins."""
        last = self.last_site.get((user.pk, day))
        if last is None:
            return 0.0
        km = float(great_circle_km(last.lat, last.lon, site.lat, site.lon))
        return max(SHORTEST_DRIVE_H, km / STRAIGHT_KM_H)

    def _measure(self, out, visit, built: Built, day):
        failed = built.cabinet.story == "failed" and built.state_on(day) == "failed"
        runs = built.runs_on(day - timedelta(days=1)) and not failed
        leaves_on = built.runs_on(day)
        if runs and leaves_on:
            found = measure(self.draw, built, day)
            self._level(out, visit, built, found)
            moments = [(Moment.AS_FOUND, 4), (Moment.AS_LEFT, -3)]
            for moment, minute in moments:
                self._set(out, visit, built, found, moment, minute)
        out.checks.append(
            SystemCheck(
                visit=visit,
                system=built.system,
                found_running=runs,
                left_running=leaves_on,
                left_off_reason="" if leaves_on else _why_off(failed),
                start_approved_by=self.crew.manager if leaves_on and not runs else None,
                caution_read=leaves_on and not runs,
            )
        )

    def _set(self, out, visit, built, found: Measured, moment, minute):
        start = visit.arrived_at if minute > 0 else visit.left_at
        taken = ReadingSet(
            uuid=self._uuid(),
            system=built.system,
            moment=moment,
            taken_at=start + timedelta(minutes=minute),
            entered_at=visit.received_at,
            taken_by=visit.technician,
            configuration=built.configuration_on(visit.arrived_at.date()),
        )
        out.sets.append(taken)
        out.set_of_visit.append((visit, taken))
        out.readings += [
            Reading(
                set=taken,
                quantity=value.quantity,
                position=value.position,
                value=value.stored,
                typed_value=value.typed,
                typed_unit=value.unit,
                gauge=built.gauge if value.quantity in OF_THE_GAUGE else None,
            )
            for value in found.of(moment)
        ]
        if moment == Moment.AS_FOUND:
            out.signs += [
                SignSeen(set=taken, sign=sign, present=there) for sign, there in found.seen.items()
            ]

    def _level(self, out, visit, built, found: Measured):
        """The water against its mark, once for each pond and visit."""
        pond = built.cabinet.pond
        if found.level_m is None or (visit.uuid, pond.pk) in self.levels:
            return
        self.levels.add((visit.uuid, pond.pk))
        taken = ReadingSet(
            uuid=uuid.uuid5(visit.uuid, f"level {pond.key}"),
            pond=pond,
            moment=Moment.AS_FOUND,
            taken_at=visit.arrived_at + timedelta(minutes=2),
            entered_at=visit.received_at,
            taken_by=visit.technician,
        )
        out.sets.append(taken)
        out.set_of_visit.append((visit, taken))
        level = Reading(
            set=taken,
            quantity=Quantity.LEVEL,
            value=found.level_m,
            typed_value=f"{units.from_stored(Quantity.LEVEL, found.level_m, 'ft'):.1f}",
            typed_unit="ft",
        )
        out.readings.append(level)

    def _work(self, out, visit, job: Job, done_at, day):
        place = place_of(job.thing)
        ticket = None
        if (self.told_until - day).days <= TICKETS_FOR_DAYS:
            ticket = Ticket(
                task=job.task,
                opened_at=done_at - timedelta(days=9),
                due_when_opened_on=day + timedelta(days=self.draw.randrange(-3, 8)),
                because="Its interval was nearly over.",
                closed_at=done_at,
                end=TicketEnd.DONE,
                **place,
            )
            out.tickets.append(ticket)
        work = Work(
            uuid=self._uuid(),
            task=job.task,
            ticket=ticket,
            visit=visit,
            done_at=done_at,
            entered_at=visit.received_at,
            outcome=Outcome.DONE,
            done_by=DoneBy.TECHNICIAN,
            user=visit.technician,
            found=self._found(job),
            **place,
        )
        out.works.append(work)
        if job.task.slug == "filter_change":
            part = self.elements[job.built.model.model]
            used = PartUsed(uuid=self._uuid(), visit=visit, work=work, part=part)
            out.parts.append(used)

    def _found(self, job):
        if job.task.slug == "filter_change":
            return {"condition": str(self.draw.choice(CONDITIONS))}
        return {"trip": "tripped"} if job.task.slug == "gfci_test" else {}

    def from_books(self, day: date, job: Job) -> Work:
        """Work of the years before, and at the desk, as the register told it."""
        return Work(
            uuid=self._uuid(),
            task=job.task,
            done_at=at(day, 12),
            entered_at=at(day, 12),
            outcome=Outcome.DONE,
            done_by=DoneBy.IMPORT,
            note="From the register.",
            **place_of(job.thing),
        )

    def _uuid(self):
        return uuid.UUID(int=self.draw.getrandbits(128), version=4)


def _why_off(failed):
    return LeftOffReason.FAILED if failed else LeftOffReason.WINTER


def _save_baselines(crew):
    """The first full set of each plan, and after each work on it, is what others go by."""
    readings = Reading.objects.filter(
        set__moment=Moment.AS_FOUND, set__system__isnull=False, quantity__in=COMPARED
    ).values_list(
        "set_id",
        "set__system_id",
        "set__configuration_id",
        "set__configuration__name",
        "set__taken_at",
        "set__entered_at",
        "quantity",
        "value",
        "gauge_id",
    )
    levels, worked_at = _levels(), _worked_at()
    first, rows = {}, []
    for taken, system, plan, name, at_, entered_at, quantity, value, gauge in readings.order_by(
        "set__taken_at", "pk"
    ).iterator(chunk_size=2000):
        works = bisect(worked_at[system], at_ - SETTLES)
        if first.setdefault((system, name, works), taken) != taken:
            continue
        rows.append(
            Baseline(
                configuration_id=plan,
                quantity=quantity,
                value=value,
                level_m=levels.get((system, at_.date())),
                gauge_id=gauge,
                from_set_id=taken,
                confirmed_at=entered_at,
                confirmed_by=crew.manager,
            )
        )
    Baseline.objects.bulk_create(rows, batch_size=BATCH)


def _levels():
    """The water as read at the pond, by system and day."""
    rows = Reading.objects.filter(quantity=Quantity.LEVEL).values_list(
        "set__pond__positions__system", "set__taken_at", "value"
    )
    return {(system, taken.date()): value for system, taken, value in rows}


def _worked_at():
    """When work that starts readings anew was done, by system, first to last."""
    found = defaultdict(list)
    rows = Work.objects.filter(task__slug__in=CHANGES).order_by("done_at")
    for system, done_at in rows.values_list("system_id", "done_at"):
        found[system].append(done_at)
    return found
