"""Expensive figures are kept until something is recorded; a page never waits long for them."""

from threading import Event
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import RequestFactory

from firm.models import Sent
from jobs import stamp
from jobs.models import Job
from tests.factories import JobFactory, PriceFactory, StoreFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def slow(monkeypatch):
    """Everything counts as slow, and a thread's work waits until the test lets it go on. Gives what makes figures."""
    cache.clear()
    monkeypatch.setattr(stamp, "PATIENCE", -1.0)
    begun = []

    class Now:
        def __init__(self, target, args, daemon):
            self.work = lambda: target(*args)

        def start(self):
            begun.append(self.work)

    monkeypatch.setattr(stamp, "Thread", Now)
    monkeypatch.setattr(connection, "close", lambda: None)  # the work is done here, on the test's own connection
    return begun


def jobs_counted():
    return stamp.kept("jobs", Job.objects.count)


def page(view, path="/failures/"):
    return stamp.behind_newest(lambda request: (view(), stamp.behind(request)["behind"]))(RequestFactory().get(path))


def test_figures_are_made_once_until_something_is_recorded():
    cache.clear()
    made = []
    for _ in range(2):
        stamp.kept("made", lambda: made.append(1) or len(made))
    JobFactory()
    assert stamp.kept("made", lambda: made.append(1) or len(made)) == 2


def test_a_page_shows_what_stood_and_says_so_while_slow_figures_are_made_anew(slow):
    assert page(jobs_counted) == (0, "")
    JobFactory()
    count, told = page(jobs_counted)
    assert count == 0
    assert told.startswith("Figures of ")
    assert page(jobs_counted)[0] == 0
    assert len(slow) == 1  # two who ask start the work once
    slow.pop()()
    assert page(jobs_counted) == (1, "")


def test_commands_and_the_api_wait_for_the_newest_records(slow):
    page(jobs_counted)
    JobFactory()
    assert jobs_counted() == 1
    JobFactory()
    assert page(jobs_counted, "/api/v1/lives/") == (2, "")


def test_figures_that_rest_on_others_never_rest_on_old_ones(slow):
    page(jobs_counted)
    JobFactory()
    assert page(lambda: stamp.kept("twice", lambda: 2 * jobs_counted())) == (2, "")


def test_a_failed_reckoning_beside_a_page_is_tried_again(slow, caplog):
    page(jobs_counted)
    JobFactory()
    wrong = Event()

    def counted():
        if not wrong.is_set():
            wrong.set()
            raise ValueError("broken")
        return Job.objects.count()

    page(lambda: stamp.kept("jobs", counted))
    slow.pop()()
    assert "failed" in caplog.text
    page(lambda: stamp.kept("jobs", counted))
    slow.pop()()
    assert page(jobs_counted) == (1, "")


def test_what_rests_on_work_alone_is_kept_when_stock_moves_or_prices_change():
    cache.clear()
    made = []

    def lives():
        return stamp.kept("lives", lambda: made.append(1) or len(made), of_work=True)

    lives()
    PriceFactory()
    StoreFactory()
    Sent.objects.create(uuid=uuid4(), kind="counts", digest=b"1" * 32)
    assert lives() == 1
    Sent.objects.create(uuid=uuid4(), kind="earlier", digest=b"2" * 32)
    assert lives() == 2
    JobFactory()
    assert lives() == 3
