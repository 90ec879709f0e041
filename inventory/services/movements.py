"""What people do with parts. Each verb is one atomic event with the caller's UUID."""

from decimal import Decimal

from django.db import transaction

from inventory.models import CostCorrection, CountWanted, Held, Movement, PassConfirmed, Place
from inventory.services import holding, ledger
from inventory.services.late import is_late, late_cost
from inventory.services.ledger import NotThere
from inventory.services.pairs import other_record
from inventory.services.places import counter, place_of_supplier, store
from inventory.services.pricing import supplier_price

Reason = Movement.Reason


class Event:
    """Collects the lines of one event before they are booked."""

    def __init__(self, event, *, by=None, happened_at=None, job_number="", ticket="", note=""):
        self.common = {"event": event, "by": by, "happened_at": happened_at, "job_number": job_number}
        self.common |= {"ticket": ticket, "note": note}
        self.lines = []

    def add(self, part, quantity, source, destination, reason, **fields):
        line = Movement(
            line=len(self.lines) + 1,
            part=part,
            quantity=quantity,
            source=source,
            destination=destination,
            reason=reason,
            **self.common | fields,
        )
        self.lines.append(line)
        return line

    def add_taken(self, part, taken, source, destination, reason):
        return self.add(
            part,
            taken.quantity,
            source,
            destination,
            reason,
            condition=taken.condition,
            own_cost=taken.own_cost,
            unit_cost=taken.unit_cost,
        )


def send_out(event, part, quantity, source, destination, reason, *, job_number="", late=False):
    """Add the lines that take `quantity` out of `source`, a fact: what the book lacks comes in first.

    late: a count of that place includes it already, so the whole quantity is given back. Return what was missing.
    """
    difference = counter(Place.Kind.COUNT_DIFFERENCE)
    if late:
        own, unit_cost = late_cost(part, source, job_number)
        event.add(part, quantity, difference, source, Reason.LATE_NEWS, own_cost=own, unit_cost=unit_cost)
        taken = holding.Taken(quantity, own_cost=own, unit_cost=unit_cost)
        event.add_taken(part, taken, source, destination, reason)
        return Decimal(0)
    chosen, missing = holding.choose(holding.available(source, part, job_number), quantity)
    if missing:
        event.add(part, missing, difference, source, Reason.NOT_IN_BOOK)
        chosen.append(holding.Taken(missing))
    for taken in chosen:
        event.add_taken(part, taken, source, destination, reason)
    return missing


def settle_holds(event, part, source, *, job_number="", missing=Decimal(0)):
    """After `send_out` was booked: shrink holds, and ask for a count where the book was wrong."""
    if missing:
        want_count(source, part, f"the book lacked {missing.normalize():f}")
    if not holding.standing(source, part).exists():
        return
    for own_cost in (True, False):
        gone = [line.quantity for line in event.lines if line.source == source and line.own_cost == own_cost]
        if job_number and gone:
            holding.consume(source, part, sum(gone), job_number=job_number, own_cost=own_cost)
    lost = holding.trim(source, part)
    if lost and not missing:
        want_count(source, part, f"what was kept for job {', '.join(lost)} has been used")


def want_count(place, part, why):
    CountWanted.objects.get_or_create(place=place, part=part, done_at=None, defaults={"why": why[:240]})


@transaction.atomic
def top_up(van, lines, *, event, by=None, source=None, happened_at=None):
    """Bring [(part, quantity), …] from the store to a van, all or nothing. Return the movements."""
    source = source or store()
    made = Event(event, by=by, happened_at=happened_at)
    averages = ledger.lock([part for part, _ in lines])
    for part, quantity in lines:
        _refuse_missing(part, quantity, holding.free(source, part), source)
        for taken in holding.choose(holding.available(source, part), quantity)[0]:
            made.add_taken(part, taken, source, van, Reason.TOP_UP)
    return ledger.book(made.lines, averages)


@transaction.atomic
def move(part, quantity, source, destination, *, event, by=None, job_number="", note=""):
    """The office moves pieces between held places; what is kept for `job_number` goes along with its hold."""
    averages = ledger.lock([part])
    kept = sum((h.quantity for h in holding.standing(source, part).filter(job_number=job_number) if job_number), 0)
    _refuse_missing(part, quantity, holding.free(source, part) + kept, source)
    made = Event(event, by=by, job_number=job_number, note=note)
    chosen, _ = holding.choose(holding.available(source, part, job_number), quantity)
    for taken in chosen:
        made.add_taken(part, taken, source, destination, Reason.PASSED_ON)
    ledger.book(made.lines, averages)
    _move_holds(part, quantity, source, destination, job_number)
    return made.lines


def _move_holds(part, quantity, source, destination, job_number):
    """Holds of this job follow their pieces."""
    rows = holding.standing(source, part).filter(job_number=job_number) if job_number else []
    for row in sorted(rows, key=lambda row: (not row.own_cost, row.since)):
        used = min(row.quantity, quantity)
        if used <= 0:
            return
        Held.objects.create(
            place=destination,
            part=part,
            quantity=used,
            job_number=job_number,
            until=row.until,
            own_cost=row.own_cost,
            unit_cost=row.unit_cost,
            by=row.by,
        )
        holding.shrink(row, used)
        quantity -= used


def _refuse_missing(part, quantity, there, place):
    if quantity > there:
        raise NotThere(f"{part.number}: {there.normalize():f} free in {place}, {quantity.normalize():f} asked for.")


@transaction.atomic
def pass_on(
    part, quantity, *, source, destination, event, by=None, device=None, number=None, happened_at=None, note=""
):
    """One engineer handed pieces to another: a fact. The second side's record confirms the first. Return the line."""
    averages = ledger.lock([part])
    known = other_record(part, quantity, source, destination, by=by, happened_at=happened_at)
    if known:
        PassConfirmed.objects.create(movement=known, event=event, by=by)
        return known
    made = Event(event, by=by, happened_at=happened_at, note=note)
    late_out, late_in = (is_late(place, part, device, number) for place in (source, destination))
    missing = send_out(made, part, quantity, source, destination, Reason.PASSED_ON, late=late_out)
    passed = next(line for line in made.lines if line.reason == Reason.PASSED_ON)
    if late_in:
        made.add(part, quantity, destination, counter(Place.Kind.COUNT_DIFFERENCE), Reason.LATE_NEWS)
    ledger.book(made.lines, averages)
    settle_holds(made, part, source, missing=missing)
    return passed


@transaction.atomic
def buy(
    supplier,
    part,
    quantity,
    *,
    into,
    event,
    by=None,
    price=None,
    ticket="",
    job_number="",
    device=None,
    number=None,
    happened_at=None,
):
    """Bought at the counter. For a job: kept for it at its own cost, outside the average. Return the movement.

    price: per piece, ex VAT; where the engineer has none, the supplier's listed price of the day, else unknown.
    """
    averages = ledger.lock([part])
    made = Event(event, by=by, happened_at=happened_at, job_number=job_number, ticket=ticket)
    unit_cost = price if price is not None else supplier_price(supplier, part, happened_at)
    own = {"unit_cost": unit_cost, "own_cost": bool(job_number)}
    bought = made.add(part, quantity, place_of_supplier(supplier), into, Reason.BOUGHT, **own)
    late = is_late(into, part, device, number)
    if late:
        made.add(part, quantity, into, counter(Place.Kind.COUNT_DIFFERENCE), Reason.LATE_NEWS, **own)
    ledger.book(made.lines, averages)
    if job_number and not late:
        Held.objects.create(place=into, part=part, quantity=quantity, job_number=job_number, by=by, **own)
    return bought


def scrap(place, part, quantity, *, event, by=None, note=""):
    return _send_away(place, counter(Place.Kind.SCRAP), part, quantity, Reason.SCRAPPED, event, by, note)


def lose(place, part, quantity, *, event, by=None, note=""):
    return _send_away(place, counter(Place.Kind.STOLEN_OR_LOST), part, quantity, Reason.LOST, event, by, note)


def return_to_supplier(place, supplier, part, quantity, *, event, by=None, note=""):
    return _send_away(place, place_of_supplier(supplier), part, quantity, Reason.RETURNED, event, by, note)


@transaction.atomic
def _send_away(place, destination, part, quantity, reason, event, by, note):
    averages = ledger.lock([part])
    _refuse_missing(part, quantity, holding.free(place, part), place)
    made = Event(event, by=by, note=note)
    for taken in holding.choose(holding.available(place, part), quantity)[0]:
        made.add_taken(part, taken, place, destination, reason)
    return ledger.book(made.lines, averages)


@transaction.atomic
def undo(event_to_undo, *, event, by=None, note=""):
    """A keying mistake: book the opposite of every line of an event, naming it. Once only."""
    lines = ledger.booked(event_to_undo)
    averages = ledger.lock([line.part for line in lines])
    if not lines or Movement.objects.filter(undoes__in=lines).exists():
        raise NotThere("There is nothing to undo: no such event, or it was undone before.")
    made = Event(event, by=by, note=note)
    for line in reversed(lines):
        made.add(
            line.part,
            line.quantity,
            line.destination,
            line.source,
            Reason.UNDONE,
            condition=line.condition,
            unit_cost=line.unit_cost,
            own_cost=line.own_cost,
            job_number=line.job_number,
            undoes=line,
        )
    ledger.book(made.lines, averages)
    for line in lines:
        if line.own_cost:
            _mend_hold(line, by)
    return made.lines


def _mend_hold(undone, by):
    """What was kept for a job is kept no longer when its purchase is undone, and kept again when its use is."""
    if undone.destination.is_held:
        holding.consume(undone.destination, undone.part, undone.quantity, job_number=undone.job_number, own_cost=True)
    if undone.source.is_held:
        Held.objects.create(
            place=undone.source,
            part=undone.part,
            quantity=undone.quantity,
            job_number=undone.job_number,
            own_cost=True,
            unit_cost=undone.unit_cost,
            by=by,
        )


@transaction.atomic
def correct_cost(movement, unit_cost, *, why, by=None):
    """The invoice says another price: a named correction; the movement itself stays as it was booked."""
    return CostCorrection.objects.create(movement=movement, unit_cost=unit_cost, why=why, by=by)
