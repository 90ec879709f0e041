"""Parts fitted, taken out again, and needed: facts, always recorded."""

from datetime import datetime, time
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory.models import Condition, Movement, Place
from inventory.services import ledger
from inventory.services.late import is_late
from inventory.services.movements import Event, send_out, settle_holds
from inventory.services.places import counter, place_of_supplier, store, van_of
from inventory.services.pricing import supplier_price
from jobs.models import Fitted, Needed, TakenOut, Why

Reason = Movement.Reason


class Impossible(Exception):
    """What was said cannot be; `field` names where. Nothing was changed."""

    def __init__(self, field, message):
        super().__init__(message)
        self.field = field


@transaction.atomic
def fit(
    *,
    event,
    visit,
    part,
    component,
    quantity,
    why,
    appliance=None,
    position=None,
    source=None,
    by=None,
    device=None,
    number=None,
    happened_at=None,
):
    """Record a part fitted on a visit and take it from `source`. Always booked; return the Fitted.

    source: a held place, a supplier's place (bought at the counter for this job), or the customer's own; empty: the
    visit's van, else that of `by`. What the book lacks comes in from count difference and the van wants a count.
    """
    if quantity <= 0:
        raise Impossible("quantity", "The quantity must be more than nothing.")
    if why not in Why.values:
        raise Impossible("why", f"Why must be one of: {', '.join(Why.values)}.")
    place = _place_of(visit, by)
    source = source or place
    if source is None:
        raise Impossible("from", "This visit has no van, and neither has its engineer: say where the part came from.")
    averages = ledger.lock([part])
    made = Event(event, by=by, happened_at=happened_at or _when(visit), job_number=visit.job.number)
    missing = _lines(made, part, quantity, source, place, visit, late=is_late(source, part, device, number))
    ledger.book(made.lines, averages)
    if source.is_held:
        settle_holds(made, part, source, job_number=visit.job.number, missing=missing)
    return _write_fitted(made, visit, appliance, component, position, part, quantity, why, source, place)


def _place_of(visit, by):
    """The held place that a visit's parts come from."""
    if visit.place is not None and visit.place.is_held:
        return visit.place
    engineers = [row.engineer for row in visit.engineers.select_related("engineer")] + ([by] if by else [])
    vans = (van_of(engineer, visit.on) for engineer in engineers)
    return next((van for van in vans if van), None)


def _when(visit):
    """Now on the day of the visit; noon of an earlier or later day."""
    if visit.on == timezone.localdate():
        return timezone.now()
    return timezone.make_aware(datetime.combine(visit.on, visit.time or time(12)))


def _lines(made, part, quantity, source, place, visit, *, late):
    fitted = counter(Place.Kind.FITTED)
    if source.is_held:
        return send_out(made, part, quantity, source, fitted, Reason.FITTED, job_number=visit.job.number, late=late)
    if source.kind == Place.Kind.SUPPLIER and place is not None:
        cost = supplier_price(source.supplier, part, made.common["happened_at"])
        made.add(part, quantity, source, place, Reason.BOUGHT, unit_cost=cost, own_cost=True)
        made.add(part, quantity, place, fitted, Reason.FITTED, unit_cost=cost, own_cost=True)
        return Decimal(0)
    if source.kind == Place.Kind.CUSTOMERS_OWN:
        made.add(part, quantity, source, fitted, Reason.FITTED, unit_cost=Decimal(0))
        return Decimal(0)
    raise Impossible("from", f"A part cannot be fitted from {source}.")


def _write_fitted(made, visit, appliance, component, position, part, quantity, why, source, place):
    lines = [line for line in made.lines if line.reason == Reason.FITTED]
    known = all(line.unit_cost is not None for line in lines)
    cost = sum(ledger.money(line.quantity, line.unit_cost) for line in lines) if known else None
    same = {line.unit_cost for line in lines}
    if appliance and appliance != visit.job.appliance:
        visit.job.also.add(appliance)
    return Fitted.objects.create(
        visit=visit,
        appliance=appliance or visit.job.appliance,
        component=component,
        position=position,
        part=part,
        quantity=quantity,
        why=why,
        came_from=None if source == visit.place else source,
        movement=lines[0],
        unit_cost=same.pop() if len(same) == 1 else (cost / quantity).quantize(ledger.COST) if known else None,
        cost=cost,
    )


@transaction.atomic
def take_out(*, event, fitted, condition, by=None, on=None, happened_at=None, into=None):
    """A fitted part came out again: it was not the fault. It returns new or opened, or is scrapped.

    It renews nothing and ends nothing in the life history. Return the TakenOut.
    """
    if condition not in {Condition.NEW, Condition.OPENED, "scrapped"}:
        raise Impossible("condition", "The condition must be one of: new, opened, scrapped.")
    averages = ledger.lock([fitted.part])
    if TakenOut.objects.filter(fitted=fitted).exists():
        raise Impossible("fitted", "This part has been taken out again already.")
    made = Event(event, by=by, happened_at=happened_at, job_number=fitted.visit.job.number)
    back = counter(Place.Kind.SCRAP) if condition == "scrapped" else into or _home(fitted, by)
    for line in _fitted_lines(fitted):
        made.add(
            fitted.part,
            line.quantity,
            line.destination,
            back,
            Reason.TAKEN_OUT,
            unit_cost=line.unit_cost,
            condition=Condition.OPENED if condition == Condition.OPENED else Condition.NEW,
        )
    ledger.book(made.lines, averages)
    return TakenOut.objects.create(
        fitted=fitted, condition=condition, movement=made.lines[0], on=on or timezone.localdate(), by=by
    )


def _fitted_lines(fitted):
    """The ledger's lines of one fitted part (more than one where it came at several costs)."""
    first = fitted.movement
    return Movement.objects.filter(event=first.event, reason=first.reason, part=fitted.part, line__gte=first.line)


def _home(fitted, by):
    place = fitted.came_from if fitted.came_from and fitted.came_from.is_held else _place_of(fitted.visit, by)
    place = place or store()
    if place is None:
        raise Impossible("fitted", "There is no van and no store to which the part could return.")
    return place


@transaction.atomic
def need(*, event, visit, component, quantity, part=None, appliance=None, by=None, **_):
    """Record what was missing on a visit: demand that no stock record shows."""
    if quantity <= 0:
        raise Impossible("quantity", "The quantity must be more than nothing.")
    return Needed.objects.create(
        visit=visit,
        appliance=appliance or visit.job.appliance,
        component=component,
        part=part,
        quantity=quantity,
    )


@transaction.atomic
def charge_fitted(fitted, amount_ex_vat, *, by=None, vat_rate=None):
    """Charge a fitted part; the amount is that of the whole line, ex VAT."""
    if amount_ex_vat < 0:
        raise Impossible("charge_ex_vat", "A charge is not negative.")
    fitted.charge_ex_vat = amount_ex_vat.quantize(ledger.MONEY)
    fitted.vat_rate = vat_rate if vat_rate is not None else fitted.vat_rate
    fitted.save(update_fields=["charge_ex_vat", "vat_rate"])
    return fitted


def buy_and_fit(*, supplier, **fields):
    """Bought at the counter and fitted at once, at its own cost."""
    return fit(source=place_of_supplier(supplier), **fields)
