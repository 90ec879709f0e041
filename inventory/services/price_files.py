"""A supplier's price file: kept, looked through in bounded memory, then booked as a whole or not at all."""

import hashlib
from dataclasses import dataclass, field, replace
from itertools import islice

from django.db import connection, transaction
from django.db.models import OuterRef, Subquery
from django.utils import timezone

from inventory.models import Offer, Part, Price, PriceFile
from inventory.services.price_rows import Cells, read_row
from inventory.services.price_sheets import FIELDS, LARGEST, NEEDED, CannotRead, guess, read

JUMP = 10
CHUNK = 2000
MOST_SHOWN = 100
MOST_ERRORS = 5000
PRICE_FIELDS = (
    "offer",
    "price_ex_vat",
    "pack",
    "minimum",
    "vat_rate",
    "surcharge",
    "valid_from",
    "price_file",
    "price_per_piece",
)


@dataclass
class Checked:
    """What a file would do: how many rows of each sort, and the first or most telling ones.

    errors: dicts of row, column, value, reason. changes: the largest rises. jumps, strangers: Rows.
    """

    new: int = 0
    changed: int = 0
    jumped: int = 0
    same: int = 0
    unknown: int = 0
    wrong: int = 0
    changes: list = field(default_factory=list)
    jumps: list = field(default_factory=list)
    strangers: list = field(default_factory=list)
    errors: list = field(default_factory=list)

    @property
    def counts(self):
        return {
            "new": self.new,
            "changed": self.changed,
            "ten times dearer or cheaper": self.jumped,
            "as before": self.same,
            "not ours": self.unknown,
            "not read": self.wrong,
        }

    def note(self, cells):
        """Keep what is wrong with a row."""
        self.wrong += 1
        self.errors += cells.wrongs[: MOST_ERRORS - len(self.errors)]


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
    checked = Checked()
    for _rows in _chunks(file, checked):
        pass
    return checked


def _chunks(file, checked):
    """Lists of rows to book, jumps among them marked, some thousands at a time; everything else is counted."""
    heads, rows = read(bytes(file.content), file.name)
    missing = [FIELDS[name] for name in NEEDED if file.mapping.get(name) not in heads]
    if missing:
        raise CannotRead(f"Choose the column of: {', '.join(missing)}.")
    places = {name: heads.index(column) for name, column in file.mapping.items() if column in heads}
    numbered, seen = enumerate(rows, start=2), {}
    while lines := list(islice(numbered, CHUNK)):
        good = [row for row in (_read(line, places, file, seen, checked) for line in lines) if row]
        yield _sorted(file.supplier, good, checked)


def _read(line, places, file, seen, checked):
    number, values = line
    if not any(value.strip() for value in values):
        return None
    cells = Cells(number, values, places)
    row = read_row(cells, file)
    if row is not None:
        first = seen.setdefault(hash((row.supplier_part, row.valid_from)), number)
        if first != number:
            cells.wrong("supplier_part", f"stands twice for that day, first in row {first}")
    if cells.wrongs:
        checked.note(cells)
        return None
    return row


def _sorted(supplier, rows, checked):
    """Rows that change something: (row, whether it is a jump); count the others."""
    offers, now, days, parts = _known(supplier, rows)
    wanted = []
    for row in rows:
        offer = offers.get(row.supplier_part)
        if offer is None and row.part not in parts:
            checked.unknown += 1
            checked.strangers += [row] if len(checked.strangers) < MOST_SHOWN else []
            continue
        price, pack, minimum, per_piece = now.get(offer, (None,) * 4)
        booked = days.get((offer, row.valid_from))
        if booked == (row.price, row.pack) or (price, pack, minimum) == (row.price, row.pack, row.minimum):
            checked.same += 1
        elif booked:
            cells = Cells(row.number, [], {})
            cells.wrong("valid_from", f"{row.supplier_part} has another price from that day: give a later one")
            checked.note(cells)
        else:
            wanted.append(_counted(replace(row, offer=offer, before=per_piece), checked))
    checked.changes = sorted(checked.changes, key=lambda row: -row.share)[:MOST_SHOWN]
    return wanted


def _known(supplier, rows):
    """Of these rows: {number: offer}, {offer: its price now}, {(offer, day): its price then}, our parts' numbers."""
    newest = Price.objects.filter(offer=OuterRef("pk"), valid_from__lte=timezone.localdate())
    newest = newest.order_by("-valid_from", "-pk").values("pk")[:1]
    found = Offer.objects.filter(supplier=supplier, supplier_part__in={row.supplier_part for row in rows})
    found = list(found.annotate(newest=Subquery(newest)).values_list("supplier_part", "pk", "newest").order_by())
    prices = Price.objects.filter(pk__in=[pk for *_, pk in found if pk]).order_by()
    now = {row[0]: row[1:] for row in prices.values_list("offer", "price_ex_vat", "pack", "minimum", "price_per_piece")}
    offers = {number: pk for number, pk, _ in found}
    then = Price.objects.filter(offer__in=offers.values(), valid_from__in={row.valid_from for row in rows}).order_by()
    days = {row[:2]: row[2:] for row in then.values_list("offer", "valid_from", "price_ex_vat", "pack")}
    strange = {row.part for row in rows if row.part and row.supplier_part not in offers}
    return offers, now, days, set(Part.objects.filter(number__in=strange).values_list("number", flat=True))


def _counted(row, checked):
    """(row, whether it is a jump), counted as new, changed or a jump."""
    if row.before is None:
        checked.new += 1
        return row, False
    jump = not (row.before / JUMP < row.per_piece < row.before * JUMP)
    if jump:
        checked.jumped += 1
        checked.jumps += [row] if len(checked.jumps) < MOST_SHOWN else []
    else:
        checked.changed += 1
        checked.changes.append(row)
    return row, jump


@transaction.atomic
def book(file, *, by=None, leave_out_errors=False, with_jumps=False):
    """Book every good row of a file in one transaction, or raise CannotRead and change nothing. Return Checked."""
    file = PriceFile.objects.select_for_update().get(pk=file.pk)
    if file.booked_at is not None:
        raise CannotRead("This file has been booked already.")
    checked = Checked()
    for wanted in _chunks(file, checked):
        rows = [row for row, jump in wanted if with_jumps or not jump]
        offers = _new_offers(file.supplier, rows)
        _write(file, rows, offers)
    if checked.wrong and not leave_out_errors:
        raise CannotRead(f"{checked.wrong} rows cannot be read. Mend the file, or tick that they are left out.")
    file.counts, file.errors = checked.counts, checked.errors
    file.booked_at, file.content, file.by = timezone.now(), None, by or file.by
    file.save()
    return checked


def _new_offers(supplier, rows):
    """Offers for rows whose part is ours but whose supplier's number is new: {supplier's number: primary key}."""
    fresh = {row.supplier_part: row.part for row in rows if row.offer is None}
    if not fresh:
        return {}
    parts = dict(Part.objects.filter(number__in=set(fresh.values())).values_list("number", "pk"))
    Offer.objects.bulk_create(
        [Offer(supplier=supplier, supplier_part=number, part_id=parts[part]) for number, part in fresh.items()],
        ignore_conflicts=True,
    )
    return dict(Offer.objects.filter(supplier=supplier, supplier_part__in=fresh).values_list("supplier_part", "pk"))


def _write(file, rows, offers):
    """Insert the rows as prices by plain SQL: through the model it takes twice as long."""
    columns = ", ".join(connection.ops.quote_name(Price._meta.get_field(name).column) for name in PRICE_FIELDS)
    places = ", ".join(["%s"] * len(PRICE_FIELDS))
    values = [
        (
            row.offer or offers[row.supplier_part],
            row.price,
            row.pack,
            row.minimum,
            row.vat_rate,
            row.surcharge,
            row.valid_from,
            file.pk,
            row.per_piece,
        )
        for row in rows
    ]
    with connection.cursor() as cursor:
        table = connection.ops.quote_name(Price._meta.db_table)
        cursor.executemany(f"INSERT INTO {table} ({columns}) VALUES ({places})", values)
