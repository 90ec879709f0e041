"""The office's pages: what they show, what they book, once, and in how many queries."""

import csv
import datetime
import io
import re
import uuid
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from firm.models import Refusal
from inventory.models import CarryLevel, Held, Movement, Order, ReceiptLine, Recipe, Stock
from jobs.models import Appliance, Charge, Customer, Earlier, Job, LoadLine, LoadProposal, Needed, Visit
from tests import factories as make
from tests.small_firm import more_of_everything, small_firm

pytestmark = pytest.mark.django_db
LISTS = ["job_list", "job_search", "part_list", "price_list", "order_list", "van_list", "customer_list"]


@pytest.fixture
def firm():
    return small_firm()


@pytest.fixture
def office(client, firm):
    client.force_login(firm.office)
    return client


def pages(firm):
    """The address of every page of the office, with what it should say."""
    return {
        reverse("job_list"): "10:30",
        reverse("job_search"): "Radiators cold",
        reverse("job_new"): "Who is calling?",
        reverse("job_new") + f"?appliance={firm.appliance.pk}": "Everyone out",
        reverse("job_detail", args=[firm.job.pk]): "Closed valve",
        reverse("job_sheet", args=[firm.job.pk]): "Mind the gas.",
        reverse("customer_list"): "Mrs Okafor",
        reverse("customer_new"): "New customer",
        reverse("customer_detail", args=[firm.appliance.customer.pk]): "Beck 24",
        reverse("appliance_detail", args=[firm.appliance.pk]): "perhaps the original",
        reverse("part_list"): "Circulating pump, Beck",
        reverse("part_detail", args=[firm.part.pk]): "£48.00",
        reverse("price_list") + "?part=104233": "Dunmere Supplies",
        reverse("order_list"): "To order now",
        reverse("van_list"): "van 1",
        reverse("van_detail", args=[firm.van.pk]): "Top up",
        reverse("van_count", args=[firm.van.pk]): "Count sheet",
        reverse("van_load", args=[firm.van.pk]): "Nothing is worked out",
        reverse("load_paper", args=[firm.van.pk]): "104233",
    }


def post(client, page, args=(), **typed):
    return client.post(reverse(page, args=args), {"event": str(uuid.uuid4()), **typed})


def test_every_page_says_what_it_is_for(office, firm):
    for address, words in pages(firm).items():
        answer = office.get(address)
        assert answer.status_code == 200, address
        assert words in answer.content.decode(), address


def test_no_page_is_for_an_engineer_or_a_stranger(client, firm):
    for address in pages(firm):
        assert client.get(address).status_code == 302
    client.force_login(firm.engineer)
    for address in pages(firm):
        assert client.get(address).status_code == 403, address


@pytest.mark.parametrize("name", LISTS)
def test_a_list_costs_the_same_queries_however_long_it_is(office, firm, name):
    more_of_everything(firm, 3)
    few = _queries(office, reverse(name))
    more_of_everything_again(firm)
    assert _queries(office, reverse(name)) <= few


def more_of_everything_again(firm):
    for _ in range(2):
        part = make.PartFactory(fits_any=True)
        part.covers.add(firm.pump)
        make.PriceFactory(offer=make.OfferFactory(supplier=firm.supplier, part=part))
        make.put(part, firm.van, 1)
        CarryLevel.objects.create(place=firm.store, part=part, level=2)
        job = make.JobFactory(appliance=firm.appliance, reported_on=firm.today)
        make.VisitFactory(job=job, on=firm.today, place=firm.van, engineer=firm.other)


def _queries(client, address):
    client.get(address)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(address).status_code == 200
    return len(caught)


def test_pages_of_one_thing_cost_the_same_queries_however_much_happened(office, firm):
    addresses = [
        reverse("job_detail", args=[firm.job.pk]),
        reverse("part_detail", args=[firm.part.pk]),
        reverse("van_detail", args=[firm.van.pk]),
        reverse("appliance_detail", args=[firm.appliance.pk]),
    ]
    make.VisitFactory(job=firm.job, on=firm.today, place=firm.van, engineer=firm.engineer)
    more_of_everything(firm, 2)
    few = [_queries(office, address) for address in addresses]
    for _ in range(3):
        make.VisitFactory(job=firm.job, on=firm.today, place=firm.van, engineer=firm.engineer)
    more_of_everything_again(firm)
    assert [_queries(office, address) for address in addresses] == few


def test_a_job_is_opened_once_though_the_browser_sends_it_twice(office, firm):
    typed = {"event": str(uuid.uuid4()), "appliance": firm.appliance.pk, "kind": "breakdown", "reported_on": firm.today}
    typed |= {"words": "It bangs", "symptoms": [firm.symptom.pk]}
    first = office.post(reverse("job_new"), typed)
    second = office.post(reverse("job_new"), typed)
    assert first.status_code == second.status_code == 302
    assert first.url == second.url
    assert Job.objects.filter(words="It bangs").count() == 1


def test_a_form_saved_before_and_changed_asks_again_and_keeps_what_was_typed(office, firm):
    typed = {"event": str(uuid.uuid4()), "appliance": firm.appliance.pk, "kind": "breakdown", "reported_on": firm.today}
    office.post(reverse("job_new"), typed | {"words": "It bangs"})
    answer = office.post(reverse("job_new"), typed | {"words": "It whistles"})
    page = answer.content.decode()
    assert "saved before with other content" in page
    assert "It whistles" in page
    assert typed["event"] not in page
    assert not Job.objects.filter(words="It whistles").exists()


def test_a_refused_job_keeps_the_words_and_the_ticks(office, firm):
    typed = {"appliance": firm.appliance.pk, "kind": "breakdown", "reported_on": "2999-01-01", "words": "It bangs"}
    page = post(office, "job_new", symptoms=[firm.symptom.pk], **typed).content.decode()
    assert "This day has not come yet" in page
    assert "It bangs</textarea>" in page
    assert f'value="{firm.symptom.pk}" checked' in page


def test_stop_texts_stand_above_everything_that_is_asked(office, firm):
    page = office.get(reverse("job_new") + f"?appliance={firm.appliance.pk}").content.decode()
    assert page.index("Everyone out") < page.index("Are all cold?") < page.index("Take the job in")


def test_a_job_without_a_visit_and_one_whose_visit_left_no_word_stand_under_to_book(office, firm):
    assert "Every open job has its visit" in office.get(reverse("job_list")).content.decode()
    make.JobFactory(appliance=firm.appliance, reported_on=firm.today, words="Nobody came yet")
    silent = make.JobFactory(
        appliance=firm.appliance, reported_on=firm.today - datetime.timedelta(days=9), words="Drips"
    )
    make.VisitFactory(job=silent, on=firm.today - datetime.timedelta(days=3), place=firm.van)
    page = office.get(reverse("job_list")).content.decode()
    assert page.index("Nobody came yet") < page.index("No word yet") < page.index("how it ended")


def test_a_visit_is_booked_with_the_van_of_its_engineer(office, firm):
    answer = post(office, "visit_book", [firm.job.pk], on=firm.today, time="13:00", engineers=[firm.other.pk])
    assert answer.status_code == 302
    assert Visit.objects.latest("pk").place == firm.van2


def test_a_visit_before_the_report_is_refused_at_its_field(office, firm):
    answer = post(office, "visit_book", [firm.job.pk], on="2020-01-01", engineers=[firm.other.pk])
    assert answer.status_code == 400
    assert "cannot be before the job was reported" in answer.content.decode()
    assert Visit.objects.count() == 1


def test_the_cautions_of_the_components_and_of_the_kind_stand_on_a_job(office, firm):
    page = office.get(reverse("job_detail", args=[firm.job.pk])).content.decode()
    for words in ("Gas: leak", "Combustion", "Mains electricity", "licensed for it under the local code"):
        assert words in page


def test_a_charge_is_booked_with_its_vat_and_shown_in_the_account(office, firm):
    post(office, "charge_new", [firm.job.pk], kind="labour", amount_ex_vat="64.00", vat_rate="20.00")
    assert Charge.objects.get().vat == Decimal("12.80")
    page = office.get(reverse("job_detail", args=[firm.job.pk])).content.decode()
    assert "£64.00" in page
    assert "Margin over charges" in page


def test_the_office_fits_charges_and_takes_out_a_part(office, firm):
    post(office, "visit_fit", [firm.visit.pk], part=firm.part.number, component=firm.pump.pk, quantity=1, why="failed")
    fitted = firm.visit.fitted.get()
    assert Stock.objects.get(place=firm.van, part=firm.part).on_hand == 0
    post(office, "fitted_charge", [fitted.pk], amount_ex_vat="84.00")
    fitted.refresh_from_db()
    assert fitted.charge_ex_vat == Decimal("84.00")
    post(office, "fitted_out", [fitted.pk], condition="new")
    assert Stock.objects.get(place=firm.van, part=firm.part).on_hand == 1
    assert "Taken out again" in office.get(reverse("job_detail", args=[firm.job.pk])).content.decode()


def test_topping_up_brings_what_the_page_listed_once(office, firm):
    typed = {"event": str(uuid.uuid4()), f"bring-{firm.part.pk}": "1"}
    for _ in range(2):
        office.post(reverse("van_top_up", args=[firm.van.pk]), typed)
    assert Movement.objects.filter(reason="top-up").count() == 1
    assert Stock.objects.get(place=firm.van, part=firm.part).on_hand == 2


def test_topping_up_more_than_the_store_has_moves_nothing(office, firm):
    answer = post(office, "van_top_up", [firm.van.pk], **{f"bring-{firm.part.pk}": "9"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "Nothing was moved" in page
    assert 'value="9"' in page
    assert not Movement.objects.filter(reason="top-up").exists()


def test_passing_on_what_is_not_there_is_refused_and_keeps_what_was_typed(office, firm):
    answer = post(office, "van_pass", [firm.van.pk], part=firm.part.number, quantity=5, to=firm.van2.pk)
    assert answer.status_code == 400
    assert "1 free in van 1, 5 asked for" in answer.content.decode()


def test_a_count_sets_the_book_to_what_was_found(office, firm):
    post(office, "van_count", [firm.van.pk], **{f"part-{firm.part.pk}": "0"})
    assert Stock.objects.get(place=firm.van, part=firm.part).on_hand == 0


def test_a_count_of_nothing_is_no_count(office, firm):
    answer = post(office, "van_count", [firm.van.pk])
    assert answer.status_code == 400
    assert "Nothing is counted yet" in answer.content.decode()


def test_a_level_is_agreed_and_a_fixed_one_needs_a_reason(office, firm):
    answer = post(office, "van_level", [firm.van.pk], part=firm.part.number, level=3, fixed="on")
    assert "Say why it is fixed" in answer.content.decode()
    post(office, "van_level", [firm.van.pk], part=firm.part.number, level=3, fixed="on", why="Weir Terrace")
    level = CarryLevel.objects.get(place=firm.van, part=firm.part)
    assert (level.level, level.fixed, level.fixed_by) == (3, True, firm.office)


def test_an_order_goes_from_proposal_to_shelf_and_its_job_keeps_its_piece(office, firm):
    Needed.objects.create(visit=firm.visit, appliance=firm.appliance, component=firm.pump, part=firm.part, quantity=1)
    assert "a job waits" in office.get(reverse("order_list")).content.decode()
    post(office, "order_propose", supplier=firm.supplier.pk, offer=firm.offer.pk, packs=2, job=firm.job.number)
    order = Order.objects.get()
    line = order.lines.get()
    post(office, "order_change", [order.pk], **{f"packs-{line.pk}": 3}, note="Please ring first")
    post(office, "order_send", [order.pk])
    typed = {f"good-{line.pk}": 2, f"damaged-{line.pk}": 1, f"price-{line.pk}": "50.00"}
    post(office, "order_receive", [order.pk], **typed)
    order.refresh_from_db()
    assert order.state == Order.State.PART_RECEIVED
    assert {r.outcome: r.quantity for r in ReceiptLine.objects.all()} == {"good": 2, "damaged": 1}
    assert Held.objects.get().job_number == firm.job.number
    assert "Parts are here" in office.get(reverse("job_detail", args=[firm.job.pk])).content.decode()


def test_a_delivery_sent_twice_is_received_once(office, firm):
    post(office, "order_propose", supplier=firm.supplier.pk, offer=firm.offer.pk, packs=2, job="")
    order = Order.objects.get()
    post(office, "order_send", [order.pk])
    typed = {"event": str(uuid.uuid4()), f"good-{order.lines.get().pk}": 1}
    for _ in range(2):
        office.post(reverse("order_receive", args=[order.pk]), typed)
    assert order.receipts.count() == 1


def test_another_part_that_came_is_booked_as_what_it_was(office, firm):
    post(office, "order_propose", supplier=firm.supplier.pk, offer=firm.offer.pk, packs=1, job="")
    order = Order.objects.get()
    post(office, "order_send", [order.pk])
    line = order.lines.get()
    refused = post(office, "order_receive", [order.pk], **{f"wrong-{line.pk}": 1, f"came-{line.pk}": "nonsense"})
    assert "No part has the number nonsense" in refused.content.decode()
    post(office, "order_receive", [order.pk], **{f"wrong-{line.pk}": 1, f"came-{line.pk}": firm.gas.number})
    row = ReceiptLine.objects.get()
    assert (row.part, row.outcome, row.movement) == (firm.gas, "wrong", None)


def test_a_sent_order_is_not_changed_any_more(office, firm):
    post(office, "order_propose", supplier=firm.supplier.pk, offer=firm.offer.pk, packs=1, job="")
    order = Order.objects.get()
    post(office, "order_send", [order.pk])
    answer = post(office, "order_change", [order.pk], **{f"packs-{order.lines.get().pk}": 9})
    assert answer.status_code == 400
    assert order.lines.get().packs == 1


def test_a_reconditioned_part_is_never_advised_where_new_ones_are_demanded(office, firm):
    page = office.get(reverse("part_detail", args=[firm.gas.pk])).content.decode()
    assert firm.copy.number not in page
    assert "1 copy or reconditioned part left out" in page
    assert "It shuts the gas off." in page


def test_a_recipe_with_a_copy_in_it_is_not_advised_either(office, firm):
    recipe = Recipe.objects.create(component=firm.valve)
    recipe.lines.create(part=firm.copy)
    page = office.get(reverse("part_detail", args=[firm.gas.pk])).content.decode()
    assert "Together:" not in page
    assert "2 copies or reconditioned parts left out" in page


def test_a_superseded_number_leads_to_the_living_one_and_its_prices(office, firm):
    old = make.PartFactory(number="100001", description="Old pump", superseded_by=firm.part)
    page = office.get(reverse("part_detail", args=[old.pk])).content.decode()
    assert "Its place has been taken by" in page
    assert "Dunmere Supplies" in page
    assert "is superseded" in office.get(reverse("price_list") + "?part=100001").content.decode()


def test_large_rises_are_named_with_their_share(office, firm):
    make.PriceFactory(offer=firm.offer, price_ex_vat=Decimal("60.00"), valid_from=firm.today)
    page = office.get(reverse("price_list")).content.decode()
    assert "up 25.0%" in page
    assert "1 price rose by a tenth or more" in page


def test_an_export_holds_what_is_shown_and_no_formula(office, firm):
    firm.part.description = '=HYPERLINK("x")'
    firm.part.save()
    make.PartFactory(description="Something else")
    answer = office.get(reverse("part_list") + "?q=hyperlink&export=csv")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert len(rows) == 2
    assert rows[1][1] == """'=HYPERLINK("x")"""
    book = load_workbook(io.BytesIO(office.get(reverse("part_list") + "?export=xlsx").content))
    assert book.active.max_row == 1 + 4


def test_a_new_caller_becomes_customer_appliance_and_job(office, firm):
    post(office, "customer_new", name="Mr Pell", address="3 Mill Lane, Marrowby", post_area="MB1")
    customer = Customer.objects.get(name="Mr Pell")
    address = customer.addresses.get()
    answer = post(office, "appliance_new", [customer.pk], address=address.pk, kind="oil", installed="2016-05")
    appliance = Appliance.objects.get(customer=customer)
    assert answer.url == reverse("appliance_detail", args=[appliance.pk])
    assert (appliance.model.kind, appliance.installed_precision) == ("oil", "month")
    assert "Mr Pell" in office.get(reverse("job_new") + "?q=pell").content.decode()


def test_what_is_known_from_before_care_is_kept_and_checked(office, firm):
    typed = {"component": firm.pump.pk, "position": 1, "known": "renewed"}
    late = post(office, "earlier_new", [firm.appliance.pk], renewed_on="2024", **typed)
    assert "It is in our care since" in late.content.decode()
    early = post(office, "earlier_new", [firm.appliance.pk], renewed_on="2001", **typed)
    assert "installed later than that" in early.content.decode()
    post(office, "earlier_new", [firm.appliance.pk], renewed_on="2017", **typed)
    assert Earlier.objects.get().precision == "year"
    page = office.get(reverse("appliance_detail", args=[firm.appliance.pk])).content.decode()
    assert "renewed before our care" in page


def test_accepting_a_proposal_makes_levels_and_leaves_fixed_ones(office, firm):
    proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.van, as_of=firm.today)
    CarryLevel.objects.create(place=firm.van, part=firm.gas, level=1, fixed=True, why="always")
    for part, now, proposed in ((firm.part, 2, 4), (firm.gas, 1, 0)):
        LoadLine.objects.create(proposal=proposal, part=part, now=now, proposed=proposed, reason="Because.")
    post(office, "load_accept", [firm.van.pk], proposal=proposal.pk, all="1")
    levels = dict(CarryLevel.objects.filter(place=firm.van).values_list("part__number", "level"))
    assert levels == {firm.part.number: 4, firm.gas.number: 1}


def test_accepting_some_lines_leaves_the_others(office, firm):
    proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.van, as_of=firm.today)
    lines = [LoadLine.objects.create(proposal=proposal, part=part, now=0, proposed=1) for part in (firm.gas, firm.copy)]
    post(office, "load_accept", [firm.van.pk], proposal=proposal.pk, line=[lines[0].pk])
    assert CarryLevel.objects.filter(place=firm.van, part=firm.gas).exists()
    assert not CarryLevel.objects.filter(place=firm.van, part=firm.copy).exists()
    proposal.refresh_from_db()
    assert proposal.accepted_at is None


def test_a_part_is_kept_for_a_job_put_into_its_van_and_let_go(office, firm):
    refused = post(office, "keep_new", [firm.job.pk], part=firm.part.number, quantity=9, place=firm.store.pk)
    assert "3 free in store" in refused.content.decode()
    post(office, "keep_new", [firm.job.pk], part=firm.part.number, quantity=1, place=firm.store.pk)
    page = office.get(reverse("job_detail", args=[firm.job.pk])).content.decode()
    assert "Parts are here" in page
    assert "Put into van 1" in page
    post(office, "keep_move", [Held.objects.get().pk], to=firm.van.pk)
    kept = Held.objects.get(released_at=None)
    assert kept.place == firm.van
    assert Stock.objects.get(place=firm.van, part=firm.part).on_hand == 2
    post(office, "keep_release", [kept.pk])
    assert not Held.objects.filter(released_at=None).exists()


def test_what_is_needed_no_longer_is_not_ordered(office, firm):
    about = {"visit": firm.visit, "appliance": firm.appliance, "component": firm.pump, "part": firm.part}
    row = Needed.objects.create(quantity=1, **about)
    post(office, "need_settle", [row.pk])
    assert "a job waits" not in office.get(reverse("order_list")).content.decode()


def test_a_proposal_shows_its_changes_the_whole_van_and_what_it_reckoned_with(office, firm):
    result = {
        "spend": 40.0, "spend_now": 48.0, "first_visit_fix_rate": 0.9, "first_visit_fix_rate_now": 0.8, "litres": 8.0,
        "worth_per_year": 300.0, "worth_per_year_now": 250.0, "binding": "litres", "method": "By the book.",
        "frontier": [{"spend": 10.0, "first_visit_fix_rate": 0.5}, {"spend": 40.0, "first_visit_fix_rate": 0.9}],
    }  # fmt: skip
    inputs = {"holding_per_year": 0.25, "second_visit": 90.0}
    about = {"event": uuid.uuid4(), "van": firm.van, "as_of": firm.today, "inputs": inputs, "result": result}
    proposal = LoadProposal.objects.create(**about)
    line = {"price": 48, "gain_per_year": 52, "reason": "About 3 of these fail."}
    LoadLine.objects.create(proposal=proposal, part=firm.part, now=2, proposed=1, **line)
    LoadLine.objects.create(proposal=proposal, part=firm.gas, now=0, proposed=0, reason="Hardly ever.")
    page = office.get(reverse("van_load", args=[firm.van.pk])).content.decode()
    for words in ("Take 1 out", "About 3 of these fail.", "80.0% now, 90.0% as proposed", "Room is the limit.", "£52"):
        assert words in page
    assert "−£48.00" in page
    assert "you are here" in page
    assert "1 line stay" in page
    assert "£90.00" in page


def test_a_proposal_is_worked_out_from_the_records_and_kept(office, firm):
    assert post(office, "load_propose", [firm.van.pk]).status_code == 302
    proposal = LoadProposal.objects.get()
    assert proposal.made_by == firm.office
    assert office.get(reverse("van_load", args=[firm.van.pk])).status_code == 200


def test_what_phones_were_refused_stands_on_the_day_until_somebody_has_seen_to_it(office, firm):
    problem = {"title": "Not booked", "detail": "Which shelf?"}
    row = Refusal.objects.create(
        uuid=uuid.uuid4(), kind="count", by=firm.engineer, body={"place": "van 1"}, problem=problem
    )
    assert "1 refused from phones" in office.get(reverse("job_list")).content.decode()
    page = office.get(reverse("refusal_list")).content.decode()
    assert "Which shelf?" in page
    assert "place van 1" in page
    post(office, "refusal_settle", [row.pk])
    row.refresh_from_db()
    assert row.settled_by == firm.office
    assert "refused from phones" not in office.get(reverse("job_list")).content.decode()


NASTY = ["\0", "²", "99999999999999999999", "-1", "' OR 1=1", "2026-13-45", "<script>", "é" * 300]


def test_whatever_is_typed_into_an_address_never_breaks_a_page(office, firm):
    names = [
        "q",
        "day",
        "page",
        "sort",
        "component",
        "model",
        "place",
        "part",
        "pieces",
        "days",
        "appliance",
        "customer",
    ]
    names += ["kind", "state", "since", "supplier", "what", "show", "return_of", "export"]
    for address in pages(firm):
        for text in NASTY:
            answer = office.get(address.split("?")[0], dict.fromkeys(names, text))
            assert answer.status_code in {200, 404}, (address, text)
            assert "<script>" not in answer.content.decode().replace('<script src="', "")


def test_whatever_is_typed_into_a_form_is_refused_at_most(office, firm):
    firm.draft = make.OfferFactory(supplier=firm.supplier)
    forms = [
        ("job_new", []), ("visit_book", [firm.job.pk]), ("charge_new", [firm.job.pk]), ("job_bill", [firm.job.pk]),
        ("keep_new", [firm.job.pk]), ("customer_new", []), ("appliance_new", [firm.appliance.customer.pk]),
        ("earlier_new", [firm.appliance.pk]), ("visit_fit", [firm.visit.pk]), ("visit_need", [firm.visit.pk]),
        ("visit_outcome", [firm.visit.pk]), ("visit_nothing", [firm.visit.pk]), ("visit_found", [firm.visit.pk]),
        ("order_propose", []), ("van_top_up", [firm.van.pk]), ("van_pass", [firm.van.pk]), ("van_level", [firm.van.pk]),
        ("van_count", [firm.van.pk]), ("load_accept", [firm.van.pk]), ("price_file_new", []),
    ]  # fmt: skip
    names = [
        "appliance",
        "kind",
        "reported_on",
        "words",
        "symptoms",
        "on",
        "time",
        "engineers",
        "part",
        "quantity",
        "why",
    ]
    names += [
        "component",
        "position",
        "source",
        "outcome",
        "minutes",
        "supplier",
        "offer",
        "packs",
        "job",
        "to",
        "level",
    ]
    names += ["amount_ex_vat", "vat_rate", "name", "address", "renewed_on", "known", "proposal", "line", "other"]
    names += [f"bring-{firm.part.pk}", f"part-{firm.part.pk}", "no_part_cause", "place", "file"]
    for page, args in forms:
        for text in NASTY:
            for event in (str(uuid.uuid4()), text):
                typed = dict.fromkeys(names, text) | {"event": event}
                answer = office.post(reverse(page, args=args), typed)
                assert answer.status_code in {200, 302, 400, 404}, (page, text)


def test_who_drives_a_van_is_kept_and_the_driver_before_stops(office, firm):
    first = firm.van2.uses.create(engineer=firm.other, since=datetime.date(2026, 1, 1))
    post(office, "van_driver", [firm.van2.pk], engineer=firm.engineer.pk, since=firm.today)
    first.refresh_from_db()
    assert first.until == firm.today - datetime.timedelta(days=1)
    assert "Asha drives it" in office.get(reverse("van_detail", args=[firm.van2.pk])).content.decode()
    refused = post(
        office, "van_driver", [firm.van2.pk], engineer=firm.engineer.pk, since="2026-02-02", until="2026-02-01"
    )
    assert "The last day is before the first" in refused.content.decode()


def test_no_id_stands_twice_on_a_page(office, firm):
    for address in pages(firm):
        found = re.findall(r'\sid="([^"]+)"', office.get(address).content.decode())
        assert len(found) == len(set(found)), (address, {each for each in found if found.count(each) > 1})
