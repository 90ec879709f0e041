"""Recompute every balance and average from the ledger alone, and name each difference."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db import connection
from django.db.models import Sum

from firm.models import Sent
from inventory.models import AverageCost, CostCorrection, Held, Movement, Place, Price, Stock
from inventory.services.ledger import Average

APPEND_ONLY = [Movement, Price, CostCorrection, Sent]


@dataclass(frozen=True)
class Difference:
    """Something that does not follow from the ledger."""

    what: str
    where: str
    book: object
    ledger: object

    def __str__(self):
        return f"{self.what}: {self.where}: the book says {self.book}, the ledger {self.ledger}"


def audit():
    """Every difference between the ledger and what is kept beside it. List of Difference."""
    replay = _Replay()
    replay.run()
    return [*replay.balances(), *replay.averages(), *replay.own_cost(), *_holds(), *_undone(), *_prices(), *_triggers()]


class _Replay:
    """One pass over all movements in the order in which they were booked."""

    def __init__(self):
        self.held = set(Place.objects.held().values_list("pk", flat=True))
        self.stock = defaultdict(Decimal)
        self.average = defaultdict(Average)
        self.own = defaultdict(Decimal)

    def run(self):
        fields = ["part_id", "quantity", "source_id", "destination_id", "condition", "unit_cost", "own_cost"]
        rows = Movement.objects.order_by("pk").values_list(*fields, "job_number", "undoes_id")
        for part, quantity, source, destination, condition, unit_cost, own, job_number, undoes in rows.iterator(10_000):
            comes_in, goes_out = destination in self.held, source in self.held
            if goes_out:
                self.stock[source, part, condition] -= quantity
                self.own[source, part, job_number] -= quantity if own else 0
            if comes_in:
                self.stock[destination, part, condition] += quantity
                self.own[destination, part, job_number] += quantity if own else 0
            if not own and comes_in != goes_out:
                self.average[part] = self.average[part].after(
                    quantity, unit_cost, comes_in=comes_in, goes_out=goes_out, undoes=undoes is not None
                )

    def balances(self):
        book = {(row.place_id, row.part_id, row.condition): row.on_hand for row in Stock.objects.all()}
        for key in sorted(book.keys() | self.stock.keys()):
            if book.get(key, 0) != self.stock.get(key, 0):
                yield Difference("balance", _name(*key), book.get(key, 0), self.stock.get(key, 0))

    def averages(self):
        book = {row.part_id: Average(row.held, row.unit_cost) for row in AverageCost.objects.all()}
        for part in sorted(book.keys() | self.average.keys()):
            ours, theirs = book.get(part, Average()), self.average.get(part, Average())
            if ours != theirs:
                yield Difference("average cost", f"part {part}", _words(ours), _words(theirs))

    def own_cost(self):
        held = Held.objects.filter(own_cost=True, released_at=None)
        rows = held.values_list("place_id", "part_id", "job_number").annotate(total=Sum("quantity"))
        book = {tuple(key): total for *key, total in rows}
        for key in sorted(book.keys() | {key for key, quantity in self.own.items() if quantity}):
            if book.get(key, 0) != self.own.get(key, 0):
                yield Difference("bought for a job", _name(*key), book.get(key, 0), self.own.get(key, 0))


def _name(place, part, detail):
    return f"place {place}, part {part}, {detail}"


def _words(average):
    return f"{average.held.normalize():f} at {average.unit_cost}"


def _holds():
    """More kept for jobs than there is."""
    kept = Held.objects.filter(released_at=None).values_list("place_id", "part_id").annotate(total=Sum("quantity"))
    there = Stock.objects.values_list("place_id", "part_id").annotate(total=Sum("on_hand"))
    on_hand = {(place, part): total for place, part, total in there}
    for place, part, total in kept:
        if total > on_hand.get((place, part), 0):
            yield Difference("kept for jobs", f"place {place}, part {part}", total, on_hand.get((place, part), 0))


def _undone():
    """An opposite that is none."""
    for line in Movement.objects.exclude(undoes=None).select_related("undoes").iterator():
        first = line.undoes
        opposite = (first.part_id, first.quantity, first.destination_id, first.source_id)
        if (line.part_id, line.quantity, line.source_id, line.destination_id) != opposite:
            yield Difference("undone", f"movement {line.pk}", line, first)


def _prices():
    """A price per piece that does not follow from its pack."""
    rows = Price.objects.values_list("pk", "price_ex_vat", "pack", "price_per_piece")
    for pk, price, pack, per_piece in rows.iterator(10_000):
        if Price.per_piece(price, pack) != per_piece:
            yield Difference("price per piece", f"price {pk}", per_piece, Price.per_piece(price, pack))


def _triggers():
    """An append-only table whose guard is missing from the database."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT tbl_name FROM sqlite_master WHERE type = 'trigger' AND sql LIKE '%append-only%'")
        else:
            cursor.execute(
                "SELECT event_object_table FROM information_schema.triggers WHERE trigger_name LIKE '%append_only'"
            )
        guards = Counter(row[0] for row in cursor.fetchall())  # one for UPDATE, one for DELETE
    for model in APPEND_ONLY:
        if guards[model._meta.db_table] < 2:
            yield Difference("append-only guard", model._meta.db_table, "missing", "needed")
