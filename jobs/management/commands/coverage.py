"""`manage.py coverage`: how often limits hold, how far off estimates are, how often alarms are false."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from jobs.simulation.programme import CELLS, pieces
from jobs.simulation.rows import as_markdown

QUICK = 100


class Command(BaseCommand):
    help = "Makes the table of docs/coverage.md from invented firms whose truth is known."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser):
        parser.add_argument("--cells", default=",".join(CELLS), help=f"some of {','.join(CELLS)} (default all).")
        parser.add_argument("--groups", type=int, default=2000, help="groups in each cell (default 2000).")
        parser.add_argument("--seed", type=int, default=1, help="same seed, same table (default 1).")
        parser.add_argument("--quick", action="store_true", help=f"{QUICK} groups a cell: a look, not a proof.")
        parser.add_argument("--output", metavar="FILE.md", help="write the table there instead of printing it.")

    def handle(self, *, cells, groups, seed, quick, output, verbosity, **options):
        chosen = cells.split(",")
        unknown = set(chosen) - set(CELLS)
        if unknown:
            raise CommandError(f"--cells {cells}: {', '.join(sorted(unknown))} is none of {', '.join(CELLS)}")
        if groups < 8 or seed < 0:
            raise CommandError("--groups must be at least 8 and --seed at least 0")
        groups = QUICK if quick else groups
        rows, seconds = [], []
        for piece in tqdm(pieces(chosen, groups), disable=not verbosity, unit=" cells"):
            found, took = piece.run(seed)
            rows += found
            seconds.append(f"{piece.name} {took:.0f}")
            if output:
                Path(output).write_text(_text(rows, seed, groups, seconds), encoding="utf-8")
        if not output:
            self.stdout.write(_text(rows, seed, groups, seconds))


def _text(rows, seed, groups, seconds):
    return f"{as_markdown(rows)}\nSeed {seed}, {groups} groups a cell. Seconds: {'; '.join(seconds)}.\n"
