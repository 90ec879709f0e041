"""Back-tests that are kept with their date and inputs, and worked off step by step, one at a time."""

import logging
import threading
from dataclasses import asdict
from datetime import date, timedelta
from functools import partial
from uuid import UUID

import numpy as np
from django.db import IntegrityError, connection, transaction
from django.db.models import F, Q
from django.utils import timezone

from firm.models import Setting, User
from inventory.models import Place
from jobs import lives
from jobs.models import BackTest
from jobs.services.backtesting import WINDOW_DAYS, back_test

SEED = 1
INPUTS = ("second_visit", "merchant_run", "holding_per_year", "restock_days", "max_per_part")
STOPPED = "It stopped before it was done: the server was restarted. Run it again."
ANOTHER = "Another back-test was running at that moment."
ONE_AT_A_TIME = "A back-test is running already. Wait until it is done: one runs at a time."


class CannotReplay(Exception):
    """The days cannot be replayed; nothing was kept."""

    field = "first"


class GivenUp(Exception):
    """Somebody else took this back-test for dead, and it was ended."""


def usual_days(today: date) -> tuple[date, date]:
    """The year up to yesterday."""
    last = today - timedelta(days=1)
    return last - timedelta(days=364), last


@transaction.atomic
def begin(first: date, last: date, *, event: UUID, by: User | None = None) -> BackTest:
    """Keep a back-test that is still to be worked off; the same event gives the first again.

    Raises CannotReplay where the days cannot be replayed, or another one is running.
    """
    if known := BackTest.objects.filter(event=event).first():
        return known
    _refuse(first, last)
    end_stopped()
    if BackTest.objects.filter(finished_at=None).exists():
        raise CannotReplay(ONE_AT_A_TIME)
    steps = -(-((last - first).days + 1) // WINDOW_DAYS)
    return BackTest.objects.create(event=event, first=first, last=last, made_by=by, inputs=_inputs(), steps=steps)


def _refuse(first, last):
    if first > last:
        raise CannotReplay("The first day is after the last.")
    if last >= timezone.localdate():
        raise CannotReplay("Only days that are over can be replayed.")
    if (last - first).days > 3 * 366:
        raise CannotReplay("Three years are the most that one back-test replays.")
    if first.year < 1990:
        raise CannotReplay("Give a day from 1990 on.")


def _inputs():
    """Everything that the result depends on and that somebody may set otherwise later."""
    setting = Setting.current()
    vans = Place.objects.vans().filter(Q(retired_on=None) | Q(retired_on__gt=timezone.localdate())).order_by("key")
    limits = ("litres", "kilograms", "budget")
    return {name: float(getattr(setting, name)) for name in INPUTS} | {
        "seed": SEED,
        "window_days": WINDOW_DAYS,
        "before_care": lives.BEFORE_CARE,
        "silence": lives.SILENCE,
        "vans": [
            {"van": van.key} | {name: _float(getattr(van, name)) for name in limits if getattr(van, name) is not None}
            for van in vans
        ],
    }


def _float(value):
    return None if value is None else float(value)


def end_stopped():
    """Give up the back-tests whose process died, so that another may begin."""
    quiet = BackTest.objects.filter(finished_at=None, moved_at__lt=timezone.now() - BackTest.QUIET)
    quiet.update(problem=STOPPED, finished_at=timezone.now(), running=None)


def begin_in_background(first: date, last: date, *, event: UUID, by: User | None = None) -> BackTest:
    """Like `begin`; a thread of this process works it off once the transaction is committed."""
    test = begin(first, last, event=event, by=by)
    transaction.on_commit(partial(_start, test.pk))
    return test


def _start(pk):
    threading.Thread(target=_in_background, args=(pk,), name=f"back-test {pk}", daemon=True).start()


def _in_background(pk):
    try:
        work_off(pk)
    finally:
        connection.close()


def work_off(pk: int, told=lambda day: None) -> BackTest:
    """Replay what `begin` kept, and keep the result, or why there is none. One that is worked off already is left."""
    test = BackTest.objects.get(pk=pk)
    if not _claimed(pk):
        test.refresh_from_db()
        return test

    def moved(day):
        told(day)
        if not _keep(pk, done=F("done") + 1):
            raise GivenUp(f"back-test {pk}")

    try:
        found = asdict(back_test(test.first, test.last, rng=np.random.default_rng(SEED), told=moved))
    except GivenUp as error:
        logging.getLogger(__name__).warning("%s was given up", error)
    except Exception as error:  # whatever it is, the page must say that it ended
        logging.getLogger(__name__).exception("back-test %s", pk)
        _keep(pk, problem=str(error) or type(error).__name__, finished_at=timezone.now(), running=None)
    else:
        del found["first"], found["last"]
        found["periods"] = [
            period | {end: period[end].isoformat() for end in ("first", "last")} for period in found["periods"]
        ]
        _keep(pk, result=found, done=test.steps, finished_at=timezone.now(), running=None)
    test.refresh_from_db()
    return test


def _claimed(pk):
    """Whether this call is the one that works it off: the database lets one run at a time, and each once."""
    try:
        with transaction.atomic():
            return BackTest.objects.filter(pk=pk, running=None, finished_at=None).update(
                running=True, moved_at=timezone.now()
            )
    except IntegrityError:
        BackTest.objects.filter(pk=pk).update(problem=ANOTHER, finished_at=timezone.now())
        return 0


def _keep(pk, **fields):
    """Write progress or the end in one short statement. Return 0 where it was given up meanwhile."""
    return BackTest.objects.filter(pk=pk, running=True).update(moved_at=timezone.now(), **fields)
