"""How the pages of a handing over are opened, filled in and sent."""

import re

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.servicedesk.actions.commissioning import handing_over as hand


def address(system, step=""):
    return f"/systems/{system.pk}/commissioning/{f'{step}/' if step else ''}"


def fields(client, system, step):
    """What the page of a step holds, as a browser would send it back."""
    form = client.get(address(system, step)).context["form"]
    sent = {}
    for field in form.visible_fields():
        value, widget = field.value(), field.field.widget
        if hasattr(widget, "decompress"):
            parts = value if isinstance(value, list) else widget.decompress(value)
            sent |= {f"{field.html_name}_{n}": part for n, part in enumerate(parts)}
        elif not (field.name.startswith("photo_") or value is None or value is False):
            sent[field.html_name] = getattr(value, "pk", value)
    return sent


def send(client, system, step, **typed):
    """Sends a step's page with what is on it, changed by `typed`."""
    return client.post(address(system, step), fields(client, system, step) | typed)


def again(client, system, step, answer, **typed):
    """Looks again at every question of a page that came back, and sends it once more."""
    assert answer.status_code == 400
    sure = [key for key, _ in answer.context["questions"]]
    bound = {k: v for k, v in answer.context["form"].data.items() if k != "sure"}
    return client.post(address(system, step), bound | typed | {"sure": sure})


def text(answer):
    return re.sub(r"\s+", " ", answer.content.decode())


def jpeg(name="phone.jpg"):
    return SimpleUploadedFile(name, hand.picture().getvalue(), "image/jpeg")
