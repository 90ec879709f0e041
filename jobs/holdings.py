"""What a place holds of each part against what it should hold, and what the store could bring."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from inventory.models import CarryLevel, Stock

NONE = Decimal(0)


@dataclass
class Holding:
    """One part of a place: level, what is there, what is free, what is missing to the level."""

    part: object
    level: int | None = None
    fixed: object = None
    on_hand: Decimal = NONE
    free: Decimal = NONE
    opened: Decimal = NONE
    in_store: Decimal = NONE
    shelf: str = ""
    unit_cost: Decimal | None = None
    typed: str | None = None

    @property
    def held(self):
        return self.on_hand - self.free

    @property
    def missing(self):
        return max(Decimal(self.level or 0) - self.free, NONE)

    @property
    def to_bring(self):
        """Pieces of the missing that the store has free."""
        return min(self.missing, max(self.in_store, NONE))


def holdings(place, other=None):
    """A Holding for each part that the place holds or should hold; `other` is the store that tops it up."""
    rows, today = {}, timezone.localdate()
    stock = Stock.objects.filter(place=place).there().free().select_related("part__average")
    for row in stock:
        kept = rows.setdefault(row.part_id, Holding(row.part, unit_cost=_cost(row.part)))
        kept.on_hand += row.on_hand
        kept.free += row.on_hand if row.condition != "new" else row.free
        kept.opened += row.on_hand if row.condition != "new" else NONE
        kept.shelf = kept.shelf or row.shelf
    for level in CarryLevel.objects.filter(place=place).select_related("part__average", "fixed_by"):
        kept = rows.setdefault(level.part_id, Holding(level.part, unit_cost=_cost(level.part)))
        kept.level, kept.fixed = level.level, level if _still_fixed(level, today) else None
    if other is not None and other != place:
        for row in Stock.objects.filter(place=other, part__in=rows, condition="new").there().free():
            rows[row.part_id].in_store = row.free
    return sorted(rows.values(), key=lambda row: row.part.description.casefold())


def _still_fixed(level, today):
    return level.fixed and (level.until is None or level.until >= today)


def _cost(part):
    average = getattr(part, "average", None)
    return average.unit_cost if average else None
