"""`manage.py back_test`: would the proposals have done better on the firm's own past?"""

import json
import uuid
from datetime import date

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from jobs.models import BackTest
from jobs.services import kept_backtests


class Command(BaseCommand):
    help = "Replays past jobs against the load that would have been proposed, the simple rule, and what happened."

    def add_arguments(self, parser):
        parser.add_argument("--first", type=date.fromisoformat, help="first day replayed (default a year before last)")
        parser.add_argument("--last", type=date.fromisoformat, help="last day replayed (default yesterday)")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *, first, last, as_json, verbosity, **options):
        usual = kept_backtests.usual_days(timezone.localdate())
        last = last or usual[1]
        first = first or last - (usual[1] - usual[0])
        try:
            test = kept_backtests.begin(first, last, event=uuid.uuid4())
        except kept_backtests.CannotReplay as error:
            raise CommandError(str(error)) from error
        with tqdm(total=test.steps, unit="window", disable=not verbosity) as bar:
            test = kept_backtests.work_off(test.pk, told=lambda day: bar.update())
        if test.problem:
            raise CommandError(test.problem)
        self.stdout.write(json.dumps(_plain(test), allow_nan=False) if as_json else _text(test))


def _plain(test):
    return {"first": str(test.first), "last": str(test.last), **test.result}


def _text(test: BackTest):
    found = test.result

    def line(name, gain):
        return (
            f"Against {name}: {gain['points']:+.1f} points of first visits (likely between {gain['low']:+.1f} and "
            f"{gain['high']:+.1f}), {gain['visits']:+.0f} visits, {gain['money']:+,.0f} in money."
        )

    return "\n".join(
        [
            f"{found['jobs']} jobs that needed parts, first visits from {test.first} to {test.last}.",
            f"Finished at the first visit: proposal {found['proposal']:.1%}, simple rule of equal cash "
            f"{found['rule']:.1%}, what happened {found['fact']:.1%} (with the vans as they were, whatever they held).",
            f"Cash of the proposal: {found['cash']:,.0f} per van on average.",
            line("the simple rule", found["against_rule"]),
            line("what happened", found["against_fact"]),
            "Method: records frozen every 90 days, jobs replayed in order with the real restock days; 90 % "
            f"intervals from weeks drawn again. Kept as back-test {test.pk}.",
        ]
    )
