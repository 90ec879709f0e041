"""`manage.py back_test`: would the proposals have done better on the firm's own past?"""

import json
from dataclasses import asdict
from datetime import date, timedelta

import numpy as np
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from jobs.services.backtesting import WINDOW_DAYS, BackTest, back_test


class Command(BaseCommand):
    help = "Replays past jobs against the load that would have been proposed, the simple rule, and what happened."

    def add_arguments(self, parser):
        parser.add_argument("--first", type=date.fromisoformat, help="first day replayed (default a year before last)")
        parser.add_argument("--last", type=date.fromisoformat, help="last day replayed (default yesterday)")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *, first, last, as_json, verbosity, **options):
        last = last or timezone.localdate() - timedelta(days=1)
        first = first or last - timedelta(days=364)
        if first > last:
            raise CommandError("--first must not be later than --last")
        windows = -(-((last - first).days + 1) // WINDOW_DAYS)
        with tqdm(total=windows, unit="window", disable=not verbosity) as bar:
            found = back_test(first, last, rng=np.random.default_rng(1), told=lambda day: bar.update())
        self.stdout.write(json.dumps(asdict(found), default=str, allow_nan=False) if as_json else _text(found))


def _text(found: BackTest):
    def line(name, gain):
        return (
            f"Against {name}: {gain.points:+.1f} points of first visits (likely between {gain.low:+.1f} and "
            f"{gain.high:+.1f}), {gain.visits:+.0f} visits, {gain.money:+,.0f} in money."
        )

    return "\n".join(
        [
            f"{found.jobs} jobs that needed parts, first visits from {found.first} to {found.last}.",
            f"Finished at the first visit: proposal {found.proposal:.1%}, simple rule of equal cash {found.rule:.1%}, "
            f"what happened {found.fact:.1%} (with the vans as they were, whatever they held).",
            f"Cash of the proposal: {found.cash:,.0f} per van on average.",
            line("the simple rule", found.against_rule),
            line("what happened", found.against_fact),
            "Method: records frozen every 90 days, jobs replayed in order with the real restock days; "
            "90 % intervals from weeks drawn again.",
        ]
    )
