"""One row of a price file: its values read strictly, what is wrong named with row and column."""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from inventory.models import Price
from inventory.services.price_sheets import FIELDS

NUMBER = re.compile(r"\d{1,9}(\.\d{1,4})?|\d{1,3}(,\d{3}){1,2}(\.\d{1,4})?")


@dataclass(frozen=True)
class Row:
    """One row that can be booked. `before`: price per piece now, None where there is none."""

    number: int
    supplier_part: str
    part: str
    price: Decimal
    pack: Decimal
    minimum: int
    vat_rate: Decimal | None
    surcharge: Decimal | None
    valid_from: date
    offer: int | None = None
    before: Decimal | None = None

    @property
    def per_piece(self):
        return Price.per_piece(self.price, self.pack)

    @property
    def share(self):
        """The change over the price before, or None."""
        return (self.per_piece - self.before) / self.before if self.before else None


class Cells:
    """The values of one row, each read strictly. `wrongs`: dicts of row, column, value, reason."""

    def __init__(self, number, cells, places):
        self.number, self.cells, self.places, self.wrongs = number, cells, places, []

    def text(self, name):
        place = self.places.get(name)
        return self.cells[place].strip() if place is not None and place < len(self.cells) else ""

    def wrong(self, name, reason):
        about = {"row": self.number, "column": FIELDS[name], "value": self.text(name)[:80], "reason": reason}
        self.wrongs.append(about)

    def amount(self, name, default=None, *, above_zero=False):
        text = self.text(name).lstrip("£€$ ")
        if not text:
            return default
        if not NUMBER.fullmatch(text):
            self.wrong(name, "is no plain number such as 12.50")
            return default
        value = Decimal(text.replace(",", ""))
        if above_zero and value == 0:
            self.wrong(name, "must be more than nothing")
        return value

    def day(self, name, default):
        text = self.text(name)
        try:
            return date.fromisoformat(text[:10]) if text else default
        except ValueError:
            self.wrong(name, "is no day such as 2026-11-25")
            return default


def read_row(cells, file):
    """The row with its values read, or None where one of them cannot be."""
    if not cells.text("supplier_part"):
        cells.wrong("supplier_part", "is empty")
    if not cells.text("price_ex_vat"):
        cells.wrong("price_ex_vat", "is empty")
    minimum = cells.amount("minimum", Decimal(1), above_zero=True)
    if minimum % 1:
        cells.wrong("minimum", "is no whole number of packs")
    row = Row(
        number=cells.number,
        supplier_part=cells.text("supplier_part")[:80],
        part=cells.text("part"),
        price=cells.amount("price_ex_vat", Decimal(0)),
        pack=cells.amount("pack", Decimal(1), above_zero=True),
        minimum=int(minimum),
        vat_rate=cells.amount("vat_rate"),
        surcharge=cells.amount("surcharge"),
        valid_from=cells.day("valid_from", file.valid_from or timezone.localdate()),
    )
    return None if cells.wrongs else row
