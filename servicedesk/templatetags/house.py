"""How ponds, states, days and readings stand on a page."""

import datetime

from django import forms, template
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html, format_html_join
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from customers import access
from customers.kinds import Units
from equipment.kinds import SystemState
from equipment.physics import units
from servicedesk import offline
from servicedesk.kinds import AnswerKind, Who
from servicedesk.planning.calendar import month_day

register = template.Library()

OFFICE_PAGES = [
    ("/", _("First page")),
    ("/week/", _("Week")),
    ("/tickets/", _("Tickets")),
    ("/systems/", _("Systems")),
    ("/seasons/", _("Seasons")),
    ("/stock/", _("Parts")),
    ("/what-if/", _("What if")),
    ("/messages/", _("Messages")),
    ("/import/", _("Import")),
    ("/settings/", _("Settings")),
]
TECHNICIAN_PAGES = [
    ("/day/", _("My day")),
    ("/systems/", _("Systems")),
    ("/stock/", _("Parts")),
    ("/calculate/", _("Calculators")),
]
SHAPES = {"ok", "due", "late", "drift", "rest"}
STATES = {
    SystemState.PLANNED: ("rest", _("Planned")),
    SystemState.INSTALLED: ("rest", _("Installed, not in service")),
    SystemState.COMMISSIONING: ("drift", _("Commissioning")),
    SystemState.RUNNING: ("ok", _("Running")),
    SystemState.RUNNING_TIMER: ("ok", _("Running on its timer")),
    SystemState.RUNNING_WINTER_SHALLOW: ("ok", _("Running shallow")),
    SystemState.RUNNING_WINTER_DEEP: ("ok", _("Running deep")),
    SystemState.RAMPING: ("drift", _("Starting up by steps")),
    SystemState.SHUT_WINTER: ("rest", _("At rest (winter)")),
    SystemState.SHUT_OTHER: ("due", _("Off")),
    SystemState.FAILED: ("late", _("Failed")),
    SystemState.REMOVED: ("rest", _("Removed")),
    SystemState.TRANSFERRED: ("rest", _("Handed over to another firm")),
}
NOTICE_SHAPES = {"success": "ok", "warning": "due", "error": "late"}


@register.inclusion_tag("navigation.html", takes_context=True)
def main_navigation(context):
    """The head of the page; which rooms it names depends on the role."""
    request = context.get("request")
    user = getattr(request, "user", None)
    known = user is not None and user.is_authenticated
    pages = []
    if known:
        pages = OFFICE_PAGES if access.is_office(user) else TECHNICIAN_PAGES
    here = request.path if request else ""
    return {
        "firm": context.get("firm"),
        "user": user if known else None,
        "csrf_token": context.get("csrf_token"),
        "pages": [
            {"path": path, "name": name, "here": _is_here(path, here)} for path, name in pages
        ],
    }


def _is_here(path, here):
    return here == path if path == "/" else here.startswith(path)


@register.simple_tag
def water(pond):
    """The name of a pond: always the italic serif, and nothing else ever is."""
    return format_html('<span class="water">{}</span>', pond)


@register.simple_tag
def cabinet(system, ponds):
    """A system by its ponds and its label; what the label repeats of a pond is not said twice."""
    names = {pond.pk: pond.name for pond in ponds}.values()
    label = system.name
    for name in names:
        if f"{label} ".startswith(f"{name} "):
            label = label.removeprefix(name).strip()
    waters = format_html_join(", ", "{}", ((water(name),) for name in names))
    return format_html("{}{}{}", waters, " " if names and label else "", label)


@register.simple_tag
def phone_file(name):
    """The address of one of the phone's files, as its worker keeps it."""
    return offline.asset(name)


@register.simple_tag
def tag(shape, words):
    """A status: word, shape and colour together. `shape` is one of SHAPES."""
    if shape not in SHAPES:
        raise template.TemplateSyntaxError(f"{shape!r} is no status shape")
    return format_html('<span class="tag {0}">{1}{2}</span>', shape, _drawn(shape), words)


@register.simple_tag
def state_tag(state):
    """What a system is doing, as a status."""
    return tag(*STATES.get(state, ("rest", _("State not known"))))


@register.simple_tag
def shape(name):
    """The bare shape of a status, for places that carry the word themselves."""
    return _drawn(name)


def _drawn(name):
    return format_html('<svg aria-hidden="true"><use href="#s-{}"/></svg>', name)


@register.simple_tag(takes_context=True)
def notice(context, message):
    """A message of the program, above the page that it is about; with its way back, if any."""
    name = NOTICE_SHAPES.get(message.level_tag)
    said = name or "", _drawn(name) if name else "", message
    what, _sep, number = (message.extra_tags or "").partition(":")
    if what != "undo":
        return format_html('<p class="notice {}">{}<span>{}</span></p>', *said)
    return format_html(
        '<div class="notice {}">{}<span>{}</span><form method="post" action="{}">'
        '<input type="hidden" name="csrfmiddlewaretoken" value="{}">'
        '<button type="submit" class="btn low">{}</button></form></div>',
        *said,
        reverse("undo_change", args=[number]),
        context.get("csrf_token", ""),
        _("Undo"),
    )


@register.simple_tag(takes_context=True)
def reading(context, what, value):
    """A stored value in the units of whoever reads the page; a dash where there is none."""
    return "\u2013" if value is None else units.shown(what, value, reader_units(context))


@register.filter
def day_of_year(text):
    """A day of every year, kept as such as "03-01", as a reader says it: 1 March."""
    return date_format(month_day(text, 2024), "j F")


@register.simple_tag(takes_context=True)
def distance(context, km):
    """A way in the units of whoever reads the page; tenths matter on short ways alone."""
    unit = units.readers_unit("distance", reader_units(context))
    way = units.from_stored("distance", (km or 0) * 1000, unit)
    return f"{way:.{0 if way >= 20 else 1}f}\u00a0{unit}"


def reader_units(context):
    """`units` of the page, else those of the person signed in, else those of the firm."""
    user = getattr(context.get("request"), "user", None)
    firm = context.get("firm")
    return context.get("units") or getattr(user, "units", None) or getattr(firm, "units", Units.US)


@register.filter
def day(value):
    """A day: Tue 24 Nov 2026."""
    return date_format(value, "D j M Y") if value else ""


@register.filter
def local_day(value):
    """The day of an instant, in the zone of the page."""
    return day(value.astimezone(timezone.get_current_timezone())) if value else ""


@register.filter
def moment(value):
    """An instant, in the zone of the page: Tue 24 Nov 2026, 08:50."""
    if not value:
        return ""
    return date_format(value.astimezone(timezone.get_current_timezone()), "D j M Y, H:i")


@register.filter
def clock(value):
    """A time of day: 08:50; an instant is shown in the zone of the page."""
    if isinstance(value, datetime.datetime):
        value = value.astimezone(timezone.get_current_timezone())
    return value.strftime("%H:%M") if value else ""


@register.filter
def duration(minutes):
    """Minutes as people say them: 35 min, 7 h 05."""
    minutes = round(minutes or 0)
    return (
        f"{minutes}\u00a0min" if minutes < 60 else f"{minutes // 60}\u00a0h\u00a0{minutes % 60:02d}"
    )


@register.filter
def words(stored):
    """A stored word as it reads: running_timer becomes `running timer`."""
    return str(stored or "").replace("_", " ")


@register.filter
def answer_words(kind):
    """What an owner's answer amounts to."""
    return {
        AnswerKind.CONFIRM: gettext("confirms the visit"),
        AnswerKind.ANOTHER_DAY: gettext("asks for another day"),
        AnswerKind.DID_IT_MYSELF: gettext("says it is done already"),
        AnswerKind.PROBLEM: gettext("reports a problem"),
        AnswerKind.STOP_REMINDERS: gettext("wants no more of these reminders"),
        AnswerKind.CALL_ME: gettext("wants to be called"),
        AnswerKind.OFF_ON_PURPOSE: gettext("switched it off on purpose"),
        AnswerKind.ALREADY_REPLACED: gettext("says that the unit has been replaced already"),
        AnswerKind.REMIND_LATER: gettext("wants to be reminded in a week"),
        AnswerKind.WILL_WATCH: gettext("will watch while the air is brought up"),
        AnswerKind.CANNOT_WATCH: gettext("cannot watch while the air is brought up"),
        AnswerKind.WINTER_SHALLOW: gettext("wishes to run shallow this winter"),
        AnswerKind.WINTER_SHUT: gettext("wishes to shut down this winter"),
        AnswerKind.WINTER_DEEP: gettext("wishes to keep running deep this winter"),
        AnswerKind.NOTICE_READ: gettext("has read the notice about thin ice"),
        AnswerKind.NEED_SIGNS: gettext("asks for signs about thin ice"),
        AnswerKind.ICE_IS_USED: gettext("says that someone uses the ice"),
    }[kind]


@register.filter
def field_kind(field):
    """How a field is laid out: `tick` beside its label, `group` under a legend, else `plain`."""
    widget = field.field.widget
    if isinstance(widget, (forms.RadioSelect, forms.CheckboxSelectMultiple)):
        return "group"
    return "tick" if isinstance(widget, forms.CheckboxInput) else "plain"


@register.simple_tag
def mark_words(mark, note=""):
    """What a figure of the trade rests on, in words, with the note beside it."""
    said = {
        "sourced": gettext("from a source"),
        "common_practice": gettext("common practice, no source"),
        "judgement": gettext("our judgement, to be confirmed"),
        "computed": gettext("computed"),
        "firm": gettext("the firm's own figure"),
    }[mark]
    more = [part.strip() for part in note.split(";") if part.strip() not in {"", "no source"}]
    return f"{said}: {'; '.join(more)}" if more else said


@register.simple_tag
def basis_of(task):
    """What the intervals of a task rest on, each said once."""
    rows = [(rhythm.mark, rhythm.mark_note) for rhythm in task.rhythms.all()]
    said = [mark_words(mark, note) for mark, note in rows or [(task.mark, task.mark_note)]]
    return "; ".join(dict.fromkeys(said))


@register.simple_tag
def every_of(task):
    """How often a task is done, each clock said once: three that wait for a call are one."""
    said = dict.fromkeys(rhythm_words(rhythm) for rhythm in task.rhythms.all())
    between = gettext(" and ") if task.join == "last" else gettext(" or ")
    return between.join(said)


@register.simple_tag
def rhythm_words(rhythm):
    """How often, on which clock: `2900 running hours`, `120 days in operation`."""
    every = f"{rhythm.every:g}" if rhythm.every else ""
    said = {
        ("run", "h"): gettext("%s running hours"),
        ("op", "d"): gettext("%s days in operation"),
        ("op", "month"): gettext("%s months in operation"),
        ("cal", "d"): gettext("%s days"),
        ("cal", "month"): gettext("%s months"),
    }.get((rhythm.clock, rhythm.unit))
    owner = gettext(" (by the owner)") if rhythm.who == Who.OWNER else ""
    if said and every:
        return said % every + owner
    return {
        "season": gettext("once in its season"),
        "event": gettext("when something calls for it"),
        "cond": gettext("when readings call for it"),
    }.get(rhythm.clock, every)


@register.simple_tag(takes_context=True)
def list_link(context, field, value, target):
    """The address of the same list, sorted or paged otherwise; works with and without script."""
    query = context["request"].GET.copy()
    query[field] = value
    if field == "sort":
        query.pop("page", None)
    return format_html(
        'href="{0}" data-hx-get="{0}" data-hx-target="#{1}" data-hx-select="#{1}" '
        'data-hx-swap="outerHTML" data-hx-push-url="true"',
        f"?{query.urlencode()}",
        target,
    )
