"""The part of a letter that one topic fills, from its three templates."""

from dataclasses import dataclass

from django.template.loader import render_to_string


@dataclass(frozen=True)
class Part:
    """What one topic says in a letter."""

    subject: str
    text: str
    html: str


def part_of(name, contact, made, *, lead, **more):
    context = {
        "contact": contact,
        "rows": made,
        "one": len(made) == 1,
        "lead": lead,
        "main": lead and len(made) == 1,  # a letter has one main button
        "more": len(made) - 1,
        "first": made[0],
        **more,
    }
    folder = "servicedesk/mail"
    return Part(
        " ".join(render_to_string(f"{folder}/{name}.subject.txt", context).split()),
        render_to_string(f"{folder}/{name}.txt", context).strip("\n"),
        render_to_string(f"{folder}/{name}.html", context),
    )
