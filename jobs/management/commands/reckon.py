"""`manage.py reckon`: the usual figures, reckoned and kept for the server's pages, so that nobody waits for them."""

import logging
import os
from time import perf_counter, sleep

from django.conf import settings
from django.core.cache import caches
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from jobs.figures import renew_early
from jobs.services.usual_figures import reckon_usual

LEAST_PAUSE, PAUSE, STEP = 60, 10, 5  # seconds at least; times as long as the work took; seconds
logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Reckons lives, forecasts and alarms ahead, for the server's pages. `serve` keeps one going beside it."

    def add_arguments(self, parser):
        parser.add_argument("--keep-on", action="store_true", help="Again and again, until whoever began this ends.")

    def handle(self, *, keep_on, verbosity, **options):
        if not settings.SHARED_FIGURES:
            raise CommandError(f"Nobody would find them: {settings.FIGURES} cannot be written.")
        if not keep_on:
            seconds = self._reckon()
            if verbosity:
                self.stdout.write(f"Reckoned in {seconds:.1f} seconds.")
            return
        renew_early()
        parent = os.getppid()
        while os.getppid() == parent:
            self._rest(parent, self._whatever_happens())

    def _reckon(self):
        since = perf_counter()
        reckon_usual(timezone.localdate())
        return perf_counter() - since

    def _whatever_happens(self):
        try:
            return self._reckon()
        except Exception:  # a database that is away for a while; pages reckon for themselves meanwhile
            logger.exception("reckoning ahead failed")
            return 0.0
        finally:
            caches["default"].clear()  # what is large has served
            connection.close()

    def _rest(self, parent, seconds):
        until = perf_counter() + max(LEAST_PAUSE, PAUSE * seconds)
        while perf_counter() < until and os.getppid() == parent:
            sleep(STEP)
