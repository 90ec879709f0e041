"""Reading a supplier's price file: headings, rows of text, and which column is what."""

import csv
import io
import re
from datetime import datetime
from itertools import chain

from python_calamine import CalamineError, CalamineWorkbook

FIELDS = {
    "supplier_part": "Supplier’s number",
    "price_ex_vat": "Price of a pack, without VAT",
    "part": "Our number",
    "pack": "Pieces in a pack",
    "minimum": "Least packs",
    "vat_rate": "VAT, per cent",
    "surcharge": "Surcharge on the old part",
    "valid_from": "Valid from",
}
NEEDED = ("supplier_part", "price_ex_vat")
LARGEST = 40 * 1024 * 1024


class CannotRead(Exception):
    """The file is none that we can read, or its columns are not chosen; nothing was changed."""

    field = "file"


def guess(heads):
    """Our field -> column, where a heading is one of our names or labels."""
    plain = {re.sub(r"[^a-z]", "", head.lower()): head for head in heads}
    names = {f: (re.sub(r"[^a-z]", "", f), re.sub(r"[^a-z]", "", label.lower())) for f, label in FIELDS.items()}
    return {f: plain[name] for f, wanted in names.items() for name in wanted if name in plain}


def read(content, name):
    """(headings, iterator of rows of text) of a CSV or XLSX file; empty rows are kept, so that numbers stay right."""
    try:
        rows = iter(_sheet(content) if name.lower().endswith(".xlsx") else _text(content))
        heads, first = next(rows, None), next(rows, None)
    except (CalamineError, csv.Error, ValueError, IndexError) as problem:
        raise CannotRead(f"This is no file of prices that can be read: {problem}") from problem
    if heads is None or first is None:
        raise CannotRead("The file has no rows below its headings.")
    return [head.strip() for head in heads], chain([first], rows)


def _text(content):
    text = content.decode("utf-8-sig") if _is_utf8(content) else content.decode("cp1252")
    if "\0" in text:
        raise CannotRead("The file is not text. Save it as CSV or XLSX.")
    first = text.split("\n", 1)[0]
    return csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count))


def _is_utf8(content):
    try:
        content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    return True


def _sheet(content):
    rows = CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_index(0).iter_rows()
    return ([_cell(value) for value in row] for row in rows)


def _cell(value):
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return value.date().isoformat() if isinstance(value, datetime) else str(value)
