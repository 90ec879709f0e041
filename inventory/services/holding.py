"""Pieces that are kept for a job: not free for loads, top-ups or other jobs."""

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from inventory.models import Condition, Held, Movement
from inventory.services import ledger
from inventory.services.ledger import NotThere


@dataclass
class Taken:
    """Some pieces on their way out of a place."""

    quantity: Decimal
    condition: str = Condition.NEW
    own_cost: bool = False
    unit_cost: Decimal | None = None


@transaction.atomic
def hold(place, part, quantity, job_number, *, by=None, until=None):
    """Keep `quantity` of what is free in `place` for a job, or raise NotThere and change nothing."""
    ledger.lock([part])
    if quantity > free(place, part):
        raise NotThere(f"{part.number}: {free(place, part).normalize():f} free in {place}, {quantity} asked for.")
    return Held.objects.create(place=place, part=part, quantity=quantity, job_number=job_number, until=until, by=by)


@transaction.atomic
def release(held, *, event, by=None):
    """Keep it no longer. What was bought for the job joins the stock at its own cost."""
    averages = ledger.lock([held.part])
    held.refresh_from_db()
    if held.released_at is not None:
        return held
    if held.own_cost:
        from_supplier = _bought_from(held)
        common = {
            "event": event,
            "part": held.part,
            "quantity": held.quantity,
            "reason": Movement.Reason.INTO_STOCK,
            "unit_cost": held.unit_cost,
            "job_number": held.job_number,
            "by": by,
        }
        out = Movement(line=1, source=held.place, destination=from_supplier, own_cost=True, **common)
        back = Movement(line=2, source=from_supplier, destination=held.place, own_cost=False, **common)
        ledger.book([out, back], averages)
    held.released_at = timezone.now()
    held.save(update_fields=["released_at"])
    return held


def _bought_from(held):
    bought = Movement.objects.filter(
        part=held.part, job_number=held.job_number, own_cost=True, reason=Movement.Reason.BOUGHT
    )
    return bought.select_related("source").latest("pk").source


def standing(place, part):
    """Holds of a part in a place that are not released."""
    return Held.objects.filter(place=place, part=part, released_at=None)


def free(place, part):
    """Pieces of a part in a place that are kept for no job."""
    kept = standing(place, part).aggregate(total=Sum("quantity"))["total"] or Decimal(0)
    return sum(ledger.on_hand(place, part).values()) - kept


def available(place, part, job_number=""):
    """Pieces that may leave for this job, and how: its own first, then opened ones, then new ones.

    Pieces bought for other jobs at their own cost are not among them. Return a list of Taken.
    """
    rows = list(standing(place, part).filter(own_cost=True).order_by("since", "pk"))
    mine = [row for row in rows if job_number and row.job_number == job_number]
    balance = ledger.on_hand(place, part)
    balance[Condition.NEW] -= sum(row.quantity for row in rows)
    pool = [Taken(balance[condition], condition) for condition in (Condition.OPENED, Condition.NEW)]
    own = [Taken(row.quantity, own_cost=True, unit_cost=row.unit_cost) for row in mine]
    return own + [taken for taken in pool if taken.quantity > 0]


def choose(pieces, quantity):
    """The first `quantity` of these pieces, and how many are missing."""
    chosen, wanted = [], quantity
    for taken in pieces:
        if wanted <= 0:
            break
        part_of_it = min(taken.quantity, wanted)
        chosen.append(Taken(part_of_it, taken.condition, taken.own_cost, taken.unit_cost))
        wanted -= part_of_it
    return chosen, wanted


def consume(place, part, quantity, *, job_number, own_cost):
    """Take pieces that left for their job off its holds."""
    rows = standing(place, part).filter(job_number=job_number, own_cost=own_cost)
    for row in rows.order_by("since", "pk"):
        used = min(row.quantity, quantity)
        shrink(row, used)
        quantity -= used
        if quantity <= 0:
            return


def trim(place, part):
    """Give up the newest ordinary holds that the balance no longer bears. Return the jobs that lost a piece."""
    kept = standing(place, part).aggregate(total=Sum("quantity"))["total"] or Decimal(0)
    over = kept - sum(ledger.on_hand(place, part).values())
    lost = []
    for row in standing(place, part).filter(own_cost=False).order_by("-since", "-pk"):
        if over <= 0:
            break
        used = min(row.quantity, over)
        shrink(row, used)
        lost.append(row.job_number)
        over -= used
    return lost


def shrink(row, used):
    if used == row.quantity:
        row.released_at = timezone.now()
    else:
        row.quantity -= used
    row.save(update_fields=["quantity", "released_at"])
