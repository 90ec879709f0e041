"""The store's levels from what left it, and orders that use them."""

import datetime
import uuid
from decimal import Decimal as D

import pytest
from scipy import stats

from firm.models import Setting
from inventory.models import CarryLevel
from inventory.services import ordering
from inventory.services.issues import issues
from inventory.services.movements import top_up
from inventory.services.store_levels import store_levels
from tests.factories import OfferFactory, PartFactory, PlaceFactory, PriceFactory, StoreFactory, SupplierFactory, put

pytestmark = pytest.mark.django_db
TODAY = datetime.date.today()


@pytest.fixture
def store():
    return StoreFactory()


def sold(part, price="20", *, pack=1, minimum=1, **supplier):
    offer = OfferFactory(part=part, supplier=SupplierFactory(**supplier))
    piece = D(price) / pack
    since = datetime.date(2020, 1, 1)
    PriceFactory(
        offer=offer, price_ex_vat=D(price), pack=D(pack), minimum=minimum, price_per_piece=piece, valid_from=since
    )
    return offer


def left(part, store, *, times, pieces=1):
    """That many top-ups of different vans today, and the stock for them."""
    put(part, store, times * pieces)
    for _ in range(times):
        top_up(PlaceFactory(), [(part, D(pieces))], event=uuid.uuid4(), by=None)


def test_what_left_the_store_for_a_van_on_a_day_is_one_lump(store):
    part = PartFactory()
    left(part, store, times=2, pieces=3)
    found = issues(TODAY)
    assert found.lumps == {part.pk: [3, 3]}
    assert found.years == 0.25  # a book of one day is not taken for a whole year, nor for nothing


def test_level_and_quantity_keep_packs_minimum_and_fill_rate(store):
    part = PartFactory()
    sold(part, "12", pack=5, minimum=2, lead_time_days=7)
    left(part, store, times=6)
    [row] = store_levels(TODAY)
    assert (row.quantity % 5, row.quantity >= 10, row.packs) == (0, True, row.quantity // 5)
    law = stats.nbinom(6.5, 0.25 / (0.25 + 14 / 365.25))

    def fill(level):
        return sum(law.cdf(y - 1) for y in range(level + 1, level + row.quantity + 1)) / row.quantity

    assert row.fill_rate == pytest.approx(fill(row.level), abs=1e-4)
    assert row.fill_rate >= 0.95
    assert row.level == 0 or fill(row.level - 1) < 0.95
    assert row.demand_per_year == pytest.approx(6.5 / 0.25)
    assert f"Order {row.quantity} ({row.packs} packs of 5)" in row.words


def test_a_dear_part_that_seldom_leaves_is_not_kept_on_the_shelf(store):
    part = PartFactory()
    sold(part, "5000")
    CarryLevel.objects.create(place=store, part=part, level=1)
    [row] = store_levels(TODAY)
    assert row.level == -1
    assert row.words.startswith("Not on the shelf")


def test_what_leaves_once_in_a_blue_moon_has_no_level_unless_somebody_agreed_on_one(store):
    part = PartFactory()
    sold(part)
    assert store_levels(TODAY) == ()
    CarryLevel.objects.create(place=store, part=part, level=1)
    assert [row.part for row in store_levels(TODAY)] == [part]


def test_superseded_numbers_count_for_the_living_one(store):
    new = PartFactory()
    old = PartFactory(superseded_by=new)
    sold(new)
    left(old, store, times=3)
    [row] = store_levels(TODAY)
    assert row.part == new


def test_the_store_orders_its_quantity_when_it_is_down_to_its_level(store):
    part = PartFactory()
    sold(part, "4", lead_time_days=10)
    left(part, store, times=20)
    [row] = store_levels(TODAY)
    [proposal], _ = ordering.propose_orders(TODAY)
    [(source, wanted, why, job)] = proposal.rows
    assert (source.part, wanted, job) == (part, max(row.quantity, row.level + 1), "")
    assert why == (f"0 left, to be ordered at {row.level}" if row.level else "none left")
    put(part, store, row.level + 1)
    assert ordering.propose_orders(TODAY)[0] == []


def test_what_vans_lack_is_ordered_though_the_store_keeps_none(store):
    part, van = PartFactory(), PlaceFactory()
    sold(part)
    CarryLevel.objects.create(place=van, part=part, level=2)
    [proposal], _ = ordering.propose_orders(TODAY)
    assert [(row[1], row[2]) for row in proposal.rows] == [(2, "missing on vans")]
    put(part, store, 2)
    assert ordering.propose_orders(TODAY)[0] == []


def test_lines_go_along_for_free_carriage_only_where_that_saves_more_than_it_holds(store):
    Setting.objects.create(pk=1, order_cost=D(1))
    due, soon = PartFactory(), PartFactory()
    terms = {"carriage": D(12), "carriage_free_over": D(60)}
    offer = sold(due, "50", **terms)
    other = OfferFactory(part=soon, supplier=offer.supplier)
    since = datetime.date(2020, 1, 1)
    PriceFactory(offer=other, price_ex_vat=D(5), price_per_piece=D(5), valid_from=since)
    left(soon, store, times=20)
    [row] = [row for row in store_levels(TODAY) if row.part == soon]
    put(soon, store, row.level + row.quantity)
    CarryLevel.objects.create(place=PlaceFactory(), part=due, level=1)
    [proposal], _ = ordering.propose_orders(TODAY)
    assert [(r[0].part, r[0].pieces) for r in proposal.rows] == [(due, 1), (soon, 2)]
    assert proposal.carriage == 0
    assert proposal.rows[1][2] == "before it is due, for free carriage, which saves £12.00"
    offer.supplier.carriage = D("0.01")
    offer.supplier.save()
    [proposal], _ = ordering.propose_orders(TODAY)
    assert [r[0].part for r in proposal.rows] == [due]
