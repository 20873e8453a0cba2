"""Addresses that open without a login, for one person's calendar program."""

from django.core import signing

from servicedesk.models import Technician

CALENDAR = "servicedesk.calendar"


def calendar_token(technician: Technician) -> str:
    """The end of the address of a person's calendar; the same until he asks for a new one."""
    return signing.Signer(salt=CALENDAR).sign_object([technician.pk, technician.calendar_number])


def technician_of(token: str) -> Technician | None:
    """Whose calendar a token opens; None for one that was altered, ended, or of somebody gone."""
    try:
        pk, number = signing.Signer(salt=CALENDAR).unsign_object(token)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    found = Technician.objects.filter(
        pk=pk, calendar_number=number, active=True, user__is_active=True
    )
    return found.select_related("user").first()
