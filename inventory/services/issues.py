"""What left the store in the past, as the lumps in which it left: the store's demand."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.core.cache import cache
from django.db.models import Max, Min, Q, Sum
from django.db.models.functions import TruncDate

from inventory.models import Movement, Place

YEARS_BACK, LEAST_YEARS, DAYS_PER_YEAR = 2.0, 0.25, 365.25
KEPT_SECONDS = 1800
OUT_OF_STORE = (Movement.Reason.TOP_UP, Movement.Reason.FITTED, Movement.Reason.PASSED_ON)


@dataclass(frozen=True)
class Issues:
    """lumps: part pk to the pieces of each lump (a part, a taker, a day). years: of the book that they come from."""

    lumps: dict[int, list[int]]
    years: float


def issues(as_of: date) -> Issues:
    """Of the two years up to `as_of`, kept until something moves.

    What was fitted before the book began counts as taken from the store, each fitted line a lump.
    """
    newest = Movement.objects.aggregate(newest=Max("pk"))["newest"]
    key = f"store-issues-{newest}-{as_of}"
    found = cache.get(key)
    if found is None:
        found = _issues(as_of)
        cache.set(key, found, KEPT_SECONDS)
    return found


def _issues(as_of):
    first = as_of - timedelta(days=round(YEARS_BACK * DAYS_PER_YEAR))
    out = Q(source__kind=Place.Kind.STORE, reason__in=OUT_OF_STORE) | Q(reason=Movement.Reason.HISTORY)
    moved = Movement.objects.filter(out, undone_by=None, happened_at__date__gt=first, happened_at__date__lte=as_of)
    rows = moved.annotate(day=TruncDate("happened_at")).order_by()
    lumps: dict[int, list[int]] = defaultdict(list)
    took = rows.exclude(reason=Movement.Reason.HISTORY).values_list("part", "destination", "day")
    for part, _taker, _day, pieces in took.annotate(n=Sum("quantity")):
        lumps[part].append(_whole(pieces))
    for part, pieces in rows.filter(reason=Movement.Reason.HISTORY).values_list("part", "quantity"):
        lumps[part].append(_whole(pieces))
    return Issues(dict(lumps), _years(as_of))


def _whole(pieces: Decimal):
    return max(1, -int(-pieces // 1))


def _years(as_of):
    """How much of the two years the book covers."""
    began = Movement.objects.filter(happened_at__date__lte=as_of).aggregate(first=Min("happened_at"))["first"]
    covered = (as_of - began.date()).days / DAYS_PER_YEAR if began else 0.0
    return min(YEARS_BACK, max(LEAST_YEARS, covered))
