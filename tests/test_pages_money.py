"""The owner's pages on money: margins, what was not charged, call-backs, cash in stock; nothing is NaN."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import CarryLevel, CountWanted
from jobs.models import Charge, Fitted, Job, VisitEngineer
from tests.factories import (
    ComponentTypeFactory,
    JobFactory,
    PartFactory,
    PlaceFactory,
    StoreFactory,
    UserFactory,
    VisitFactory,
    put,
)
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


def _job(charge=None, *, cost="40.00", part_charge="60.00", minutes=60, days=5, **job):
    """A job with one visit of an hour, one part fitted, and a charge."""
    made = JobFactory(reported_on=TODAY() - datetime.timedelta(days=days), **job)
    visit = VisitFactory(job=made, on=made.reported_on, outcome="fixed")
    VisitEngineer.objects.create(visit=visit, engineer=UserFactory(), minutes=minutes)
    part, store = PartFactory(), StoreFactory()
    movement = put(part, store, 1, cost)
    Fitted.objects.create(
        visit=visit, appliance=made.appliance, component=ComponentTypeFactory(), part=part, quantity=1, why="failed",
        movement=movement, cost=None if cost is None else Decimal(cost),
        charge_ex_vat=None if part_charge is None else Decimal(part_charge),
    )  # fmt: skip
    if charge:
        Charge.objects.create(job=made, kind="labour", amount_ex_vat=Decimal(charge))
    return made


def test_margins_name_mark_up_and_margin_and_add_up(owner):
    _job("70.00")  # 130 charged, 40 part + 32 labour + 12 travel = 84: margin 46
    page = owner.get(reverse("margin_list") + "?by=kind")
    without_nothing(page)
    words = text_of(page)
    assert "£130.00" in words
    assert "£46.00" in words
    assert "35.4%" in words  # 46 / 130, margin as a share of charges
    assert "54.8%" in words  # 46 / 84, mark-up as a share of cost
    assert "Margin, share of charges" in words
    assert "Mark-up, share of cost" in words


def test_a_cost_that_is_not_known_is_counted_and_not_taken_as_nil(owner):
    _job("70.00", cost=None)
    words = text_of(owner.get(reverse("margin_list") + "?by=kind"))
    assert "1 cost unknown" in words
    assert "£130.00" in words


def test_engineers_with_fewer_than_twenty_jobs_are_not_compared(owner):
    _job("70.00")
    page = owner.get(reverse("margin_list") + "?by=engineer")
    assert "No engineer has 20 jobs" in text_of(page)


@pytest.mark.parametrize(
    "by", ["month", "component", "kind", "model", "maker", "supplier", "engineer", "job", "nonsense"]
)
def test_margins_by_every_key_open(owner, by):
    _job("70.00")
    without_nothing(owner.get(reverse("margin_list") + f"?by={by}&period=all"))


def test_this_week_tells_money_to_fetch_losses_and_call_backs_with_their_sums(owner):
    _job(part_charge=None, cost="40.00")  # fitted, not charged; also below cost by 40 + 32 + 12
    first = _job("200.00")
    _job(part_charge="0.00", cost="20.00", return_of=first, verdict=Job.Verdict.WORKMANSHIP)  # 20 + 32 + 12 = 64
    page = owner.get(reverse("week"))
    without_nothing(page)
    cards = {card["title"]: card for card in page.context["cards"]}
    assert cards["Money to fetch"]["sum"] == "£40"
    assert cards["Jobs below cost"]["sum"] == "£84"
    assert cards["Call-backs at our own cost"]["sum"] == "£64"
    assert "our workmanship: 1, £64" in cards["Call-backs at our own cost"]["words"].lower()
    for card in cards.values():
        assert owner.get(card["link"].split("#")[0]).status_code == 200


def test_recalls_and_call_backs_at_our_own_cost_are_no_money_to_fetch(owner):
    first = _job("200.00")
    _job(part_charge=None, return_of=first, verdict=Job.Verdict.SAME_PART)
    page = owner.get(reverse("not_charged_list"))
    without_nothing(page)
    assert page.context["table"].total == 0


def test_cash_in_stock_by_place_over_and_short_of_its_levels(owner):
    store, van, part = StoreFactory(key="store"), PlaceFactory(key="van 1"), PartFactory()
    put(part, store, 5, "10.00")
    CarryLevel.objects.create(place=store, part=part, level=2)
    CarryLevel.objects.create(place=van, part=part, level=1)
    CountWanted.objects.create(place=van, part=part, why="the book said none")
    page = owner.get(reverse("cash_list"))
    without_nothing(page)
    found = page.context["found"]
    places = {str(row.place): row for row in found.places}
    assert places["store"].value == Decimal("50.00")
    assert places["store"].over == Decimal("30.00")
    assert places["van 1"].short == Decimal("10.00")
    assert places["van 1"].counts_wanted == 1
    assert found.whole.idle == Decimal("50.00")  # never used by the firm
    assert found.movable == Decimal("10.00")
    week = {card["title"]: card for card in owner.get(reverse("week")).context["cards"]}
    assert week["Stock to move"]["sum"] == "£10"
    assert week["To be counted"]["sum"] == "1"


def test_a_part_of_unknown_cost_is_counted_and_not_taken_as_nil(owner):
    put(PartFactory(), StoreFactory(), 3, None)
    page = owner.get(reverse("cash_list"))
    without_nothing(page)
    assert page.context["found"].whole.unknown == 1
    assert "1 line without a known cost" in text_of(page)


@pytest.mark.parametrize("name", ["week", "component_list", "margin_list", "cash_list"])
def test_a_second_look_asks_few_questions_of_the_database_however_many_rows(owner, name, django_assert_max_num_queries):
    _job("70.00")
    owner.get(reverse(name))
    with django_assert_max_num_queries(45):
        owner.get(reverse(name))
