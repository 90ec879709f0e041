import uuid
from decimal import Decimal

import pytest

from inventory.models import Count, Held, Movement, Place
from tests.api_phone import Firm, Phone, new_id
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return Firm()


def test_bought_for_a_job_lies_in_the_buyer_s_van_and_is_held_for_it(firm):
    body = {"id": new_id(), "supplier": "dunmere", "part": "PMP-3", "quantity": 1, "price": "41.20", "job": 7001}
    answer = firm.phone.post("bought/", body | {"ticket": "T 881"})
    assert answer.status_code == 201, answer.json()
    assert answer.json()["into"] == "van one"
    assert firm.on_hand() == 3
    held = Held.objects.get()
    assert (held.job_number, held.unit_cost) == ("7001", Decimal("41.2000"))
    assert Movement.objects.get(event=uuid.UUID(body["id"])).ticket == "T 881"


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"supplier": "none"}, "supplier"), ({"job": "none"}, "job"), ({"price": -1}, "price"), ({"ticket": 5}, "ticket")],
)
def test_what_is_wrong_with_a_purchase_is_named(firm, changes, field):
    body = {"id": new_id(), "supplier": "dunmere", "part": "PMP-3", "quantity": 1} | changes
    answer = firm.phone.post("bought/", body)
    assert answer.status_code == 400
    assert answer.json()["field"] == field


def test_a_count_makes_the_book_say_what_is_there(firm):
    body = {"id": new_id(), "place": "van one", "upto": 12, "lines": [{"part": "PMP-3", "quantity": 0}]}
    assert firm.phone.post("counts/", body).status_code == 201
    assert firm.on_hand() == 0
    count = Count.objects.get()
    assert (count.upto, count.device, count.by) == (12, firm.phone.device, firm.engineer)


def test_what_is_wrong_in_a_count_names_field_and_row(firm):
    lines = [{"part": "PMP-3", "quantity": 1}, {"part": "nothing", "quantity": 1}]
    body = {"id": new_id(), "place": "van one", "upto": None, "lines": lines}
    problem = firm.phone.post("counts/", body).json()
    assert (problem["status"], problem["field"], problem["row"]) == (400, "part", 2)
    lines[1] = {"part": "GV-COPY", "quantity": -1}
    problem = firm.phone.post("counts/", body | {"id": new_id()}).json()
    assert (problem["status"], problem["field"], problem["row"]) == (400, "quantity", 2)
    assert not Count.objects.exists()


@pytest.mark.parametrize("lines", [[], "PMP-3", [1], None, [{"part": "PMP-3", "quantity": 1}] * 2])
def test_a_count_needs_lines_and_each_part_once(firm, lines):
    body = {"id": new_id(), "place": "van one", "upto": 1, "lines": lines}
    problem = firm.phone.post("counts/", body).json()
    assert (problem["status"], problem["field"]) == (400, "lines")


def test_two_records_of_one_hand_over_become_one(firm):
    ben = Phone(UserFactory(name="Ben"))
    body = {"from": "van one", "to": "van two", "part": "PMP-3", "quantity": 1}
    first = firm.phone.post("passes/", body | {"id": new_id()})
    second = ben.post("passes/", body | {"id": new_id()})
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json()["movement"] == second.json()["movement"]
    assert (firm.on_hand(), firm.on_hand(firm.other_van)) == (1, 1)


@pytest.mark.parametrize(
    ("changes", "field"), [({"to": "van one"}, "to"), ({"from": "dunmere"}, "from"), ({"to": ...}, "to")]
)
def test_a_part_is_passed_between_two_held_places(firm, changes, field):
    body = {"id": new_id(), "from": "van one", "to": "van two", "part": "PMP-3", "quantity": 1} | changes
    problem = firm.phone.post("passes/", {name: value for name, value in body.items() if value is not ...}).json()
    assert (problem["status"], problem["field"]) == (400, field)


def test_counter_places_are_no_place_to_count(firm):
    Place.objects.get_or_create(kind=Place.Kind.SCRAP, defaults={"key": "(scrap)"})
    body = {"id": new_id(), "place": "(scrap)", "upto": 1, "lines": [{"part": "PMP-3", "quantity": 1}]}
    assert firm.phone.post("counts/", body).json()["field"] == "place"
