"""What the vans and the store hold today and keep for no job, and how much of each part the firm expects to use."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from firm.models import Setting
from firm.words import SIGNS
from inventory.models import Part, Place, Stock
from inventory.services.places import store
from inventory.stocking.problem import Problem
from jobs.services.firm_problem import YEAR, problem_from_records, with_free_stock


@dataclass(frozen=True)
class StandingStock:
    """problem: the vans, `now` being their free stock. parts, places: by number and key.

    in_store: number to free pieces. wanted: number to the jobs in a year, of the whole firm, that could take it.
    """

    problem: Problem
    parts: dict[str, Part]
    places: dict[str, Place]
    in_store: dict[str, int]
    wanted: dict[str, float]
    store: Place | None
    sign: str


def standing_stock(as_of: date | None = None) -> StandingStock:
    """As it stands now; what is expected is reckoned from `as_of` (today) over a year, so that all seasons count."""
    day = as_of or timezone.localdate()
    problem = with_free_stock(problem_from_records(day, YEAR)[0])
    parts = Part.objects.filter(number__in=[p.part for p in problem.parts])
    currency = Setting.current().currency
    return StandingStock(
        problem,
        {part.number: part for part in parts},
        {place.key: place for place in Place.objects.held()},
        _in_store(),
        wanted_a_year(problem),
        store(),
        SIGNS.get(currency, currency + " "),
    )


def wanted_a_year(problem: Problem):
    """Part to the jobs in a year that could take it, all vans together."""
    found: dict[str, float] = defaultdict(float)
    for need in problem.needs:
        jobs = problem.intervals_per_year * sum(demand.mean for demand in need.demand.values())
        for part in {p for recipe in need.recipes for p in recipe}:
            found[part] += jobs
    return dict(found)


def _in_store():
    found: dict[str, int] = defaultdict(int)
    rows = Stock.objects.filter(place__kind=Place.Kind.STORE, condition="new").there().free()
    for number, free in rows.values_list("part__number", "free"):
        found[number] += int(max(free, 0))
    return dict(found)
