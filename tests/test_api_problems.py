import json

import pytest
from django.db import DataError, OperationalError
from django.test import Client

from firm import sending
from jobs.models import Fitted
from tests.api_phone import Firm

pytestmark = pytest.mark.django_db
PROBLEM = "application/problem+json"


@pytest.fixture
def firm():
    return Firm()


def is_problem(answer, status, field=None):
    assert answer.status_code == status
    assert answer["content-type"] == PROBLEM
    body = json.loads(answer.content)
    assert {"type", "title", "status", "detail"} <= set(body)
    assert body["status"] == status
    assert body.get("field") == field
    return body


@pytest.mark.parametrize("debug", [True, False])
@pytest.mark.parametrize("path", ["/api/", "/api/v1/", "/api/v1/nothing/", "/api/v1/visits", "/api/v2/visits/"])
def test_an_address_where_there_is_nothing(firm, settings, path, debug):
    settings.DEBUG = debug
    is_problem(firm.phone.client.get(path, headers=firm.phone.headers), 404)
    is_problem(firm.phone.client.post(path, "{}", content_type="application/json"), 404)


def test_a_row_that_is_not_there(firm):
    is_problem(firm.phone.get("visits/none/"), 404)


def test_a_method_that_is_not_for_this_address(firm):
    answer = firm.phone.client.put("/api/v1/fitted/", "{}", headers=firm.phone.headers)
    is_problem(answer, 405)
    assert "POST" in answer["allow"]


@pytest.mark.parametrize("sent", ["{", "[1,]", '{"a":NaN}', '{"a":1,"a":2}', b"\xff", '{"a":1e99999999999999999999}'])
def test_what_is_no_json(firm, sent):
    is_problem(firm.phone.post("fitted/", sent), 400)


@pytest.mark.parametrize("sent", [[1], None, "text", 5, True])
def test_json_that_is_no_object(firm, sent):
    is_problem(firm.phone.post("fitted/", json.dumps(sent)), 400)


def test_json_nested_too_deeply(firm):
    is_problem(firm.phone.post("fitted/", "[" * 100_000), 400)
    is_problem(firm.phone.post("fitted/", '{"visit":' + "[" * 500 + "]" * 500 + "}"), 400)


def test_a_body_that_is_too_large(firm):
    is_problem(firm.phone.post("fitted/", '"' + "x" * (5 * 1024 * 1024) + '"'), 413)


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_a_body_of_another_kind(firm, kind):
    is_problem(firm.phone.post("fitted/", "quantity=1", content_type=kind), 415)


def test_a_book_that_is_being_written_to_asks_to_come_again(firm, monkeypatch):
    def locked(*args):
        raise OperationalError("database is locked")

    monkeypatch.setattr(sending, "_before", locked)
    answer = firm.phone.post("fitted/", firm.fitted())
    is_problem(answer, 503)
    assert int(answer["retry-after"]) > 0


@pytest.mark.parametrize("code", ["40001", "40P01", "55P03", "57014", "08006", "53300"])
def test_postgresql_says_so_by_its_codes(firm, monkeypatch, code):
    def refused(*args):
        cause = Exception()
        cause.sqlstate = code
        raise OperationalError("refused") from cause

    monkeypatch.setattr(sending, "_before", refused)
    is_problem(firm.phone.post("fitted/", firm.fitted()), 503)


def test_what_the_database_cannot_hold_is_the_sender_s_mistake(firm, monkeypatch):
    def refused(*args):
        raise DataError("numeric field overflow")

    monkeypatch.setattr(sending, "_before", refused)
    is_problem(firm.phone.post("fitted/", firm.fitted()), 400)


def test_a_mistake_of_ours_is_a_problem_too_and_tells_nothing_of_the_inside(firm, monkeypatch):
    def broken(*args):
        raise RuntimeError("secret")

    monkeypatch.setattr(sending, "_before", broken)
    body = is_problem(firm.phone.post("fitted/", firm.fitted()), 500)
    assert "secret" not in json.dumps(body)
    assert not Fitted.objects.exists()


def test_halves_of_characters_come_back_harmless(firm):
    is_problem(firm.phone.post("fitted/", '{"\\ud800": 1}'), 400, field="?")
    is_problem(firm.phone.post("outcomes/", '{"id": "\\ud800"}'), 400, field="id")


def test_the_browser_s_session_needs_its_csrf_token(firm):
    client = Client(enforce_csrf_checks=True)
    client.force_login(firm.engineer)
    is_problem(client.post("/api/v1/fitted/", json.dumps(firm.fitted()), content_type="application/json"), 403)
    assert client.get("/api/v1/me/").status_code == 200


def test_errors_of_pages_are_no_problem_documents(firm):
    assert firm.phone.client.get("/nothing/")["content-type"].startswith("text/html")


@pytest.mark.parametrize("path", ["visits/", "fitted/", "sync/", "lives/", "me/", "parts/PMP-3/where/", "sign-in/"])
def test_what_an_address_can_do_may_be_asked(firm, path):
    answer = firm.phone.client.options(f"/api/v1/{path}", headers=firm.phone.headers)
    assert answer.status_code == 200
    assert answer["allow"]
