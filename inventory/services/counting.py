"""A count makes the book say what is there."""

from collections import Counter

from django.db import transaction
from django.utils import timezone

from inventory.models import Count, CountLine, CountWanted, Movement, Place
from inventory.services import holding, ledger
from inventory.services.movements import Event
from inventory.services.places import counter


class CountedTwice(Exception):
    """One part stands twice in one count."""

    field = "lines"


@transaction.atomic
def count(place, lines, *, event, by=None, device=None, upto=None, counted_at=None, file_sha256=""):
    """Set the balances of [(part, quantity), …] in `place` to what was found there. Return the Count.

    upto: the last event number of `device` that the count includes; what it did before and sends later is given
    back from count difference.
    """
    twice = [part.number for part, times in Counter(part for part, _ in lines).items() if times > 1]
    if twice:
        raise CountedTwice(f"{twice[0]} stands more than once in this count.")
    averages = ledger.lock([part for part, _ in lines])
    when = counted_at or timezone.now()
    made = Event(event, by=by, happened_at=when)
    found = Count.objects.create(
        event=event,
        place=place,
        upto=upto,
        device=device,
        counted_at=when,
        by=by,
        file_sha256=file_sha256,
    )
    counted = []
    for part, quantity in lines:
        book = sum(ledger.on_hand(place, part).values())
        counted.append(CountLine(count=found, part=part, quantity=quantity, book=book))
        _add_difference(made, place, part, quantity - book)
    ledger.book(made.lines, averages)
    CountLine.objects.bulk_create(counted)
    _settle(place, [part for part, _ in lines], made)
    return found


def _add_difference(made, place, part, difference):
    elsewhere = counter(Place.Kind.COUNT_DIFFERENCE)
    if difference > 0:
        made.add(part, difference, elsewhere, place, Movement.Reason.COUNTED)
    elif difference < 0:
        for taken, job_number in _missing(place, part, -difference):
            made.add_taken(part, taken, place, elsewhere, Movement.Reason.COUNTED).job_number = job_number


def _missing(place, part, quantity):
    """Which pieces are gone: free ones first, then those bought for jobs. Pairs of Taken and job number."""
    chosen, left = holding.choose(holding.available(place, part), quantity)
    gone = [(taken, "") for taken in chosen]
    for row in holding.standing(place, part).filter(own_cost=True).order_by("-since", "-pk"):
        if left <= 0:
            break
        used = min(row.quantity, left)
        gone.append((holding.Taken(used, own_cost=True, unit_cost=row.unit_cost), row.job_number))
        left -= used
    return gone


def _settle(place, parts, made):
    for line in made.lines:
        if line.own_cost:
            holding.consume(place, line.part, line.quantity, job_number=line.job_number, own_cost=True)
    for part in parts:
        holding.trim(place, part)
    CountWanted.objects.filter(place=place, part__in=parts, done_at=None).update(done_at=timezone.now())
