"""The heart of the ledger: book lines of movement, and keep balances and average costs in step with them.

Every caller holds the parts' locks (`lock`) inside a transaction; nothing else writes Movement, Stock or AverageCost.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import F
from django.utils import timezone

from inventory.models import AverageCost, Condition, Movement, Stock

COST = Decimal("0.0001")
MONEY = Decimal("0.01")


class NotThere(Exception):
    """The office asked for more than there is; nothing was changed."""

    field = "quantity"


@dataclass
class Average:
    """Weighted average cost of what is held of one part, as the ledger's lines make it.

    held: pieces in held places, without what was bought for a job. unit_cost: money per piece or None, unknown.
    """

    held: Decimal = Decimal(0)
    unit_cost: Decimal | None = None

    def after(self, quantity, unit_cost, *, comes_in, goes_out, undoes=False):
        """The average once a line of `quantity` at `unit_cost` is booked."""
        if comes_in == goes_out:
            return self
        if comes_in:
            return Average(self.held + quantity, self._weighed(quantity, unit_cost))
        left = self.held - quantity
        if undoes and left > 0 and None not in (unit_cost, self.unit_cost):
            worth = self.held * self.unit_cost - quantity * unit_cost
            if worth >= 0:
                return Average(left, (worth / left).quantize(COST, ROUND_HALF_UP))
        return Average(left, self.unit_cost)

    def _weighed(self, quantity, unit_cost):
        if unit_cost is None or self.unit_cost is None or self.held <= 0:
            return self.unit_cost if unit_cost is None else unit_cost
        worth = self.held * self.unit_cost + quantity * unit_cost
        return (worth / (self.held + quantity)).quantize(COST, ROUND_HALF_UP)


def lock(parts):
    """Lock these parts' ledgers, in a fixed order, until the transaction ends. Return {part pk: AverageCost}."""
    keys = sorted({part.pk for part in parts})
    rows = {row.part_id: row for row in _locked(keys)}
    if len(rows) < len(keys):
        missing = [AverageCost(part_id=key) for key in keys if key not in rows]
        AverageCost.objects.bulk_create(missing, ignore_conflicts=True)
        rows = {row.part_id: row for row in _locked(keys)}
    return rows


def _locked(keys):
    return AverageCost.objects.select_for_update().filter(part_id__in=keys).order_by("part_id")


def book(lines, averages):
    """Insert these unsaved movements in order; move their balances and averages. Return them, saved."""
    now = timezone.now()
    for line in lines:
        row = averages[line.part_id]
        comes_in, goes_out = line.destination.is_held, line.source.is_held
        if line.unit_cost is None and not line.own_cost:
            line.unit_cost = row.unit_cost if comes_in or goes_out else None
        line.happened_at = line.happened_at or now
        line.save(force_insert=True)
        if goes_out:
            _take(line)
        if comes_in:
            _put(line)
        if not line.own_cost and comes_in != goes_out:
            before = Average(row.held, row.unit_cost)
            after = before.after(
                line.quantity,
                line.unit_cost,
                comes_in=comes_in,
                goes_out=goes_out,
                undoes=line.undoes_id is not None,
            )
            row.held, row.unit_cost = after.held, after.unit_cost
            row.save(update_fields=["held", "unit_cost"])
    return lines


def _take(line):
    rows = Stock.objects.filter(place=line.source, part_id=line.part_id, condition=line.condition)
    if not rows.filter(on_hand__gte=line.quantity).update(on_hand=F("on_hand") - line.quantity):
        raise NotThere(f"{line.part.number}: there are not {line.quantity.normalize():f} in {line.source}.")


def _put(line):
    rows = Stock.objects.filter(place=line.destination, part_id=line.part_id, condition=line.condition)
    if not rows.update(on_hand=F("on_hand") + line.quantity):
        Stock.objects.create(
            place=line.destination, part_id=line.part_id, condition=line.condition, on_hand=line.quantity
        )


def on_hand(place, part):
    """{condition: balance} of one part in one place."""
    rows = Stock.objects.filter(place=place, part=part).values_list("condition", "on_hand")
    return {Condition.NEW: Decimal(0), Condition.OPENED: Decimal(0)} | dict(rows)


def booked(event):
    """The lines of an event that is in the book already."""
    return list(Movement.objects.filter(event=event).order_by("line"))


def money(quantity, unit_cost):
    """quantity × unit_cost, half up to the minor unit; None where the cost is unknown."""
    return None if unit_cost is None else (quantity * unit_cost).quantize(MONEY, ROUND_HALF_UP)


__all__ = ["Average", "NotThere", "book", "booked", "lock", "money", "on_hand"]
