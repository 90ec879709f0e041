"""Tables as files. Text that a spreadsheet would take for a formula is made harmless."""

import csv
from datetime import date, datetime
from io import BytesIO, StringIO
from itertools import chain
from math import isfinite

from django.http import HttpResponse
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")


def harmless(value):
    """The value as it may stand in a cell: numbers and dates as they are, risky text with an apostrophe before."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.replace(tzinfo=None)
    if isinstance(value, int | float | date) or hasattr(value, "as_tuple"):
        return value
    text = str(value)
    return f"'{text}" if text.lstrip(" ").startswith(RISKY) or text.startswith(RISKY) else text


def csv_response(name, head, rows):
    sheet = StringIO()
    writer = csv.writer(sheet)
    writer.writerows([harmless(value) for value in row] for row in chain([head], rows))
    return _file(sheet.getvalue().encode("utf-8-sig"), f"{name}.csv", "text/csv; charset=utf-8")


def xlsx_response(name, head, rows):
    book = Workbook(write_only=True)
    sheet = book.create_sheet(name[:31])
    sheet.freeze_panes = "A2"
    sheet.append([_bold(sheet, harmless(label)) for label in head])
    for row in rows:
        sheet.append([_exact(sheet, harmless(value)) for value in row])
    body = BytesIO()
    book.save(body)
    return _file(body.getvalue(), f"{name}.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")


def _bold(sheet, label):
    cell = WriteOnlyCell(sheet, value=label)
    cell.font = Font(bold=True)
    return cell


def _exact(sheet, value):
    """A number with all its digits: openpyxl itself writes sixteen, and some need one more."""
    if not isinstance(value, float) or not isfinite(value):
        return value
    cell = WriteOnlyCell(sheet, value=repr(float(value)))
    cell.data_type = "n"
    return cell


def _file(body, name, content_type):
    response = HttpResponse(body, content_type=content_type)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
