"""Read a folder: every file's rows as typed tuples, and everything that is wrong with single cells."""

import hashlib
from dataclasses import dataclass, field

from jobs.services.importing import sheets
from jobs.services.importing.tables import TABLES
from jobs.services.importing.values import Wrong


@dataclass
class Read:
    """One file as read.

    rows: of table.Row, only those without a fault. numbers: {key: row} of all rows whose key could be read, refused
    ones too. columns: those the file has. broken: the file could not be read to its end, so it may name anything.
    """

    table: object
    rows: list = field(default_factory=list)
    numbers: dict = field(default_factory=dict)
    columns: set = field(default_factory=set)
    ignored: list = field(default_factory=list)
    seen: int = 0
    broken: bool = False
    sha256: str = ""

    def has(self, column):
        return column in self.columns


def read_folder(folder, problems, progress):
    """({table name: Read} of the files in `folder`, [names of files that are none of ours])."""
    found, others = sheets.find_files(folder, TABLES)
    files = {}
    for name in (name for name in TABLES if name in found):
        if len(found[name]) > 1:
            both = " and ".join(path.name for path in found[name])
            problems.error(name, None, None, both, "Two files for one table: leave one.")
            files[name] = Read(TABLES[name], broken=True)
        else:
            files[name] = read_file(TABLES[name], found[name][0], problems, progress)
    return files, others


def read_file(table, path, problems, progress):
    """The rows of one file; its faults go to `problems`."""
    read = Read(table)
    try:
        rows = sheets.rows(path, table.required)
        _, header = next(rows, (0, []))
        if not any(header):
            raise sheets.Unreadable("The file is empty.")
        places = _columns(read, header, problems)
        for number, cells in progress(rows, f"reading {table.name}"):
            read.seen += 1
            _read_row(read, number, cells, places, len(header), problems)
        read.sha256 = _sha256(path)
    except sheets.Unreadable as error:
        problems.error(table.name, error.row, None, "", str(error))
        read.broken = True
    return read


def _columns(read, header, problems):
    """[(Column, its place in a row)]; names what is missing, twice there, or ignored."""
    names = [sheets.column_name(cell) for cell in header]
    for place, name in enumerate(names):
        if name not in read.table.by_name:
            read.ignored += [header[place]] if name else []
        elif name in names[:place]:
            problems.error(read.table.name, 1, name, header[place], "This column stands in the header twice.")
            read.broken = True
    read.columns = set(names) & set(read.table.by_name)
    for column in read.table.columns:
        if column.name not in read.columns and not column.optional:
            problems.error(read.table.name, 1, column.name, "", "This column is required and missing.")
            read.broken = True
    return [(column, names.index(column.name)) for column in read.table.columns if column.name in read.columns]


def _read_row(read, number, cells, places, width, problems):
    table, faults = read.table, len(problems.errors)
    if any(cells[width:]):
        surplus = next(cell for cell in cells[width:] if cell)
        problems.error(table.name, number, None, surplus, "More cells than the header has: look for a stray delimiter.")
    found = {column.attribute: column.blank for column in table.columns}
    wrong = set()
    for column, place in places:
        cell = cells[place] if place < len(cells) else ""
        try:
            if cell:
                found[column.attribute] = column.read(cell)
            elif not column.empty:
                raise Wrong("Must not be empty.")
        except Wrong as error:
            wrong.add(column.attribute)
            problems.error(table.name, number, column.name, cell, str(error))
    if table.key and not wrong.intersection(table.key) and not read.broken:
        _number(read, number, found, problems)
    if len(problems.errors) == faults and not read.broken:
        read.rows.append(table.Row(number, *found.values()))


def _number(read, number, found, problems):
    """Keep the key of this row; a second row of the same key is an error."""
    key = found[read.table.key[0]] if len(read.table.key) == 1 else tuple(found[name] for name in read.table.key)
    first = read.numbers.setdefault(key, number)
    if first != number:
        shown = "; ".join(str(found[name]) for name in read.table.key)
        column = read.table.key[-1] if len(read.table.key) == 1 else read.table.key[0]
        problems.error(read.table.name, number, column, shown, f"Stands in row {first} already.")


def _sha256(path):
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
