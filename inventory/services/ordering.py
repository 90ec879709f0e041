"""Orders: drafted, sent, and received as what really came. What should be ordered: `propose_orders`."""

from datetime import timedelta

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from inventory.models import Held, Movement, Order, OrderLine, Receipt, ReceiptLine
from inventory.services import ledger, pricing
from inventory.services.movements import Event
from inventory.services.order_proposals import propose_orders as propose_orders
from inventory.services.places import place_of_supplier, store


class CannotOrder(Exception):
    """The order cannot be made or changed like this; nothing was changed."""

    field = "lines"


@transaction.atomic
def draft_order(supplier, lines, *, event, by=None, deliver_to=None):
    """Draft an order of [(offer, packs, job number), …] at today's prices. Return the Order."""
    if not lines:
        raise CannotOrder("An order needs a line.")
    today = timezone.localdate()
    order = Order.objects.create(
        number=_next_number(today), event=event, supplier=supplier, deliver_to=deliver_to or store(), made_by=by
    )
    for offer, packs, job_number in lines:
        if offer.supplier_id != supplier.pk:
            raise CannotOrder(f"{offer.supplier_part} is not sold by {supplier}.")
        priced = pricing.priced_offers(offer.part, today).filter(pk=offer.pk).first()
        OrderLine.objects.create(
            order=order,
            offer=offer,
            part=offer.part,
            packs=packs,
            pack=priced.now_pack if priced else 1,
            price_ex_vat=priced.now_price_ex_vat if priced else None,
            job_number=job_number,
        )
    return order


def _next_number(today):
    prefix = f"{today:%y%m}-"
    last = Order.objects.filter(number__startswith=prefix).order_by("-number").values_list("number", flat=True).first()
    return f"{prefix}{int(last.rsplit('-', 1)[1]) + 1 if last else 1:04d}"


@transaction.atomic
def send_order(order, *, by=None):
    """Mark a draft as sent, with the day on which it should arrive."""
    order = Order.objects.select_for_update().get(pk=order.pk)
    if order.state != Order.State.DRAFT:
        raise CannotOrder("This order has been sent already.")
    order.state, order.sent_at = Order.State.SENT, timezone.now()
    order.expected_on = timezone.localdate() + timedelta(days=order.supplier.lead_time_days)
    order.save(update_fields=["state", "sent_at", "expected_on"])
    return order


@transaction.atomic
def receive(order, lines, *, event, by=None, place=None, delivery_note=""):
    """Book a delivery as what really came: [(order line | None, part, pieces, outcome, price per piece | None), …].

    Good pieces come into `place`, those of a line that names a job are held for it. Return the Receipt.
    """
    place = place or order.deliver_to
    averages = ledger.lock([part for _, part, *_ in lines])
    receipt = Receipt.objects.create(
        event=event, order=order, supplier=order.supplier, place=place, delivery_note=delivery_note, by=by
    )
    made = Event(event, by=by, note=f"order {order.number}")
    written = []
    for order_line, part, quantity, outcome, unit_price in lines:
        row = ReceiptLine(
            receipt=receipt,
            order_line=order_line,
            part=part,
            quantity=quantity,
            outcome=outcome,
            unit_price=unit_price if unit_price is not None else _agreed(order_line),
        )
        written.append((row, _movement(made, row, order, place)))
    ledger.book(made.lines, averages)
    for row, movement in written:
        row.movement = movement
        row.save()
        if movement and row.order_line and row.order_line.job_number:
            _hold_for_job(row, place, by)
    _set_state(order)
    return receipt


def _movement(made, row, order, place):
    if row.outcome != ReceiptLine.Outcome.GOOD:
        return None
    source = place_of_supplier(order.supplier)
    reason = Movement.Reason.RECEIVED
    return made.add(row.part, row.quantity, source, place, reason, unit_cost=row.unit_price)


def _agreed(order_line):
    """The agreed price per piece of an order line, or None."""
    if order_line is None or order_line.price_ex_vat is None:
        return None
    return (order_line.price_ex_vat / order_line.pack).quantize(ledger.COST)


def _hold_for_job(row, place, by):
    Held.objects.create(place=place, part=row.part, quantity=row.quantity, job_number=row.order_line.job_number, by=by)


def _set_state(order):
    good = {
        line["order_line"]: line["pieces"]
        for line in ReceiptLine.objects.filter(receipt__order=order, outcome=ReceiptLine.Outcome.GOOD)
        .values("order_line")
        .annotate(pieces=Sum("quantity"))
    }
    complete = all(good.get(line.pk, 0) >= line.pieces for line in order.lines.all())
    order.state = Order.State.CLOSED if complete else Order.State.PART_RECEIVED
    order.save(update_fields=["state"])
