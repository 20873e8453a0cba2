"""What our own people are told by mail when somebody may be in danger."""

from django.conf import settings
from django.urls import reverse

from customers.models import Firm
from servicedesk.emails.letters import Letter, as_bytes
from servicedesk.models import Alarm


def alarm_text(says: str, *, site) -> str:
    """The sentences of an alarm, where it is, and the pages that help."""
    where = ", ".join(dict.fromkeys(filter(None, [site.name, site.street, site.town])))
    lines = [
        says,
        "",
        f"Where: {where} ({site.lat:.5f}, {site.lon:.5f})",
        f"Way in: {settings.PUBLIC_ADDRESS}{reverse('way_in', args=[site.pk])}",
        f"Say what was done: {settings.PUBLIC_ADDRESS}{reverse('home')}",
    ]
    return "\n".join(lines) + "\n"


def alarm_bytes(alarm: Alarm, *, now) -> bytes:
    firm = Firm.objects.get()
    letter = Letter("alarm", alarm.subject, alarm.text)
    to, key = alarm.to_address, alarm.message_id
    return as_bytes(letter, to=to, name=firm.name, message_id=key, now=now)
