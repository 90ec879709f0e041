"""Orders: proposed, drafted, sent, and received as what really came."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Q, Sum
from django.utils import timezone

from inventory.models import CarryLevel, Held, Movement, Order, OrderLine, Place, Receipt, ReceiptLine, Stock
from inventory.services import ledger, pricing
from inventory.services.movements import Event
from inventory.services.places import place_of_supplier, store


class CannotOrder(Exception):
    """The order cannot be made or changed like this; nothing was changed."""

    field = "lines"


@dataclass
class Proposal:
    """What one supplier should be sent: rows of (Source, pieces wanted, why, job number)."""

    supplier: object
    rows: list = field(default_factory=list)

    @property
    def total(self):
        return sum((row[0].total for row in self.rows), Decimal(0))

    @property
    def carriage(self):
        return pricing.carriage(self.supplier, self.total)


def propose_orders(on, waiting=()):
    """Group what the store lacks to its levels, and what waiting jobs need, by the cheapest source.

    waiting: (part, quantity, job number) of jobs that wait for parts. Return proposals, dearest first, and the parts
    for which nobody has a price.
    """
    by_supplier, nowhere = {}, []
    wanted = [*_below_level(), *((p, q, "a job waits", j) for p, q, j in waiting)]
    living = {part: pricing.living(part) for part, *_ in wanted}
    offers = defaultdict(list)
    for offer in pricing.offers_of(set(living.values()), on):
        offers[offer.part_id].append(offer)
    for part, quantity, why, job_number in wanted:
        found = pricing.sources_among(offers[living[part].pk], living[part], quantity)
        if not found:
            nowhere.append((part, quantity, why, job_number))
            continue
        supplier = found[0].offer.supplier
        by_supplier.setdefault(supplier.pk, Proposal(supplier)).rows.append((found[0], quantity, why, job_number))
    return sorted(by_supplier.values(), key=lambda proposal: -proposal.total), nowhere


def _below_level():
    """(part, pieces, why, no job) that stores lack to their carry levels, less what is on order."""
    on_order = _still_to_come()
    levels = CarryLevel.objects.filter(place__kind=Place.Kind.STORE).select_related("part__superseded_by", "place")
    stock = {
        (row.place_id, row.part_id): row.free
        for row in Stock.objects.filter(place__kind=Place.Kind.STORE, condition="new").free()
    }
    for level in levels:
        there = stock.get((level.place_id, level.part_id), Decimal(0)) + on_order[level.part_id]
        if there < level.level:
            yield level.part, level.level - there, f"below the level of {level.level}", ""


def _still_to_come():
    """{part pk: pieces} on order for no particular job, less the good ones received."""
    lines = OrderLine.objects.filter(order__state__in=[Order.State.SENT, Order.State.PART_RECEIVED], job_number="")
    good = Sum("receipts__quantity", filter=Q(receipts__outcome=ReceiptLine.Outcome.GOOD))
    coming = defaultdict(Decimal)
    for line in lines.annotate(good=good):
        coming[line.part_id] += max(line.pieces - (line.good or 0), Decimal(0))
    return coming


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
