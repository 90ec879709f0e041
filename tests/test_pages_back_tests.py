"""The pages of back-tests: begun once, watched, read with ranges, also where the simple rule wins."""

import csv
import datetime
import io
import threading
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import BackTest
from jobs.services import kept_backtests, long_work
from tests import factories as make
from tests.small_firm import small_firm

pytestmark = pytest.mark.django_db
DAYS = {"first": "2025-01-01", "last": "2025-03-31"}
GAIN = {"points": 14.8, "low": 10.7, "high": 18.8, "visits": 61, "money": 3660, "money_low": 2500, "money_high": 4700}
LOSS = {"points": -19.7, "low": -24.7, "high": -14.8, "visits": -81, "money": -4860, "money_low": -6000}
INPUTS = {"second_visit": 90.0, "holding_per_year": 0.25, "window_days": 90, "vans": [{"van": "van 1", "litres": 120}]}


@pytest.fixture
def firm():
    return small_firm()


@pytest.fixture
def owner(client, firm):
    client.force_login(firm.owner)
    return client


def finished(**changes):
    """A back-test that is done: the rule is beaten, the vans as they were are not."""
    result = {
        "jobs": 412, "proposal": 0.454, "rule": 0.306, "fact": 0.65, "cash": 2100.0, "cash_today": 3564.0,
        "against_rule": GAIN | {"jobs": 412}, "against_fact": LOSS | {"jobs": 412, "money_high": -3600},
        "periods": [
            {"first": "2025-01-01", "last": "2025-03-31", "jobs": 200, "proposal": 90, "rule": 61, "fact": 130,
             "cash": 2000.0},
            {"first": "2025-04-01", "last": "2025-06-29", "jobs": 0, "proposal": 0, "rule": 0, "fact": 0, "cash": 2200},
        ],
    }  # fmt: skip
    day = datetime.date(2025, 1, 1)
    return BackTest.objects.create(
        event=uuid.uuid4(), first=day, last=datetime.date(2025, 6, 29), steps=2, done=2, inputs=INPUTS,
        finished_at=timezone.now(), result=result | changes,
    )  # fmt: skip


def begin(client, event=None, **days):
    return client.post(reverse("back_test_new"), {"event": event or str(uuid.uuid4()), **DAYS, **days})


def page_of(client, test):
    return client.get(reverse("back_test_detail", args=[test.pk])).content.decode()


def test_the_days_of_the_last_year_stand_in_the_form(owner):
    page = owner.get(reverse("back_test_list")).content.decode()
    first, last = kept_backtests.usual_days(timezone.localdate())
    assert f'value="{first}"' in page
    assert f'value="{last}"' in page
    assert "None yet" in page


def test_a_back_test_is_begun_once_though_the_browser_sends_it_twice(owner, firm):
    event = str(uuid.uuid4())
    first, second = begin(owner, event), begin(owner, event)
    assert first.status_code == second.status_code == 302
    assert first.url == second.url
    test = BackTest.objects.get()
    assert (test.made_by, test.state) == (firm.owner, "running")
    assert "about to begin" in owner.get(first.url).content.decode()


def test_a_second_one_is_refused_while_one_runs(owner):
    begin(owner)
    answer = begin(owner)
    assert answer.status_code == 400
    assert "one runs at a time" in answer.content.decode()
    assert BackTest.objects.count() == 1


def test_one_whose_process_died_says_so_and_gives_way(owner):
    begin(owner)
    BackTest.objects.update(moved_at=timezone.now() - datetime.timedelta(minutes=11))
    page = page_of(owner, BackTest.objects.get())
    assert "Stopped, run again" in page
    assert "Run it again" in page
    assert begin(owner).status_code == 302
    old = BackTest.objects.order_by("pk").first()
    assert (old.state, old.problem) == ("failed", long_work.STOPPED)


@pytest.mark.parametrize(
    "days",
    [{"last": "2999-01-01"}, {"first": "2025-04-01"}, {"first": "x"}, {"first": "2019-01-01"}, {"first": "0001-01-01"}],
)
def test_days_that_cannot_be_replayed_are_refused_and_keep_what_was_typed(owner, days):
    answer = begin(owner, **days)
    assert answer.status_code == 400
    assert next(iter(days.values())) in answer.content.decode()
    assert not BackTest.objects.exists()


def test_what_was_given_up_is_not_kept_by_the_thread_that_still_runs(db):
    test = kept_backtests.begin(datetime.date(2025, 1, 1), datetime.date(2025, 1, 31), event=uuid.uuid4())

    def taken_for_dead(_day):
        BackTest.objects.update(running=None, finished_at=timezone.now(), problem=long_work.STOPPED)

    assert kept_backtests.work_off(test.pk, told=taken_for_dead).problem == long_work.STOPPED


def test_work_is_worked_off_once(db):
    test = kept_backtests.begin(datetime.date(2025, 1, 1), datetime.date(2025, 1, 31), event=uuid.uuid4())
    first = kept_backtests.work_off(test.pk)
    again = kept_backtests.work_off(test.pk, told=pytest.fail)
    assert (again.finished_at, again.done) == (first.finished_at, 1)


def test_of_two_begun_at_the_same_moment_the_database_lets_one_run(db):
    day = datetime.date(2025, 1, 1)
    BackTest.objects.create(event=uuid.uuid4(), first=day, last=day, running=True)
    other = BackTest.objects.create(event=uuid.uuid4(), first=day, last=day)
    assert kept_backtests.work_off(other.pk, told=pytest.fail).problem == long_work.ANOTHER


def test_the_page_names_winner_ranges_and_holding_also_where_the_proposal_loses(owner):
    page = page_of(owner, finished())
    for words in (
        "finishes 14.8 points of first visits more than the simple rule",
        "The vans as they were would have finished 19.7 points of first visits more than the proposal",
        "likely between +10.7 and +18.8",
        "likely between £2,500 and £4,700",
        "The vans hold £3,564 each today",
        "drawing whole weeks again",
        "120 litres",
        "187 jobs at the first visit",
        "1 Jan 25 to 31 Mar 25",
    ):
        assert words in page, words


def test_the_simple_rule_is_named_where_it_wins(owner):
    page = page_of(owner, finished(against_rule=LOSS | {"jobs": 412, "money_high": -1}))
    assert "The simple rule would have finished 19.7 points of first visits more than the proposal" in page
    assert "Proposal behind" in page


def test_without_jobs_the_page_says_that_there_is_nothing_to_compare(owner):
    nothing = {"points": 0, "low": 0, "high": 0, "visits": 0, "money": 0, "jobs": 0}
    test = finished(jobs=0, periods=[], against_rule=nothing, against_fact=nothing)
    assert "nothing to compare" in page_of(owner, test)


def test_the_periods_leave_as_a_file(owner):
    answer = owner.get(reverse("back_test_detail", args=[finished().pk]) + "?export=csv")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0][:3] == ["Period", "Jobs", "Proposal"]
    assert rows[1][:3] == ["1 Jan 25 to 31 Mar 25", "200", "0.45"]


def test_a_poll_of_a_finished_one_asks_for_the_whole_page_and_a_sorted_table_does_not(owner):
    address = reverse("back_test_detail", args=[finished().pk])
    assert owner.get(address, headers={"HX-Request": "true", "HX-Target": "progress"})["HX-Refresh"] == "true"
    sorted_page = owner.get(address + "?sort=jobs", headers={"HX-Request": "true", "HX-Target": "table-main"})
    assert "HX-Refresh" not in sorted_page


def test_the_list_costs_the_same_queries_however_long_it_is(owner):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            assert "412" in owner.get(reverse("back_test_list")).content.decode()
        return len(caught)

    finished()
    queries()
    few = queries()
    for _ in range(4):
        finished()
    assert queries() == few


def test_no_engineer_sees_a_back_test(client, firm):
    client.force_login(firm.engineer)
    test = finished()
    for address in (reverse("back_test_list"), reverse("back_test_detail", args=[test.pk])):
        assert client.get(address).status_code == 403
    assert begin(client).status_code == 403
    assert client.get("/vans/back-tests/999/").status_code == 403


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("file_database")
def test_the_thread_begins_after_the_commit_and_ends_with_a_result(client):
    client.force_login(make.OwnerFactory())
    begin(client)
    for thread in threading.enumerate():
        if thread.name.startswith("long work"):
            thread.join(60)
    test = BackTest.objects.get()
    assert (test.state, test.done, test.running) == ("done", 1, None)
    assert test.result["jobs"] == 0
