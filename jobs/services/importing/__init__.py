"""A firm's own files: read, checked, and written all or nothing. Formats: docs/files.md."""

from dataclasses import dataclass, field
from pathlib import Path

from jobs.services.importing.checking import check
from jobs.services.importing.problems import Problem, Problems, Refused
from jobs.services.importing.reading import read_folder
from jobs.services.importing.tables import TABLES
from jobs.services.importing.writing import write


@dataclass(frozen=True)
class Outcome:
    """What became of a folder. counts: rows read, by table. ignored_files: names that are none of ours."""

    errors: list[Problem]
    warnings: list[Problem]
    ignored_columns: dict[str, list[str]]
    ignored_files: list[str]
    counts: dict[str, int]
    files: list[str] = field(default_factory=list)


def _silently(rows, what):
    return rows


def import_firm(folder, *, check_only=False, by=None, progress=_silently):
    """Import the files of a folder. With errors, or with `check_only`, nothing is changed.

    progress: a function (rows, what is done) that returns the rows, to show a bar. Return the Outcome.
    """
    problems = Problems()
    files, others = read_folder(Path(folder), problems, progress)
    if not files:
        problems.error("", None, None, str(folder), "No file of a firm in this folder.")
    check(files, problems)
    if not problems.errors and not check_only:
        try:
            write(files, progress, by)
        except Refused as refused:
            problems.errors += refused.errors
    return Outcome(
        errors=problems.in_order(TABLES),
        warnings=problems.warnings,
        ignored_columns={name: read.ignored for name, read in files.items() if read.ignored},
        ignored_files=others,
        counts={name: read.seen for name, read in files.items()},
        files=list(files),
    )


__all__ = ["Outcome", "Problem", "Refused", "import_firm"]
