"""Parts fitted and taken out again: always recorded, at the right cost, however late the phone."""

import datetime
import uuid
from decimal import Decimal as D

import pytest

from firm import tokens
from inventory.models import CountWanted, Held, Movement, Stock
from inventory.services import counting, holding, movements
from inventory.services.places import counter, place_of_supplier
from jobs.models import Fitted
from jobs.services.auditing import audit_all
from jobs.services.fitting import Impossible, fit, need, take_out
from tests.factories import (
    ApplianceFactory,
    ComponentTypeFactory,
    OfferFactory,
    PartFactory,
    PriceFactory,
    SupplierFactory,
    UserFactory,
    VisitFactory,
    put,
)

pytestmark = pytest.mark.django_db


def there(place, part):
    return sum(row.on_hand for row in Stock.objects.filter(place=place, part=part))


def fitted(visit, part, quantity=1, **fields):
    fields = {"component": ComponentTypeFactory(), "why": "failed", "event": uuid.uuid4()} | fields
    return fit(visit=visit, part=part, quantity=D(quantity), **fields)


def test_a_fitted_part_leaves_the_van_at_the_average_cost():
    visit, part = VisitFactory(), PartFactory()
    put(part, visit.place, 2, "10.00")
    put(part, visit.place, 1, "13.00")
    row = fitted(visit, part)
    assert (row.unit_cost, row.cost, there(visit.place, part)) == (D("11"), D("11.00"), 2)
    assert not audit_all()


def test_a_part_that_the_book_does_not_have_is_recorded_all_the_same():
    visit, part = VisitFactory(), PartFactory()
    put(part, visit.place, 1)
    row = fitted(visit, part, 3)
    assert (row.quantity, there(visit.place, part)) == (3, 0)
    assert CountWanted.objects.get().why == "the book lacked 2"
    assert not audit_all()


def test_cost_is_unknown_where_no_cost_was_ever_known():
    row = fitted(VisitFactory(), PartFactory())
    assert (row.unit_cost, row.cost) == (None, None)


def test_what_was_bought_for_the_job_is_used_first_at_its_own_cost():
    visit, part = VisitFactory(), PartFactory()
    put(part, visit.place, 1, "10.00")
    number = visit.job.number
    movements.buy(SupplierFactory(), part, D(1), into=visit.place, event=uuid.uuid4(), price=D(30), job_number=number)
    assert fitted(visit, part).cost == D("30.00")
    assert not Held.objects.filter(released_at=None).exists()
    assert fitted(visit, part).cost == D("10.00")
    assert not audit_all()


def test_opened_pieces_are_used_before_new_ones():
    visit, part = VisitFactory(), PartFactory()
    put(part, visit.place, 1)
    put(part, visit.place, 1, condition="opened")
    fitted(visit, part)
    assert Stock.objects.get(condition="opened").on_hand == 0


def test_bought_at_the_counter_and_fitted_at_once():
    visit, price = VisitFactory(), PriceFactory(price_ex_vat=D("96"), pack=D(2), price_per_piece=D(48))
    row = fitted(visit, price.offer.part, source=place_of_supplier(price.offer.supplier))
    assert row.cost == D("48.00")
    assert there(visit.place, row.part) == 0
    assert not audit_all()


def test_what_the_customer_supplied_costs_nothing():
    row = fitted(VisitFactory(), PartFactory(), source=counter("customers-own"))
    assert row.cost == D(0)
    assert not audit_all()


def test_using_what_was_kept_for_another_job_asks_for_a_count():
    visit, part = VisitFactory(), PartFactory()
    put(part, visit.place, 1)
    holding.hold(visit.place, part, D(1), "another job")
    fitted(visit, part)
    assert "another job" in CountWanted.objects.get().why
    assert not audit_all()


@pytest.mark.parametrize(("condition", "left"), [("new", 1), ("opened", 1), ("scrapped", 0)])
def test_taken_out_again_goes_back_or_is_scrapped(condition, left):
    visit, part = VisitFactory(), PartFactory()
    put(part, visit.place, 1, "10.00")
    row = fitted(visit, part)
    take_out(event=uuid.uuid4(), fitted=row, condition=condition)
    assert there(visit.place, part) == left
    with pytest.raises(Impossible):
        take_out(event=uuid.uuid4(), fitted=row, condition=condition)
    assert not audit_all()


def test_late_news_is_booked_in_full_and_leaves_the_count_alone():
    asha = UserFactory()
    phone, _ = tokens.issue(asha, "phone")
    visit, part = VisitFactory(engineer=asha), PartFactory()
    put(part, visit.place, 3, "10.00")
    counting.count(visit.place, [(part, D(2))], event=uuid.uuid4(), device=phone, upto=7)
    late = fitted(visit, part, by=asha, device=phone, number=6)
    assert (late.cost, there(visit.place, part)) == (D("10.00"), 2)
    fitted(visit, part, by=asha, device=phone, number=8)
    assert there(visit.place, part) == 1
    assert Movement.objects.filter(reason="late-news").count() == 1
    assert not audit_all()


def test_late_purchase_and_its_late_use_keep_their_own_cost():
    asha = UserFactory()
    phone, _ = tokens.issue(asha, "phone")
    visit, part = VisitFactory(engineer=asha), PartFactory()
    counting.count(visit.place, [(part, D(0))], event=uuid.uuid4(), device=phone, upto=7)
    job = {"job_number": visit.job.number, "device": phone, "by": asha}
    movements.buy(SupplierFactory(), part, D(1), into=visit.place, event=uuid.uuid4(), price=D(30), number=5, **job)
    row = fitted(visit, part, by=asha, device=phone, number=6)
    assert (row.cost, there(visit.place, part)) == (D("30.00"), 0)
    assert not audit_all()


@pytest.mark.parametrize(
    ("field", "wrong"), [("quantity", {"quantity": 0}), ("why", {"why": "broken"}), ("from", {"source": "scrap"})]
)
def test_what_cannot_be_is_refused_by_field(field, wrong):
    if "source" in wrong:
        wrong = {"source": counter("scrap")}
    with pytest.raises(Impossible) as refusal:
        fitted(VisitFactory(), PartFactory(), **wrong)
    assert refusal.value.field == field
    assert not Fitted.objects.exists()
    assert not Movement.objects.exists()


def test_needed_is_kept_as_demand():
    visit, part = VisitFactory(), OfferFactory().part
    row = need(event=uuid.uuid4(), visit=visit, component=ComponentTypeFactory(), quantity=D(1), part=part)
    assert (row.appliance, row.part) == (visit.job.appliance, part)


def test_a_visit_without_a_van_takes_from_the_engineers():
    asha = UserFactory()
    visit = VisitFactory(place=None, on=datetime.date(2026, 11, 3), engineer=asha)
    with pytest.raises(Impossible):
        fitted(visit, PartFactory(), by=asha)
    van = VisitFactory().place
    van.engineer = asha
    van.save()
    assert fitted(visit, PartFactory(), by=asha).came_from == van


def test_another_appliance_becomes_one_of_the_jobs():
    visit, other = VisitFactory(), ApplianceFactory()
    row = fitted(visit, PartFactory(), appliance=other)
    assert row.appliance == other
    assert list(visit.job.also.all()) == [other]
