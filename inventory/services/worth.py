"""What the stock is worth: each part at its average cost, what was bought for a job at its own."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from inventory.models import AverageCost, CarryLevel, Held, Place, Stock

MONEY, ZERO = Decimal("0.01"), Decimal(0)


@dataclass(frozen=True)
class Holding:
    """A part in a held place. value, over and short are money ex VAT; None where the cost is not known.

    over: what lies above the agreed level; short: what is missing to it; both 0 where no level is agreed.
    """

    place: int
    part: int
    on_hand: Decimal
    level: int | None
    value: Decimal | None
    over: Decimal | None
    short: Decimal | None


def holdings():
    """Every part in every held place that is there or should be, in four queries."""
    costs = dict(AverageCost.objects.values_list("part", "unit_cost"))
    levels = {(place, part): level for place, part, level in CarryLevel.objects.values_list("place", "part", "level")}
    there = defaultdict(Decimal)
    for place, part, on_hand in (
        Stock.objects.there().filter(place__kind__in=Place.HELD).values_list("place", "part", "on_hand")
    ):
        there[place, part] += on_hand
    own = _bought_for_jobs()
    return [_holding(key, there[key], levels.get(key), costs.get(key[1]), own.get(key)) for key in {*there, *levels}]


def _bought_for_jobs():
    """{(place, part): (pieces, their cost or None)} of what is kept for a job at its own cost."""
    found = {}
    rows = Held.objects.filter(own_cost=True, released_at=None).values_list("place", "part", "quantity", "unit_cost")
    for place, part, quantity, unit_cost in rows:
        pieces, cost = found.get((place, part), (ZERO, ZERO))
        known = cost is not None and unit_cost is not None
        found[place, part] = pieces + quantity, cost + quantity * unit_cost if known else None
    return found


def _holding(key, on_hand, level, unit_cost, own):
    pieces, own_cost = own or (ZERO, ZERO)
    plain = max(on_hand - pieces, ZERO)
    value = _times(plain, unit_cost)
    value = None if value is None or own_cost is None else value + own_cost.quantize(MONEY, ROUND_HALF_UP)
    over, short = (ZERO, ZERO) if level is None else (max(plain - level, ZERO), max(level - plain, ZERO))
    return Holding(*key, on_hand, level, value, _times(over, unit_cost), _times(short, unit_cost))


def _times(pieces, unit_cost):
    if not pieces:
        return ZERO
    return None if unit_cost is None else (pieces * unit_cost).quantize(MONEY, ROUND_HALF_UP)
