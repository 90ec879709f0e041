"""Loads, moves, slow and dead stock, store levels and back-tests over the API: shapes, filters, who sees costs."""

import datetime
import uuid
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import CarryLevel
from jobs.models import BackTest, LoadLine, LoadProposal, MoveLine, MoveList
from tests import factories as make
from tests.api_phone import Phone
from tests.moves_firm import dead, line, slow
from tests.small_firm import small_firm
from tests.test_pages_back_tests import finished

pytestmark = pytest.mark.django_db
OFFICE_ONLY = ["slow-parts/", "dead-stock/", "store-levels/", "back-tests/"]


@pytest.fixture
def firm():
    firm = small_firm()
    firm.moves = MoveList.objects.create(event=uuid.uuid4(), as_of=firm.today, finished_at=timezone.now())
    firm.moves.slow = [slow(firm, "van 1", 12.0), slow(firm, None, 0.0)]
    firm.moves.dead = [dead(firm, "pass-on", 40.0, to="van 2"), dead(firm, "write-off", None)]
    firm.moves.save()
    line(firm, "pass", firm.van, firm.van2)
    line(firm, "return", firm.van, firm.store)
    firm.phone, firm.desk = Phone(firm.engineer), Phone(firm.office)
    return firm


def rows(answer):
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def test_moves_are_the_newest_list_without_money_for_an_engineer(firm):
    [passing, returning] = rows(firm.phone.get("moves/"))
    assert (passing["kind"], passing["giver"], passing["taker"]) == ("pass", "van 1", "van 2")
    assert (passing["worth_per_year"], passing["why"], returning["taker"]) == (None, None, "store")
    assert rows(firm.desk.get("moves/", kind="return"))[0]["worth_per_year"] == 50.04
    MoveLine.objects.filter(kind="pass").update(done_at=timezone.now())
    assert [row["kind"] for row in rows(firm.desk.get("moves/", done="no", giver="van 1", part="104233"))] == ["return"]


def test_a_list_that_is_not_worked_out_yet_takes_nothing_away(firm):
    MoveList.objects.create(event=uuid.uuid4(), as_of=firm.today)
    assert len(rows(firm.desk.get("moves/"))) == 2


def test_slow_parts_and_dead_stock_name_place_advice_and_day(firm):
    answer = firm.desk.get("slow-parts/", place="van 1").json()
    assert (answer["count"], answer["as_of"]) == (1, firm.today.isoformat())
    assert answer["results"][0]["free_now"] == [{"place": "van 2", "pieces": 1.0}]
    [row] = rows(firm.desk.get("dead-stock/", advice="pass-on"))
    assert (row["to"], row["value"], row["last_use"]) == ("van 2", 40.0, "2024-10-02")
    assert "part_pk" not in row


def test_store_levels_say_when_to_order_how_much(firm):
    CarryLevel.objects.create(place=firm.store, part=firm.part, level=2)
    [row] = rows(firm.desk.get("store-levels/", part="104233"))
    assert (row["supplier"], row["price"]) == (firm.supplier.key, 48.0)
    assert row["quantity"] >= 1
    assert "Order" in row["words"]
    assert rows(firm.desk.get("store-levels/", supplier="nobody")) == []


def test_back_tests_are_listed_with_ranges_periods_and_state(firm):
    test = finished()
    BackTest.objects.create(event=uuid.uuid4(), first=test.first, last=test.last)
    [running] = rows(firm.desk.get("back-tests/", finished="no"))
    assert (running["state"], running["result"]) == ("running", None)
    found = firm.desk.get(f"back-tests/{test.pk}/").json()["result"]
    assert (found["against_rule"]["low"], found["periods"][0]["rule"]) == (10.7, 61)
    assert len(rows(firm.desk.get("back-tests/", **{"from": "2025-01-01", "to": "2025-06-29"}))) == 2
    assert firm.desk.get("back-tests/99999/").status_code == 404


def test_a_load_names_what_flips_what_is_damped_and_what_fixing_costs_who_may_see(firm):
    proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.van, as_of=firm.today, result={"frontier": []})
    fields = {"now": 1, "proposed": 1, "best": 2, "damped": True, "flips": True, "cost_of_fixing": D("14.00")}
    LoadLine.objects.create(proposal=proposal, part=firm.part, **fields)
    [shown] = rows(firm.desk.get("loads/"))[0]["lines"]
    assert (shown["best"], shown["damped"], shown["flips"], shown["cost_of_fixing"]) == (2, True, True, 14.0)
    [shown] = rows(firm.phone.get("loads/"))[0]["lines"]
    assert (shown["flips"], shown["cost_of_fixing"]) == (True, None)


@pytest.mark.parametrize("path", OFFICE_ONLY)
def test_what_names_costs_is_for_the_office(firm, path):
    assert firm.phone.get(path).status_code == 403
    assert firm.desk.client.get(f"/api/v1/{path}").status_code == 401


@pytest.mark.parametrize("path", [*OFFICE_ONLY, "moves/"])
def test_a_firm_with_nothing_in_it_gets_empty_lists(path):
    assert rows(Phone(make.OfficeFactory()).get(path)) == []


@pytest.mark.parametrize("path", [*OFFICE_ONLY, "moves/"])
@pytest.mark.parametrize("text", ["\0", "²", "-1", "x" * 200, "2026-13-45"])
def test_wrong_filters_are_refused_or_find_nothing(firm, path, text):
    asked = dict.fromkeys(["kind", "done", "part", "place", "advice", "supplier", "from", "finished", "cursor"], text)
    for name, value in asked.items():
        answer = firm.desk.get(path, **{name: value})
        assert answer.status_code in {200, 400, 404}, (name, answer.content)


def test_moves_cost_the_same_queries_however_many_there_are(firm):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            rows(firm.desk.get("moves/"))
        return len(caught)

    queries()
    few = queries()
    for rank in range(2, 6):
        line(firm, "return", firm.van2, firm.store, rank=rank)
    assert queries() == few
    assert datetime.date.fromisoformat(rows(firm.desk.get("moves/"))[0]["as_of"]) == firm.today
