"""Write the invented demo firm into a folder, as files that `import_firm` reads."""

from datetime import date

from django.core.management.base import BaseCommand, CommandError

from jobs.invented import firm


class Command(BaseCommand):
    requires_system_checks = []  # it touches neither database nor pages
    help = "Write the invented demo firm's files, drawn up to a day, with the truth beside them."

    def add_arguments(self, parser):
        parser.add_argument("folder", metavar="FOLDER")
        parser.add_argument("--day", help="ISO date up to which the firm has worked (default: today)")
        parser.add_argument("--seed", type=int, default=firm.SEED)
        parser.add_argument("--scale", type=float, default=1.0, help="times 3,000 appliances")

    def handle(self, *, folder, day, seed, scale, verbosity, **options):
        try:
            last = date.fromisoformat(day) if day else date.today()
        except ValueError as error:
            raise CommandError(f"--day: {day!r} is no ISO date such as 2026-11-20") from error
        if not 0.01 <= scale <= 20:
            raise CommandError("--scale: from 0.01 to 20")
        drawn = firm.draw(last, seed, scale=scale)
        paths = firm.write(folder, drawn.tables)
        firm.write_truth(folder, drawn.truth)
        if verbosity:
            counts = ", ".join(f"{len(rows)} {name}" for name, rows in drawn.tables.items())
            self.stdout.write(f"{len(paths)} files in {folder}: {counts}")
