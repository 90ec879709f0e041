"""What should change its place: the Friday list, returns, slow parts and dead stock of a small firm."""

import datetime
from decimal import Decimal

import pytest

from inventory.models import ComponentType, Held
from jobs.services.firm_problem import problem_from_records, with_free_stock
from jobs.services.moving import dead_stock, friday_list, returns_to_store, slow_parts
from tests.factories import OfferFactory, PartFactory, PriceFactory, StoreFactory, put
from tests.test_plan_of_firm import AS_OF, YEAR, Firm

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    found = Firm()
    found.store = StoreFactory()
    return found


def saved(van, pieces=1):
    """Second visits that the first piece saves there in a year."""
    demand = problem_from_records(AS_OF, YEAR)[0].needs[0].demand[van]
    return float(demand.at_least(pieces)[pieces - 1]) * 365.25 / 7


def test_a_piece_goes_to_the_van_where_it_saves_more(firm):
    part = firm.part("cheap", "3")
    put(part, firm.south, 1)
    [move] = friday_list(AS_OF)
    assert (move.part, move.giver, move.taker, move.quantity) == (part, firm.south, firm.north, 1)
    assert move.worth_per_year == pytest.approx(90 * (saved("north") - saved("south")))
    assert move.why == (
        f"On {firm.north} it would save {saved('north'):.1f} second visits a year (£{90 * saved('north'):.0f}), "
        f"on {firm.south} {saved('south'):.1f} second visits (£{90 * saved('south'):.0f})."
    )
    assert friday_list(AS_OF, most=0) == ()


def test_what_is_kept_for_a_job_is_not_passed_on(firm):
    part = firm.part("cheap", "3")
    put(part, firm.south, 1)
    Held.objects.create(place=firm.south, part=part, quantity=1, job_number="J1")
    assert friday_list(AS_OF) == ()
    [_, south] = with_free_stock(problem_from_records(AS_OF, YEAR)[0]).vans
    assert south.now == {}


def test_a_dear_piece_goes_back_to_a_store_that_will_hand_it_out(firm):
    for appliance in firm.appliances[1:4]:
        firm.failure(appliance, firm.north, datetime.date(2026, 3, 3))
    part = firm.part("dear", "900")
    put(part, firm.south, 1)
    put(firm.part("other", "890"), firm.north, 1)
    [move] = returns_to_store(AS_OF)
    wanted = sum(d.mean for d in problem_from_records(AS_OF, YEAR)[0].needs[0].demand.values()) * 365.25 / 7
    assert wanted > 1
    assert (move.giver, move.taker, move.quantity) in [(firm.south, firm.store, 1), (firm.north, firm.store, 1)]
    assert "the store need not buy the next" in move.why


def test_a_slow_part_is_for_one_van_or_for_none(firm):
    both = 90 * (saved("north") + saved("south"))
    part = firm.part("slow", str(round(both / 2 / 0.25 * 1.45, 2)))
    put(part, firm.south, 1)
    [row] = slow_parts(AS_OF)
    cost = 0.25 * float(row.price)
    assert 90 * saved("south") < cost < 90 * saved("north")
    assert (row.part, row.place) == (part, firm.north)
    assert row.free_now == ((firm.south, 1),)
    assert row.worth_per_year == pytest.approx(90 * saved("north") - cost, abs=0.01)
    assert row.expected_per_year == pytest.approx(
        sum(d.mean for d in problem_from_records(AS_OF, YEAR)[0].needs[0].demand.values()) * 365.25 / 7
    )


def test_what_nobody_uses_goes_where_it_is_wanted_or_back_or_away(firm):
    fan = ComponentType.objects.create(key="fan", name="Fan")

    def lying(number, place, *, price=True, **fields):
        part = PartFactory(number=number, fits_any=True, **fields)
        part.covers.add(fan)  # no model in care has a fan
        if price:
            PriceFactory(
                offer=OfferFactory(part=part), price_per_piece=Decimal(9), valid_from=datetime.date(2020, 1, 1)
            )
        put(part, place, 1)
        return part

    sold, ended = lying("sold", firm.north), lying("ended", firm.north, no_longer_made_since=datetime.date(2020, 1, 1))
    lonely = lying("lonely", firm.north, price=False)
    rows = {row.part: row for row in dead_stock(AS_OF)}
    assert {part: rows[part].advice for part in (sold, ended, lonely)} == {
        sold: "return-to-supplier",
        ended: "write-off",
        lonely: "return-to-store",
    }
    assert (rows[sold].place, rows[sold].value, rows[sold].last_use) == (firm.north, Decimal(10), None)
    assert rows[sold].supplier is not None
    assert rows[lonely].to == firm.store


def test_dead_stock_of_one_van_is_passed_to_another_where_it_pays(firm):
    part = firm.part("cheap", "3")
    put(part, firm.south, 5)
    [row] = dead_stock(AS_OF)
    assert (row.advice, row.to) == ("pass-on", firm.north)
