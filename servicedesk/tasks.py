"""The background jobs. Each may run any number of times, at once, anywhere."""

from celery import shared_task
from django.utils import timezone

from servicedesk.actions import (
    alarms,
    assessing,
    check_ins,
    defects,
    jobs,
    learning,
    recalls,
    refreshing,
    reminders,
    reports,
    seasons,
    tickets,
    watch,
    weather,
)
from servicedesk.actions.restarts import sweep
from servicedesk.actions.routes import children, measure, plans
from servicedesk.actions.visits import photos
from servicedesk.actions.whatif import children as players
from servicedesk.actions.whatif import runs
from servicedesk.actions.winter import asking


@shared_task
def beat():
    jobs.record_beat(at=timezone.now())


@shared_task
def start_plans():
    return plans.start_plans(launch=children.launch)


@shared_task
def collect_plans():
    children.reap()
    return plans.collect_plans(clock=timezone.now)


@shared_task
def ask_roads():
    return measure.measure_ahead(clock=timezone.now)


@shared_task
def start_what_ifs():
    return runs.start_what_ifs(launch=players.launch)


@shared_task
def collect_what_ifs():
    children.reap()
    return runs.collect_what_ifs(clock=timezone.now)


@shared_task
def learn_roads():
    return learning.learn_roads(now=timezone.now())


@shared_task
def refresh_due():
    if refreshing.refresh_in_turn(clock=timezone.now):
        seasons.ask_about_seasons(now=timezone.now())


@shared_task
def fetch_weather():
    return weather.fetch_weather(clock=timezone.now)


@shared_task
def watch_weather():
    return weather.watch_weather(now=timezone.now())


@shared_task
def assess_systems():
    assessing.assess_in_turn(clock=timezone.now)


@shared_task
def open_tickets():
    tickets.open_due_tickets(clock=timezone.now)


@shared_task
def watch_systems():
    watch.watch_silence(now=timezone.now())


@shared_task
def watch_photos():
    return photos.tell_of_lost_photos(now=timezone.now())


@shared_task
def settle_recalls():
    recalls.look_again(now=timezone.now())


@shared_task
def write_reports():
    return reports.write_reports(clock=timezone.now)


@shared_task
def settle_defects():
    defects.settle_defects()


@shared_task
def queue_reminders():
    reminders.queue_reminders(clock=timezone.now)


@shared_task
def ask_owners():
    reminders.queue_owner_rhythms(clock=timezone.now)


@shared_task
def send_reminders():
    return reminders.send_queued_messages(clock=timezone.now)


@shared_task
def watch_check_ins():
    return check_ins.watch_check_ins(now=timezone.now())


@shared_task
def look_after_restarts():
    return sweep.look_after_restarts(clock=timezone.now)


@shared_task
def send_alarms():
    return alarms.send_alarms(clock=timezone.now)


@shared_task
def keep_winters():
    return asking.keep_winters(now=timezone.now())
