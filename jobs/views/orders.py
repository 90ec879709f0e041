"""Orders for the office: what to order now, for the store's levels and for waiting jobs, and all orders."""

from datetime import timedelta
from decimal import Decimal

from django.contrib import messages
from django.db.models import Count
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm import words
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import Offer, Order, OrderLine, Supplier
from inventory.services import ordering
from inventory.services.pricing import MONEY
from inventory.views.asking import plain, whole
from inventory.views.once import OnceForm, save_once
from jobs.part_states import waiting_parts
from jobs.views.job_table import day_words
from jobs.views.parts import currency

STATES = {
    "draft": ("note", "wait"),
    "sent": ("care", "send"),
    "part-received": ("care", "box"),
    "closed": ("good", "tick"),
}


def _chip(order):
    return (*STATES[order.state], order.get_state_display())


def totals(orders):
    """{order: sum of its lines, ex VAT}, reckoned in Python."""
    sums = {}
    lines = OrderLine.objects.filter(order__in=orders).exclude(price_ex_vat=None)
    for order, packs, price in lines.values_list("order", "packs", "price_ex_vat"):
        sums[order] = sums.get(order, Decimal(0)) + (packs * price).quantize(MONEY)
    return sums


def _columns(sums, sign):
    return [
        Column("number", "Order", href=lambda o: reverse("order_detail", args=[o.pk]), sub=lambda o: o.note),
        Column("supplier", "Supplier", value=lambda o: str(o.supplier), order="supplier__name"),
        Column("state", "State", value=lambda o: o.get_state_display(), chip=_chip),
        Column("lines", "Lines", value=lambda o: o.line_count, numeric=True, order="line_count"),
        Column(
            "total",
            "Without VAT",
            value=lambda o: sums.get(o.pk),
            numeric=True,
            order="",
            show=lambda n: words.money(n, sign),
        ),
        Column("made_at", "Made", value=lambda o: timezone.localtime(o.made_at).date(), show=day_words),
        Column("expected_on", "Expected", show=lambda d: f"{d:%-d %b}" if d else "not sent"),
    ]


FILTERS = [
    Filter("state", "State", lambda rows, state: rows.filter(state=state), Order.State.choices),
]


@office_required
@require_GET
def order_list(request):
    today = timezone.localdate()
    rows = Order.objects.select_related("supplier").annotate(line_count=Count("lines")).order_by("-made_at", "-pk")
    suppliers = Filter(
        "supplier",
        "Supplier",
        lambda rows, key: rows.filter(supplier__key=key),
        [(s.key, s.name) for s in Supplier.objects.all()],
    )
    sums = _Sums()
    table = Table(
        request,
        rows,
        _columns(sums, currency()),
        name="orders",
        caption="Orders",
        sort="-made_at",
        filters=[*FILTERS, suppliers],
        empty="No order yet. What the store lacks stands above.",
    )
    sums.orders = [order.pk for order in table.page.object_list] if not request.GET.get("export") else None
    if table.response:
        return table.response
    proposals, nowhere = ordering.propose_orders(today, waiting_parts(today - timedelta(days=120)))
    shown = {
        "table": table,
        "proposals": [(p, OnceForm(auto_id=f"{p.supplier.pk}-%s"), _to_free(p)) for p in proposals],
        "nowhere": nowhere,
    }
    return render(request, "jobs/order_list.html", shown)


def _to_free(proposal):
    """«£12.40 more and carriage is free», where that is within reach of this order."""
    limit = proposal.supplier.carriage_free_over
    if limit is None or not proposal.carriage or proposal.total < limit / 2:
        return ""
    return f"{words.money(limit - proposal.total, currency())} more and carriage is free"


class _Sums:
    """Totals of the orders on the page, read once when the first is shown; all of them for an export."""

    orders = None
    known = None

    def get(self, order):
        if self.known is None:
            self.known = totals(self.orders if self.orders is not None else Order.objects.values("pk"))
        return self.known.get(order)


@office_required
def order_propose(request):
    """Make a draft of one supplier's proposal, with the packs as they stand in the form."""
    if request.method != "POST":
        return redirect("order_list")
    supplier = get_object_or_404(Supplier, pk=whole(request.POST.get("supplier")) or 0)
    form = OnceForm(request.POST)
    rows = list(zip(*(request.POST.getlist(name) for name in ("offer", "packs", "job")), strict=False))

    def draft(_typed, event):
        offers = {str(offer.pk): offer for offer in Offer.objects.filter(supplier=supplier).select_related("part")}
        wanted = [(offers.get(pk), whole(packs, least=1, most=9999), plain(job, 60)) for pk, packs, job in rows]
        lines = [(offer, packs, job) for offer, packs, job in wanted if offer and packs]
        return {"pk": ordering.draft_order(supplier, lines, event=event, by=request.user).pk}

    if answer := save_once(request, form, "order", draft, (ordering.CannotOrder,)):
        messages.success(request, "The draft is made. Look it through, then send it.")
        return redirect("order_detail", answer["pk"])
    messages.error(request, f"No draft was made. {' '.join(form.non_field_errors())}")
    return redirect("order_list")
