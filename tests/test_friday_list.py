"""What else the kept list tells: slow parts, dead stock, this week's card, the command for Fridays."""

import io
import json
import uuid

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from jobs.models import MoveList
from jobs.services import kept_moves
from tests.moves_firm import firm_with_moves
from tests.test_pages_back_tests import finished
from tests.test_pages_moving import press

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return firm_with_moves()


@pytest.fixture
def office(client, firm):
    client.force_login(firm.office)
    return client


def test_slow_parts_show_their_sum_the_one_place_and_where_they_are(office, firm):
    page = office.get(reverse("slow_list")).content.decode()
    for words in ("£893", "van 2: 1", "Dear and slow.", "1 part"):
        assert words in page
    only = office.get(reverse("slow_list"), {"place": "none", "where": "elsewhere"}).content.decode()
    assert "1 of 2 lines" in only


def test_dead_stock_shows_what_to_do_with_each_line_and_its_sum(office, firm):
    page = office.get(reverse("dead_list")).content.decode()
    for words in ("£40", "Pass to van 2", "Write it off", "1 line without a known cost", "2 Oct 2024"):
        assert words in page
    assert "1 of 2 lines" in office.get(reverse("dead_list"), {"advice": "write-off"}).content.decode()


def test_this_week_counts_what_is_still_to_move_and_names_the_last_back_test(client, firm):
    client.force_login(firm.owner)
    page = client.get(reverse("week")).content.decode()
    assert "1 line to pass to another van, 1 back to the store" in page
    assert "£100" in page
    assert "Nobody has tried yet" in page
    test = finished()
    press(client, "move_done", firm.passing.pk)
    page = client.get(reverse("week")).content.decode()
    assert "no lines to pass to another van, 1 back to the store" in page
    assert "+14.8 points" in page
    assert reverse("back_test_detail", args=[test.pk]) in page


def test_the_command_works_the_list_out_keeps_it_and_prints_its_first_lines(firm):
    out = io.StringIO()
    call_command("friday_list", "--json", stdout=out)
    assert json.loads(out.getvalue()) == []
    call_command("friday_list", stdout=out)
    assert "Nothing is worth passing on." in out.getvalue()
    assert MoveList.objects.filter(problem="").exclude(finished_at=None).count() == 3
    with pytest.raises(CommandError, match="1 or more"):
        call_command("friday_list", "--most", "0")
    kept_moves.begin(event=uuid.uuid4())
    with pytest.raises(CommandError, match="running already"):
        call_command("friday_list", stdout=out)
