"""Expensive figures are kept until something is recorded; a page never waits long for them."""

from contextvars import ContextVar
from datetime import timedelta
from threading import Event
from uuid import uuid4

import pytest
from django.contrib.admin.models import ADDITION, LogEntry
from django.core.cache import cache, caches
from django.db import connection, transaction
from django.test import RequestFactory

from firm.models import Sent
from jobs import figures
from jobs.models import Job
from tests.factories import JobFactory, OwnerFactory, PriceFactory, StoreFactory
from tests.firm_folder import WHOLE, take_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def slow(monkeypatch):
    """Everything counts as slow, and a thread's work waits until the test lets it go on. Gives what makes figures."""
    cache.clear()
    monkeypatch.setattr(figures, "PATIENCE", -1.0)
    begun = []

    class Now:
        def __init__(self, target, args, daemon):
            self.work = lambda: target(*args)

        def start(self):
            begun.append(self.work)

    monkeypatch.setattr(figures, "Thread", Now)
    monkeypatch.setattr(connection, "close", lambda: None)  # the work is done here, on the test's own connection
    return begun


def jobs_counted():
    return figures.kept("jobs", Job.objects.count)


def page(view, path="/failures/"):
    return figures.behind_newest(lambda request: (view(), figures.behind(request)["behind"]))(
        RequestFactory().get(path)
    )


def test_figures_are_made_once_until_something_is_recorded():
    cache.clear()
    made = []
    for _ in range(2):
        figures.kept("made", lambda: made.append(1) or len(made))
    JobFactory()
    assert figures.kept("made", lambda: made.append(1) or len(made)) == 2


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
    assert page(lambda: figures.kept("twice", lambda: 2 * jobs_counted())) == (2, "")


def test_a_failed_reckoning_beside_a_page_is_tried_again(slow, caplog):
    page(jobs_counted)
    JobFactory()
    wrong = Event()

    def counted():
        if not wrong.is_set():
            wrong.set()
            raise ValueError("broken")
        return Job.objects.count()

    page(lambda: figures.kept("jobs", counted))
    slow.pop()()
    assert "failed" in caplog.text
    page(lambda: figures.kept("jobs", counted))
    slow.pop()()
    assert page(jobs_counted) == (1, "")


def test_what_rests_on_work_alone_is_kept_when_stock_moves_or_prices_change():
    cache.clear()
    made = []

    def lives():
        return figures.kept("lives", lambda: made.append(1) or len(made), of_work=True)

    lives()
    PriceFactory()
    StoreFactory()
    Sent.objects.create(uuid=uuid4(), kind="counts", digest=b"1" * 32)
    assert lives() == 1
    Sent.objects.create(uuid=uuid4(), kind="earlier", digest=b"2" * 32)
    assert lives() == 2
    JobFactory()
    assert lives() == 3


def started_anew():
    """What this process remembers is gone, as after a restart."""
    cache.clear()


def test_figures_outlive_the_process_that_reckoned_them(figures_in_files):
    assert jobs_counted() == 0
    started_anew()
    assert figures.kept("jobs", lambda: "reckoned anew") == 0
    JobFactory()
    assert jobs_counted() == 1


def test_what_is_too_large_stays_in_its_process(figures_in_files):
    figures.kept("grid", lambda: "large", large=True)
    assert list(figures_in_files.iterdir()) == []
    assert figures.kept("grid", lambda: "reckoned anew", large=True) == "large"
    started_anew()
    assert figures.kept("grid", lambda: "reckoned anew", large=True) == "reckoned anew"


def test_of_what_is_large_a_process_remembers_the_last_alone_and_shows_no_older_one(slow):
    def grid(*parts):
        return figures.kept("grid", lambda: (parts, Job.objects.count()), *parts, large=True)

    assert (grid(1), grid(2), grid(1)) == (((1,), 0), ((2,), 0), ((1,), 0))
    JobFactory()
    assert page(lambda: grid(1)) == (((1,), 1), "")


def test_another_release_never_shows_what_this_one_reckoned(figures_in_files, monkeypatch):
    jobs_counted()
    monkeypatch.setattr(figures, "CODE", "the next release")
    assert figures.kept("jobs", lambda: "reckoned anew") == "reckoned anew"


def test_another_database_never_shows_figures_of_this_one(figures_in_files):
    jobs_counted()
    with connection.cursor() as cursor:  # as many rows, made at another moment
        cursor.execute("UPDATE django_migrations SET applied = '2031-01-01 00:00:00+00:00'")
    assert figures.kept("jobs", lambda: "reckoned anew") == "reckoned anew"


def test_records_put_back_from_a_copy_never_show_figures_of_what_was_lost(figures_in_files):
    def sent():
        return Sent.objects.bulk_create([Sent(pk=7, uuid=uuid4(), kind="earlier", digest=b"1" * 32)])

    copy = transaction.savepoint()
    sent()
    figures.kept("lives", lambda: "of what was lost", of_work=True)
    transaction.savepoint_rollback(copy)
    sent()  # as many rows, with the same keys
    assert figures.kept("lives", lambda: "reckoned anew", of_work=True) == "reckoned anew"


def test_a_change_by_the_admin_pages_is_seen(figures_in_files):
    jobs_counted()
    LogEntry.objects.create(user=OwnerFactory(), action_flag=ADDITION, object_repr="a component type")
    assert figures.kept("jobs", lambda: "reckoned anew") == "reckoned anew"


@pytest.mark.parametrize("content", [b"", b"half a file", b"\x80\x05K\x01.junk"])
def test_a_broken_file_is_reckoned_anew(figures_in_files, content, caplog):
    jobs_counted()
    for file in figures_in_files.iterdir():
        file.write_bytes(content)
    assert figures.kept("jobs", lambda: "reckoned anew") == "reckoned anew"
    assert figures.kept("jobs", lambda: "and again") == "reckoned anew"


def test_a_folder_that_takes_nothing_costs_time_only(figures_in_files, caplog, monkeypatch):
    monkeypatch.setattr(caches["figures"], "_dir", str(figures_in_files / "none" / "such"))
    monkeypatch.setattr(caches["figures"], "_createdir", lambda: None)
    assert jobs_counted() == 0
    assert "could not be kept" in caplog.text


def test_after_half_an_hour_figures_are_reckoned_anew(monkeypatch):
    jobs_counted()
    monkeypatch.setattr(figures, "_valid", ContextVar("valid", default=timedelta(0)))
    assert figures.kept("jobs", lambda: "reckoned anew") == "reckoned anew"


def test_commands_reckon_for_themselves(figures_in_files, settings):
    jobs_counted()
    settings.SHARED_FIGURES = False
    started_anew()
    assert figures.kept("jobs", lambda: "reckoned anew") == "reckoned anew"


def test_an_import_forgets_what_was_reckoned_from_the_rows_it_changed(
    figures_in_files, tmp_path_factory, django_capture_on_commit_callbacks
):
    take_in(tmp_path_factory.mktemp("firm"), WHOLE)
    figures.kept("lives", lambda: "of the old rows", of_work=True)
    with django_capture_on_commit_callbacks(execute=True):
        take_in(tmp_path_factory.mktemp("firm"), WHOLE)
    assert figures.kept("lives", lambda: "reckoned anew", of_work=True) == "reckoned anew"
