"""The ledger: nothing lost, nothing negative, every event once, averages by hand."""

import uuid
from decimal import Decimal as D

import pytest
from django.db import DatabaseError, transaction

from firm.sending import SentBefore, apply_once
from inventory.models import AverageCost, CountWanted, Held, Movement, Place, Stock
from inventory.services import counting, holding, movements
from inventory.services.auditing import audit
from inventory.services.ledger import Average, NotThere
from inventory.services.places import counter
from tests.factories import PartFactory, PlaceFactory, StoreFactory, SupplierFactory, UserFactory, put

pytestmark = pytest.mark.django_db


def there(place, part):
    return sum(row.on_hand for row in Stock.objects.filter(place=place, part=part))


def test_average_cost_follows_a_worked_example():
    # 10 at 2.00 and 30 at 3.00 hold 110.00: 2.75 a piece (weighted mean, by hand)
    average = Average().after(D(10), D(2), comes_in=True, goes_out=False)
    average = average.after(D(30), D(3), comes_in=True, goes_out=False)
    assert average == Average(D(40), D("2.7500"))
    assert average.after(D(15), D("2.75"), comes_in=False, goes_out=True) == Average(D(25), D("2.7500"))


def test_unknown_cost_leaves_the_average_alone():
    average = Average(D(4), D("5.0000")).after(D(2), None, comes_in=True, goes_out=False)
    assert average == Average(D(6), D("5.0000"))


def test_top_up_moves_what_is_free_and_refuses_the_rest():
    part, shop, van = PartFactory(), StoreFactory(), PlaceFactory()
    put(part, shop, 3)
    holding.hold(shop, part, D(1), "J7")
    with pytest.raises(NotThere, match=part.number):
        movements.top_up(van, [(part, D(3))], event=uuid.uuid4())
    assert Movement.objects.count() == 1
    movements.top_up(van, [(part, D(2))], event=uuid.uuid4())
    assert (there(shop, part), there(van, part)) == (1, 2)
    assert not audit()


def test_a_hand_over_is_a_fact_even_if_the_book_says_the_giver_had_none():
    part, giver, taker = PartFactory(), PlaceFactory(), PlaceFactory()
    movements.pass_on(part, D(2), source=giver, destination=taker, event=uuid.uuid4(), by=UserFactory())
    assert (there(giver, part), there(taker, part)) == (0, 2)
    assert CountWanted.objects.get().place == giver
    assert not audit()


def test_two_records_of_one_hand_over_become_one():
    part, giver, taker = PartFactory(), PlaceFactory(), PlaceFactory()
    put(part, giver, 1)
    fields = {"source": giver, "destination": taker}
    first = movements.pass_on(part, D(1), event=uuid.uuid4(), by=UserFactory(), **fields)
    second = movements.pass_on(part, D(1), event=uuid.uuid4(), by=UserFactory(), **fields)
    assert first == second
    assert there(taker, part) == 1


def test_the_same_person_may_hand_over_twice():
    part, giver, taker, asha = PartFactory(), PlaceFactory(), PlaceFactory(), UserFactory()
    put(part, giver, 2)
    for _ in range(2):
        movements.pass_on(part, D(1), source=giver, destination=taker, event=uuid.uuid4(), by=asha)
    assert there(taker, part) == 2


def test_bought_for_a_job_stays_outside_the_average():
    part, van, supplier = PartFactory(), PlaceFactory(), SupplierFactory()
    put(part, van, 1, "10.00")
    movements.buy(supplier, part, D(1), into=van, event=uuid.uuid4(), price=D("20"), job_number="J1")
    assert AverageCost.objects.get(part=part).unit_cost == D("10")
    assert holding.free(van, part) == 1
    assert not audit()


def test_what_is_kept_no_longer_joins_the_stock_at_its_own_cost():
    part, van, supplier = PartFactory(), PlaceFactory(), SupplierFactory()
    put(part, van, 1, "10.00")
    movements.buy(supplier, part, D(1), into=van, event=uuid.uuid4(), price=D("20"), job_number="J1")
    holding.release(Held.objects.get(), event=uuid.uuid4())
    average = AverageCost.objects.get(part=part)
    assert (average.held, average.unit_cost) == (2, D("15"))
    assert not audit()


def test_a_count_makes_the_book_say_what_is_there():
    part, other, van = PartFactory(), PartFactory(), PlaceFactory()
    put(part, van, 5)
    counting.count(van, [(part, D(3)), (other, D(1))], event=uuid.uuid4())
    assert (there(van, part), there(van, other)) == (3, 1)
    assert AverageCost.objects.get(part=other).unit_cost is None
    assert not audit()


def test_a_part_counted_twice_in_one_count_is_refused():
    part, van = PartFactory(), PlaceFactory()
    with pytest.raises(counting.CountedTwice, match=part.number):
        counting.count(van, [(part, D(3)), (part, D(1))], event=uuid.uuid4())


def test_a_count_that_finds_too_few_takes_what_was_bought_for_jobs_last():
    part, van, supplier = PartFactory(), PlaceFactory(), SupplierFactory()
    put(part, van, 1)
    movements.buy(supplier, part, D(2), into=van, event=uuid.uuid4(), price=D("20"), job_number="J1")
    counting.count(van, [(part, D(1))], event=uuid.uuid4())
    assert Held.objects.get(released_at=None).quantity == 1
    assert not audit()


def test_scrapping_what_is_not_there_is_refused_and_changes_nothing():
    part, van = PartFactory(), PlaceFactory()
    put(part, van, 1)
    with pytest.raises(NotThere):
        movements.scrap(van, part, D(2), event=uuid.uuid4())
    assert there(van, part) == 1


def test_a_keying_mistake_is_undone_once_by_its_opposite():
    part, shop, van = PartFactory(), StoreFactory(), PlaceFactory()
    put(part, shop, 2)
    event = uuid.uuid4()
    movements.top_up(van, [(part, D(2))], event=event)
    movements.undo(event, event=uuid.uuid4())
    assert (there(shop, part), there(van, part)) == (2, 0)
    with pytest.raises(NotThere):
        movements.undo(event, event=uuid.uuid4())
    assert not audit()


def test_an_undone_receipt_takes_its_cost_out_of_the_average_again():
    part, shop = PartFactory(), StoreFactory()
    put(part, shop, 1, "10.00")
    wrong = put(part, shop, 1, "90.00")
    movements.undo(wrong.event, event=uuid.uuid4())
    assert AverageCost.objects.get(part=part).unit_cost == D("10")
    assert not audit()


def test_moving_what_is_kept_for_a_job_takes_its_hold_along():
    part, shop, van = PartFactory(), StoreFactory(), PlaceFactory()
    put(part, shop, 2)
    holding.hold(shop, part, D(2), "J9")
    movements.move(part, D(2), shop, van, event=uuid.uuid4(), job_number="J9")
    assert Held.objects.get(released_at=None).place == van
    assert holding.free(van, part) == 0
    assert not audit()


@pytest.mark.parametrize("change", ["UPDATE inventory_movement SET quantity = 9", "DELETE FROM inventory_movement"])
def test_the_database_itself_refuses_to_change_the_ledger(change):
    from django.db import connection

    put(PartFactory(), PlaceFactory(), 1)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change)


def test_the_same_uuid_is_applied_once_and_other_content_is_refused():
    part, van, asha, sent = PartFactory(), PlaceFactory(), UserFactory(), uuid.uuid4()

    def work():
        movement = movements.buy(SupplierFactory(), part, D(1), into=van, event=sent, by=asha, price=D(5))
        return {"movement": movement.pk}

    first = apply_once(sent, "bought", {"quantity": 1}, work, by=asha)
    second = apply_once(sent, "bought", {"quantity": 1}, work, by=asha)
    assert (first[1], second[1]) == (True, False)
    assert first[0] == second[0]
    assert there(van, part) == 1
    with pytest.raises(SentBefore):
        apply_once(sent, "bought", {"quantity": 2}, work, by=asha)


def test_each_counter_place_exists_once():
    assert counter(Place.Kind.SCRAP) == counter(Place.Kind.SCRAP)
