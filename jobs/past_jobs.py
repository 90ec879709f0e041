"""The firm's past jobs that needed parts, as a load would have met them on the first visit."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import product

from django.db.models import Q

from inventory.models import Place
from inventory.stocking.replay import PastJob
from jobs.models import Fitted, Needed, Visit, Why
from jobs.reliability.history.spells import DAYS_PER_YEAR
from jobs.van_parts import van_parts

MOST_RECIPES = 200


@dataclass(frozen=True)
class PastWork:
    """One van's jobs in the order of their first visits, and whether what was on board in fact finished each then."""

    jobs: list[PastJob]
    finished: list[bool]


def past_work(
    first: date, last: date, *, as_of: date, second_visit: float, quoted: bool = False
) -> dict[str, PastWork]:
    """Van to its work with first visits from `first` to `last`, recipes as known on `as_of`.

    A visit on which nobody was in is no first visit. quoted: with the jobs whose first visit ended with a price to
    agree, which no load finishes on that visit.
    """
    wanted, missing = _wanted(first, last)
    visits = Visit.objects.filter(job__in=wanted.keys(), place__kind=Place.Kind.VAN)
    visits = visits.exclude(outcome__in=("", Visit.Outcome.NO_ACCESS))
    rows = visits.order_by("on", "time", "pk").values_list("job_id", "pk", "on", "place__key", "outcome")
    recipes = van_parts({pair for pairs in wanted.values() for pair in pairs}, as_of=as_of).recipes
    seen: set[int] = set()
    found: dict[str, PastWork] = defaultdict(lambda: PastWork([], []))
    for job, visit, on, van, outcome in rows:
        if job in seen:
            continue
        seen.add(job)
        if first <= on <= last and (quoted or outcome != Visit.Outcome.QUOTE_TO_AGREE):
            ways = tuple(_together([recipes[pair] for pair in wanted[job]]))
            found[van].jobs.append(PastJob(on.toordinal(), ways, second_visit))
            found[van].finished.append(visit not in missing and outcome == Visit.Outcome.FIXED)
    return dict(found)


def _wanted(first, last):
    """Job to the (component, model) of every part that failed or was missing; visits on which one was missing.

    A part that was bought at the counter, or fetched from elsewhere, on the way was missing in the van.
    """
    until = last + timedelta(days=60)
    wanted: dict[int, list[tuple[str, str]]] = defaultdict(list)
    fitted = Fitted.objects.standing().filter(why=Why.FAILED, visit__on__range=(first, until))
    needed = Needed.objects.filter(visit__on__range=(first, until))
    elsewhere = Q(came_from__isnull=False) & ~Q(came_from__kind=Place.Kind.CUSTOMERS_OWN)
    fetched = fitted.filter(elsewhere | Q(movement__own_cost=True))
    missing = {*needed.values_list("visit_id", flat=True), *fetched.values_list("visit_id", flat=True)}
    for rows in (fitted, needed):
        for job, component, model in rows.order_by("visit__on", "pk").values_list(
            "visit__job_id", "component__key", "appliance__model__key"
        ):
            if (component, model) not in wanted[job]:
                wanted[job].append((component, model))
    return wanted, missing


def _together(alternatives):
    """Every way to do all of a job's needs at once: one recipe of each, pieces added up."""
    for ways in list(product(*alternatives))[:MOST_RECIPES]:
        pieces: dict[str, int] = defaultdict(int)
        for recipe in ways:
            for part, n in recipe.items():
                pieces[part] += n
        yield dict(pieces)


def use_last_year(as_of: date):
    """(van to part number to pieces, part number to pieces of the whole firm) fitted in the year before that day."""
    year = (as_of - timedelta(days=int(DAYS_PER_YEAR)), as_of)
    own: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    firm: dict[str, float] = defaultdict(float)
    rows = (
        Fitted.objects.standing()
        .filter(visit__on__range=year)
        .values_list("visit__place__key", "part__number", "quantity")
    )
    for van, part, quantity in rows:
        own[van][part] += float(quantity)
        firm[part] += float(quantity)
    return own, firm
