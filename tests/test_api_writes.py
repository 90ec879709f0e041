import uuid

import pytest

from firm.models import Sent
from inventory.models import CountWanted, Movement
from inventory.services.movements import undo
from jobs.models import Fitted, Needed, TakenOut
from tests.api_phone import Firm, Phone, new_id
from tests.factories import OfficeFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return Firm()


def test_a_fitted_part_is_booked_and_answered_with_the_cautions_of_its_work(firm):
    answer = firm.phone.post("fitted/", firm.fitted())
    assert answer.status_code == 201, answer.json()
    assert firm.on_hand() == 1
    shown = answer.json()
    assert shown["fitted"] == Fitted.objects.get().pk
    assert set(shown["hazards"]) == {"gas", "combustion", "mains", "pressurised-hot-water"}  # opening a gas boiler
    assert all(caution["cautions"] and caution["licence"] for caution in shown["cautions"])
    assert "licensed" in shown["licence"]


def test_the_same_id_and_body_get_the_first_answer_again_and_change_nothing(firm):
    body = firm.fitted()
    first, second = firm.phone.post("fitted/", body), firm.phone.post("fitted/", body)
    assert (first.status_code, second.status_code) == (201, 200)
    assert first.json() == second.json()
    assert firm.on_hand() == 1
    assert Fitted.objects.count() == Sent.objects.count() == 1


def test_the_same_id_with_another_body_is_a_conflict_and_changes_nothing(firm):
    body = firm.fitted()
    firm.phone.post("fitted/", body)
    answer = firm.phone.post("fitted/", body | {"quantity": 2})
    assert answer.status_code == 409
    assert answer["content-type"] == "application/problem+json"
    assert firm.on_hand() == 1


def test_the_same_id_at_another_address_is_a_conflict(firm):
    body = firm.fitted()
    firm.phone.post("fitted/", body)
    needed = {"id": body["id"], "visit": "104233", "component": "circulating-pump", "quantity": 1}
    assert firm.phone.post("needed/", needed).status_code == 409


def test_what_the_book_lacks_is_fitted_all_the_same_and_the_van_wants_a_count(firm):
    assert firm.phone.post("fitted/", firm.fitted(quantity=3)).status_code == 201
    assert firm.on_hand() == 0
    assert CountWanted.objects.get(done_at=None).place == firm.van


def test_an_unapproved_copy_is_recorded_and_said_to_be_unadvised(firm):
    answer = firm.phone.post("fitted/", firm.fitted(part="GV-COPY", component="gas-valve"))
    assert answer.status_code == 201
    assert answer.json()["advised"] is False
    assert answer.json()["approved_new_only"] is True
    assert answer.json()["after_fitting"] == ["tightness test"]


@pytest.mark.parametrize("quantity", [1, 1.0, "1", "1.0", "1.000"])
def test_plain_numbers_are_taken_as_quantity(firm, quantity):
    assert firm.phone.post("fitted/", firm.fitted(quantity=quantity)).status_code == 201
    assert Fitted.objects.get().quantity == 1


def test_a_number_in_text_may_be_sent_as_an_integer(firm):
    assert firm.phone.post("fitted/", firm.fitted(visit=104233)).status_code == 201


def test_words_are_the_same_whatever_their_case_and_strokes(firm):
    assert firm.phone.post("fitted/", firm.fitted(why=" Had to_come-off ")).status_code == 201
    assert Fitted.objects.get().why == "had-to-come-off"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"id": ...}, "id"),
        ({"id": "no uuid"}, "id"),
        ({"id": 5}, "id"),
        ({"visit": "nowhere"}, "visit"),
        ({"visit": ...}, "visit"),
        ({"visit": True}, "visit"),
        ({"visit": 1.5}, "visit"),
        ({"visit": "x" * 81}, "visit"),
        ({"part": "none"}, "part"),
        ({"component": "none"}, "component"),
        ({"component": None}, "component"),
        ({"quantity": 0}, "quantity"),
        ({"quantity": -1}, "quantity"),
        ({"quantity": True}, "quantity"),
        ({"quantity": "1_0"}, "quantity"),
        ({"quantity": "١"}, "quantity"),
        ({"quantity": "1,5"}, "quantity"),
        ({"quantity": "1e3"}, "quantity"),
        ({"quantity": 0.0001}, "quantity"),
        ({"quantity": 10**9}, "quantity"),
        ({"quantity": [1]}, "quantity"),
        ({"why": "because"}, "why"),
        ({"why": ["failed"]}, "why"),
        ({"appliance": "none"}, "appliance"),
        ({"position": 0}, "position"),
        ({"position": 40000}, "position"),
        ({"position": 1.5}, "position"),
        ({"from": "the moon"}, "from"),
        ({"happened_at": "yesterday"}, "happened_at"),
        ({"happened_at": "0001-01-01T00:00:00+14:00"}, "happened_at"),
        ({"positon": 1}, "positon"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_booked(firm, changes, field):
    answer = firm.phone.post("fitted/", firm.fitted(**changes))
    assert answer.status_code == 400
    assert answer["content-type"] == "application/problem+json"
    assert answer.json()["field"] == field
    assert answer.json()["detail"]
    assert not Fitted.objects.exists()
    assert not Sent.objects.exists()


def test_a_part_fitted_straight_from_a_merchant_leaves_the_van_as_it_was(firm):
    assert firm.phone.post("fitted/", firm.fitted(**{"from": "dunmere"})).status_code == 201
    assert firm.on_hand() == 2
    assert Fitted.objects.get().came_from.supplier == firm.supplier


def test_the_customers_own_part_costs_nothing(firm):
    assert firm.phone.post("fitted/", firm.fitted(**{"from": "customers-own"})).status_code == 201
    assert Fitted.objects.get().cost == 0


def test_a_sender_s_clock_ahead_of_ours_counts_as_now_and_may_be_sent_again(firm):
    body = firm.fitted(happened_at="2199-01-01T10:00:00Z")
    assert firm.phone.post("fitted/", body).status_code == 201
    assert firm.phone.post("fitted/", body).status_code == 200
    assert Movement.objects.get(event=uuid.UUID(body["id"]), reason="fitted").happened_at.year < 2199


def test_what_was_needed_is_recorded(firm):
    body = {"id": new_id(), "visit": "104233", "component": "gas-valve", "quantity": 1, "part": "GV-COPY"}
    assert firm.phone.post("needed/", body).status_code == 201
    assert Needed.objects.get().component == firm.valve


def test_a_part_taken_out_again_is_named_by_the_id_under_which_it_was_fitted(firm):
    body = firm.fitted()
    firm.phone.post("fitted/", body)
    out = {"id": new_id(), "fitted": body["id"], "condition": "opened"}
    assert firm.phone.post("taken-out/", out).status_code == 201
    assert TakenOut.objects.get().condition == "opened"
    assert firm.on_hand() == 2
    again = firm.phone.post("taken-out/", out | {"id": new_id()})
    assert again.status_code == 400
    assert again.json()["field"] == "fitted"


def test_a_fitted_part_may_be_named_by_our_number_too(firm):
    number = firm.phone.post("fitted/", firm.fitted()).json()["fitted"]
    out = {"id": new_id(), "fitted": number, "condition": "scrapped"}
    assert firm.phone.post("taken-out/", out).status_code == 201


def test_a_keying_mistake_that_was_undone_is_neither_shown_nor_taken_out(firm):
    body = firm.fitted()
    firm.phone.post("fitted/", body)
    undo(uuid.UUID(body["id"]), event=uuid.uuid4(), by=None, note="test")
    assert firm.phone.get("visits/104233/").json()["fitted"] == []
    answer = firm.phone.post("taken-out/", {"id": new_id(), "fitted": body["id"], "condition": "new"})
    assert answer.json()["field"] == "fitted"


@pytest.mark.parametrize("word", ["5f1b7c1e-3c3b-4b0a-9a43-0d1f6d0f7a11", "9" * 19, "x", "999"])
def test_what_was_never_fitted_cannot_be_taken_out(firm, word):
    answer = firm.phone.post("taken-out/", {"id": new_id(), "fitted": word, "condition": "new"})
    assert answer.status_code == 400
    assert answer.json()["field"] == "fitted"


def test_an_outcome_is_recorded_with_the_sender_s_minutes(firm):
    body = {"id": new_id(), "visit": "104233", "outcome": "Part needed", "minutes": 45}
    assert firm.phone.post("outcomes/", body).status_code == 201
    firm.visit.refresh_from_db()
    assert firm.visit.outcome == "part-needed"
    assert firm.visit.engineers.get().minutes == 45


def test_the_office_may_send_too_and_a_person_without_a_role_may_not(firm):
    office, nobody = Phone(OfficeFactory()), Phone(UserFactory(is_engineer=False))
    assert office.post("fitted/", firm.fitted()).status_code == 201
    refused = nobody.post("fitted/", firm.fitted())
    assert refused.status_code == 403
    assert refused["content-type"] == "application/problem+json"
