"""A day goes wrong: what is proposed, accepted at one press, who is told, and back again."""

from datetime import UTC, datetime, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from customers.models import OpeningHours
from servicedesk.actions.routes import hands
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs import what
from servicedesk.actions.routes.repairs.accept import accept, undo
from servicedesk.actions.routes.repairs.propose import propose, standing_days
from servicedesk.kinds import Harm
from servicedesk.models import Absence, Hold, OfficeTask, Reminder, Repair, Route, Stop, Ticket
from servicedesk.planning.routing.barriers import Area
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db
WEDNESDAY = MONDAY + timedelta(days=2)
THURSDAY = MONDAY + timedelta(days=3)
MORNING = datetime(2026, 11, 25, 12, 40, tzinfo=UTC)  # 06:40 on Wednesday in Chicago's zone


@pytest.fixture(autouse=True)
def people():
    weeks.firm()
    names = ("Dario", "Wen", "Ines")
    users = [make.user(first_name=name, last_name="Lund") for name in names]
    return [make.technician(user=user, boat=True) for user in users]


def place(technician, day=WEDNESDAY, **fields):
    ticket = weeks.ticket(**fields)
    hands.place_by_hand(ticket, technicians=[technician], day=day, start=None, today=TODAY)
    return ticket


def owner(east=0.0):
    contact = make.contact()
    return contact, make.site(owner=contact.customer, lat=44.95, lon=-93.0 + east)


def meet(first, second, day=WEDNESDAY, **fields):
    task = make.task(name="Diffuser lift", crew=2, needs_boat=True, minutes=60)
    ticket = weeks.ticket(task=task, **fields)
    people = [first, second]
    hands.place_by_hand(ticket, technicians=people, day=day, start=time(10), today=TODAY)
    return ticket


def publish():
    publish_week(MONDAY, by=None, today=TODAY, now=BEFORE)
    mail_went_out()


def mail_went_out():
    for line in Reminder.objects.filter(message=None):
        line.message = make.message(contact=line.contact)
        line.save()


def sick(person, now=MORNING):
    return look(what.away(person, WEDNESDAY, WEDNESDAY, "ill"), now)


def look(happening, now=MORNING):
    return propose(happening, by=None, today=WEDNESDAY, now=now)


def take(repair, now=MORNING):
    return accept(repair, by=None, today=WEDNESDAY, now=now)


def where(ticket):
    """(first name, day) of everybody who goes to a ticket."""
    rows = ticket.stops.values_list("route__technician__user__first_name", "route__day")
    return sorted(rows)


def test_stops_of_somebody_ill_go_to_others_on_the_same_day(people):
    ticket = place(people[0])
    publish()
    repair = sick(people[0])

    assert where(ticket) == [("Dario", WEDNESDAY)]  # only proposed
    take(repair)

    assert where(ticket) in ([("Ines", WEDNESDAY)], [("Wen", WEDNESDAY)])
    assert Absence.objects.get().technician == people[0]
    assert not Route.objects.filter(technician=people[0]).exists()


def test_only_owners_whose_day_changed_are_mailed(people):
    dario = people[0]
    stays, site = owner()
    moved, other = owner(0.1)
    place(dario, site=site)
    ticket = place(dario, site=other)
    publish()
    OpeningHours.objects.create(site=other, weekday=4, opens="06:00", closes="20:00")
    take(sick(dario))

    assert where(ticket)[0][1] == THURSDAY
    lines = Reminder.objects.filter(message=None)
    assert {line.contact for line in lines} == {moved}
    assert lines.get().facts["day"] == THURSDAY.isoformat()
    assert Reminder.objects.filter(contact=stays).count() == 1


def test_job_for_two_with_a_boat_is_not_split(people):
    dario, wen, _ = people
    ticket = meet(dario, wen)
    publish()
    take(sick(dario))

    assert where(ticket) == [("Ines", WEDNESDAY), ("Wen", WEDNESDAY)]
    assert len(set(ticket.stops.values_list("arrive_at", flat=True))) == 1


def test_job_for_two_moves_whole_when_nobody_else_may_do_it(people):
    dario, wen, ines = people
    ines.active = False
    ines.save()
    ticket = meet(dario, wen)
    publish()
    take(sick(dario))

    assert where(ticket) == [("Dario", THURSDAY), ("Wen", THURSDAY)]


def test_pair_that_the_planner_made_moves_whole_and_says_whom_it_meets_now(people):
    dario, wen, ines = people
    ticket = meet(dario, wen)
    ticket.stops.update(by_hand=False, locked=False)  # as the planner leaves it
    publish()
    take(sick(dario))

    assert where(ticket) == [("Ines", WEDNESDAY), ("Wen", WEDNESDAY)]
    assert set(ticket.stops.values_list("by_hand", flat=True)) == {False}
    assert len(set(ticket.stops.values_list("arrive_at", flat=True))) == 1
    said = dict(ticket.stops.values_list("route__technician", "because"))
    assert f"Meets {wen} here at " in said[ines.pk]
    assert f"Meets {ines} here at " in said[wen.pk]


def test_job_for_two_without_any_time_waits_whole_with_its_reason(people):
    dario, wen, ines = people
    ines.active = False
    ines.save()
    ticket = meet(dario, wen)
    publish()
    repair = look(what.away(dario, WEDNESDAY, MONDAY + timedelta(days=6)))
    take(repair)

    assert where(ticket) == []
    assert "several people at one time" in repair.proposal["undone"][0]["because"]
    assert OfficeTask.objects.filter(key__startswith="repair:").count() == 1


def test_change_can_be_taken_back_and_then_nothing_is_different(people):
    dario, wen, _ = people
    _, site = owner()
    for east in (0.05, 0.1):
        place(dario, east=east)
    place(dario, site=site)
    meet(dario, wen)
    publish()
    before = standing_days(MONDAY, WEDNESDAY)
    repair = take(sick(dario))
    assert standing_days(MONDAY, WEDNESDAY) != before
    undo(repair, by=None, today=WEDNESDAY, now=MORNING + timedelta(minutes=5))

    assert standing_days(MONDAY, WEDNESDAY) == before
    assert not Absence.objects.exists()
    assert not Reminder.objects.filter(message=None, dropped_at=None).exists()


def test_nothing_is_written_before_it_is_accepted(people):
    place(people[0])
    publish()
    before = standing_days(MONDAY, WEDNESDAY)
    sick(people[0])

    assert standing_days(MONDAY, WEDNESDAY) == before
    assert not Absence.objects.exists()
    assert not Hold.objects.exists()
    assert Repair.objects.get().accepted_at is None


def test_proposal_is_refused_once_the_days_have_changed(people):
    ticket = place(people[0])
    publish()
    repair = sick(people[0])
    make.visit(site=ticket.site, stop=ticket.stops.get())

    with pytest.raises(RouteRefused, match="have changed"):
        take(repair)


def test_proposal_for_today_grows_old(people):
    place(people[0])
    publish()
    repair = sick(people[0])

    with pytest.raises(RouteRefused, match="driven on"):
        take(repair, MORNING + timedelta(minutes=30))


def test_absence_that_is_known_already_is_not_written_twice(people):
    ticket = place(people[0])
    publish()
    Absence.objects.create(technician=people[0], from_on=WEDNESDAY, to_on=THURSDAY)
    repair = take(sick(people[0]))

    assert where(ticket)[0][0] != "Dario"
    assert Absence.objects.count() == 1
    undo(repair, by=None, today=WEDNESDAY, now=MORNING)
    assert Absence.objects.count() == 1


def test_stops_before_the_hour_from_which_somebody_is_away_count_as_done(people):
    early, late = place(people[0]), place(people[0], east=0.3)
    publish()
    first = early.stops.get() if early.stops.get().number == 1 else late.stops.get()
    second = late if first == early.stops.get() else early
    noon = first.leave_at + timedelta(minutes=1)
    take(look(what.away(people[0], WEDNESDAY, WEDNESDAY, from_at=noon), noon), noon)

    assert Stop.objects.get(pk=first.pk).route.technician == people[0]
    assert where(second)[0][0] != "Dario"


def test_closed_road_makes_the_way_round_longer_and_the_day_is_timed_anew(people):
    place(people[0], east=0.4)
    publish()
    before = Route.objects.get().drive_km
    area = Area(44.925, -92.9, 4.0)  # on the straight line from the shop to the site
    repair = take(look(what.road_closed(area, WEDNESDAY, WEDNESDAY, "the ford", "flood")))

    assert repair.proposal["moves"] == []
    assert Route.objects.get().drive_km > before


def test_what_is_done_stays_where_it_was_done(people):
    done, rest = place(people[0]), place(people[0], east=0.2)
    publish()
    Stop.objects.filter(tickets=done).update(
        number=1, arrive_at=MORNING - timedelta(minutes=30), leave_at=MORNING
    )
    stop = done.stops.get()
    make.visit(site=done.site, stop=stop)
    take(sick(people[0], MORNING + timedelta(minutes=1)), MORNING + timedelta(minutes=2))

    assert where(done) == [("Dario", WEDNESDAY)]
    assert where(rest)[0][0] != "Dario"


def test_failed_stop_gets_another_day_and_the_rest_of_the_day_stays(people):
    failed, rest = place(people[0]), place(people[0], east=0.2)
    publish()
    repair = look(what.stop_failed(failed.stops.get(), "gate locked"))
    take(repair)

    assert where(failed)[0][1] > WEDNESDAY
    assert where(rest) == [("Dario", WEDNESDAY)]


def test_emergency_goes_before_milder_work_of_a_full_day(people):
    for person in people[1:]:
        person.active = False
        person.save()
    slow = make.task(name="Slow work", minutes=180, harm=Harm.COSMETIC)
    mild = [place(people[0], task=slow, east=e) for e in (0.0, 0.05)]
    publish()
    grave = weeks.ticket(task=make.task(harm=Harm.FISH, minutes=120), east=0.1)
    Stop.objects.update(locked=False, by_hand=False)
    take(look(what.emergency(grave, WEDNESDAY)))

    assert where(grave) == [("Dario", WEDNESDAY)]
    assert sorted(day for t in mild for _, day in where(t)) == [WEDNESDAY, THURSDAY]


def test_stop_behind_a_closed_road_waits_for_its_opening(people):
    ticket = place(people[0])
    near = place(people[0], east=-0.2)
    publish()
    area = Area(44.95, -93.0, 3.0)
    take(look(what.road_closed(area, WEDNESDAY, THURSDAY, "Mill Lane", "bridge")))

    assert where(ticket)[0][1] == THURSDAY + timedelta(days=1)
    assert where(near) == [("Dario", WEDNESDAY)]
    assert Hold.objects.get().area["type"] == "Polygon"


def test_whoever_runs_late_keeps_what_still_fits(people):
    slow = make.task(minutes=150, harm=Harm.COSMETIC)
    tickets = [place(people[0], task=slow, east=e) for e in (0.0, 0.02)]
    publish()
    Stop.objects.update(locked=False, by_hand=False)
    repair = take(look(what.running_late(people[0], WEDNESDAY, 180)))

    assert len([t for t in tickets if where(t) == [("Dario", WEDNESDAY)]]) == 1
    assert len(repair.proposal["moves"]) == 1


def test_promised_time_is_kept_by_somebody_else(people):
    ticket = place(people[0])
    begins = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)  # 10:00
    publish()
    Ticket.objects.filter(pk=ticket.pk).update(
        promised_from=begins, promised_until=begins + timedelta(hours=1)
    )
    take(sick(people[0]))

    stop = ticket.stops.get()
    assert stop.route.day == WEDNESDAY
    assert stop.route.technician != people[0]
    assert begins <= stop.arrive_at <= begins + timedelta(hours=1)


def test_promise_that_nobody_can_keep_is_given_up_and_the_owner_is_phoned(people):
    ticket = place(people[0])
    publish()
    begins = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
    Ticket.objects.filter(pk=ticket.pk).update(
        promised_from=begins, promised_until=begins + timedelta(hours=1)
    )
    for person in people[1:]:
        Absence.objects.create(technician=person, from_on=WEDNESDAY, to_on=WEDNESDAY)
    repair = take(sick(people[0]))

    ticket.refresh_from_db()
    assert where(ticket)[0][1] == THURSDAY
    assert ticket.promised_from is None
    assert "promised" in OfficeTask.objects.get(key__startswith="repair:").text
    undo(repair, by=None, today=WEDNESDAY, now=MORNING)
    ticket.refresh_from_db()
    assert ticket.promised_from == begins


def test_working_it_out_asks_the_database_no_more_often_for_more_stops(people):
    counts = []
    for more in (2, 4):
        for number in range(more):
            place(people[0], east=number / 50 + more / 10)
        publish()
        with CaptureQueriesContext(connection) as asked:
            sick(people[0])
        counts.append(len(asked))
        Route.objects.update(published_at=None)

    assert counts[0] == counts[1] < 70
