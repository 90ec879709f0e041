"""What is wrong with a firm's files, in the order in which a person would mend it."""

from dataclasses import dataclass, field

LONGEST_VALUE = 120


@dataclass(frozen=True)
class Problem:
    """file: a table's name. row: as a spreadsheet shows it, the header being 1; None where the whole file is meant."""

    file: str
    row: int | None
    column: str | None
    value: str
    reason: str

    def __str__(self):
        where = ", ".join(
            part
            for part in (
                self.file,
                f"row {self.row}" if self.row else "",
                f"column {self.column}" if self.column else "",
            )
            if part
        )
        return f"{where}: {self.reason}" + (f" (here: {self.value})" if self.value else "")


@dataclass
class Problems:
    """Errors refuse the whole import; warnings are only told."""

    errors: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)

    def error(self, file, row, column, value, reason):
        self.errors.append(Problem(file, row, column, _short(value), reason))

    def warn(self, file, row, column, value, reason):
        self.warnings.append(Problem(file, row, column, _short(value), reason))

    def in_order(self, files):
        """Errors by file, in the order of the tables, then by row."""
        place = {name: number for number, name in enumerate(files)}
        return sorted(self.errors, key=lambda one: (place.get(one.file, len(place)), one.file, one.row or 0))


def _short(value):
    shown = "" if value is None else str(value).replace("\0", "␀")
    return shown if len(shown) <= LONGEST_VALUE else shown[:LONGEST_VALUE] + "…"


class Refused(Exception):
    """The files cannot be imported; nothing was changed. `errors` says everything that is wrong."""

    def __init__(self, errors):
        super().__init__(f"{len(errors)} errors; nothing was changed.")
        self.errors = errors
