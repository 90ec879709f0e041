"""`manage.py import_firm FOLDER [--check] [--json]`: a firm's own files go in, all or nothing."""

import json
import sys
from dataclasses import asdict
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.db import IntegrityError, OperationalError
from tqdm import tqdm

from jobs.services.importing import import_firm


class Command(BaseCommand):
    help = "Imports the files of a firm (CSV or XLSX) from a folder. With an error anywhere nothing is changed."

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path)
        parser.add_argument("--check", action="store_true", help="Read and check only; write nothing.")
        parser.add_argument("--json", action="store_true", help="Answer as JSON.")

    def handle(self, *, folder, verbosity, **options):
        if not folder.is_dir():
            raise CommandError(f"{folder} is no folder.")
        silent = not verbosity or options["json"] or not sys.stderr.isatty()

        def progress(rows, what):
            return tqdm(rows, desc=what, unit=" rows", disable=silent, leave=False)

        try:
            outcome = import_firm(folder, check_only=options["check"], progress=progress)
        except (IntegrityError, OperationalError) as error:
            raise CommandError(f"Others wrote at the same moment ({error}); nothing was changed, try again.") from error
        self._notices(outcome, verbosity)
        if options["json"]:
            self.stdout.write(json.dumps(_answer(outcome), ensure_ascii=False, indent=1))
        else:
            self._tell(outcome, verbosity, check_only=options["check"])
        if outcome.errors:
            sys.exit(1)

    def _notices(self, outcome, verbosity):
        if not verbosity:
            return
        for name in outcome.ignored_files:
            self.stderr.write(f"Ignored: {name} is no file of a firm.")
        for name, columns in outcome.ignored_columns.items():
            self.stderr.write(f"Ignored in {name}: {', '.join(columns)}.")
        for warning in outcome.warnings:
            self.stderr.write(f"Note: {warning}")

    def _tell(self, outcome, verbosity, *, check_only):
        for error in outcome.errors:
            self.stderr.write(str(error))
        if outcome.errors:
            self.stderr.write(f"{len(outcome.errors)} errors; nothing was changed.")
        elif verbosity:
            counts = ", ".join(f"{number} {name}" for name, number in outcome.counts.items())
            self.stdout.write(f"{'Checked, nothing written' if check_only else 'Imported'}: {counts}.")


def _answer(outcome):
    return {
        "errors": [asdict(error) for error in outcome.errors],
        "ignored_columns": outcome.ignored_columns,
        "counts": outcome.counts,
    }
