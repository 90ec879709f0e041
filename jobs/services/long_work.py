"""Long work in the background: begun once, one of a kind at a time, given up when its process died."""

import logging
import threading
from collections.abc import Callable
from functools import partial
from typing import TypeVar

from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from jobs.models.long_work import LongWork

STOPPED = "It stopped before it was done: the server was restarted. Run it again."
ANOTHER = "Another one was running at that moment."
Work = TypeVar("Work", bound=LongWork)


class Busy(Exception):
    """One of this kind runs already; nothing was begun."""


class GivenUp(Exception):
    """Somebody else took this work for dead, and it was ended."""


def refuse_second(model: type[Work]) -> None:
    """Give up what died; raise Busy where one still runs."""
    quiet = model._default_manager.filter(finished_at=None, moved_at__lt=timezone.now() - model.QUIET)
    quiet.update(problem=STOPPED, finished_at=timezone.now(), running=None)
    if model._default_manager.filter(finished_at=None).exists():
        raise Busy("One is running already. Wait until it is done.")


def after_commit(work_off: Callable[[int], object], pk: int) -> None:
    """Let a thread of this process work off the row `pk` once the transaction is committed."""
    transaction.on_commit(partial(_start, work_off, pk))


def _start(work_off, pk):
    threading.Thread(target=_in_background, args=(work_off, pk), name=f"long work {pk}", daemon=True).start()


def _in_background(work_off, pk):
    try:
        work_off(pk)
    finally:
        connection.close()


def worked_off(row: Work, work: Callable[[], dict]) -> Work:
    """Run `work` for a row that nobody has claimed yet, and keep the fields that it returns, or why there are none.

    work may call `keep` to say how far it is. A row that is worked off, or being worked off, is left as it is.
    """
    if _claimed(row):
        try:
            fields = work()
        except GivenUp as error:
            logging.getLogger(__name__).warning("%s was given up", error)
        except Exception as error:  # whatever it is, the page must say that it ended
            logging.getLogger(__name__).exception("%s %s", type(row).__name__, row.pk)
            _end(row, problem=str(error) or type(error).__name__)
        else:
            _end(row, **fields)
    row.refresh_from_db()
    return row


def keep(row: LongWork, **fields) -> None:
    """Write progress in one short statement. Raises GivenUp where the work was taken for dead meanwhile."""
    if not type(row)._default_manager.filter(pk=row.pk, running=True).update(moved_at=timezone.now(), **fields):
        raise GivenUp(f"{type(row).__name__} {row.pk}")


def _end(row, **fields):
    rows = type(row)._default_manager.filter(pk=row.pk, running=True)
    rows.update(moved_at=timezone.now(), finished_at=timezone.now(), running=None, **fields)


def _claimed(row):
    """Whether this call is the one that works it off: the database lets one run at a time, and each once."""
    rows = type(row)._default_manager.filter(pk=row.pk)
    try:
        with transaction.atomic():
            return rows.filter(running=None, finished_at=None).update(running=True, moved_at=timezone.now())
    except IntegrityError:
        rows.update(problem=ANOTHER, finished_at=timezone.now())
        return 0
