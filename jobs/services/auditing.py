"""What the jobs say of the ledger: every fitted part has its movement, and every such movement its fitted part."""

from inventory.models import Movement
from inventory.services.auditing import Difference, audit
from inventory.services.ledger import money
from jobs.models import Fitted, TakenOut

FITTED = [Movement.Reason.FITTED, Movement.Reason.HISTORY]


def audit_all():
    """Every difference that can be found in the books. List of Difference."""
    return [*audit(), *_fitted(), *_orphans(), *_taken_out()]


def _lines():
    """{event, part: [(line, quantity, unit cost)]} of everything that went to *fitted*."""
    found = {}
    rows = Movement.objects.filter(reason__in=FITTED).order_by("pk")
    fields = ["pk", "event", "part_id", "quantity", "unit_cost"]
    for pk, event, part, quantity, unit_cost in rows.values_list(*fields).iterator(10_000):
        found.setdefault((event, part), []).append((pk, quantity, unit_cost))
    return found


def _fitted():
    """A fitted part whose quantity or cost is not that of its movements."""
    lost = Fitted.objects.exclude(movement_id__in=Movement.objects.values("pk"))
    for pk in lost.values_list("pk", flat=True):
        yield Difference("fitted quantity", f"fitted {pk}", "fitted", "no movement")
    lines = _lines()
    rows = Fitted.objects.order_by("pk").values_list("pk", "movement__event", "part_id", "quantity", "cost")
    for pk, event, part, quantity, cost in rows.iterator(10_000):
        mine = lines.get((event, part), [])
        total = sum(line[1] for line in mine)
        if total != quantity:
            yield Difference("fitted quantity", f"fitted {pk}", quantity, total)
        costs = [money(line[1], line[2]) for line in mine]
        expected = sum(costs) if costs and None not in costs else None
        if cost != expected:
            yield Difference("fitted cost", f"fitted {pk}", cost, expected)


def _orphans():
    """A movement to *fitted* without its fitted part."""
    known = {event for event in Fitted.objects.values_list("movement__event", flat=True).iterator(10_000)}
    for event, part in _lines():
        if event not in known:
            yield Difference("fitted part", f"event {event}, part {part}", "missing", "in the ledger")


def _taken_out():
    """A part taken out again in another quantity than it was fitted."""
    rows = TakenOut.objects.select_related("fitted", "movement").order_by("pk")
    for row in rows.iterator(1_000):
        lines = Movement.objects.filter(event=row.movement.event, reason=Movement.Reason.TAKEN_OUT)
        total = sum(line.quantity for line in lines)
        if total != row.fitted.quantity:
            yield Difference("taken out", f"fitted {row.fitted_id}", row.fitted.quantity, total)
