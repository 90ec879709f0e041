"""A file of ages, one row per unit or per number of equal units, read or refused as a whole."""

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from jobs.reliability.grouping import GroupedSpells, one_family

REQUIRED, OPTIONAL = ("exit", "failed"), ("entry", "group", "count")
DEFAULTS = {"entry": "0", "group": "all", "count": "1"}
DELIMITERS = ",;\t"
LEAST, MOST = 1e-100, 1e100
SHOWN = 20


class LifeFileError(Exception):
    """The file cannot be used; the message names every fault with its row and column."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong: rows are numbered as a spreadsheet shows them, the header is row 1."""

    row: int
    column: str
    value: str
    reason: str

    def __str__(self):
        return f"row {self.row}, column {self.column}: {self.value!r} {self.reason}"


def read_life_file(path, left_aside=None) -> GroupedSpells:
    """Spells of a CSV file with the columns exit, failed and perhaps entry, group, count; else LifeFileError.

    left_aside: a list that takes the names of all other columns.
    """
    rows, header, numbers = _rows(_text(path), path)
    if left_aside is not None:
        left_aside += [name for name in header if name and name not in {*REQUIRED, *OPTIONAL}]
    columns = {name: _column(rows, header.get(name), DEFAULTS.get(name, "")) for name in (*REQUIRED, *OPTIONAL)}
    faults: list[Fault] = []
    values = {name: _numbers(columns[name], name, numbers, faults) for name in ("entry", "exit", "failed", "count")}
    _check(values, columns, numbers, faults)
    if faults:
        raise LifeFileError(_message(path, faults))
    names = list(dict.fromkeys(columns["group"]))
    place = {name: number for number, name in enumerate(names)}
    group = np.fromiter((place[name] for name in columns["group"]), dtype=np.int64, count=len(rows))
    return one_family(names, group, values["entry"], values["exit"], values["failed"] == 1, values["count"])


def _text(path):
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise LifeFileError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise LifeFileError(f"{path}: byte {error.start + 1} is not UTF-8") from error
    if "\0" in text:
        raise LifeFileError(f"{path}: row {text.count(chr(10), 0, text.index(chr(0))) + 1}: holds a null character")
    return text


def _rows(text, path):
    """Rows that are not blank, the place of each column, and each row's number."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise LifeFileError(f"{path}: row 1: the file is empty; its header must name {' and '.join(REQUIRED)}")
    delimiter = max(DELIMITERS, key=lambda mark: sum(name in _names(first, mark) for name in (*REQUIRED, *OPTIONAL)))
    rows, numbers = _records(text, delimiter, path)
    header = _header([cell.strip().lower() for cell in rows[0]], path, numbers[0])
    if len(rows) == 1:
        raise LifeFileError(f"{path}: row {numbers[0] + 1}: no row follows the header")
    width = len(rows[0])
    faults = [
        Fault(number, str(width + 1), delimiter.join(row), "has more cells than the header (a decimal comma?)")
        for row, number in zip(rows, numbers, strict=True)
        if len(row) > width and any(row[width:])
    ]
    if faults:
        raise LifeFileError(_message(path, faults))
    return rows[1:], header, numbers[1:]


def _records(text, delimiter, path):
    rows, numbers, number = [], [], 0
    try:
        for number, row in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), 1):
            if any(map(str.strip, row)):
                rows.append(row)
                numbers.append(number)
    except csv.Error as error:
        raise LifeFileError(f"{path}: row {number + 1}: {error}") from error
    return rows, numbers


def _names(line, delimiter):
    return [cell.strip().strip('"').lower() for cell in line.split(delimiter)]


def _header(names, path, number):
    missing = [name for name in REQUIRED if name not in names]
    if missing:
        raise LifeFileError(
            f"{path}: row {number}: the header lacks the column {' and '.join(missing)}; "
            f"it names {', '.join(name or '(blank)' for name in names)}"
        )
    twice = next((name for name in (*REQUIRED, *OPTIONAL) if names.count(name) > 1), None)
    if twice:
        raise LifeFileError(f"{path}: row {number}: the column {twice} stands twice in the header")
    return {name: place for place, name in enumerate(names)}


def _column(rows, place, default):
    if place is None:
        return [default] * len(rows)
    return [(row[place].strip() if place < len(row) else "") or default for row in rows]


def _numbers(cells, name, numbers, faults):
    """The cells as floats; what is no number becomes a fault and nan."""
    try:
        values = np.array(cells, dtype="U").astype(float)
        if np.isfinite(values).all() and not any("_" in cell for cell in cells):
            return values
    except ValueError:
        pass
    return np.array([_number(cell, name, number, faults) for cell, number in zip(cells, numbers, strict=True)])


def _number(cell, name, number, faults):
    try:
        value = float(cell)
    except ValueError:
        value = None
    if value is not None and math.isfinite(value) and "_" not in cell:
        return value
    reason = "is not a finite number" if value is not None and "_" not in cell else "is not a number"
    if "," in cell:
        reason = "is not a number: write a decimal point, not a comma"
    faults.append(Fault(number, name, cell, reason if cell else "is blank"))
    return math.nan


def _check(values, columns, numbers, faults):
    """Faults of numbers that cannot be: nan stands for a cell that is a fault already."""
    entry, exit, failed, count = (values[name] for name in ("entry", "exit", "failed", "count"))
    for name in ("entry", "exit"):
        size = np.abs(values[name])
        _fault(values[name] < 0, name, "is below 0", columns, numbers, faults)
        _fault(
            (size > MOST) | ((size < LEAST) & (size > 0)),
            name,
            f"lies outside {LEAST:g} to {MOST:g}",
            columns,
            numbers,
            faults,
        )
    late = (entry > exit) & (exit >= 0)
    _fault(late, "entry", "lies after the exit", columns, numbers, faults)
    _fault(~np.isnan(failed) & (failed != 0) & (failed != 1), "failed", "is neither 0 nor 1", columns, numbers, faults)
    _fault((count < 0) | (count % 1 > 0), "count", "is not a whole number from 0 on", columns, numbers, faults)
    _fault(count > 2.0**53, "count", "is too large", columns, numbers, faults)


def _fault(wrong, name, reason, columns, numbers, faults):
    faults.extend(Fault(numbers[i], name, columns[name][i], reason) for i in np.flatnonzero(wrong)[: SHOWN + 1])


def _message(path, faults):
    faults = sorted(faults, key=lambda fault: fault.row)
    more = [f"and more: the first {SHOWN} are shown"] if len(faults) > SHOWN else []
    return "\n".join([f"{path}: nothing was computed", *map(str, faults[:SHOWN]), *more])
