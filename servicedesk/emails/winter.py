"""Mails about winter, thin ice and heat: what to decide, what to read, and what to watch."""

from datetime import date

from customers.models import Firm, Site
from equipment.models import System
from servicedesk.emails import links, rows
from servicedesk.emails.parts import part_of
from servicedesk.kinds import AnswerKind
from servicedesk.models import Hold, NoticeDelivery

SAME_FOR_ALL = 2  # from so many waters on


def winter_plan(contact, lines, *, now, lead=True):
    """Three ways through the winter, the risks of each, by when, and what silence means."""
    systems = System.objects.select_related("site").in_bulk({ln.facts["system"] for ln in lines})
    found = [systems[line.facts["system"]] for line in lines]
    places = rows.waters([(system.site, system.pk, None) for system in found])
    made = []
    for line, system in zip(lines, found, strict=True):
        facts = {"system": system.name, "again": line.period.endswith("/2")}
        urls = links.for_winter(line, now=now)
        made.append(rows.Row(places[(system.site, system.pk, None)], urls, facts))
    by = min(date.fromisoformat(line.facts["by"]) for line in lines)
    for_all = {}
    if len(made) >= SAME_FOR_ALL:
        for_all = links.for_winters(lines[0], now=now)
    more = {"by": rows.day_words(by), "for_all": for_all}
    return part_of("winter_plan", contact, made, lead=lead, **more)


def thin_ice(contact, lines, *, now, lead=True):
    """Open water and thin ice: the words of the notice, whom to call, and three answers."""
    wanted = [line.facts["delivery"] for line in lines]
    found = NoticeDelivery.objects.select_related("text", "notice__pond__site").in_bulk(wanted)
    deliveries = [found[line.facts["delivery"]] for line in lines]
    places = [(d.notice.pond.site, None, d.notice.pond_id) for d in deliveries]
    waters = rows.waters(places)
    made = [
        rows.Row(
            waters[place],
            links.for_notice(line, until=delivery.notice.lapses_on, now=now),
            {
                "restart": delivery.notice.occasion != "season",
                "again": line.period.endswith("/2"),
                "version": delivery.text.version,
            },
        )
        for line, delivery, place in zip(lines, deliveries, places, strict=True)
    ]
    texts = {delivery.text_id: delivery.text for delivery in deliveries}
    paragraphs = [p for text in texts.values() for p in text.text.split("\n\n")]
    return part_of(
        "thin_ice",
        contact,
        made,
        lead=lead,
        paragraphs=paragraphs,
        emergency=Firm.objects.get().emergency_phone,
        after_stop=any(row.facts["restart"] for row in made),
    )


def heat_advisory(contact, lines, *, now, lead=True):
    """Little oxygen in hot still weather: what to watch, and what to leave alone."""
    holds = Hold.objects.in_bulk({line.facts["hold"] for line in lines})
    sites = Site.objects.in_bulk({line.facts["site"] for line in lines})
    places = {line.pk: (sites[line.facts["site"]], None, None) for line in lines}
    waters = rows.waters(list(places.values()))
    made = []
    for line in lines:
        urls = links.for_heat(line, now=now)
        urls["gasping"] = f"{urls[AnswerKind.PROBLEM]}?sign=fish_gasping"
        made.append(rows.Row(waters[places[line.pk]], urls, {}))
    last = max(hold.to_on for hold in holds.values())
    return part_of("heat_advisory", contact, made, lead=lead, until=rows.day_words(last))
