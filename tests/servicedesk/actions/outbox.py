"""What the tests of the outbox share: a report that is owed, and a mail server that may fail."""

from datetime import UTC, date, datetime, time, timedelta

from customers.kinds import MailTopic
from servicedesk.actions import reminders
from servicedesk.emails.relay import Answer, RelayDown, Verdict
from tests import make


def owed_report(*, contact=None, now=make.MORNING, site=None, **facts):
    """A line about an accepted visit: the simplest that is true."""
    make.firm()
    contact = contact or make.contact()
    site = site or make.site(owner=contact.customer)
    visit = make.visit(site=site)
    reminders.owe(contact, MailTopic.VISIT_REPORT, f"visit:{visit.pk}", now=now, visit=visit)
    return visit


def owed_task(*, contact=None, now=make.MORNING):
    """A line about a job of the owner's that is due."""
    make.firm()
    contact = contact or make.contact()
    site = make.site(owner=contact.customer)
    ticket = make.ticket(
        at=make.filter_position(make.system(site=site)), task=make.task(by_owner=True)
    )
    make.due_item(ticket)
    reminders.owe(contact, MailTopic.OWNER_TASK_DUE, f"ticket:{ticket.pk}", now=now, ticket=ticket)
    return ticket


def published(*tickets, day=date(2026, 6, 3), **fields):
    """A stop of a published route at which tickets are done, at 10:00 in Chicago's zone."""
    arrive_at = fields.pop("arrive_at", datetime.combine(day, time(15), UTC))
    start = {"arrive_at": arrive_at, "leave_at": arrive_at + timedelta(minutes=30)}
    start["route"] = fields.pop("route", None) or make.route(day=day)
    return make.stop(*tickets, **start | fields)


class Relay:
    """Stands where the conversation with the mail server is; keeps what it took."""

    def __init__(self):
        self.taken = []
        self.down = False
        self.of_recipient = Answer(Verdict.TAKEN, 250)
        self.of_data = Answer(Verdict.TAKEN, 250)
        self.before_data = self.after_data = lambda: None

    def __call__(self):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *fault):
        pass

    def reach(self):
        if self.down:
            raise RelayDown("no answer")

    def envelope(self, to):
        return self.of_recipient

    def give_up(self):
        pass

    def data(self, content):
        self.before_data()
        if self.of_data.verdict == Verdict.TAKEN:
            self.taken.append(content)
        self.after_data()
        return self.of_data


class Clock:
    def __init__(self, at=make.MORNING):
        self.at = at

    def __call__(self):
        return self.at

    def go(self, **span):
        self.at += timedelta(**span)
