"""One order: its draft, sending it, and receiving what really came."""

from decimal import Decimal

from django.contrib import messages
from django.db.models import Sum
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from firm.exports import csv_response
from firm.roles import office_required
from inventory.forms import DraftForm, ReceiptForm
from inventory.models import Order, ReceiptLine
from inventory.services import drafts, ordering
from inventory.services.pricing import MONEY, carriage
from inventory.views.once import OnceForm, save_once


def order_or_404(pk):
    return get_object_or_404(Order.objects.select_related("supplier", "deliver_to", "made_by"), pk=pk)


def lines_of(order):
    return list(order.lines.select_related("part", "offer"))


def total_of(lines):
    """(sum of the lines, number of lines without a price). Money is reckoned here and never in SQL."""
    known = [(line.packs * line.price_ex_vat).quantize(MONEY) for line in lines if line.price_ex_vat is not None]
    return sum(known, Decimal(0)), len(lines) - len(known)


def received(order):
    """{order line: pieces that came good}."""
    rows = ReceiptLine.objects.filter(receipt__order=order, outcome=ReceiptLine.Outcome.GOOD).order_by()
    return dict(rows.values_list("order_line").annotate(pieces=Sum("quantity")))


@office_required
@require_GET
def order_detail(request, pk):
    return _page(request, order_or_404(pk))


def _page(request, order, status=200, form=None):
    lines, came = lines_of(order), received(order)
    total, unknown = total_of(lines)
    shown = {
        "order": order,
        "lines": [(line, came.get(line.pk, Decimal(0))) for line in lines],
        "total": total,
        "unknown": unknown,
        "carriage": carriage(order.supplier, total),
        "form": form or DraftForm(lines=lines, initial={"note": order.note}),
        "send_form": OnceForm(),
        "receipts": order.receipts.select_related("by", "place").prefetch_related("lines__part", "lines__order_line"),
    }
    return render(request, "inventory/order_detail.html", shown, status=status)


@office_required
@require_POST
def order_change(request, pk):
    """Keep the packs of a draft, or throw it away."""
    order = order_or_404(pk)
    form = DraftForm(request.POST, lines=lines_of(order))

    def change(typed, _event):
        drafts.change_draft(order, form.packs, note=typed["note"])
        return {"pk": order.pk}

    if save_once(request, form, "draft", change, (ordering.CannotOrder,)):
        messages.success(request, "The draft is kept.")
        return redirect("order_detail", pk)
    return _page(request, order, status=400, form=form)


@office_required
@require_POST
def order_drop(request, pk):
    order = order_or_404(pk)
    form = OnceForm(request.POST)

    def drop(_typed, _event):
        drafts.drop_draft(order)
        return {"dropped": order.number}

    if save_once(request, form, "draft-dropped", drop, (ordering.CannotOrder,)):
        messages.success(request, f"The draft {order.number} is thrown away.")
        return redirect("order_list")
    messages.error(request, " ".join(form.non_field_errors()) or "Nothing was changed.")
    return redirect("order_detail", pk)


@office_required
@require_POST
def order_send(request, pk):
    """Mark the order as sent; the office prints it or attaches its CSV to an e-mail."""
    order = order_or_404(pk)
    form = OnceForm(request.POST)

    def send(_typed, _event):
        return {"expected": ordering.send_order(order, by=request.user).expected_on.isoformat()}

    if answer := save_once(request, form, "order-sent", send, (ordering.CannotOrder,)):
        messages.success(
            request, f"The order is marked as sent; expected {answer['expected']}. Print it or save its CSV."
        )
    else:
        messages.error(request, " ".join(form.non_field_errors()) or "Nothing was changed.")
    return redirect("order_detail", pk)


@office_required
@require_GET
def order_paper(request, pk):
    """The order as the supplier gets it: on paper, or with ?export=csv as a file."""
    order = order_or_404(pk)
    lines = lines_of(order)
    if request.GET.get("export") == "csv":
        head = ["supplier_part", "part", "description", "packs", "pieces in a pack", "price per pack ex VAT"]
        rows = [
            [
                line.offer.supplier_part,
                line.part.number,
                line.part.description,
                line.packs,
                line.pack,
                line.price_ex_vat,
            ]
            for line in lines
        ]
        return csv_response(f"order-{order.number}", head, rows)
    total, unknown = total_of(lines)
    shown = {
        "order": order,
        "lines": lines,
        "total": total,
        "unknown": unknown,
        "carriage": carriage(order.supplier, total),
    }
    return render(request, "inventory/order_paper.html", shown)


@office_required
def order_receive(request, pk):
    """Book a delivery, whole or in part, as what really came."""
    order = order_or_404(pk)
    if order.state not in {Order.State.SENT, Order.State.PART_RECEIVED}:
        messages.error(request, "Only an order that was sent and is still open can be received.")
        return redirect("order_detail", pk)
    came = received(order)
    lines = [(line, max(line.pieces - came.get(line.pk, Decimal(0)), Decimal(0))) for line in lines_of(order)]
    form = ReceiptForm(request.POST or None, lines=lines)

    def book(typed, event):
        note = typed["delivery_note"]
        receipt = ordering.receive(order, typed["lines"], event=event, by=request.user, delivery_note=note)
        return {"pk": receipt.pk}

    if request.method == "POST" and save_once(request, form, "receipt", book, (ordering.CannotOrder,)):
        messages.success(request, "Received. What came good is in the store; what a job waits for is kept for it.")
        return redirect("order_detail", pk)
    return render(
        request, "inventory/order_receive.html", {"order": order, "form": form}, status=400 if form.errors else 200
    )
