"""Tables: sorted and filtered by the address, files of what is shown without formulas, and numbers in words."""

import csv
import io
from decimal import Decimal

import openpyxl
import pytest
from django.test import RequestFactory

from firm import words
from firm.exports import harmless, xlsx_response
from firm.tables import Column, Filter, Table

ROWS = [{"name": "van 10", "worth": 5, "note": "=1+1"}, {"name": "van 2", "worth": None, "note": "+44"},
        {"name": "van 1", "worth": 7, "note": "plain"}]  # fmt: skip
COLUMNS = [Column("name", "Name"), Column("worth", "Worth", numeric=True), Column("note", "Note")]


def _table(query="", **more):
    filters = [Filter("q", "Name", lambda rows, text: [row for row in rows if text in row["name"]])]
    return Table(
        RequestFactory().get(f"/x/?{query}"), ROWS, COLUMNS, name="vans", caption="Vans", filters=filters, **more
    )


def test_a_table_sorts_numbers_within_words_and_puts_what_is_not_known_last():
    assert [row["name"] for row in _table("sort=name").rows] == ["van 1", "van 2", "van 10"]
    assert [row["worth"] for row in _table("sort=-worth").rows] == [7, 5, None]
    assert [row["worth"] for row in _table("sort=worth").rows] == [5, 7, None]


def test_a_table_ignores_what_nobody_could_have_asked_for():
    table = _table("sort=;drop&page=abc&q=")
    assert len(table.rows) == 3
    assert table.page.number == 1


def test_files_hold_what_is_shown_and_no_formula():
    answer = _table("q=van+1&sort=name&export=csv").response
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows == [["Name", "Worth", "Note"], ["van 1", "7", "plain"], ["van 10", "5", "'=1+1"]]
    book = openpyxl.load_workbook(io.BytesIO(_table("export=xlsx").response.content))
    cells = [cell.value for row in book.active.iter_rows(min_row=2) for cell in row]
    assert "'=1+1" in cells
    assert "'+44" in cells
    assert "formula" not in {cell.data_type for row in book.active.iter_rows() for cell in row}


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1+cmd", "@SUM(A1)", "\t=1", "\r=1", " =1"])
def test_text_that_a_spreadsheet_would_run_is_made_harmless(text):
    assert harmless(text) == f"'{text}"


def test_numbers_stay_numbers_in_files():
    assert harmless(-3.5) == -3.5
    assert harmless(None) == ""


def test_a_spreadsheet_holds_every_digit_of_a_number():
    numbers = [121.28253275499164, 5e-324, -1 / 3, 1e22, 7]
    book = openpyxl.load_workbook(io.BytesIO(xlsx_response("exact", ["Number"], [[one] for one in numbers]).content))
    cells = [cell for row in book.active.iter_rows(min_row=2) for cell in row]
    assert [cell.value for cell in cells] == numbers
    assert {cell.data_type for cell in cells} == {"n"}


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_what_is_not_known_is_said_in_words(value):
    shown = [
        words.money(value),
        words.number(value),
        words.years(value),
        words.per_cent(value),
        words.between(value, value),
    ]
    assert set(shown) == {"not known", "range not known"}


def test_numbers_in_words():
    assert words.money(-3, "GBP") == "−£3.00"
    assert words.money(Decimal("1234.505"), "EUR") == "€1,234.51"
    assert words.number(-0.04) == "0.0"
    assert words.number(1200, None) == "1,200"
    assert words.between(11.3, None) == "over 11.3"
    assert words.count(1, "pump") == "1 pump"
    assert words.count(0, "pump") == "no pumps"
