"""What was there before the book: opening stock from a firm's stock file, and parts fitted in the past."""

from collections import defaultdict
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from inventory.models import AverageCost, CarryLevel, Movement, Place, Stock, StockFile
from inventory.services import ledger
from inventory.services.counting import count
from inventory.services.places import counter

BATCH = 500


@transaction.atomic
def open_stock(rows, *, file_sha256, by=None):
    """Make balances what a stock file says. rows: (place, part, quantity, unit cost or None, carry level or None).

    A part that its place never held comes from *before the book* at its unit cost; any other row is a count. A file
    with this hash that was applied before, or was exported from this book, changes nothing: False.
    """
    if StockFile.objects.filter(sha256=file_sha256).exists():
        return False
    averages = ledger.lock([part for _, part, *_ in rows])
    known = set(Stock.objects.values_list("place_id", "part_id"))
    _open([row[:4] for row in rows if (row[0].pk, row[1].pk) not in known], averages, by)
    counted = defaultdict(list)
    for place, part, quantity, *_ in rows:
        if (place.pk, part.pk) in known:
            counted[place].append((part, quantity))
    for place, lines in counted.items():
        count(place, lines, event=uuid4(), by=by, file_sha256=file_sha256)
    _agree_levels([(place, part, level) for place, part, _, _, level in rows if level is not None])
    StockFile.objects.create(sha256=file_sha256)
    return True


def _open(rows, averages, by):
    """Book opening stock in bulk, step by step as the audit will recompute it."""
    before, now, lines = counter(Place.Kind.BEFORE_THE_BOOK), timezone.now(), []
    for place, part, quantity, unit_cost in rows:
        if quantity <= 0:
            continue
        row = averages[part.pk]
        unit_cost = row.unit_cost if unit_cost is None else unit_cost
        lines.append(_line(part.pk, quantity, before, place, Movement.Reason.STOCK_FILE, unit_cost, now, by))
        average = ledger.Average(row.held, row.unit_cost).after(quantity, unit_cost, comes_in=True, goes_out=False)
        row.held, row.unit_cost = average.held, average.unit_cost
    Movement.objects.bulk_create(lines, batch_size=BATCH)
    balances = [Stock(place=place, part=part, on_hand=quantity) for place, part, quantity, _ in rows]
    Stock.objects.bulk_create(balances, batch_size=BATCH)
    moved = {line.part_id for line in lines}
    changed = [row for part, row in averages.items() if part in moved]
    AverageCost.objects.bulk_update(changed, ["held", "unit_cost"], batch_size=200)


def _line(part_id, quantity, source, destination, reason, unit_cost, happened_at, by, job_number=""):
    return Movement(
        event=uuid4(),
        part_id=part_id,
        quantity=quantity,
        source=source,
        destination=destination,
        reason=reason,
        unit_cost=unit_cost,
        happened_at=happened_at,
        job_number=job_number,
        by=by,
    )


def _agree_levels(levels):
    """Write the agreed levels that differ."""
    there = {(row.place_id, row.part_id): row for row in CarryLevel.objects.all()}
    missing, changed = [], []
    for place, part, level in levels:
        row = there.get((place.pk, part.pk))
        if row is None:
            missing.append(CarryLevel(place=place, part=part, level=level))
        elif row.level != level:
            row.level, row.since = level, timezone.now()
            changed.append(row)
    CarryLevel.objects.bulk_create(missing, batch_size=BATCH)
    CarryLevel.objects.bulk_update(changed, ["level", "since"], batch_size=200)


def book_history(rows, *, by=None):
    """Book parts fitted in the past: from *before the book* to *fitted*; no balance, no average, no count is touched.

    rows: (part pk, quantity, unit cost or None, when, job number). Return the movements, in order.
    """
    before, fitted = counter(Place.Kind.BEFORE_THE_BOOK), counter(Place.Kind.FITTED)
    lines = [
        _line(part, quantity, before, fitted, Movement.Reason.HISTORY, unit_cost, when, by, job_number)
        for part, quantity, unit_cost, when, job_number in rows
    ]
    return Movement.objects.bulk_create(lines, batch_size=BATCH)


def remember_export(file_sha256):
    """Our own stock file is a copy of the book, never a count, however late it comes back."""
    StockFile.objects.get_or_create(sha256=file_sha256, defaults={"exported": True})
