"""Rows of text out of CSV and XLSX files, numbered as a spreadsheet shows them."""

import csv
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from python_calamine import CalamineError, CalamineWorkbook

DELIMITERS = ",;\t"
SUFFIXES = (".csv", ".xlsx")


class Unreadable(Exception):
    """The file cannot be read from this row on (None: at all)."""

    def __init__(self, reason, row=None):
        super().__init__(reason)
        self.row = row


def find_files(folder, names):
    """({table: [its files]}, [names of files that are none of ours]) of a folder."""
    ours, others = {}, []
    for path in sorted(folder.iterdir()):
        if path.is_dir():
            continue
        if path.suffix.lower() in SUFFIXES and path.stem.lower() in names:
            ours.setdefault(path.stem.lower(), []).append(path)
        else:
            others.append(path.name)
    return ours, others


def rows(path, required):
    """Yield (row number, cells) of the first sheet, the header first; wholly empty rows are counted and left out.

    required: the column names by which the delimiter of a CSV file is known.
    """
    read = _csv_rows(path, required) if path.suffix.lower() == ".csv" else _xlsx_rows(path)
    for number, cells in enumerate(read, start=1):
        stripped = [cell.strip() for cell in cells]
        if number == 1 or any(stripped):
            yield number, stripped


def column_name(cell):
    """A header as we write it: lower case with underscores."""
    return "_".join(cell.strip().casefold().replace("-", " ").replace("_", " ").split())


def _csv_rows(path, required):
    row = 0
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            delimiter = _delimiter(file.readline(1_000_000), required)
            file.seek(0)
            for row, cells in enumerate(csv.reader(file, delimiter=delimiter, strict=True), start=1):  # noqa: B007
                yield cells
    except UnicodeDecodeError as error:
        raise Unreadable("This is not UTF-8 text: save it as CSV UTF-8.", _not_utf8(path)) from error
    except csv.Error as error:
        raise Unreadable(f"This row cannot be read ({error}): look for a quote that is not closed.", row + 1) from error
    except OSError as error:
        raise Unreadable(f"The file cannot be read ({error.strerror}).") from error


def _delimiter(line, required):
    """The delimiter under which the header holds the required columns, else the most of them."""

    def found(delimiter):
        try:
            header = next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            return 0
        return len(required & {column_name(cell) for cell in header})

    return max(DELIMITERS, key=found)


def _not_utf8(path):
    """The first line that is not UTF-8."""
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            try:
                line.decode()
            except UnicodeDecodeError:
                return number
    return None


def _xlsx_rows(path):
    try:
        sheet = CalamineWorkbook.from_path(path).get_sheet_by_index(0)
        cells = sheet.to_python(skip_empty_area=False)
    except (CalamineError, OSError, IndexError) as error:
        raise Unreadable(f"This is no spreadsheet that can be read ({error}).") from error
    for row in cells:
        yield [_as_text(cell) for cell in row]


def _as_text(cell):
    """A typed cell as the text that a person would have typed into a CSV file."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{Decimal(format(cell, '.15g')):f}"
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ", "minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, time):
        return cell.strftime("%H:%M:%S" if cell.second else "%H:%M")
    if isinstance(cell, timedelta):
        return _as_text((datetime(1900, 1, 1) + cell).time()) if cell < timedelta(days=1) else str(cell)
    return str(cell)
