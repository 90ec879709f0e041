"""The Friday list and its neighbours: worked out and kept, printed, marked done once, with sums and files."""

import csv
import datetime
import io
import uuid
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import Movement, Stock
from jobs.models import MoveList
from jobs.services import kept_moves, moving
from tests import factories as make
from tests.moves_firm import firm_with_moves, line

pytestmark = pytest.mark.django_db
PAGES = ["move_list", "slow_list", "dead_list"]


@pytest.fixture
def firm():
    return firm_with_moves()


@pytest.fixture
def office(client, firm):
    client.force_login(firm.office)
    return client


def press(client, name, *args, event=None, **typed):
    return client.post(reverse(name, args=args), {"event": event or str(uuid.uuid4()), **typed})


def on_hand(part, place):
    return sum((row.on_hand for row in Stock.objects.filter(part=part, place=place)), D(0))


def test_the_list_says_who_passes_what_to_whom_worth_how_much_and_why(office, firm):
    page = office.get(reverse("move_list")).content.decode()
    for words in ("1 line to hand over, worth about £50 a year", "van 1 (Asha) passes it to van 2 (Bram)", "It saves"):
        assert words.replace("It saves", "There it saves £50.") in page


def test_the_friday_list_has_five_lines(office, firm):
    for rank in range(2, 8):
        line(firm, "pass", firm.van, firm.van2, rank=rank)
    assert office.get(reverse("move_list")).content.decode().count("passes it to") == 5
    assert kept_moves.to_move() == kept_moves.ToMove(5, 1, D("300.24"))


def test_a_line_marked_done_is_booked_once_however_often_it_is_pressed(office, firm):
    event = str(uuid.uuid4())
    for _ in range(2):
        assert press(office, "move_done", firm.passing.pk, event=event).status_code == 302
    other_tab = press(office, "move_done", firm.passing.pk)
    assert other_tab.status_code == 302
    [moved] = Movement.objects.filter(reason=Movement.Reason.PASSED_ON)
    assert (moved.source, moved.destination, moved.quantity, moved.by) == (firm.van, firm.van2, 1, firm.office)
    assert on_hand(firm.part, firm.van2) == 1
    page = office.get(reverse("move_list")).content.decode()
    assert "booked before" in page
    assert f"marked by {firm.office}" in page


def test_what_the_engineer_booked_already_is_confirmed_and_not_booked_twice(office, firm):
    from inventory.services import movements

    fields = {"source": firm.van, "destination": firm.van2, "event": uuid.uuid4(), "by": firm.engineer}
    movements.pass_on(firm.part, D(1), **fields)
    press(office, "move_done", firm.passing.pk)
    assert on_hand(firm.part, firm.van2) == 1
    assert Movement.objects.filter(reason=Movement.Reason.PASSED_ON).count() == 1


def test_a_van_has_its_own_list_and_its_ticked_lines_are_booked_once(office, firm):
    page = office.get(reverse("move_van", args=[firm.van.pk])).content.decode()
    assert "2 lines still to do" in page
    event, lines = str(uuid.uuid4()), [firm.returning.pk]
    for _ in range(2):
        press(office, "move_van_done", firm.van.pk, event=event, line=lines)
    assert on_hand(firm.part, firm.store) == 4
    assert "1 line still to do" in office.get(reverse("move_van", args=[firm.van.pk])).content.decode()


def test_a_line_of_another_van_or_of_no_van_is_not_booked(office, firm):
    press(office, "move_van_done", firm.van2.pk, line=[firm.returning.pk, "x", "²", "99999999999999999999"])
    assert not Movement.objects.filter(reason=Movement.Reason.PASSED_ON).exists()
    assert press(office, "move_done", 99999).status_code == 404


def test_lists_are_worked_out_once_in_the_background_and_return_to_their_page(office, firm):
    event = str(uuid.uuid4())
    for _ in range(2):
        answer = press(office, "move_work_out", event=event, next=reverse("dead_list"))
        assert answer.url == reverse("dead_list")
    assert MoveList.objects.count() == 2
    page = office.get(reverse("move_list")).content.decode()
    assert "Being worked out" in page
    assert "passes it to" in page  # the old list stands until the new one is there
    press(office, "move_work_out")
    assert "One is running already" in office.get(reverse("slow_list")).content.decode()
    assert press(office, "move_work_out", next="https://elsewhere.example/").url == reverse("move_list")


def test_what_failed_says_why_and_leaves_the_last_list(office, firm):
    MoveList.objects.create(event=uuid.uuid4(), as_of=firm.today, finished_at=timezone.now(), problem="No van.")
    page = office.get(reverse("move_list")).content.decode()
    assert "No van." in page
    assert "passes it to" in page


def test_what_is_worked_out_is_kept_and_no_piece_goes_two_ways(firm, monkeypatch):
    passed = moving.Move(firm.part, firm.van, firm.van2, 1, 50.0, "There it saves more.")
    back = moving.Move(firm.part, firm.van, firm.store, 1, 20.0, "Here it saves nothing.")
    found = moving.Reckoned((passed,), (back,), (), ())
    assert list(kept_moves._left(found)) == []
    make.put(firm.part, firm.van, 1)
    assert list(kept_moves._left(found)) == [back]


def test_a_firm_is_worked_out_from_its_records(firm):
    begun = kept_moves.begin(event=uuid.uuid4(), by=firm.office)
    done = kept_moves.work_off(begun.pk)
    assert (done.state, done.problem) == ("done", "")
    assert kept_moves.newest() == done
    assert kept_moves.work_off(begun.pk).finished_at == done.finished_at


@pytest.mark.parametrize("name", PAGES)
def test_each_list_leaves_as_a_file(office, name):
    rows = list(csv.reader(io.StringIO(office.get(reverse(name) + "?export=csv").content.decode("utf-8-sig"))))
    assert rows[0][0] == "Part"
    assert len(rows) >= 2


@pytest.mark.parametrize("name", PAGES)
def test_a_firm_without_a_list_is_told_to_work_it_out(client, name):
    client.force_login(make.OwnerFactory())
    page = client.get(reverse(name)).content.decode()
    assert "Work it out" in page
    assert "anew" not in page


@pytest.mark.parametrize("name", PAGES)
def test_no_list_is_for_an_engineer(client, firm, name):
    client.force_login(firm.engineer)
    assert client.get(reverse(name)).status_code == 403
    assert press(client, "move_done", firm.passing.pk).status_code == 403
    assert client.get(reverse("move_van", args=[firm.van.pk])).status_code == 403


@pytest.mark.parametrize("name", PAGES)
def test_a_list_costs_the_same_queries_however_long_it_is(office, firm, name):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            assert office.get(reverse(name)).status_code == 200
        return len(caught)

    queries()
    few = queries()
    for rank in range(2, 6):
        line(firm, "pass", firm.van, firm.van2, rank=rank)
        line(firm, "return", firm.van2, firm.store, rank=rank)
    firm.moves.slow *= 4
    firm.moves.dead *= 4
    firm.moves.save()
    assert queries() == few


@pytest.mark.parametrize("text", ["\0", "²", "99999999999999999999", "-1", "<script>", "é" * 300])
def test_whatever_is_typed_into_an_address_never_breaks_a_list(office, firm, text):
    asked = dict.fromkeys(["q", "sort", "page", "van", "state", "place", "where", "advice", "export"], text)
    for name in PAGES:
        assert office.get(reverse(name), asked).status_code == 200


def test_no_id_stands_twice_on_a_page(office, firm):
    import re

    line(firm, "pass", firm.van2, firm.van, rank=2)
    for address in [*map(reverse, PAGES), reverse("move_van", args=[firm.van.pk])]:
        found = re.findall(r'\sid="([^"]+)"', office.get(address).content.decode())
        assert len(found) == len(set(found)), address


def test_a_list_that_died_says_so(office, firm):
    died = MoveList.objects.create(event=uuid.uuid4(), as_of=firm.today)
    MoveList.objects.filter(pk=died.pk).update(moved_at=timezone.now() - datetime.timedelta(minutes=11))
    assert "Work it out again" in office.get(reverse("move_list")).content.decode()
