"""Prices, orders and receipts: by hand, and as what really came."""

import datetime
import uuid
from decimal import Decimal as D

import pytest

from inventory.models import AverageCost, CarryLevel, Held, Offer, Order, Stock
from inventory.services import ordering, pricing
from inventory.services.auditing import audit
from tests.factories import OfferFactory, PartFactory, PriceFactory, StoreFactory, SupplierFactory, put

pytestmark = pytest.mark.django_db
TODAY = datetime.date(2026, 11, 20)


def priced(part, price, *, pack=1, since=datetime.date(2026, 1, 1), offer=None, **fields):
    offer = offer or OfferFactory(part=part, supplier=SupplierFactory(**fields))
    PriceFactory(offer=offer, price_ex_vat=D(price), pack=D(pack), valid_from=since)
    return offer


def test_the_price_of_a_day_is_the_newest_that_holds_on_it():
    part = PartFactory()
    offer = priced(part, 10, since=datetime.date(2024, 1, 1))
    priced(part, 12, since=datetime.date(2026, 3, 1), offer=offer)
    assert pricing.price_at(part, datetime.date(2026, 2, 28))[0] == 10
    assert pricing.price_at(part, datetime.date(2026, 3, 1))[0] == 12
    assert pricing.price_at(part, datetime.date(2023, 12, 31)) is None


def test_cheapest_per_piece_and_cheapest_for_the_quantity_may_differ():
    part = PartFactory()
    priced(part, 9, pack=1, carriage=D("5"), carriage_free_over=D(50))
    priced(part, 70, pack=10)
    assert pricing.price_at(part, TODAY)[0] == 7
    one = pricing.sources(part, 1, TODAY)
    assert [(s.packs, s.pieces, s.total, s.with_carriage) for s in one] == [(1, 1, 9, 14), (1, 10, 70, 70)]
    ten = pricing.sources(part, 10, TODAY)
    assert [(s.packs, s.with_carriage) for s in ten] == [(1, 70), (10, 90)]


def test_what_is_sold_no_more_has_no_price():
    part = PartFactory()
    offer = priced(part, 10)
    Offer.objects.filter(pk=offer.pk).update(availability="ended")
    assert pricing.sources(part, 1, TODAY) == []


def test_superseded_numbers_resolve_to_the_living_one():
    newest = PartFactory()
    middle = PartFactory(superseded_by=newest)
    assert pricing.living(PartFactory(superseded_by=middle)) == newest


def test_orders_are_proposed_from_levels_and_waiting_jobs_by_cheapest_source():
    store, low, wanted, nobody = StoreFactory(), PartFactory(), PartFactory(), PartFactory()
    cheap = priced(low, 5)
    priced(low, 6)
    priced(wanted, 50, offer=None)
    put(low, store, 1)
    CarryLevel.objects.create(place=store, part=low, level=4)
    proposals, nowhere = ordering.propose_orders(TODAY, [(wanted, D(1), "J5"), (nobody, D(1), "J6")])
    assert [(p.total, p.rows[0][3]) for p in proposals] == [(50, "J5"), (15, "")]
    assert proposals[1].supplier == cheap.supplier
    assert [row[0] for row in nowhere] == [nobody]


def test_what_is_on_order_is_not_proposed_again_until_it_came_short():
    store, part = StoreFactory(), PartFactory()
    offer = priced(part, 5)
    CarryLevel.objects.create(place=store, part=part, level=4)
    order = ordering.draft_order(offer.supplier, [(offer, 4, "")], event=uuid.uuid4())
    ordering.send_order(order)
    assert ordering.propose_orders(TODAY)[0] == []
    ordering.receive(order, [(order.lines.get(), part, D(3), "good", None)], event=uuid.uuid4())
    assert ordering.propose_orders(TODAY)[0] == []  # one is still to come
    with pytest.raises(ordering.CannotOrder):
        ordering.send_order(order)


def test_a_delivery_is_booked_as_what_really_came():
    store, part = StoreFactory(), PartFactory()
    offer = priced(part, 20, pack=2)
    order = ordering.draft_order(offer.supplier, [(offer, 2, ""), (offer, 1, "J1")], event=uuid.uuid4())
    ordering.send_order(order)
    stock_line, job_line = order.lines.all()
    came = [
        (stock_line, part, D(3), "good", D("11")),
        (stock_line, part, D(1), "damaged", None),
        (job_line, part, D(2), "good", None),
    ]
    ordering.receive(order, came, event=uuid.uuid4())
    assert Stock.objects.get(place=store).on_hand == 5
    assert AverageCost.objects.get(part=part).unit_cost == D("10.6000")  # (3 × 11 + 2 × 10) / 5, by hand
    assert Held.objects.get().job_number == "J1"
    order.refresh_from_db()
    assert order.state == Order.State.PART_RECEIVED
    ordering.receive(order, [(stock_line, part, D(1), "good", None)], event=uuid.uuid4())
    order.refresh_from_db()
    assert order.state == Order.State.CLOSED
    assert not audit()


def test_an_order_is_for_one_supplier():
    offer = priced(PartFactory(), 5)
    StoreFactory()
    with pytest.raises(ordering.CannotOrder, match="not sold by"):
        ordering.draft_order(SupplierFactory(), [(offer, 1, "")], event=uuid.uuid4())
