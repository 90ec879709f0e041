"""Back-tests that are kept with their date and inputs, and worked off step by step."""

import logging
from dataclasses import asdict
from datetime import date, timedelta
from uuid import UUID

import numpy as np
from django.db.models import F
from django.utils import timezone

from firm.models import Setting, User
from jobs.models import BackTest
from jobs.services.backtesting import WINDOW_DAYS, back_test

SEED = 1
INPUTS = ("second_visit", "merchant_run", "holding_per_year", "restock_days", "max_per_part")


class CannotReplay(Exception):
    """The days cannot be replayed; nothing was kept."""

    field = "first"


def usual_days(today: date) -> tuple[date, date]:
    """The year up to yesterday."""
    last = today - timedelta(days=1)
    return last - timedelta(days=364), last


def begin(first: date, last: date, *, event: UUID, by: User | None = None) -> BackTest:
    """Keep a back-test that is still to be worked off; the same event gives the first again."""
    if first > last:
        raise CannotReplay("The first day is after the last.")
    if last >= timezone.localdate():
        raise CannotReplay("Only days that are over can be replayed.")
    if (last - first).days > 3 * 366:
        raise CannotReplay("Three years are the most that one back-test replays.")
    setting = Setting.current()
    inputs = {name: float(getattr(setting, name)) for name in INPUTS} | {"seed": SEED, "window_days": WINDOW_DAYS}
    steps = -(-((last - first).days + 1) // WINDOW_DAYS)
    kept = {"first": first, "last": last, "made_by": by, "inputs": inputs, "steps": steps}
    return BackTest.objects.get_or_create(event=event, defaults=kept)[0]


def work_off(pk: int, told=lambda day: None) -> BackTest:
    """Replay what `begin` kept, and keep the result, or why there is none."""
    test = BackTest.objects.get(pk=pk)

    def moved(day):
        told(day)
        BackTest.objects.filter(pk=pk).update(done=F("done") + 1, moved_at=timezone.now())

    try:
        found = asdict(back_test(test.first, test.last, rng=np.random.default_rng(SEED), told=moved))
    except Exception as error:  # whatever it is, the page must say that it ended
        logging.getLogger(__name__).exception("back-test %s", pk)
        BackTest.objects.filter(pk=pk).update(problem=str(error) or type(error).__name__, finished_at=timezone.now())
    else:
        del found["first"], found["last"]
        BackTest.objects.filter(pk=pk).update(result=found, done=test.steps, finished_at=timezone.now())
    test.refresh_from_db()
    return test
