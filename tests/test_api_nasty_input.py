"""Inputs that broke a plain API: none may be answered with a server error, on either database."""

import base64
import json

import pytest

from tests.api_phone import Firm, Phone, new_id
from tests.factories import OwnerFactory

pytestmark = pytest.mark.django_db
BIG = "9" * 25
LISTS = ["visits/", "jobs/", "appliances/", "parts/", "places/", "places/van one/stock/", "components/", "loads/"]


@pytest.fixture
def firm():
    return Firm()


def cursor(text):
    return base64.b64encode(text.encode()).decode()


CURSORS = {
    "nul": "\0",
    "no base64": "cursor",
    "nul inside": "cD0lMDA=",
    "position is text": cursor("p=abc"),
    "position of 25 digits": cursor(f"p={BIG}"),
    "position is a day that is none": cursor("p=2026-13-45"),
    "position is nul": cursor("p=%00"),
    "position is half a character": cursor("p=%ed%a0%80"),
    "offset is huge": cursor("o=99999999999999999999&p=1"),
    "offset of 5000 digits": cursor("o=" + "9" * 5000),
    "reverse is text": cursor("r=abc&p=1"),
    "arabic": cursor("o=1").replace("=", "١"),
}


@pytest.mark.parametrize("path", [*LISTS, "suppliers/"])
@pytest.mark.parametrize("word", CURSORS)
def test_a_cursor_that_is_none(firm, path, word):
    assert firm.phone.get(path, cursor=CURSORS[word]).status_code in {200, 404}


@pytest.mark.parametrize("size", ["0", "-1", "00", "1.5", "1e2", "abc", "\0", "١", " 5"])
@pytest.mark.parametrize("path", ["parts/", "lives/sensitivity/", "spells/"])
def test_a_page_size_that_is_none(firm, path, size):
    answer = firm.phone.get(path, page_size=size)
    assert (answer.status_code, answer.json()["field"]) == (400, "page_size")


@pytest.mark.parametrize("size", [BIG, "9" * 5000, "501", ""])
def test_a_page_size_beyond_what_is_given(firm, size):
    assert firm.phone.get("parts/", page_size=size).status_code == 200


FILTERS = [
    ("visits/", "day"),
    ("visits/", "from"),
    ("visits/", "to"),
    ("visits/", "engineer"),
    ("visits/", "booked"),
    ("visits/", "job"),
    ("jobs/", "kind"),
    ("jobs/", "from"),
    ("jobs/", "appliance"),
    ("jobs/", "open"),
    ("appliances/", "search"),
    ("appliances/", "model"),
    ("parts/", "search"),
    ("parts/", "fits"),
    ("parts/", "component"),
    ("places/", "kind"),
    ("places/", "mine"),
    ("places/van one/stock/", "part"),
    ("places/van one/stock/", "there"),
    ("loads/", "van"),
    ("loads/", "accepted"),
    ("lives/", "by"),
    ("lives/", "level"),
    ("lives/", "as_of"),
    ("lives/", "care_window"),
    ("lives/", "component"),
    ("lives/", "model"),
    ("lives/sensitivity/", "component"),
]
VALUES = [
    "1e400",
    BIG,
    "NaN",
    "\0",
    "a\0b",
    "9999-12-31",
    "0001-01-01",
    "10000-01-01",
    "0001-01-01T00:00:00+14:00",
    "9999-12-31T23:59:59-14:00",
    "x" * 5000,
    "%",
    "١",
    "' OR 1=1 --",
]


@pytest.mark.parametrize(("path", "name"), FILTERS)
def test_a_filter_s_value_that_is_none(firm, path, name):
    for value in VALUES:
        assert firm.phone.get(path, **{name: value}).status_code in {200, 400}, value


FIGURES = {
    "spells/": ["component", "appliance", "model", "closed_by", "failed", "clock", "as_of", "care_window", "silence"],
    "failures/": ["by", "component", "model", "maker", "supplier", "as_of"],
    "forecasts/": ["component", "van", "days", "by", "level", "as_of"],
    "alarms/": ["kind", "component", "model", "part", "supplier", "as_of"],
    "alarms/none/parts/": ["in_place", "in_guarantee", "as_of"],
    "appliances/W-1/components/": ["as_of"],
}


@pytest.mark.parametrize("path", FIGURES)
def test_values_that_are_none_where_figures_are_asked_for(firm, path):
    owner = Phone(OwnerFactory())
    for name in FIGURES[path]:
        for value in VALUES:
            assert owner.get(path, **{name: value}).status_code in {200, 400, 404}, (name, value)


@pytest.mark.parametrize("path", ["spells/", "failures/", "forecasts/", "alarms/"])
@pytest.mark.parametrize("word", CURSORS)
def test_a_cursor_that_is_none_where_figures_are_asked_for(firm, path, word):
    assert Phone(OwnerFactory()).get(path, cursor=CURSORS[word]).status_code in {200, 404}


@pytest.mark.parametrize("raw", ["%ed%a0%80", "%ff", "a%00b", "%F0%9F%94%A7"])
def test_bytes_in_the_address_that_are_no_text(firm, raw):
    for address in (f"parts/?search={raw}", f"parts/{raw}/", f"parts/{raw}/where/", f"places/{raw}/stock/"):
        answer = firm.phone.client.get(f"/api/v1/{address}", headers=firm.phone.headers)
        assert answer.status_code in {200, 400, 404}, address


@pytest.mark.parametrize("number", [BIG, str(2**63), "1%00", "0", "-1", "1e400", "NaN", "x" * 3000])
def test_a_number_in_the_address_that_is_none(firm, number):
    for path in (
        "visits/{}/",
        "jobs/{}/",
        "appliances/{}/",
        "appliances/{}/components/",
        "parts/{}/",
        "parts/{}/where/",
        "places/{}/stock/",
    ):
        answer = firm.phone.client.get(f"/api/v1/{path.format(number)}", headers=firm.phone.headers)
        assert answer.status_code == 404, path
    assert firm.phone.delete(f"devices/{number}/").status_code == 404


HORRORS = {
    "2^63": 2**63,
    "25 digits": int(BIG),
    "25 digits as text": BIG,
    "5000 digits as text": "9" * 5000,
    "negative": -1,
    "nothing": None,
    "true": True,
    "list": [1],
    "deep": [[[[[[[[1]]]]]]]],
    "object": {"a": 1},
    "empty": "",
    "blank": "   ",
    "nul": "a\0b",
    "half a character": "\ud800",
    "arabic digit": "\u0661",
    "underscore": "1_0",
    "exponent": "1e5",
    "hexadecimal": "0x10",
    "infinite": "Infinity",
    "nan": "NaN",
    "minus nought": -0.0,
    "tiny": 1e-300,
    "year 1": "0001-01-01T00:00:00+14:00",
    "year 9999": "9999-12-31T23:59:59-14:00",
    "newline": "a\nb",
    "right to left": "\u202eabc",
}
BODIES = {
    "fitted/": {
        "visit": "104233",
        "part": "PMP-3",
        "component": "circulating-pump",
        "quantity": 1,
        "why": "failed",
        "appliance": "W-1",
        "position": 1,
        "from": "van one",
        "happened_at": "2026-11-25T10:00:00Z",
    },
    "needed/": {"visit": "104233", "component": "gas-valve", "quantity": 1, "part": "GV-COPY"},
    "bought/": {"supplier": "dunmere", "part": "PMP-3", "quantity": 1, "price": 1, "ticket": "t", "job": "7001"},
    "taken-out/": {"fitted": new_id(), "condition": "new"},
    "outcomes/": {"visit": "104233", "outcome": "fixed", "minutes": 30},
    "counts/": {"place": "van one", "upto": 1, "lines": [{"part": "PMP-3", "quantity": 1}]},
    "passes/": {"from": "van one", "to": "van two", "part": "PMP-3", "quantity": 1},
}
FIELDS = [(path, name) for path, body in BODIES.items() for name in ["id", *body]]


@pytest.mark.parametrize(("path", "name"), FIELDS)
def test_a_value_in_a_body_that_is_none(firm, path, name):
    for word, value in HORRORS.items():
        answer = firm.phone.post(path, {"id": new_id()} | BODIES[path] | {name: value})
        assert answer.status_code in {200, 201, 400}, word
        if answer.status_code == 400 and path != "taken-out/":
            assert answer.json()["field"] == name, word


@pytest.mark.parametrize("name", ["part", "quantity"])
def test_a_value_in_a_count_s_line_that_is_none(firm, name):
    for word, value in HORRORS.items():
        lines = [{"part": "PMP-3", "quantity": 1, name: value}]
        answer = firm.phone.post("counts/", {"id": new_id(), "place": "van one", "lines": lines})
        assert answer.status_code in {201, 400}, word


RAW = {
    "1e400": '{"quantity": 1e400}',
    "1e999999999": '{"quantity": 1e999999999, "id": 1e999999999}',
    "bad utf-8": b'{"id": "\xff"}',
    "deep": "[" * 100_000,
    "deep and closed": "[" * 900 + "]" * 900,
    "deep object": '{"a":' * 900 + "1" + "}" * 900,
    "5000 digits": '{"quantity": %s}' % ("9" * 5000),
    "twice the same name": '{"quantity": 1, "quantity": 2}',
    "utf-16": '{"id": 1}'.encode("utf-16"),
    "nothing": b"",
    "a byte order mark": b'\xef\xbb\xbf{"id": 1}',
}


@pytest.mark.parametrize("path", [*BODIES, "sync/", "sign-in/"])
def test_a_body_that_is_none(firm, path):
    for word, raw in RAW.items():
        assert firm.phone.post(path, raw).status_code in {400, 429}, word
    for value in ([1], None, "x", 1, True, {}):
        assert firm.phone.post(path, json.dumps(value)).status_code in {400, 429}


@pytest.mark.parametrize("path", BODIES)
def test_the_same_horrors_in_a_batch_are_refused_one_by_one(firm, path):
    kind = path.strip("/")
    events = [
        {"id": new_id(), "number": number, "kind": kind, "body": BODIES[path] | {name: value}}
        for number, (name, value) in enumerate((name, value) for name in BODIES[path] for value in HORRORS.values())
    ]
    answer = firm.phone.post("sync/", {"device": "x", "events": events[:250]})
    assert answer.status_code == 200
    refused = [result["problem"]["status"] for result in answer.json()["results"] if result["status"] == "refused"]
    assert refused
    assert set(refused) == {400}
