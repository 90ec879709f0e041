"""Back-tests that are kept with their date and inputs, and worked off step by step, one at a time."""

from dataclasses import asdict
from datetime import date, timedelta
from uuid import UUID

import numpy as np
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from firm.models import Setting, User
from inventory.models import Place
from jobs import lives
from jobs.models import BackTest
from jobs.services import long_work
from jobs.services.backtesting import WINDOW_DAYS, back_test

SEED = 1
INPUTS = ("second_visit", "merchant_run", "holding_per_year", "restock_days", "max_per_part")
ONE_AT_A_TIME = "A back-test is running already. Wait until it is done: one runs at a time."


class CannotReplay(Exception):
    """The days cannot be replayed; nothing was kept."""

    field = "first"


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
    try:
        long_work.refuse_second(BackTest)
    except long_work.Busy as error:
        raise CannotReplay(ONE_AT_A_TIME) from error
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


def begin_in_background(first: date, last: date, *, event: UUID, by: User | None = None) -> BackTest:
    """Like `begin`; a thread of this process works it off once the transaction is committed."""
    test = begin(first, last, event=event, by=by)
    long_work.after_commit(work_off, test.pk)
    return test


def work_off(pk: int, told=lambda day: None) -> BackTest:
    """Replay what `begin` kept, and keep the result, or why there is none. One that is worked off already is left."""
    test = BackTest.objects.get(pk=pk)

    def moved(day):
        told(day)
        long_work.keep(test, done=F("done") + 1)

    def replayed():
        found = asdict(back_test(test.first, test.last, rng=np.random.default_rng(SEED), told=moved))
        del found["first"], found["last"]
        for period in found["periods"]:
            period |= {end: period[end].isoformat() for end in ("first", "last")}
        return {"result": found, "done": test.steps}

    return long_work.worked_off(test, replayed)
