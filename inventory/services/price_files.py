"""A supplier's price file: read, checked row by row, then booked as a whole or not at all."""

import hashlib
import re
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory.models import Offer, Part, Price, PriceFile
from inventory.services.price_sheets import FIELDS, LARGEST, NEEDED, CannotRead, guess, read

NUMBER = re.compile(r"\d{1,9}(\.\d{1,4})?|\d{1,3}(,\d{3}){1,2}(\.\d{1,4})?")
JUMP = 10
MOST_KEPT = 100
MOST_ERRORS = 5000


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


@dataclass
class Checked:
    """What a file would do. errors: dicts of row, column, value, reason; strangers: the first rows not ours."""

    new: list = field(default_factory=list)
    changed: list = field(default_factory=list)
    jumps: list = field(default_factory=list)
    same: int = 0
    unknown: int = 0
    strangers: list = field(default_factory=list)
    errors: list = field(default_factory=list)

    @property
    def counts(self):
        return {
            "new": len(self.new),
            "changed": len(self.changed),
            "ten times dearer or cheaper": len(self.jumps),
            "as before": self.same,
            "not ours": self.unknown,
            "not read": len(self.errors),
        }


def keep(supplier, name, content, *, by=None):
    """Keep an uploaded file until it is booked, with the columns of that supplier's last file where they fit."""
    if len(content) > LARGEST:
        raise CannotRead("The file is larger than 40 MB.")
    heads = read(content, name)[0]
    last = PriceFile.objects.filter(supplier=supplier).exclude(booked_at=None).first()
    remembered = last.mapping if last else {}
    mapping = {f: c for f, c in remembered.items() if c in heads} or guess(heads)
    digest = hashlib.sha256(content).hexdigest()
    return PriceFile.objects.create(
        supplier=supplier, name=name[:200], sha256=digest, content=content, mapping=mapping, by=by
    )


def check(file):
    """What the file would do with its chosen columns. Return Checked; raise CannotRead where a column is missing."""
    heads, rows = read(bytes(file.content), file.name)
    missing = [FIELDS[name] for name in NEEDED if file.mapping.get(name) not in heads]
    if missing:
        raise CannotRead(f"Choose the column of: {', '.join(missing)}.")
    places = {name: heads.index(column) for name, column in file.mapping.items() if column in heads}
    known, checked, seen = _Known(file.supplier), Checked(), {}
    for number, cells in enumerate(rows, start=2):
        if any(cell.strip() for cell in cells):
            _sort_in(number, _Cells(number, cells, places, checked.errors), file, known, seen, checked)
    return checked


class _Known:
    """Offers, parts and newest prices of one supplier."""

    def __init__(self, supplier):
        offers = Offer.objects.filter(supplier=supplier).priced(timezone.localdate())
        wanted = ("supplier_part", "pk", "now_price_ex_vat", "now_pack", "now_minimum", "now_price_per_piece")
        self.offers = {row[0]: row[1:] for row in offers.values_list(*wanted)}
        self.parts = set(Part.objects.values_list("number", flat=True))
        days = Price.objects.filter(offer__supplier=supplier).values_list("offer", "valid_from", "price_ex_vat", "pack")
        self.days = {(offer, day): (price, pack) for offer, day, price, pack in days.iterator(10_000)}


class _Cells:
    """The values of one row, each read strictly; what is wrong goes to the list of errors."""

    def __init__(self, number, cells, places, errors):
        self.number, self.cells, self.places, self.errors = number, cells, places, errors
        self.good = True

    def text(self, name):
        place = self.places.get(name)
        return self.cells[place].strip() if place is not None and place < len(self.cells) else ""

    def wrong(self, name, reason):
        self.good = False
        about = {"row": self.number, "column": FIELDS[name], "value": self.text(name)[:80], "reason": reason}
        self.errors.append(about)

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


def _sort_in(number, cells, file, known, seen, checked):
    """Put one row where it belongs."""
    row = _row(number, cells, file)
    if row is None:
        return
    offer, price, pack, minimum, per_piece = known.offers.get(row.supplier_part, (None,) * 5)
    key = (row.supplier_part, row.valid_from)
    if key in seen:
        cells.wrong("supplier_part", f"stands twice for that day, first in row {seen[key]}")
        return
    seen[key] = number
    if offer is None and row.part not in known.parts:
        checked.unknown += 1
        checked.strangers += [row] if checked.unknown <= MOST_KEPT else []
        return
    booked = known.days.get((offer, row.valid_from))
    if booked == (row.price, row.pack) or (price, pack, minimum) == (row.price, row.pack, row.minimum):
        checked.same += 1
        return
    if booked:
        cells.wrong("valid_from", f"has another price already: {booked[0].normalize():f}. Give a later day")
        return
    row = replace(row, offer=offer, before=per_piece)
    jump = per_piece and not per_piece / JUMP < row.per_piece < per_piece * JUMP
    (checked.jumps if jump else checked.changed if per_piece is not None else checked.new).append(row)


def _row(number, cells, file):
    """The row with its values read, or None where one of them cannot be."""
    if not cells.text("supplier_part"):
        cells.wrong("supplier_part", "is empty")
    if not cells.text("price_ex_vat"):
        cells.wrong("price_ex_vat", "is empty")
    minimum = cells.amount("minimum", Decimal(1), above_zero=True)
    if minimum % 1:
        cells.wrong("minimum", "is no whole number of packs")
    row = Row(
        number=number,
        supplier_part=cells.text("supplier_part")[:80],
        part=cells.text("part"),
        price=cells.amount("price_ex_vat", Decimal(0)),
        pack=cells.amount("pack", Decimal(1), above_zero=True),
        minimum=int(minimum),
        vat_rate=cells.amount("vat_rate"),
        surcharge=cells.amount("surcharge"),
        valid_from=cells.day("valid_from", file.valid_from or timezone.localdate()),
    )
    return row if cells.good else None


@transaction.atomic
def book(file, *, by=None, leave_out_errors=False, with_jumps=False):
    """Book every good row of a file in one transaction, or raise CannotRead and change nothing. Return Checked."""
    file = PriceFile.objects.select_for_update().get(pk=file.pk)
    if file.booked_at is not None:
        raise CannotRead("This file has been booked already.")
    checked = check(file)
    if checked.errors and not leave_out_errors:
        raise CannotRead(f"{len(checked.errors)} rows cannot be read. Mend the file, or tick that they are left out.")
    rows = [*checked.new, *checked.changed, *(checked.jumps if with_jumps else [])]
    offers = _new_offers(file.supplier, rows)
    Price.objects.bulk_create((_price(file, row, offers) for row in rows), batch_size=2000)
    file.counts, file.errors = checked.counts, checked.errors[:MOST_ERRORS]
    file.booked_at, file.content, file.by = timezone.now(), None, by or file.by
    file.save()
    return checked


def _new_offers(supplier, rows):
    """Offers for rows whose part is ours but whose supplier's number is new: {supplier's number: primary key}."""
    fresh = {row.supplier_part: row.part for row in rows if row.offer is None}
    parts = dict(Part.objects.filter(number__in=set(fresh.values())).values_list("number", "pk"))
    Offer.objects.bulk_create(
        [Offer(supplier=supplier, supplier_part=n, part_id=parts[part]) for n, part in fresh.items()], batch_size=2000
    )
    return dict(Offer.objects.filter(supplier=supplier, supplier_part__in=fresh).values_list("supplier_part", "pk"))


def _price(file, row, offers):
    return Price(
        offer_id=row.offer or offers[row.supplier_part],
        price_ex_vat=row.price,
        pack=row.pack,
        minimum=row.minimum,
        vat_rate=row.vat_rate,
        surcharge=row.surcharge,
        valid_from=row.valid_from,
        price_file=file,
        price_per_piece=row.per_piece,
    )
