"""`manage.py export_firm FOLDER`: writes the files that import_firm reads."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from jobs.services.exporting import FolderInUse, export_firm


class Command(BaseCommand):
    help = "Exports the firm as CSV files; import_firm reads them, and importing them again changes nothing."

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path)

    def handle(self, *, folder, verbosity, **options):
        try:
            counts = export_firm(folder)
        except (FolderInUse, OSError) as error:
            raise CommandError(str(error)) from error
        if verbosity:
            said = ", ".join(f"{number} {name}" for name, number in counts.items())
            self.stdout.write(f"Exported: {said}.")
