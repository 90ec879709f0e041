"""The one table of the desk: sorted, filtered and paged by the address, and exported as shown (CSV, XLSX)."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from django.core.paginator import Paginator
from django.db.models import F, QuerySet

from firm.exports import csv_response, xlsx_response

PER_PAGE = 50


def figure(label, value, note=""):
    """An entry of the figures at the head of a page."""
    return {"label": label, "value": value, "note": note}


@dataclass(frozen=True)
class Column:
    """One column. `value` (row -> plain value; default the attribute or key `key`) is sorted and exported,
    `show` (value -> text) is printed; `href`, `sub` and `chip` (row -> …) dress the cell; chip gives
    (kind, sign, word). `order` names the database field to sort a QuerySet by (default `key`, "" = cannot).
    `svg` (row -> picture) and `head` (the picture's axis) make a column of pictures, which no file holds.
    """

    key: str
    label: str
    value: Callable | None = None
    show: Callable | None = None
    numeric: bool = False
    href: Callable | None = None
    sub: Callable | None = None
    chip: Callable | None = None
    svg: Callable | None = None
    order: str | None = None
    whole: bool = False
    head: str = ""

    def of(self, row):
        if self.value:
            return self.value(row)
        return row.get(self.key) if isinstance(row, dict) else getattr(row, self.key, None)


@dataclass(frozen=True)
class Filter:
    """One filter in the address. `apply(rows, text) -> rows`; choices: (value, label) pairs, none = free text."""

    key: str
    label: str
    apply: Callable
    choices: list | None = None


@dataclass(frozen=True)
class Cell:
    column: Column
    value: object
    text: str
    href: str = ""
    sub: str = ""
    chip: tuple = ()
    svg: str = ""


class Table:
    """Rows (list or QuerySet) as one request wants to see them.

    `response` is a file where ?export=csv or xlsx asks for one: a view returns it before it renders.
    On a phone rows become leaves with each heading beside its value.
    `prefix` keeps two tables of one page apart in the address; `more` are columns that only files hold. `last` (row ->
    bool) names rows of a list that stand at the end however the others are sorted.
    """

    def __init__(
        self,
        request,
        rows,
        columns,
        *,
        name,
        caption,
        filters=(),
        sort="",
        per_page=PER_PAGE,
        empty="Nothing here yet.",
        prefix="",
        css="",
        foot=None,
        more=(),
        last=None,
    ):
        self.request, self.columns, self.name, self.caption = request, columns, name, caption
        self.empty, self.prefix, self.css, self.foot, self.more = empty, prefix, css, foot, list(more)
        self.ident = f"table-{prefix or 'main'}"
        self.all = len(rows) if isinstance(rows, list) else rows.count()
        self.filters = [(f, self._asked(f.key)) for f in filters]
        self.sort = self._asked("sort") or sort
        self.rows = self._sorted(self._filtered(rows))
        if last:
            self.rows = sorted(self.rows, key=last)
        self.page = Paginator(self.rows, per_page).get_page(self._asked("page") or 1)

    def _asked(self, key):
        return self.request.GET.get(self.prefix + key, "").replace("\0", "").strip()

    def _filtered(self, rows):
        for each, text in self.filters:
            if text and (each.choices is None or text in {str(value) for value, _ in each.choices}):
                rows = each.apply(rows, text)
        return rows

    def _sorted(self, rows):
        down, key = self.sort.startswith("-"), self.sort.lstrip("-")
        column = next((c for c in self.columns if c.key == key and c.order != ""), None)
        if column is None:
            return rows
        if isinstance(rows, QuerySet):
            name = F(column.order or column.key)
            return rows.order_by(name.desc(nulls_last=True) if down else name.asc(nulls_last=True), "pk")
        there = [row for row in rows if column.of(row) not in (None, "")]
        gone = [row for row in rows if column.of(row) in (None, "")]
        return sorted(there, key=lambda row: _sortable(column.of(row)), reverse=down) + gone

    @property
    def total(self):
        return self.page.paginator.count

    @property
    def is_filtered(self):
        return any(text for _, text in self.filters)

    def heads(self):
        """(column, its sort address or "", aria-sort) for the head of the table."""
        for column in self.columns:
            state = {column.key: "ascending", f"-{column.key}": "descending"}.get(self.sort, "")
            down_first = column.numeric and not state
            wanted = f"-{column.key}" if state == "ascending" or down_first else column.key
            can = column.order != "" and column.svg is None
            yield column, self.address(sort=wanted, page=None) if can else "", state

    @property
    def can_sort(self):
        return any(True for _ in self.orders())

    def orders(self):
        """(value, label) of the ways to sort, for a phone, which shows no heads."""
        asked = self.sort if self.sort.startswith("-") else f"-{self.sort}"
        for column in self.columns:
            if column.order != "" and column.svg is None:
                yield column.key, column.label
                if column.numeric or f"-{column.key}" == asked:
                    yield f"-{column.key}", f"{column.label}, {'most' if column.numeric else 'last'} first"

    def body(self):
        for row in self.page.object_list:
            yield [self._cell(column, row) for column in self.columns]

    def _cell(self, column, row):
        value = column.of(row)
        return Cell(
            column=column,
            value=value,
            text=column.show(value) if column.show else "" if value is None else str(value),
            href=column.href(row) or "" if column.href else "",
            sub=column.sub(row) or "" if column.sub else "",
            chip=column.chip(row) or () if column.chip else (),
            svg=column.svg(row) if column.svg else "",
        )

    def address(self, **changes):
        query = self.request.GET.copy()
        for key, value in changes.items():
            query.pop(self.prefix + key, None)
            if value:
                query[self.prefix + key] = value
        return "?" + query.urlencode()

    def link(self, key, href):
        """Give the column `key` its links late, once the page's own rows are known."""
        self.columns = [replace(c, href=href) if c.key == key else c for c in self.columns]

    @property
    def csv_address(self):
        return self.address(export="csv", page=None)

    @property
    def xlsx_address(self):
        return self.address(export="xlsx", page=None)

    @property
    def others(self):
        """What the address says beside this table's own filters, to be kept by its filter form."""
        own = {self.prefix + f.key for f, _ in self.filters}
        own |= {self.prefix + word for word in ("page", "export", "sort")}
        return [(key, value) for key, value in self.request.GET.items() if key not in own]

    @property
    def response(self):
        make = {"csv": csv_response, "xlsx": xlsx_response}.get(self._asked("export"))
        if not make:
            return None
        columns = [c for c in self.columns if c.svg is None] + self.more
        body = ([_plain(column, row) for column in columns] for row in self.rows)
        return make(self.name, [c.label for c in columns], body)


def _plain(column, row):
    value = column.of(row)
    if value is None and column.chip and (chip := column.chip(row)):
        return chip[2]
    return value


def _sortable(value):
    """Numbers within text count as numbers: van 2 stands before van 10."""
    if isinstance(value, str):
        return [
            (0, int(piece), "") if piece.isdigit() else (1, 0, piece)
            for piece in re.split(r"([0-9]+)", value.casefold())
        ]
    return float(value) if isinstance(value, Decimal) else value
