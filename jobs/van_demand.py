"""What may fail in each van's area: the rate of each component of each model, its season, and how many there are."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from inventory.models import Place
from jobs import history, lives
from jobs.history import InCareWithVans
from jobs.reliability.best_estimates import best_estimates
from jobs.reliability.history import Spells
from jobs.reliability.history.spells import DAYS_PER_YEAR
from jobs.reliability.seasons import MonthFactors, month_factors

EPOCH = date(1970, 1, 1)


@dataclass(frozen=True)
class VanDemand:
    """One entry per (component, model) in care. failures, exposure: gamma of the yearly rate of one, nan: unknown.

    component, model: their keys. season: mean month factor over the horizon. in_area: positions in each van's
    area, each with its chance of being still in care, (needs, vans), shared where several vans name an area.
    """

    component: tuple[str, ...]
    model: tuple[str, ...]
    failures: np.ndarray
    exposure: np.ndarray
    season: np.ndarray
    in_area: np.ndarray
    warnings: tuple[str, ...]


def van_demand(vans: list[Place], *, as_of: date, horizon_days: int) -> VanDemand:
    """Rates, seasons and numbers as known on `as_of`, averaged over the horizon from then on."""
    records = history.read_records()
    spells = lives.firm_spells(as_of=as_of, records=records)
    here = history.in_care(as_of, silence=lives.SILENCE, records=records)
    pairs, need = np.unique(np.stack([here.component, here.model]), axis=1, return_inverse=True)
    failures, exposure = _rates(spells, pairs)
    share, unserved = van_shares(here, vans)
    in_area = np.zeros((pairs.shape[1], len(vans)))
    np.add.at(in_area, need, share * here.weight[:, None])
    factors = component_seasons(spells)
    season = factors[pairs[0]] @ month_shares(as_of, horizon_days)
    return VanDemand(
        component=tuple(str(here.names.components[c]) for c in pairs[0]),
        model=tuple(str(here.names.models[m]) for m in pairs[1]),
        failures=failures,
        exposure=exposure,
        season=season,
        in_area=in_area,
        warnings=tuple(_unserved(here, unserved)),
    )


def _rates(spells: Spells, pairs):
    """(failures, exposure) of the gamma of each pair's yearly rate, shrunk within its component."""
    width = len(spells.names.models) + 1
    keys = np.concatenate([pairs[0] * width + pairs[1], spells.component * width + spells.model])
    known, group = np.unique(keys, return_inverse=True)
    of_spell = group[pairs.shape[1] :]
    failed = np.bincount(of_spell, spells.weight * spells.failed, len(known))
    years = np.bincount(of_spell, spells.weight * (spells.exit - spells.entry), len(known))
    components, family = np.unique(known // width, return_inverse=True)
    names = [str(spells.names.components[c]) for c in components]
    assumed = lives.assumed_rates(names)[family]
    best = best_estimates(failed, years, family, names, assumed)
    own = group[: pairs.shape[1]]
    return best.failures[own], best.exposure[own]


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


def _unserved(here, unserved):
    appliances = np.unique(here.appliance[unserved])
    if len(appliances):
        first = ", ".join(str(here.names.appliances[a]) for a in appliances[:3])
        more = f" and {len(appliances) - 3} more" if len(appliances) > 3 else ""
        yield f"left out, because no van names their area and none has been there: appliances {first}{more}"
