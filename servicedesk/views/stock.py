"""Vans and shelf: what lies there, what to load, and what is on order."""

import uuid
from datetime import date, timedelta

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers import access
from servicedesk.access import office_only
from servicedesk.actions import stock as actions
from servicedesk.forms.stock import (
    CountForm,
    ExpectForm,
    MoveForm,
    OrderForm,
    PartForm,
    RoomForm,
)
from servicedesk.models import PartOrder, Technician, Ticket
from servicedesk.planning.calendar import week_monday
from servicedesk.planning.stock import SHELF
from servicedesk.tables.asked import date_at
from servicedesk.tables.load import Loads
from servicedesk.tables.stock import Stock, kit_misses, last_moves, orders_listed

SHELF_NAME = "shelf"


def firm_today(request):
    return date_at(request.firm, timezone.now())


@never_cache
@require_safe
def stock(request):
    today = firm_today(request)
    shown = Stock()
    holders = shown.holders()
    awaited, _over = orders_listed(today)
    month, year = kit_misses(today)
    context = {
        "holders": holders,
        "rows": shown.rows(holders),
        "orders": awaited,
        "late_orders": sum(1 for one in awaited if not one.expected_on or one.expected_on < today),
        "misses_month": month,
        "misses_year": year,
        "today": today,
    }
    return render(request, "stock/stock.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def van(request, technician):
    """One van, or the shelf: count it, move parts out of it, say how much room it has."""
    holder = _holder(technician)
    may_write = _may_write(request.user, holder)
    if request.method == "POST" and not may_write:
        raise PermissionDenied(_("You can change the stock of your own van only."))
    shown = Stock()
    forms = _forms(request, holder, shown)
    if request.method == "POST" and _written(request, holder, forms):
        return redirect("van", technician)
    number = holder.pk if holder else SHELF
    mine, others = shown.here(number)
    context = {
        "holder": holder,
        "address": technician,
        "kept": number in shown.kept,
        "rows": _rows(shown, number, mine, forms["count"]),
        "others": _rows(shown, number, others, forms["count"]),
        "forms": forms,
        "may_write": may_write,
        "moves": last_moves(holder),
        "today": firm_today(request),
    }
    status = 422 if any(form.errors for form in forms.values()) else 200
    return render(request, "stock/van.html", context, status=status)


def _holder(name):
    if name == SHELF_NAME:
        return None
    vans = Technician.objects.select_related("user")
    return get_object_or_404(vans, user__username=name)


def _may_write(user, holder):
    return access.is_office(user) or (holder is not None and holder.user_id == user.pk)


def _forms(request, holder, shown):
    """The forms of the page; the one that was sent is bound."""
    office = access.is_office(request.user)
    number = holder.pk if holder else SHELF
    least = {part: n for (place, part), n in shown.least.items() if place == number}
    lies = {str(part.pk): shown.at(number, part.pk).pieces for part in shown.parts}
    sent = request.POST.get("act") if request.method == "POST" else None

    def data(act):
        return request.POST if sent == act else None

    forms = {
        "count": CountForm(data("count"), parts=shown.parts, least=least, may_set_least=office),
        "move": MoveForm(data("move"), here=holder, lies=lies, prefix="move"),
    }
    if holder is None:
        forms["bought"] = PartForm(data("bought"), prefix="bought")
    elif office:
        forms["room"] = RoomForm(data("room"), instance=holder)
    return forms


def _rows(shown, number, parts, form):
    return [
        {
            "part": part,
            "here": shown.at(number, part.pk),
            "count": form[f"count_{part.pk}"],
            "least": form[f"least_{part.pk}"] if form.may_set_least else None,
        }
        for part in parts
    ]


def _written(request, holder, forms):
    """Carry out what was sent; False where a field has to be mended."""
    act, now = request.POST.get("act"), timezone.now()
    form = forms.get(act)
    if form is None:
        raise PermissionDenied
    if not form.is_valid():
        return False
    data, by = form.cleaned_data, request.user
    if act == "count":
        counted = form.counted
        actions.count_stock(holder, counted, key=data["key"], by=by, at=now, now=now)
        if form.may_set_least:
            actions.set_least(holder, form.least)
        says = ngettext("%d part is counted.", "%d parts are counted.", len(counted))
        messages.success(request, says % len(counted))
    elif act == "move":
        moved = {data["part"]: data["quantity"]}
        actions.move_stock(holder, form.technician, moved, key=data["key"], by=by, now=now)
        messages.success(request, _("Moved."))
    elif act == "bought":
        actions.buy_stock(data["part"], data["quantity"], key=data["key"], by=by, now=now)
        messages.success(request, _("It lies on the shelf now."))
    else:
        form.save()
        messages.success(request, _("Kept."))
    return True


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def load_list(request, technician, day):
    """What to load for a day or for a week; the press takes it from the shelf into the van."""
    holder = _holder(technician)
    if holder is None:
        raise Http404(_("The shelf goes nowhere."))
    if not access.is_office(request.user) and holder.user_id != request.user.pk:
        raise PermissionDenied(_("This is the van of somebody else."))
    today = firm_today(request)
    first, last = _days(day)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    days = [one for one in days if one >= today]
    if request.method == "POST":
        _load(request, holder, first, last, days)
        return redirect("load_list", technician, day)
    loads = Loads(first, last, today=today)
    load = loads.week(holder.pk, days)
    context = {
        "holder": holder,
        "address": technician,
        "day": day,
        "first": first,
        "last": last,
        "load": load,
        "pieces": sum(load.along.values()),
        "by_day": [(one, loads.day(holder.pk, one)) for one in days] if first != last else [],
        "key": actions.load_key(holder, load.along, days),
    }
    return render(request, "stock/load_list.html", context)


def _load(request, holder, first, last, days):
    """Move what the page showed; a list that is another one by now moves nothing."""
    sent, now = _key(request), timezone.now()
    with actions.loading(holder):
        along = Loads(first, last, today=firm_today(request)).week(holder.pk, days).along
        same = bool(along) and sent == actions.load_key(holder, along, days)
        if same:
            actions.move_stock(None, holder, along, key=sent, by=request.user, now=now)
    if same:
        messages.success(request, _("Loaded: the shelf has it no longer, the van has it."))
    else:
        messages.warning(
            request,
            _("Nothing was moved: it is loaded already, or the list has changed. Look again."),
        )


def _key(request):
    try:
        return uuid.UUID(request.POST.get("key", ""))
    except ValueError:
        raise Http404(_("Load the page again.")) from None


def _days(text):
    """The first and last day of a list: a day like 2026-11-24, or a week like 2026-W48."""
    try:
        if "W" in text:
            monday = week_monday(text)
            return monday, monday + timedelta(days=6)
        day = date.fromisoformat(text)
    except ValueError:
        raise Http404(_("Write the day like 2026-11-24.")) from None
    return day, day


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def part_orders(request):
    """What is on order, and a new order."""
    today = firm_today(request)
    if request.method == "POST" and not access.is_office(request.user):
        raise PermissionDenied(_("Parts are ordered by the manager and the office."))
    start = {"ordered_on": today}
    if (ticket := request.GET.get("ticket", "")).isdecimal() and len(ticket) < 10:
        start["ticket"] = (
            Ticket.objects.open().filter(pk=ticket).values_list("pk", flat=True).first()
        )
    form = OrderForm(request.POST or None, initial=start)
    if request.method == "POST" and form.is_valid() and (order := _ordered(form, request.user)):
        messages.success(request, _("On order: %s.") % order)
        return redirect("part_orders")
    awaited, over = orders_listed(today)
    context = {
        "form": form,
        "awaited": awaited,
        "over": over,
        "today": today,
        "may_write": access.is_office(request.user),
        "expect": ExpectForm(auto_id=False),
    }
    return render(request, "stock/orders.html", context, status=422 if form.errors else 200)


def _ordered(form, by):
    data = form.cleaned_data
    try:
        return actions.order_part(
            form.part_ordered(),
            data["quantity"],
            uuid=data["key"],
            ordered_on=data["ordered_on"],
            expected_on=data["expected_on"],
            ticket=data["ticket"],
            note=data["note"],
            by=by,
        )
    except actions.StockRefused as refused:
        form.add_error("expected_on", str(refused))
        return None


@require_POST
@office_only
def part_order(request, pk):
    """It came, it comes on another day, it is called off, or the tick was a mistake."""
    order = get_object_or_404(PartOrder.objects.select_related("part"), pk=pk)
    act, now = request.POST.get("act"), timezone.now()
    try:
        if act == "arrived":
            actions.arrive_order(order, now=now)
            messages.success(request, _("%s: here, on the shelf.") % order)
        elif act == "cancel":
            actions.cancel_order(order, now=now)
            messages.success(request, _("%s: called off.") % order)
        elif act == "reopen":
            actions.reopen_order(order)
            messages.success(request, _("%s: on order again.") % order)
        else:
            _expect(order, request)
    except actions.StockRefused as refused:
        messages.error(request, str(refused))
    return redirect("part_orders")


def _expect(order, request):
    form = ExpectForm(request.POST)
    if not form.is_valid():
        raise actions.StockRefused(_("Write the day like 2026-11-24, or leave it empty."))
    actions.expect_order(order, form.cleaned_data["expected_on"])
    messages.success(request, _("The day is kept."))
