"""What lies ahead of every position in care until its next service, reckoned at once for all appliances."""

from bisect import bisect_left
from dataclasses import dataclass
from datetime import date

import numpy as np

from firm.models import Setting
from jobs.figures import kept
from jobs.reliability.forecast import ShapeGrid, forecast
from jobs.reliability.hazard_now import hazard_span
from jobs.services.life_grids import POSITIONS, LifeGrids, life_grids
from jobs.van_demand import month_shares

DAYS_PER_MONTH = 30.4375
AT_ONCE = 1 << 16  # rows, each with a column for every shape


@dataclass(frozen=True)
class PositionsAhead:
    """One entry per position in care, by appliance (numbers, ascending): those from begin[i] to begin[i + 1] are of
    appliance i. component: index into components. age: mean years, seen: False where not known; hazard: failures a
    year today, with the range (90%) that doubt about the life leaves; expected: failures until the next service;
    if_original, if_renewed: the same if it is as old as the appliance, and if it was renewed before care, nan where its
    age is known or only one of both can be.
    """

    components: tuple[str, ...]
    appliances: tuple[str, ...]
    begin: np.ndarray
    component: np.ndarray
    position: np.ndarray
    age: np.ndarray
    seen: np.ndarray
    hazard: np.ndarray
    hazard_low: np.ndarray
    hazard_high: np.ndarray
    expected: np.ndarray
    if_original: np.ndarray
    if_renewed: np.ndarray

    def of(self, appliance: str):
        """(component key, position, age, seen, hazard, expected, if_original, if_renewed, hazard_low, hazard_high) of
        each of its positions.
        """
        i = bisect_left(self.appliances, appliance)
        if i == len(self.appliances) or self.appliances[i] != appliance:
            return
        own = slice(self.begin[i], self.begin[i + 1])
        keys = [self.components[one] for one in self.component[own]]
        columns = [getattr(self, name)[own].tolist() for name in ("position", "age", "seen", "hazard", "expected")]
        either = [[None if np.isnan(one) else float(one) for one in getattr(self, name)[own]] for name in EITHER]
        ends = [getattr(self, name)[own].tolist() for name in ("hazard_low", "hazard_high")]
        yield from zip(keys, *columns, *either, *ends, strict=True)


EITHER = ("if_original", "if_renewed")


def positions_ahead(as_of: date) -> PositionsAhead:
    """For everything in care, kept until appliances or work are recorded."""
    return kept("positions-ahead", lambda: _ahead(life_grids(as_of), as_of), as_of, of_work=True)


def _ahead(grids: LifeGrids, as_of):
    today, components = grids.today, len(grids.components)
    kind, age, whole = today.component, today.age, today.whole
    days = round(Setting.current().service_interval_months * DAYS_PER_MONTH)
    season = (grids.season @ month_shares(as_of, days))[kind]
    fails, rate = _each(grids.grid, kind, age, season, days / 365.25)
    keys = (today.appliance * components + kind) * POSITIONS + today.position
    found, cell = np.unique(keys, return_inverse=True)
    home, place = np.divmod(found, components * POSITIONS)
    seen = np.bincount(cell, today.seen, found.size) > 0
    original, renewed = _either(cell, age, whole, fails, seen)
    hazard = np.bincount(cell, whole * rate, found.size)
    low, high = _span(today, grids.grid, cell, found.size)
    return PositionsAhead(
        components=grids.components,
        appliances=grids.appliances,
        begin=np.searchsorted(home, np.arange(len(grids.appliances) + 1)),
        component=(place // POSITIONS).astype(np.int16),
        position=(place % POSITIONS).astype(np.int32),
        age=np.bincount(cell, whole * age, found.size),
        seen=seen,
        hazard=hazard,
        hazard_low=hazard * low,
        hazard_high=hazard * high,
        expected=np.bincount(cell, whole * fails, found.size),
        if_original=original,
        if_renewed=renewed,
    )


def _each(grid: ShapeGrid, kind, age, season, years):
    """Failures expected of each row in the coming years, and its failures a year today."""
    fails, rate = np.zeros(age.size), np.zeros(age.size)
    for first in range(0, age.size, AT_ONCE):
        own = slice(first, first + AT_ONCE)
        cell = np.arange(age[own].size)
        fails[own] = forecast(grid, age[own], kind[own], years, cell=cell, cells=cell.size, season=season[own]).mean
        rate[own] = _hazard(grid, kind[own], age[own])
    return fails, rate


def _span(today, grid: ShapeGrid, cell, cells):
    """Ends of the range of each position's rate, times the rate."""
    here = today.likely / np.where(today.whole > 0, today.whole, 1.0)  # chance that its customer is still in care
    likely = today.counts / np.where(here > 0, here, 1.0)[:, None]
    return hazard_span(grid, today.component, today.age, likely, cell, cells)


def _hazard(grid: ShapeGrid, kind, age):
    """Failures a year of each row at its age, averaged over the grid of shapes."""
    place = np.maximum(age / grid.unit[kind], 1e-3)[:, None]
    shape = grid.shape[kind]
    rate = (grid.failures[:, None] / grid.hazard)[kind]
    return np.sum(grid.weight[kind] * rate * shape * place ** (shape - 1), axis=1) / grid.unit[kind]


def _either(cell, age, whole, fails, seen):
    """Failures expected of each position if it is the original, and if not; nan where that is no question."""
    order = np.lexsort((-age, cell))
    oldest = order[np.searchsorted(cell[order], np.arange(seen.size))]
    others = np.ones(cell.size, bool)
    others[oldest] = False
    chance = np.bincount(cell[others], whole[others], seen.size)
    hoped = np.bincount(cell[others], (whole * fails)[others], seen.size)
    asked = ~seen & (chance > 0) & (whole[oldest] > 0)
    renewed = hoped / np.where(asked, chance, 1.0)
    return np.where(asked, fails[oldest], np.nan), np.where(asked, renewed, np.nan)
