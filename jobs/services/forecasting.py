"""What will probably fail next: by component type, by van and in all, with the range that chance and doubt leave."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from jobs import lives
from jobs.figures import kept
from jobs.reliability.forecast import Cells, forecasts, together
from jobs.services.life_grids import LifeGrids, life_grids
from jobs.van_demand import month_shares

DAYS = (30, 90, 365)
METHOD = (
    "negative binomials over a grid of Weibull shapes, given today's ages; where an age was never seen, over the ages "
    "that go with each shape; months weighted, what is renewed may fail again; the range holds doubt about the life, "
    "about unseen ages and chance together"
)


@dataclass(frozen=True)
class ForecastRow:
    """Failures expected in the next `days`. component, van: keys, "" for all; low, high: predictive interval.

    in_care: pieces in care, each with the chance that its customer still is; of_unseen_age: of these, age not known.
    """

    component: str
    van: str
    days: int
    expected: float
    low: int
    high: int
    in_care: float
    of_unseen_age: float


@dataclass(frozen=True)
class FirmForecast:
    """rows: component x van x days (van "-" where none serves the place); by_component, by_van and total: sums."""

    as_of: date
    level: float
    days: tuple[int, ...]
    rows: tuple[ForecastRow, ...]
    by_component: tuple[ForecastRow, ...]
    by_van: tuple[ForecastRow, ...]
    total: tuple[ForecastRow, ...]
    before_care: str
    silence: str
    method: str


def firm_forecast(
    as_of: date, days=DAYS, level=0.90, *, before_care=lives.BEFORE_CARE, care_window=None
) -> FirmForecast:
    """For everything in care, kept until something is recorded. care_window: months, None for the firm's own."""
    asked = as_of, tuple(days), level, before_care, care_window
    return kept("firm-forecast", lambda: _firm_forecast(*asked), *asked, of_work=True)


def _firm_forecast(as_of, days, level, before_care, care_window):
    grids = life_grids(as_of, before_care, care_window)
    shared = grids.rows_of(range(len(grids.vans) + 1))
    tables = [_tables(grids, shared, as_of, horizon, level) for horizon in days]
    rows, by_component, by_van, total = (tuple(row for table in tables for row in table[i]) for i in range(4))
    return FirmForecast(as_of, level, days, rows, by_component, by_van, total, before_care, lives.SILENCE, METHOD)


def _tables(grids: LifeGrids, shared, as_of, days, level):
    """Rows of component x van, of components, of vans and of all, for one horizon. shared: rows of every van."""
    today, vans = grids.today, (*grids.vans, "-")
    components, many = len(grids.components), len(vans)
    row, van, share = shared
    weight, cell = today.likely[row] * share, today.component[row] * many + van
    season = (grids.season @ month_shares(as_of, days))[today.component]
    ways = Cells(cell, components * many, row, share), Cells(today.component, components)
    asked = {"weight": today.counts, "season": season}
    fine, coarse = forecasts(grids.grid, today.age, today.component, days / 365.25, ways, **asked)
    here = np.bincount(cell, weight, components * many)
    blind = np.bincount(cell, np.where(today.seen[row], 0.0, weight), components * many)
    present = np.flatnonzero(here > 0)
    fine_rows = _rows(fine, level, days, here, blind)
    of_van, all_in_one = np.tile(np.arange(many), components), np.zeros(components, int)
    named = [
        (grids.components[c], vans[v], fine_rows[c * many + v]) for c, v in zip(*divmod(present, many), strict=True)
    ]
    here, blind = here.reshape(components, many), blind.reshape(components, many)
    each = _rows(coarse, level, days, here.sum(axis=1), blind.sum(axis=1))
    by_van = _rows(together(fine, of_van, many), level, days, here.sum(axis=0), blind.sum(axis=0))
    total = _rows(together(coarse, all_in_one, 1), level, days, [here.sum()], [blind.sum()])
    return (
        [ForecastRow(component, one, *figures) for component, one, figures in named],
        [ForecastRow(key, "", *each[c]) for c, key in enumerate(grids.components) if here[c].sum() > 0],
        [ForecastRow("", key, *by_van[v]) for v, key in enumerate(vans) if here[:, v].sum() > 0],
        [ForecastRow("", "", *total[0])],
    )


def _rows(predictive, level, days, here, blind):
    """(days, expected, low, high, in care, of unseen age) of each cell."""
    low, high = predictive.interval(level)
    columns = predictive.mean.tolist(), low.tolist(), high.tolist(), list(map(float, here)), list(map(float, blind))
    return [(days, *figures) for figures in zip(*columns, strict=True)]
