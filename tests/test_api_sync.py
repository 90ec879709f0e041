import uuid

import pytest
from django.db import OperationalError

from firm.models import Refusal, Sent
from jobs.api import sync
from jobs.models import Fitted, Needed
from tests.api_phone import Firm, Phone, new_id
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return Firm()


def event(kind, number=1, **body):
    return {"id": new_id(), "number": number, "kind": kind, "body": body}


def fitted(firm, number=1, **changes):
    body = firm.fitted(**changes)
    return {"id": body.pop("id"), "number": number, "kind": "fitted", "body": body}


def send(firm, *events, phone=None):
    answer = (phone or firm.phone).post("sync/", {"device": "Asha’s phone", "events": list(events)})
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def test_every_kind_is_applied_in_order(firm):
    first = fitted(firm)
    results = send(
        firm,
        first,
        event("taken-out", 2, fitted=first["id"], condition="new"),
        event("needed", 3, visit="104233", component="gas-valve", quantity=1),
        event("bought", 4, supplier="dunmere", part="PMP-3", quantity=1),
        event("outcomes", 5, visit="104233", outcome="part-needed", minutes=30),
        event("counts", 6, place="van one", upto=5, lines=[{"part": "PMP-3", "quantity": 3}]),
        event("passes", 7, **{"from": "van one", "to": "van two", "part": "PMP-3", "quantity": 1}),
    )
    assert [result["status"] for result in results] == ["applied"] * 7
    assert results[0]["id"] == first["id"]
    assert firm.on_hand() == 2
    assert list(Sent.objects.order_by("pk").values_list("number", flat=True)) == [1, 2, 3, 4, 5, 6, 7]
    assert set(Sent.objects.values_list("device", flat=True)) == {firm.phone.device.pk}


def test_a_decimal_quantity_is_taken_as_written(firm):
    assert send(firm, fitted(firm, quantity=0.5))[0]["status"] == "applied"
    assert str(Fitted.objects.get().quantity) == "0.500"


@pytest.mark.parametrize("kind", ["outcome", "Outcomes", "outcomes"])
def test_a_kind_may_stand_in_the_singular(firm, kind):
    assert send(firm, event(kind, visit="104233", outcome="fixed"))[0]["status"] == "applied"


def test_a_batch_sent_twice_is_applied_once(firm):
    batch = [fitted(firm, 1), fitted(firm, 2)]
    send(firm, *batch)
    assert [result["status"] for result in send(firm, *batch)] == ["repeated"] * 2
    assert Fitted.objects.count() == 2


def test_what_went_to_its_own_endpoint_before_is_repeated(firm):
    body = firm.fitted()
    firm.phone.post("fitted/", body)
    again = {"id": body["id"], "number": 1, "kind": "fitted", "body": body}
    assert send(firm, again)[0]["status"] == "repeated"


def test_one_refused_event_stops_no_other_and_the_office_sees_it(firm):
    wrong = fitted(firm, 2, part="nothing")
    results = send(firm, fitted(firm, 1), wrong, fitted(firm, 3))
    assert [result["status"] for result in results] == ["applied", "refused", "applied"]
    problem = results[1]["problem"]
    assert (problem["status"], problem["field"], problem["row"]) == (400, "part", 2)
    refusal = Refusal.objects.get()
    assert (str(refusal.uuid), refusal.kind, refusal.by) == (wrong["id"], "fitted", firm.engineer)
    assert refusal.body["body"]["part"] == "nothing"
    assert refusal.settled_at is None


def test_a_refused_event_sent_again_after_mending_is_applied_and_settled(firm):
    wrong = fitted(firm, part="nothing")
    send(firm, wrong)
    send(firm, wrong)
    assert Refusal.objects.count() == 1
    mended = wrong | {"body": wrong["body"] | {"part": "PMP-3"}}
    assert send(firm, mended)[0]["status"] == "applied"
    assert Refusal.objects.get().settled_at is not None


def test_the_same_id_with_another_body_is_refused(firm):
    first = fitted(firm)
    send(firm, first)
    result = send(firm, first | {"body": first["body"] | {"quantity": 2}})[0]
    assert (result["status"], result["problem"]["status"]) == ("refused", 409)
    assert Fitted.objects.get().quantity == 1


def test_a_line_of_a_count_is_named_beside_the_event(firm):
    lines = [{"part": "PMP-3", "quantity": 1}, {"part": "nothing", "quantity": 1}]
    problem = send(firm, event("counts", place="van one", upto=0, lines=lines))[0]["problem"]
    assert (problem["field"], problem["row"], problem["line"]) == ("part", 1, 2)


MALFORMED = [
    None,
    5,
    "fitted",
    [],
    {},
    {"id": "no uuid", "number": 1, "kind": "fitted", "body": {}},
    {"id": str(uuid.UUID(int=1)), "number": 1, "kind": "dismantled", "body": {}},
    {"id": str(uuid.UUID(int=2)), "number": -1, "kind": "fitted", "body": {}},
    {"id": str(uuid.UUID(int=3)), "number": True, "kind": "fitted", "body": {}},
    {"id": str(uuid.UUID(int=4)), "number": 2**70, "kind": "fitted", "body": {}},
    {"id": str(uuid.UUID(int=5)), "number": 1, "kind": "fitted", "body": None},
    {"id": str(uuid.UUID(int=6)), "number": 1, "kind": "fitted", "body": [1]},
    {"id": str(uuid.UUID(int=7)), "number": 1, "kind": "fitted", "body": {"visit": {"a": ["b"] * 3}}},
    {"id": str(uuid.UUID(int=8)), "number": 1, "kind": "fitted", "body": {"id": new_id()}},
    {"id": str(uuid.UUID(int=9)), "number": 1, "kind": ["fitted"], "body": {"note": "\0"}},
    {"id": str(uuid.UUID(int=10)), "number": 1, "kind": "fitted\0\ud800", "body": {"\0\ud800": "\0\ud800"}},
    {"id": str(uuid.UUID(int=11)), "number": 1, "kind": "fitted", "body": {"part": "\0", "n": 10**400}},
]


@pytest.mark.parametrize("wrong", MALFORMED)
def test_a_malformed_event_is_refused_shown_to_the_office_and_fails_nothing_else(firm, wrong):
    results = send(firm, wrong, fitted(firm))
    assert [result["status"] for result in results] == ["refused", "applied"]
    problem = results[0]["problem"]
    assert 400 <= problem["status"] < 500
    assert problem["row"] == 1
    assert problem["detail"]
    assert Refusal.objects.count() == 1


def test_events_without_an_id_of_their_own_are_kept_once_each(firm):
    send(firm, None, {"kind": "fitted"}, {"kind": "fitted"}, {"kind": "needed"})
    assert Refusal.objects.count() == 3


def test_numbers_beyond_all_bounds_inside_an_event_are_kept_as_text(firm):
    raw = '{"events": [{"id": "%s", "kind": "fitted", "body": {"quantity": 1e400, "n": %s}}]}' % (new_id(), "9" * 300)
    results = firm.phone.post("sync/", raw).json()["results"]
    assert results[0]["status"] == "refused"
    assert Refusal.objects.get().body["body"] == {"quantity": "1E+400", "n": "a very large number"}


@pytest.mark.parametrize(
    ("batch", "field"),
    [
        ({"device": "x"}, "events"),
        ({"device": 5, "events": []}, "device"),
        ({"events": "all"}, "events"),
        ({"events": [None] * 501}, "events"),
    ],
)
def test_a_batch_that_is_none_is_refused_whole(firm, batch, field):
    answer = firm.phone.post("sync/", batch)
    assert answer.status_code == 400
    assert answer.json()["field"] == field


def test_an_empty_batch_is_answered_emptily(firm):
    assert send(firm) == []


def test_a_busy_book_lets_the_whole_batch_wait_and_what_was_applied_is_repeated_later(firm, monkeypatch):
    batch = [fitted(firm, 1), fitted(firm, 2)]
    apply = sync._apply

    def busy(sent, sender):
        if sent["number"] == 2:
            raise OperationalError("database is locked")
        return apply(sent, sender)

    monkeypatch.setattr(sync, "_apply", busy)
    answer = firm.phone.post("sync/", {"events": batch})
    assert answer.status_code == 503
    assert int(answer["retry-after"]) > 0
    monkeypatch.undo()
    assert [result["status"] for result in send(firm, *batch)] == ["repeated", "applied"]
    assert not Refusal.objects.exists()


def test_a_mistake_of_ours_refuses_that_event_alone(firm, monkeypatch):
    monkeypatch.setattr(sync, "_apply", lambda sent, sender: 1 / 0)
    result = send(firm, fitted(firm))[0]
    assert (result["status"], result["problem"]["status"]) == ("refused", 500)
    assert Refusal.objects.exists()


def test_a_late_phone_s_work_that_a_count_includes_is_booked_and_given_back(firm):
    count = event("counts", 3, place="van one", upto=2, lines=[{"part": "PMP-3", "quantity": 1}])
    send(firm, count)
    assert send(firm, fitted(firm, 2))[0]["status"] == "applied"
    assert firm.on_hand() == 1  # the count had seen it gone


def test_a_person_without_a_role_syncs_nothing(firm):
    nobody = Phone(UserFactory(is_engineer=False))
    assert nobody.post("sync/", {"events": []}).status_code == 403


def test_a_needed_part_synced_carries_the_sender_not_the_device_named_in_the_batch(firm):
    send(firm, event("needed", visit="104233", component="gas-valve", quantity=2), phone=Phone(UserFactory()))
    assert Sent.objects.get().device.name == "test phone"
    assert Needed.objects.get().quantity == 2
