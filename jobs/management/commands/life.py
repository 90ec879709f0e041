"""`manage.py life [FILE.csv]`: how long components last, from a file of ages or from the firm's records."""

import json
import os
from datetime import date
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from jobs.life_file import LifeFileError, read_life_file
from jobs.life_table import life_table
from jobs.reliability.grouping import BY
from jobs.reliability.report import life_report

WORDS = {"before_care": ("perhaps", "first", "unknown"), "silence": ("model", "window"), "by": BY}
SHOWN = 10
LONGEST_WINDOW = 12000  # months
FIRM_ONLY = ("by", "as_of", "care_window", "before_care", "silence", "spells")


class Command(BaseCommand):
    help = "MTBF, best estimates and fitted lives with their limits, per group."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser):
        parser.add_argument("file", nargs="?", help="CSV with exit, failed and perhaps entry, group, count.")
        parser.add_argument("--level", default="0.90", help="of the limits, between 0 and 1 (default 0.90).")
        parser.add_argument("--by", help=f"one of {' '.join(BY)} (default component).")
        parser.add_argument("--as-of", help="day of analysis, YYYY-MM-DD (default today).")
        parser.add_argument("--care-window", help="months without contact after which care has ended.")
        parser.add_argument(
            "--before-care", help="perhaps (default: it may have been renewed), first (it is the original) or unknown."
        )
        parser.add_argument("--silence", help="model (default: weighed by the chance of being in care) or window.")
        parser.add_argument("--spells", metavar="FILE.csv", help="write the spells behind the figures.")
        parser.add_argument("--curve", action="store_true", help="add the survival curve of each group.")
        parser.add_argument("--json", action="store_true", help="print one JSON document.")

    def handle(self, *, file, level, curve, **options):
        level, by = _level(level), _word("by", options["by"] or "component")
        for option in ("before_care", "silence"):
            if options[option] is not None:
                _word(option, options[option])
        if file is not None:
            report = self._of_file(file, level, curve, options)
        else:
            report = self._of_firm(level, by, curve, options)
        text = json.dumps(report.to_dict(), allow_nan=False) if options["json"] else life_table(report)
        self.stdout.write(text)

    def _of_file(self, file, level, curve, options):
        given = [f"--{name.replace('_', '-')}" for name in FIRM_ONLY if options[name] is not None]
        if given:
            self.stderr.write(f"{' '.join(given)}: for the firm's records only, a file of ages leaves it aside")
        left_aside: list[str] = []
        try:
            spells = read_life_file(file, left_aside)
        except LifeFileError as error:
            raise CommandError(str(error)) from error
        if left_aside:
            self.stderr.write(f"{file}: columns left aside: {', '.join(left_aside)}")
        return life_report(spells, level=level, curve=curve)

    def _of_firm(self, level, by, curve, options):
        from jobs import lives  # a file of ages needs neither models nor database

        as_of = _day(options["as_of"])
        spells = lives.firm_spells(
            as_of=as_of, care_window_months=_months(options["care_window"]), silence=options["silence"]
        )
        self._tell(spells.warnings)
        if options["as_of"] is None:
            self._tell(filter(None, [lives.stale_warning(as_of)]))
        report = lives.report_of(
            spells, by=by, level=level, as_of=as_of, before_care=options["before_care"], curve=curve
        )
        if options["spells"]:
            _write_spells(spells, Path(options["spells"]))
        return report

    def _tell(self, sentences):
        sentences = list(sentences)
        for sentence in sentences[:SHOWN]:
            self.stderr.write(sentence)
        if len(sentences) > SHOWN:
            self.stderr.write(f"And {len(sentences) - SHOWN} more of the kind.")


def _level(text):
    try:
        level = float(text)
    except ValueError:
        level = -1.0
    if not 0 < level < 1:
        raise CommandError(f"--level {text}: must lie between 0 and 1, for instance 0.90")
    return level


def _word(option, word):
    name = f"--{option.replace('_', '-')}"
    if word not in WORDS[option]:
        raise CommandError(f"{name} {word}: must be one of {', '.join(WORDS[option])}")
    return word


def _day(text):
    try:
        return date.today() if text is None else date.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"--as-of {text}: must be a day, YYYY-MM-DD") from error


def _months(text):
    if text is None:
        return None
    try:
        months = float(text)
    except ValueError:
        months = -1.0
    if not 0 < months < LONGEST_WINDOW:
        raise CommandError(f"--care-window {text}: must be a number of months above 0 and below {LONGEST_WINDOW}")
    return months


def _write_spells(spells, path):
    """Write beside, then put in place: the file is whole or not there."""
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("w", encoding="utf-8", newline="") as file:
            spells.write_csv(file)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise CommandError(f"--spells {path}: cannot be written: {error.strerror}") from error
