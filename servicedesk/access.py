"""Rights that hang on a route: who may close what, and who may see how a gate opens.

Staff read everything of the firm. Closing belongs to the technician whom the route sends to the
site that day, and to the office; a gate code to the same technician on that very day.
"""

from datetime import date, timedelta

from django.core import signing
from django.core.exceptions import PermissionDenied
from django.utils.translation import gettext as _

from customers import access
from customers.kinds import Role
from customers.models import Site, User
from servicedesk.models import Stop, Ticket, Visit
from servicedesk.planning.calendar import site_date

PASS = "servicedesk.day-pass"
PASS_AGE = timedelta(days=14)  # a phone may lie in a van over a holiday


def office_only(view):
    """Planning is for manager and office; a technician has his own day."""

    def checked(request, *args, **kwargs):
        if not access.is_office(request.user):
            raise PermissionDenied(_("The week is planned by the manager and the office."))
        return view(request, *args, **kwargs)

    return checked


def stops_of(user, *days):
    """The stops of a person's published routes on these days, in driving order."""
    return Stop.objects.filter(
        route__technician__user=user,
        route__technician__active=True,
        route__published_at__isnull=False,
        route__day__in=days,
    ).order_by("route__day", "number")


def may_work_at(user: User, site: Site, *days: date) -> bool:
    """Whether a person may close tickets of a site: his route sends him there on such a day."""
    if access.is_office(user):
        return True
    return access.is_technician(user) and stops_of(user, *days).filter(site=site).exists()


def may_close(user: User, ticket: Ticket, *days: date) -> bool:
    """A ticket on his own published route of the day, or at a site that he visits that day."""
    if may_work_at(user, ticket.site, *days):
        return True
    return access.is_technician(user) and stops_of(user, *days).filter(tickets=ticket).exists()


def may_see_secrets(user: User, site: Site, *, today: date) -> bool:
    """Gate codes are for whoever is sent there today, and for the office."""
    return may_work_at(user, site, today)


def day_pass(user: User, site: Site) -> str:
    """Proof that the page was given to this person while the site was his.

    It travels with the closing, so that work done after the office moved the ticket to somebody
    else is still taken: an assignment is no lock on what happened.
    """
    return signing.dumps([user.pk, site.pk], salt=PASS)


def holds_day_pass(user: User, site: Site, token: str) -> bool:
    try:
        return signing.loads(token, salt=PASS, max_age=PASS_AGE) == [user.pk, site.pk]
    except signing.BadSignature:
        return False


def may_read_visit(user: User, visit: Visit) -> bool:
    if access.is_office(user) or visit.technician_id == user.pk:
        return True
    return user.is_active and visit.helpers.filter(pk=user.pk).exists()


def may_correct(user: User, visit: Visit, *, today: date) -> bool:
    """The office at any time; whoever was there on the day on which he sent it."""
    if access.is_office(user):
        return True
    received_on = site_date(visit.received_at, visit.site.time_zone)
    return visit.technician_id == user.pk and user.is_active and received_on == today


def colleagues(user: User):
    """Technicians who may have been at a pond with somebody."""
    people = User.objects.filter(is_active=True, technician__active=True).exclude(pk=user.pk)
    return people.order_by("first_name", "last_name", "pk")


def approvers():
    """Who may answer for starting a system that was found off."""
    return User.objects.filter(is_active=True, role=Role.MANAGER).order_by(
        "first_name", "last_name"
    )
