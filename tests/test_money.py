"""What jobs earn: worked by hand, to the penny, unknown costs counted and never taken as nil."""

import datetime
import uuid
from decimal import Decimal as D

import pytest

from firm.models import Setting
from jobs.models import Charge, Job
from jobs.services import money
from jobs.services.fitting import charge_fitted, fit, take_out
from jobs.services.work import add_charge
from tests.factories import ComponentTypeFactory, OfferFactory, PartFactory, UserFactory, VisitFactory, put

pytestmark = pytest.mark.django_db


@pytest.fixture
def job():
    """Two pieces at 10.00 fitted and charged 29.50; 45 minutes at 32.00 an hour; one journey at 12.00."""
    Setting.objects.create(pk=1, labour_cost=D(32), travel_cost=D(12))
    visit = VisitFactory(engineer=UserFactory(), engineer__minutes=45, outcome="fixed")
    part = PartFactory()
    put(part, visit.place, 5, "10.00")
    row = fit(event=uuid.uuid4(), visit=visit, part=part, component=ComponentTypeFactory(), quantity=D(2), why="failed")
    charge_fitted(row, D("29.50"))
    add_charge(visit.job, event=uuid.uuid4(), kind="labour", amount_ex_vat=D("48.005"), vat_rate=D(20))
    return visit.job


def test_margin_and_markup_by_hand(job):
    found = money.job_money(job)
    # sales 29.50 + 48.01 = 77.51; cost 20.00 + 24.00 + 12.00 = 56.00; margin 21.51
    assert (found.sales, found.cost, found.margin) == (D("77.51"), D("56.00"), D("21.51"))
    assert found.margin_share == D("21.51") / D("77.51")
    assert found.markup_share == D("21.51") / D("56.00")


def test_vat_is_rounded_half_up_per_line(job):
    assert Charge.objects.get().vat == D("9.60")  # 48.01 × 20 % = 9.602


def test_an_unknown_cost_is_counted_not_taken_as_nil(job):
    visit = job.visits.get()
    kind = ComponentTypeFactory()
    fit(event=uuid.uuid4(), visit=visit, part=PartFactory(), component=kind, quantity=D(1), why="failed")
    found = money.job_money(job)
    assert (found.parts_of_unknown_cost, found.fitted_not_charged, found.parts_cost) == (1, 1, D("20.00"))


def test_what_was_taken_out_again_costs_the_job_nothing(job):
    take_out(event=uuid.uuid4(), fitted=job.visits.get().fitted.get(), condition="opened")
    found = money.job_money(job)
    assert (found.parts_cost, found.parts_charged) == (0, 0)


def test_groups_add_up_to_the_whole(job):
    other = VisitFactory(outcome="fixed", job__reported_on=datetime.date(2026, 10, 30)).job
    add_charge(other, event=uuid.uuid4(), kind="call-out", amount_ex_vat=D("45"))
    since, until = datetime.date(2026, 1, 1), datetime.date(2026, 12, 31)
    whole = money.total(money.money_of(Job.objects.all()).values())
    for what in ("month", "kind", "model", "maker"):
        assert money.total(money.margins_by(what, since, until)).margin == whole.margin


def test_engineers_are_not_compared_from_fewer_than_twenty_jobs(job):
    assert money.margins_by("engineer", datetime.date(2026, 1, 1), datetime.date(2026, 12, 31)) == []


def test_a_job_costs_a_constant_number_of_queries(job, django_assert_max_num_queries):
    for _ in range(5):
        VisitFactory(outcome="fixed")
    with django_assert_max_num_queries(7):
        money.money_of(Job.objects.all())


def test_the_supplier_is_where_the_part_came_from_or_the_only_one_who_sells_it(job):
    since, until = datetime.date(2026, 1, 1), datetime.date(2026, 12, 31)
    assert [row.key for row in money.margins_by("supplier", since, until)] == ["unknown"]
    offer = OfferFactory(part=job.visits.get().fitted.get().part)
    assert [row.key for row in money.margins_by("supplier", since, until)] == [offer.supplier.name]
