"""What should be ordered now: what the store lacks by its levels, what vans lack beyond it, what jobs wait for."""

from collections import defaultdict
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import ceil

from django.db.models import Q, Sum

from firm.models import Setting
from firm.words import SIGNS
from inventory.models import CarryLevel, Order, OrderLine, Part, Place, ReceiptLine, Stock, Supplier
from inventory.services import pricing
from inventory.services.store_levels import StoreRow, store_levels
from inventory.stocking.reorder import OrderLine as Candidate
from inventory.stocking.reorder import filled_up

ZERO = Decimal(0)


@dataclass
class Proposal:
    """What one supplier should be sent: rows of (Source, pieces wanted, why, job number)."""

    supplier: Supplier
    rows: list = field(default_factory=list)

    @property
    def total(self):
        return sum((row[0].total for row in self.rows), ZERO)

    @property
    def carriage(self):
        return pricing.carriage(self.supplier, self.total)


def propose_orders(on, waiting=()):
    """Group what the store lacks, and what waiting jobs need, by the cheapest source.

    waiting: (part, quantity, job number) of jobs that wait for parts. Return proposals, dearest first, and the parts
    for which nobody has a price. An order is filled up to free carriage where that saves more than it holds.
    """
    levels, stands = {row.part.pk: row for row in store_levels(on)}, _Position()
    by_supplier, nowhere = {}, []
    wanted = [*_lacking(levels, stands), *((p, q, "a job waits", j) for p, q, j in waiting)]
    living = {part: pricing.living(part) for part, *_ in wanted}
    offers = defaultdict(list)
    for offer in pricing.offers_of(set(living.values()), on):
        offers[offer.part_id].append(offer)
    for part, quantity, why, job_number in wanted:
        found = pricing.sources_among(offers[living[part].pk], living[part], quantity)
        if not found:
            nowhere.append((part, quantity, why, job_number))
            continue
        supplier = found[0].offer.supplier
        by_supplier.setdefault(supplier.pk, Proposal(supplier)).rows.append((found[0], quantity, why, job_number))
    for proposal in by_supplier.values():
        _fill_up(proposal, levels, stands)
    return sorted(by_supplier.values(), key=lambda proposal: -proposal.total), nowhere


class _Position:
    """Of each part, by primary key: free in the stores, on order, missing on vans, and the stores' agreed level."""

    def __init__(self):
        self.free, self.coming, self.on_vans = _free_in_stores(), _still_to_come(), _missing_on_vans()
        agreed = CarryLevel.objects.filter(place__kind=Place.Kind.STORE).values("part").annotate(n=Sum("level"))
        self.agreed = {row["part"]: row["n"] for row in agreed.order_by()}

    def there(self, part):
        return self.free[part] + self.coming[part]

    def of(self, part):
        """On hand and on order, less what the vans are still to be given."""
        return self.there(part) - self.on_vans[part]


def _lacking(levels: dict[int, StoreRow], stands: _Position):
    """(part, pieces, why, no job) of what the stores should order for their shelves and for the vans."""
    concerned = {*levels, *stands.agreed, *stands.on_vans}
    for part in Part.objects.filter(pk__in=concerned, counted=True).select_related("superseded_by"):
        quantity, why = _due(levels.get(part.pk), stands, part.pk)
        if quantity > 0:
            yield part, quantity, why, ""


def _due(row: StoreRow | None, stands: _Position, part):
    """(pieces, why) to order now, the largest of three claims; no pieces: nothing is due."""
    agreed, there, position = stands.agreed.get(part, 0), stands.there(part), stands.of(part)
    claims = [(agreed - there, f"below the level of {agreed}"), (-position, "missing on vans")]
    if row is not None and position <= row.level:
        left = max(position, ZERO)
        why = f"{left:.0f} left, to be ordered at {row.level}" if row.level > 0 else "none left"
        claims.append((max(Decimal(row.quantity), row.level + 1 - position), why))
    return max(claims, key=lambda claim: claim[0])


def _free_in_stores():
    found = defaultdict(Decimal)
    for row in Stock.objects.filter(place__kind=Place.Kind.STORE, condition="new").free():
        found[row.part_id] += row.free
    return found


def _missing_on_vans():
    """Part pk to the pieces that the vans lack to their levels."""
    stock = defaultdict(Decimal)
    for row in Stock.objects.filter(place__kind=Place.Kind.VAN).free():
        stock[row.place_id, row.part_id] += row.free
    missing = defaultdict(Decimal)
    levels = CarryLevel.objects.filter(place__kind=Place.Kind.VAN, place__retired_on=None, level__gt=0)
    for place, part, level in levels.values_list("place", "part", "level"):
        missing[part] += max(level - stock[place, part], ZERO)
    return missing


def _still_to_come():
    """{part pk: pieces} on order for no particular job, less the good ones received."""
    lines = OrderLine.objects.filter(order__state__in=[Order.State.SENT, Order.State.PART_RECEIVED], job_number="")
    good = Sum("receipts__quantity", filter=Q(receipts__outcome=ReceiptLine.Outcome.GOOD))
    coming = defaultdict(Decimal)
    for line in lines.annotate(good=good):
        coming[line.part_id] += max(line.pieces - (line.good or 0), ZERO)
    return coming


def _fill_up(proposal: Proposal, levels: dict[int, StoreRow], stands: _Position):
    """Add packs of what the store orders from this supplier anyway, if free carriage saves more than they hold."""
    supplier, setting = proposal.supplier, Setting.current()
    if not proposal.carriage or supplier.carriage_free_over is None:
        return
    lines = {n: _candidate(row, levels, stands) for n, row in enumerate(proposal.rows)}
    present = {row[0].part.pk for row in proposal.rows}
    theirs = {pk: row for pk, row in levels.items() if row.offer.supplier_id == supplier.pk and row.level >= 0}
    others = {pk: row for pk, row in theirs.items() if pk not in present}
    lines |= {-pk: _not_due(row, stands.of(pk)) for pk, row in others.items()}
    named = [replace(line, part=key) for key, line in lines.items()]
    free_over, holding = float(supplier.carriage_free_over), float(setting.holding_per_year)
    pieces = filled_up(named, float(proposal.carriage), free_over, holding)
    sign = SIGNS.get(setting.currency, setting.currency + " ")
    for key, line in lines.items():
        if pieces[key] > line.pieces:
            why = f"for free carriage, which saves {sign}{supplier.carriage:.2f}"
            _add(proposal, key, pieces[key], others, pieces[key] - line.pieces, why)


def _candidate(row, levels, stands):
    source, _, _, job_number = row
    known = levels.get(source.part.pk) if not job_number else None
    demand = known.demand_per_year if known else 0.0
    return Candidate(
        "",
        int(source.pieces),
        ceil(source.offer.now_pack),
        float(source.price_per_piece),
        float(max(stands.of(source.part.pk), ZERO)),
        demand,
    )


def _not_due(row: StoreRow, position):
    return Candidate("", 0, row.pack, row.price, float(max(position, ZERO)), row.demand_per_year, row.least)


def _add(proposal, key, pieces, others, more, why):
    if key >= 0:
        source, wanted, reason, job_number = proposal.rows[key]
        [fuller] = pricing.sources_among([source.offer], source.part, pieces)
        proposal.rows[key] = (fuller, wanted + more, f"{reason}; {more} more {why}", job_number)
    else:
        row = others[-key]
        [source] = pricing.sources_among([row.offer], row.part, pieces)
        proposal.rows.append((source, Decimal(pieces), f"before it is due, {why}", ""))
