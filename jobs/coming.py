"""How many of one component type will fail in the next weeks, from the ages of those in care today."""

from dataclasses import dataclass

import numpy as np

from inventory.models import ComponentType
from jobs import history
from jobs.reliability.forecast import forecast, shape_grid
from jobs.van_demand import component_seasons, month_shares

WEEKS = 26
TYPICAL_AGE, SPREAD_OVER = 10.0, 10


@dataclass(frozen=True)
class Coming:
    """Expected failures in the next `weeks` of those in care, with the range that holds `level` of the time."""

    mean: float
    low: int
    high: int
    in_care: int
    of_unseen_age: int
    weeks: int = WEEKS


def seasons(spells, as_of):
    """{component: mean month factor over the weeks to come}."""
    factor = component_seasons(spells) @ month_shares(as_of, WEEKS * 7)
    return {str(key): float(one) for key, one in zip(spells.names.components, factor, strict=True)}


def coming(key, ages, as_of, season, *, taken, level) -> Coming | None:
    """Forecast for one component type, None where none is in care.

    ages: its spells of known age (entry, exit, failed, weight); taken: first or unknown, how ages that may be
    those of an earlier part are taken. Positions whose age is not known stand at the
    deciles of the others' ages. Shapes lean on the manner of wear and the assumed rate of the trade table.
    """
    here = history.in_care(as_of, components=[key])
    if not len(here.age):
        return None
    seen = here.clock <= (0 if taken == "unknown" else 1)
    age, weight = _placed(here.age[seen], int((~seen).sum()))
    component = ComponentType.objects.get(key=key)
    typical = float(component.assumed_life_years or TYPICAL_AGE)
    rate = float(component.prior_failures_per_100_years or 100 / typical / 2) / 100
    grid = shape_grid(
        ages.entry,
        ages.exit,
        ages.failed,
        ages.weight,
        np.zeros(len(ages.exit), int),
        groups=1,
        rate=rate,
        typical_age=typical,
        wears=[component.wears],
    )
    found = forecast(grid, age, np.zeros(len(age), int), WEEKS * 7 / 365.25, weight=weight, season=season)
    low, high = found.interval(level)
    return Coming(float(found.mean[0]), int(low[0]), int(high[0]), len(here.age), int((~seen).sum()))


def _placed(seen, unseen):
    """Ages and weights: those seen, and those not seen spread over the deciles of the seen."""
    if not unseen:
        return seen, np.ones(len(seen))
    middles = (np.arange(SPREAD_OVER) + 0.5) / SPREAD_OVER
    spread = np.quantile(seen, middles) if len(seen) else TYPICAL_AGE * 2 * middles
    return np.r_[seen, spread], np.r_[np.ones(len(seen)), np.full(SPREAD_OVER, unseen / SPREAD_OVER)]
