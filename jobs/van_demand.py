"""What demand is reckoned from: the months in which components fail, and whose area a position lies in."""

from datetime import date, timedelta

import numpy as np

from jobs.history import InCareWithVans
from jobs.reliability.history import Spells
from jobs.reliability.history.spells import DAYS_PER_YEAR
from jobs.reliability.seasons import MonthFactors, month_factors

EPOCH = date(1970, 1, 1)


def component_seasons(spells: Spells):
    """Month factors of every component, January first, mean one, (components, 12)."""
    return component_months(spells).factor


def component_months(spells: Spells, level=0.90) -> MonthFactors:
    """The same with their limits and what they rest on."""
    many = len(spells.names.components)
    month = spells.closed_day.astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12
    failed = spells.failed.astype(bool)
    counts = np.zeros((many, 12))
    np.add.at(counts, (spells.component[failed], month[failed]), spells.weight[failed])
    return month_factors(counts, _months_watched(spells, many), level)


def _months_watched(spells, many):
    """Years watched of each component in each calendar month, (components, 12)."""
    if not len(spells.opened_day):
        return np.zeros((many, 12))
    first = int(np.floor(spells.opened_day.min()))
    days = int(np.ceil(spells.closed_day.max())) - first + 1
    month = (first + np.arange(days)).astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12
    before = np.zeros((days + 1, 12))  # days of each calendar month since the first day
    np.cumsum(np.eye(12)[month], axis=0, out=before[1:])
    watched = np.zeros((many, days + 1))
    for day, sign in ((spells.closed_day, 1.0), (spells.opened_day, -1.0)):
        place = spells.component * (days + 1) + np.rint(day).astype(np.int64) - first
        watched += sign * np.bincount(place, spells.weight, many * (days + 1)).reshape(many, days + 1)
    return watched @ before / DAYS_PER_YEAR


def month_shares(as_of, horizon_days):
    """Share of the horizon's days in each calendar month, (12,)."""
    months = [(as_of + timedelta(days=d)).month - 1 for d in range(horizon_days)]
    return np.bincount(months, minlength=12) / horizon_days


def van_shares(here: InCareWithVans, vans):
    """Each position's share in each van, (positions, vans), and which positions no van serves."""
    areas = {str(area): i for i, area in enumerate(here.names.post_areas)}
    named = np.zeros((len(areas) + 1, len(vans)))  # the last row: no area
    for v, van in enumerate(vans):
        for area in {a for a in van.post_areas if a in areas}:
            named[areas[area], v] = 1
    share = named / np.maximum(named.sum(axis=1, keepdims=True), 1)
    share = share[np.where(here.post_area < 0, len(areas), here.post_area)]
    column = {van.key: v for v, van in enumerate(vans)}
    last = np.array([*(column.get(key, -1) for key in here.vans), -1], dtype=int)[here.van]
    unnamed = share.sum(axis=1) == 0
    by_visit = np.flatnonzero(unnamed & (last >= 0))
    share[by_visit, last[by_visit]] = 1
    return share, unnamed & (last < 0)
