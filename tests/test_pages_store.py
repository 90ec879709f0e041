"""The store's pages: what to bring to the vans, each free piece promised once, and when to order how much."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import CarryLevel, Held
from tests import factories as make
from tests.small_firm import more_of_everything, small_firm
from tests.test_pages_loads import fix

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return small_firm()


@pytest.fixture
def office(client, firm):
    client.force_login(firm.office)
    return client


def test_an_accepted_level_stands_on_the_top_up_list_with_what_the_store_has_free(office, firm):
    fix(office, firm, level=6)
    page = office.get(reverse("top_up_list")).content.decode()
    assert "104233" in page
    assert "<b>3</b>" in page  # three lie in the store, five are missing
    assert "2 not in the store" in page


def test_what_is_kept_for_a_job_in_the_store_is_not_brought(office, firm):
    fix(office, firm, level=6)
    Held.objects.create(place=firm.store, part=firm.part, quantity=2, job_number=firm.job.number)
    page = office.get(reverse("top_up_list") + f"?van={firm.van.pk}").content.decode()
    assert "<b>1</b>" in page
    assert "4 not in the store" in page


def test_two_vans_never_get_the_same_piece(office, firm):
    fix(office, firm, level=3)
    CarryLevel.objects.create(place=firm.van2, part=firm.part, level=3)
    page = office.get(reverse("top_up_list")).content.decode()
    assert page.count("<b>1</b>") == page.count("<b>2</b>") == 1


def test_a_firm_with_nothing_in_it_gets_words_instead_of_lists(client):
    client.force_login(make.OwnerFactory())
    assert "No van yet" in client.get(reverse("top_up_list")).content.decode()
    assert "No part leaves the store" in client.get(reverse("store_levels")).content.decode()


def test_the_store_levels_say_when_how_much_and_why_and_leave_as_a_file(office, firm):
    CarryLevel.objects.create(place=firm.store, part=firm.part, level=2)
    page = office.get(reverse("store_levels")).content.decode()
    assert "104233" in page
    assert "Dunmere Supplies" in page
    rows = list(
        csv.reader(io.StringIO(office.get(reverse("store_levels") + "?export=csv").content.decode("utf-8-sig")))
    )
    assert "Supplier" in rows[0]
    assert "Dunmere Supplies" in rows[1]


@pytest.mark.parametrize("name", ["store_levels", "top_up_list"])
def test_lists_of_the_store_cost_the_same_queries_however_long_they_are(office, firm, name):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            assert office.get(reverse(name)).status_code == 200
        return len(caught)

    more_of_everything(firm, 2)
    queries()
    few = queries()
    more_of_everything_else(firm)
    queries()  # what left the store is read anew after each movement, and then kept
    assert queries() <= few


def more_of_everything_else(firm):
    for n in range(4):
        part = make.PartFactory(number=f"3{n:05d}")
        make.PriceFactory(offer=make.OfferFactory(supplier=firm.supplier, part=part))
        make.put(part, firm.store, 2)
        CarryLevel.objects.create(place=firm.van, part=part, level=2)
