"""`manage.py friday_list`: work out what should change its place, keep it for the page, and print its first lines."""

import json
import uuid

from django.core.management.base import BaseCommand, CommandError

from jobs.services import kept_moves, long_work


class Command(BaseCommand):
    help = "Works out who passes what to whom, what goes back to the store, slow parts and dead stock; for Fridays."

    def add_arguments(self, parser):
        parser.add_argument("--most", type=int, default=5, help="lines to print (default 5)")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *, most, as_json, verbosity, **options):
        if most < 1:
            raise CommandError("--most: 1 or more")
        try:
            moves = kept_moves.work_off(kept_moves.begin(event=uuid.uuid4()).pk)
        except long_work.Busy as error:
            raise CommandError(str(error)) from error
        if moves.problem:
            raise CommandError(moves.problem)
        lines = list(moves.lines.select_related("part", "giver", "taker").filter(kind="pass")[:most])
        if as_json:
            self.stdout.write(json.dumps([_plain(line) for line in lines], allow_nan=False))
        elif verbosity:
            self.stdout.write("\n".join(map(_text, lines)) or "Nothing is worth passing on.")
            self.stdout.write(_rest(moves))


def _plain(line):
    return {
        "part": line.part.number,
        "giver": line.giver.key,
        "taker": line.taker.key,
        "quantity": line.quantity,
        "worth_per_year": float(line.worth_per_year),
        "why": line.why,
    }


def _text(line):
    worth = f"worth {line.worth_per_year:,.0f} a year"
    return f"{line.giver} → {line.taker}: {line.quantity} × {line.part.description} ({line.part.number}), {worth}"


def _rest(moves):
    back = moves.lines.filter(kind="return").count()
    return f"{back} lines back to the store, {len(moves.slow)} slow parts, {len(moves.dead)} lines of dead stock: kept."
