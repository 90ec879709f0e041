"""The state of a job's parts in a word: asked for, ordered, here."""

from collections import defaultdict
from decimal import Decimal

from django.db.models import Exists, F, OuterRef, Sum

from inventory.models import Held, Order, OrderLine
from jobs.models import Fitted, Needed, Visit

NOTHING = ("", "same", "No part asked for")
HERE = ("good", "tick", "Parts are here")
TO_ORDER = ("bad", "warn", "Part to order")
ENDED = [Visit.Outcome.FIXED, Visit.Outcome.NO_PART_NEEDED, Visit.Outcome.DECLINED, Visit.Outcome.FOR_OTHERS]


def open_needs():
    """What was needed and neither settled, nor fitted since on that job, nor overtaken by its end."""
    same_job = {"visit__job": OuterRef("visit__job"), "visit__on__gte": OuterRef("visit__on")}
    fitted = Fitted.objects.standing().filter(component=OuterRef("component"), **same_job)
    ended = Visit.objects.filter(job=OuterRef("visit__job"), on__gte=OuterRef("visit__on"), outcome__in=ENDED)
    rows = Needed.objects.filter(settled_on=None, visit__job__closed_on=None)
    return rows.exclude(Exists(fitted)).exclude(Exists(ended))


def part_states(jobs):
    """job primary key -> (kind, sign, word), in three queries for any number of jobs."""
    numbers = {job.number: job.pk for job in jobs}
    needed = _needed(numbers.values())
    here = _sums(Held.objects.filter(job_number__in=numbers, released_at=None), "quantity")
    on_order = _on_order(numbers)
    return {pk: _state(needed.get(pk), here.get(number), on_order.get(number)) for number, pk in numbers.items()}


def _needed(jobs):
    rows = open_needs().filter(visit__job__in=list(jobs))
    return dict(rows.order_by().values_list("visit__job").annotate(pieces=Sum("quantity")))


def _sums(rows, field):
    return dict(rows.order_by().values_list("job_number").annotate(pieces=Sum(field)))


def _on_order(numbers):
    """job number -> the days on which its open order lines are expected (None: not sent, or no day)."""
    lines = OrderLine.objects.filter(job_number__in=numbers).exclude(order__state=Order.State.CLOSED)
    days = defaultdict(list)
    for line in lines.select_related("order"):
        days[line.job_number].append(line.back_order_until or line.order.expected_on)
    return days


def _state(needed, here, on_order):
    if here and here >= (needed or Decimal(0)):
        return HERE
    if on_order:
        days = [day for day in on_order if day]
        return ("care", "wait", f"On order, {max(days):%-d %b}" if days else "In a draft order")
    return TO_ORDER if needed else NOTHING


def waiting_parts(since):
    """(part, quantity, job number) of jobs reported since a day that wait for a part neither here nor ordered."""
    rows = open_needs().filter(part__isnull=False, visit__job__reported_on__gte=since)
    rows = list(rows.annotate(job_number=F("visit__job__number")).select_related("part__superseded_by"))
    numbers = {row.job_number for row in rows}
    busy = set(OrderLine.objects.filter(job_number__in=numbers).values_list("job_number", "part"))
    busy |= set(Held.objects.filter(job_number__in=numbers, released_at=None).values_list("job_number", "part"))
    return [(row.part, row.quantity, row.job_number) for row in rows if (row.job_number, row.part_id) not in busy]
