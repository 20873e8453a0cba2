"""Winters planned customer by customer, and everything that hangs on one system's winter."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers.models import Customer, Pond
from equipment.models import Position, System
from servicedesk.access import office_only
from servicedesk.actions.winter import blocking, decide, rules
from servicedesk.actions.winter.blocking import WinterRefused
from servicedesk.forms.winter import (
    SHORT,
    LiftForm,
    LookForm,
    RefusalForm,
    RowForm,
    WhoForm,
    WhyForm,
)
from servicedesk.models import BankLook, RefusedNote, WinterDecision
from servicedesk.planning.winter.blocks import AFTER_A_STOP, standing
from servicedesk.planning.winter.questions import QUESTIONS
from servicedesk.tables.asked import date_at
from servicedesk.tables.winter import (
    deadline_of,
    notice_counts,
    systems_of,
    winter_counts,
    winter_rows,
)


@require_safe
@office_only
def winters(request):
    """Customers whose waters freeze: what is decided, what is open, and who has read the notice."""
    context = {"rows": winter_counts(now=timezone.now()), "notices": notice_counts()}
    return render(request, "winter/winters.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def customer_winter(request, pk):
    """All systems of a customer in one table: answer, see what it points to, decide."""
    customer = get_object_or_404(Customer, pk=pk)
    now = timezone.now()
    rows = winter_rows(systems_of(customer), now=now)
    who = WhoForm(
        request.POST or None,
        initial={"decided_on": date_at(request.firm, now), "decided_by": _wished_by(rows)},
    )
    for row in rows:
        row.form = RowForm(
            request.POST or None,
            prefix=f"s{row.system.pk}",
            initial=row.initial,
            ponds=row.names,
        )
    status = 200
    if request.method == "POST":
        if _keep(request, rows, who, now):
            return redirect("customer_winter", pk=pk)
        status = 422
    context = {
        "customer": customer,
        "rows": rows,
        "who": who,
        "short": SHORT,
        "questions": QUESTIONS,
        "deadline": deadline_of(rows),
        "after_a_stop": AFTER_A_STOP,
    }
    return render(request, "winter/customer.html", context, status=status)


def _wished_by(rows):
    wishes = [row.known.wish.contact.name for row in rows if row.known.wish]
    decided = [row.known.decision.decided_by for row in rows if row.decided]
    return next(iter([*wishes, *decided]), "")


def _keep(request, rows, who, now):
    """Keep every row that may be kept; whether all of them were."""
    if not who.is_valid():
        return False
    kept, good = 0, True
    for row in rows:
        if not row.form.is_valid():
            good = False
            continue
        try:
            kept += _keep_row(row, who, request.user, now)
        except WinterRefused as refused:
            row.errors.append(str(refused))
            good = False
    if kept:
        words = _("Kept: %(count)d of %(all)d.") % {"count": kept, "all": len(rows)}
        messages.success(request, words)
    elif good:
        messages.info(request, _("Nothing was changed."))
    return good


def _keep_row(row, who, user, now):
    said = row.form.cleaned_data
    answers = {
        key: who.for_all(key) if said[key] in ("", "unknown") and who.for_all(key) else said[key]
        for key in SHORT
    }
    permit = said["permit"] or "unknown"
    if permit == "unknown" and who.for_all("permit"):
        permit = who.for_all("permit")
    decided = said["decided"]
    if not decided and who.cleaned_data["as_pointed"]:
        given = answers | {"permit_missing": decide.OF_PERMIT[permit].value}
        decided = decide.option_pointed_to(given).option or ""
    before = row.known.decision
    after = decide.keep_winter(
        row.system,
        answers={key: word or "unknown" for key, word in answers.items()},
        permit=permit,
        permit_note=said["permit_note"],
        decided=decided,
        **_who_decided(row, decided, who),
        reason=said["reason"],
        by=user,
        now=now,
    )
    return after != before


def _who_decided(row, decided, who):
    """Who decided before stays named as long as the decision stays what it was."""
    if decided and decided == row.decided:
        before = row.known.decision
        return {"decided_by": before.decided_by, "decided_on": before.decided_on}
    said = who.cleaned_data
    return {"decided_by": said["decided_by"], "decided_on": said["decided_on"]}


@never_cache
@require_safe
@office_only
def system_winter(request, pk):
    """One system's winter: what bars it, what was seen from the bank, refused, lifted, decided."""
    return _system_page(request, get_object_or_404(System, pk=pk))


def _system_page(request, system, *, status=200, **forms):
    now = timezone.now()
    known = blocking.known_winters(
        blocking.with_sites(System.objects.filter(pk=system.pk)), now=now
    )[0]
    ((_known, found),) = blocking.with_blocks([known], now=now)
    lifted = {row.block: row for row in known.lifted}
    zone = ZoneInfo(system.site.time_zone)
    here = timezone.localtime(now, zone)
    context = {
        "system": known.system,
        "known": known,
        "blocks": [(block, lifted.get(block.name)) for block in found],
        "left": standing(found, set(lifted)),
        "history": WinterDecision.objects.filter(system=system)
        .select_related("recorded_by")
        .order_by("-recorded_at", "-pk"),
        "looks": BankLook.objects.filter(pond__in=known.ponds)
        .select_related("by", "pond", "photo")
        .order_by("-at", "-pk")[:12],
        "refusals": RefusedNote.objects.filter(pond__in=known.ponds)
        .select_related("pond", "noted_by", "ended_by")
        .order_by("-noted_at"),
        "lines": [(line, known.done(line)) for line in known.rules.checklist]
        if known.rules
        else [],
        "look": LookForm(initial={"at": here}),
        "refusal": RefusalForm(initial={"said_on": here.date()}),
        "lift": LiftForm(),
        "end": WhyForm(),
        "after_a_stop": AFTER_A_STOP,
        "may_lift": request.user.role == "manager",
        **forms,
    }
    return render(request, "winter/system.html", context, status=status)


@require_POST
@office_only
def lift_winter_block(request, pk):
    system = get_object_or_404(System, pk=pk)
    form = LiftForm(request.POST)
    if form.is_valid():
        try:
            blocking.lift_block(
                system,
                form.cleaned_data["block"],
                by=request.user,
                reason=form.cleaned_data["reason"],
                now=timezone.now(),
            )
        except WinterRefused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Lifted under your name, for this winter."))
            return redirect("system_winter", pk=pk)
    return _system_page(request, system, lift=form, status=422)


@require_POST
@office_only
def record_bank_look(request, pk, pond_pk):
    system, pond = _system_and_pond(pk, pond_pk)
    with timezone.override(ZoneInfo(system.site.time_zone)):
        form = LookForm(request.POST)
        if form.is_valid():
            try:
                rules.record_look(pond, **form.cleaned_data, by=request.user, now=timezone.now())
            except WinterRefused as refused:
                form.add_error("at", str(refused))
            else:
                messages.success(request, _("Kept."))
                return redirect("system_winter", pk=pk)
        return _system_page(request, system, look=form, look_of=pond, status=422)


@require_POST
@office_only
def note_refusal(request, pk, pond_pk):
    system, pond = _system_and_pond(pk, pond_pk)
    form = RefusalForm(request.POST)
    if form.is_valid():
        try:
            decide.note_refusal(pond, **form.cleaned_data, by=request.user, now=timezone.now())
        except WinterRefused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("The refusal is on record. The system there is not run."))
            return redirect("system_winter", pk=pk)
    return _system_page(request, system, refusal=form, refusal_of=pond, status=422)


@require_POST
@office_only
def end_refusal(request, pk, note_pk):
    system = get_object_or_404(System, pk=pk)
    note = get_object_or_404(RefusedNote, pk=note_pk)
    form = WhyForm(request.POST)
    if form.is_valid():
        why = form.cleaned_data["why"]
        decide.end_refusal(note, why=why, by=request.user, now=timezone.now())
        messages.success(request, _("Kept. The note stays on record."))
        return redirect("system_winter", pk=pk)
    return _system_page(request, system, end=form, status=422)


@require_POST
@office_only
def tick_rule(request, pk):
    """One line of the authority's list is dealt with, for all waters of a system."""
    system = get_object_or_404(System, pk=pk)
    now = timezone.now()
    known = blocking.known_winters(
        blocking.with_sites(System.objects.filter(pk=system.pk)), now=now
    )[0]
    line = request.POST.get("line", "")
    if known.rules and line in known.rules.checklist:
        note = request.POST.get("note", "")
        rules.tick_rule(known.ponds, line, year=known.year, by=request.user, now=now, note=note)
        messages.success(request, _("Ticked for this winter."))
    else:
        messages.error(request, _("That line is not on the list any more. Look at it again."))
    return redirect("system_winter", pk=pk)


def _system_and_pond(pk, pond_pk):
    system = get_object_or_404(System.objects.select_related("site"), pk=pk)
    lying = Position.objects.lying().filter(system=system)
    pond = get_object_or_404(Pond, pk=pond_pk, pk__in=lying.values("pond"))
    return system, pond
