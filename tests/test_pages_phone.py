"""The engineer's pages: what to look at and have along, and every step of a visit booked exactly once."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from firm.models import Device, Refusal, Setting
from inventory.models import CountWanted, Movement, Stock
from jobs.models import Finding, Fitted, Needed, Symptom, Visit
from tests import factories as make
from tests.small_firm import more_of_everything, small_firm

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return small_firm()


@pytest.fixture
def phone(client, firm):
    client.force_login(firm.engineer)
    return client


def post(client, page, args=(), **typed):
    return client.post(reverse(page, args=args), {"event": str(uuid.uuid4()), **typed})


def page_of(client, page, args=(), query=""):
    answer = client.get(reverse(page, args=args) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def on_board(firm, place=None, part=None):
    return Stock.objects.get(place=place or firm.van, part=part or firm.part).on_hand


def test_today_shows_what_to_look_at_first_and_what_to_have_along(phone, firm):
    page = page_of(phone, "today")
    assert page.index("Look first, no part needed") < page.index("Closed valve") < page.index("Have with you")
    assert "Lever open?" in page
    assert "likely 6 in 10" in page
    assert "On board" in page
    assert "11 years old" in page
    assert "geo:0,0?q=" in page


def test_today_says_where_the_nearest_is_when_the_van_has_none(phone, firm):
    firm.visit.place = firm.van2
    firm.visit.save()
    page = page_of(phone, "today")
    assert "Fetch: store, 3" in page
    assert "Fetch from the store" in page


def test_today_is_only_mine(client, firm):
    client.force_login(firm.other)
    assert "No visit is booked for you today" in page_of(client, "today")


def test_today_costs_the_same_queries_with_one_visit_or_seven(phone, firm):
    more_of_everything(firm, 1)
    counts = []
    for _ in range(2):
        phone.get(reverse("today"))
        with CaptureQueriesContext(connection) as caught:
            phone.get(reverse("today"))
        counts.append(len(caught))
        for _ in range(5):
            job = make.JobFactory(appliance=firm.appliance, reported_on=firm.today)
            job.symptoms.add(firm.symptom)
            make.VisitFactory(job=job, on=firm.today, place=firm.van, engineer=firm.engineer)
    assert counts[0] == counts[1]


def test_a_stop_text_comes_before_any_cause(phone, firm):
    smell = Symptom.objects.get(key="smell")
    smell.causes.create(component=firm.valve, share="0.5")
    firm.job.symptoms.set([smell])
    page = page_of(phone, "visit_detail", [firm.visit.pk])
    assert page.index("Everyone out") < page.index("Gas valve")


def test_fitting_a_part_shows_the_cautions_before_anything_can_be_saved(phone, firm):
    page = page_of(phone, "visit_fit", [firm.visit.pk], f"?part={firm.gas.number}")
    for words in (
        "Mind the gas.",
        "Mind the combustion.",
        "It shuts the gas off.",
        "licensed for it under the local code",
    ):
        assert page.index(words) < page.index("Fitted</button>")


def test_a_fitted_part_leaves_the_van_once_though_it_is_sent_twice(phone, firm):
    typed = {"event": str(uuid.uuid4()), "part": firm.part.number, "component": firm.pump.pk, "quantity": 1}
    answers = [phone.post(reverse("visit_fit", args=[firm.visit.pk]), typed | {"why": "failed"}) for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert Fitted.objects.count() == 1
    assert on_board(firm) == 0
    page = phone.get(answers[0].url).content.decode()
    assert "No drip" in page


def test_a_part_that_the_book_lacks_is_recorded_all_the_same_and_asks_for_a_count(phone, firm):
    post(phone, "visit_fit", [firm.visit.pk], part=firm.gas.number, component=firm.valve.pk, quantity=1, why="failed")
    assert Fitted.objects.get().part == firm.gas
    assert CountWanted.objects.get().place == firm.van
    assert "Please count" in page_of(phone, "my_van")


def test_a_part_bought_at_the_counter_is_fitted_from_there(phone, firm):
    typed = {"part": firm.part.number, "component": firm.pump.pk, "quantity": 1, "why": "failed"}
    post(phone, "visit_fit", [firm.visit.pk], source=f"counter-{firm.supplier.pk}", **typed)
    assert on_board(firm) == 1
    assert Fitted.objects.get().cost == Decimal("48.00")


def test_why_must_be_said_and_what_was_typed_stays(phone, firm):
    answer = post(phone, "visit_fit", [firm.visit.pk], part=firm.part.number, component=firm.pump.pk, quantity=2)
    assert answer.status_code == 400
    assert 'value="2"' in answer.content.decode()
    assert not Fitted.objects.exists()


def test_an_unapproved_part_is_marked_where_new_ones_are_demanded(phone, firm):
    page = page_of(phone, "visit_fit", [firm.visit.pk], f"?part={firm.copy.number}")
    assert "Not approved for this component" in page
    assert "Do not fit it" in page


def test_the_list_to_choose_from_leaves_out_what_may_not_be_advised(phone, firm):
    page = page_of(phone, "visit_fit", [firm.visit.pk])
    assert firm.gas.number in page
    assert firm.copy.number not in page
    assert "1 on board" in page


def test_what_is_needed_is_noted_for_the_office(phone, firm):
    post(
        phone,
        "visit_need",
        [firm.visit.pk],
        component=firm.pump.pk,
        part=firm.part.maker_part or firm.part.number,
        quantity=1,
    )
    assert Needed.objects.get().part == firm.part


def test_nothing_needed_ends_the_visit_with_its_cause_and_minutes(phone, firm):
    post(phone, "visit_nothing", [firm.visit.pk], no_part_cause="closed-valve", minutes=25, ends="on")
    firm.visit.refresh_from_db()
    assert firm.visit.outcome == Visit.Outcome.NO_PART_NEEDED
    assert Finding.objects.get().no_part_cause == "closed-valve"
    assert firm.visit.engineers.get().minutes == 25


def test_part_needed_leads_on_to_saying_which(phone, firm):
    answer = post(phone, "visit_outcome", [firm.visit.pk], outcome="part-needed", minutes=30)
    assert answer.url == reverse("visit_need", args=[firm.visit.pk])


def test_a_part_taken_out_again_is_back_on_board_and_renewed_nothing(phone, firm):
    post(phone, "visit_fit", [firm.visit.pk], part=firm.part.number, component=firm.pump.pk, quantity=1, why="failed")
    fitted = Fitted.objects.get()
    post(phone, "fitted_out", [fitted.pk], condition="opened")
    assert Stock.objects.get(place=firm.van, part=firm.part, condition="opened").on_hand == 1
    again = post(phone, "fitted_out", [fitted.pk], condition="opened")
    assert again.status_code == 400
    assert "taken out again already" in again.content.decode()


def test_a_found_component_is_recorded(phone, firm):
    post(phone, "visit_found", [firm.visit.pk], component=firm.pump.pk, failure_mode="seized")
    assert Finding.objects.get().component == firm.pump


def test_my_van_is_counted_part_by_part_and_the_rest_stays(phone, firm):
    make.put(firm.gas, firm.van, 2)
    post(phone, "my_van_count", **{f"part-{firm.part.pk}": "3"})
    assert on_board(firm) == 3
    assert on_board(firm, part=firm.gas) == 2


def test_something_found_that_is_not_on_the_list_is_counted_too(phone, firm):
    post(phone, "my_van_count", other=firm.gas.number, other_pieces="1")
    assert on_board(firm, part=firm.gas) == 1
    answer = post(phone, "my_van_count", other=firm.gas.number)
    assert "How many were there?" in answer.content.decode()


def test_a_part_is_passed_to_another_van_once(phone, firm):
    typed = {"event": str(uuid.uuid4()), "part": firm.part.number, "quantity": 1, "to": firm.van2.pk}
    for _ in range(2):
        phone.post(reverse("my_van_pass"), typed)
    assert on_board(firm, firm.van2) == 1
    assert Movement.objects.filter(reason="passed-on").count() == 1


def test_what_was_bought_for_a_job_is_on_board_at_its_own_cost(phone, firm):
    typed = {"supplier": firm.supplier.pk, "part": firm.part.number, "quantity": 1, "price": "51.20", "ticket": "77"}
    post(phone, "my_van_bought", job=firm.job.number, **typed)
    bought = Movement.objects.get(reason="bought")
    assert (bought.unit_cost, bought.own_cost, bought.job_number) == (Decimal("51.20"), True, firm.job.number)


def test_finding_a_part_names_my_van_first_then_the_store(phone, firm):
    page = page_of(phone, "find_part", query="?q=pump")
    assert page.index("1 on board") < page.index("3 free")


def test_no_cost_is_shown_to_an_engineer_unless_the_firm_allows_it(phone, firm):
    addresses = [reverse("find_part") + "?q=pump", reverse("my_van"), reverse("today")]
    addresses += [reverse("visit_detail", args=[firm.visit.pk]), reverse("visit_fit", args=[firm.visit.pk])]
    for address in addresses:
        assert "£" not in phone.get(address).content.decode()
    Setting.objects.update_or_create(pk=1, defaults={"cost_prices_on_phones": True})
    assert "£10.00" in page_of(phone, "find_part", query="?q=pump")


def test_waiting_names_what_the_office_must_still_see_to(phone, firm):
    assert "Nothing of yours was refused" in page_of(phone, "waiting")
    device = Device.objects.create(user=firm.engineer, name="Asha’s phone", digest=b"x" * 32)
    problem = {"title": "Not booked", "detail": "Which shelf?"}
    Refusal.objects.create(uuid=uuid.uuid4(), kind="count", device=device, problem=problem)
    page = page_of(phone, "waiting")
    assert "Which shelf?" in page
    assert "Without signal" in page


def test_somebody_without_a_van_is_told_what_to_do(client, firm):
    client.force_login(make.UserFactory())
    assert "No van is yours today" in page_of(client, "my_van")
    assert client.get(reverse("my_van_count")).status_code == 302


def test_holiday_cover_drives_the_other_van(client, firm):
    cover = make.UserFactory()
    firm.van2.uses.create(engineer=cover, since=firm.today - datetime.timedelta(days=1), until=firm.today)
    client.force_login(cover)
    assert "van 2" in page_of(client, "my_van")
