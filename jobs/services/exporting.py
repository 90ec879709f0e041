"""A firm's files, as import_firm reads them: exported and imported into an empty database it is the same firm."""

import csv
import hashlib
import os
from datetime import date, time
from decimal import Decimal
from pathlib import Path

from django.db import connection, transaction

from inventory.services.opening import remember_export
from jobs.services import export_rows, export_work
from jobs.services.importing.tables import TABLES

ROWS = export_rows.ROWS | export_work.ROWS


class FolderInUse(Exception):
    """The folder holds a spreadsheet that would stand beside a file of ours; nothing was written."""


def export_firm(folder):
    """Write every file of the firm into `folder`, as the book stands at one moment. Return {table: rows}.

    The stock file is remembered: imported again, however late, it is a copy of the book and no count.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    beside = sorted(name for name in TABLES if (folder / f"{name}.xlsx").exists())
    if beside:
        raise FolderInUse(f"{folder} holds {', '.join(f'{name}.xlsx' for name in beside)}: choose another folder.")
    alone = not connection.in_atomic_block
    with transaction.atomic():
        if alone and connection.vendor == "postgresql":
            connection.cursor().execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        counts = {name: _write(folder / f"{name}.csv", table, ROWS[name]()) for name, table in TABLES.items()}
        remember_export(hashlib.sha256((folder / "stock.csv").read_bytes()).hexdigest())
    return counts


def _write(path, table, rows):
    """Write one file beside its old self, then in its place. rows: {column: value}."""
    columns, count = [column.name for column in table.columns], 0
    unfinished = path.with_suffix(".csv.part")
    with unfinished.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        for count, row in enumerate(rows, start=1):  # noqa: B007
            writer.writerow([as_cell(row.get(name)) for name in columns])
    os.replace(unfinished, path)
    return count


def as_cell(value):
    """A value as the importer reads it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.isoformat("seconds" if value.second else "minutes")
    if isinstance(value, list | tuple):
        return ";".join(as_cell(one) for one in value)
    return str(value)
