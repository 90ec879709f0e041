"""What will fail in each van's area: the grid of lives, today's ages, each model's own record, season and weather."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from inventory.models import Place
from inventory.stocking.cold_snaps import snap_variance
from jobs import history, lives
from jobs.figures import kept
from jobs.reliability.best_estimates import best_estimates
from jobs.reliability.forecast import forecast
from jobs.reliability.history.spells import DAYS_PER_YEAR
from jobs.services.life_grids import AgedSpells, LifeGrids, aged_spells, life_grids
from jobs.services.model_rates import against_grid
from jobs.van_demand import month_shares, van_shares

ONE_HUNDRED = 100.0  # best_estimates takes assumed rates per hundred; of expected failures, as many fail
HARDLY_WATCHED = 1e-9


@dataclass(frozen=True)
class VanDemand:
    """One entry per (component, model) in care, by their keys.

    failures, exposure: gamma of how often one fails against what the grid of lives expects of it, nan: unknown.
    expected: failures that the grid expects in each van's area over the horizon, season and renewals included,
    (needs, vans). in_area: positions there, each with its chance of being still in care, shared where several vans
    name an area, likewise. snaps: variance of a week's weather. months: the firm's month factors, January first.
    """

    component: tuple[str, ...]
    model: tuple[str, ...]
    failures: np.ndarray
    exposure: np.ndarray
    expected: np.ndarray
    in_area: np.ndarray
    snaps: float
    months: np.ndarray
    warnings: tuple[str, ...]


def van_demand(vans: list[Place], *, as_of: date, horizon_days: int) -> VanDemand:
    """As known on `as_of`, over the horizon from then on; kept until something is recorded."""
    areas = [(van.key, van.post_areas) for van in vans]
    return kept("van-demand", lambda: _van_demand(vans, as_of, horizon_days), as_of, horizon_days, areas, of_work=True)


def _van_demand(vans, as_of, horizon_days):
    records = history.read_records()
    grids, aged = life_grids(as_of), aged_spells(as_of, records)
    here = history.in_care(as_of, silence=lives.SILENCE, records=records)
    share, unserved = van_shares(here, vans)
    pairs, need = _pairs(here)
    expected = _expected(grids, vans, pairs, as_of, horizon_days)
    in_area = np.zeros((len(pairs), len(vans)))
    np.add.at(in_area, need, share * here.weight[:, None])
    without = ~np.isin([component for component, _ in pairs], grids.components)
    expected[without] = _assumed(pairs, without) * in_area[without] * horizon_days / DAYS_PER_YEAR
    failures, exposure = _against_the_grid(grids, aged, pairs)
    return VanDemand(
        component=tuple(component for component, _ in pairs),
        model=tuple(model for _, model in pairs),
        failures=failures,
        exposure=exposure,
        expected=expected,
        in_area=in_area,
        snaps=_snaps(aged.spells),
        months=_months(grids, aged),
        warnings=tuple(_unserved(here, unserved)),
    )


def _pairs(here):
    """([(component, model) keys], the pair of each position)."""
    numbers, need = np.unique(np.stack([here.component, here.model]), axis=1, return_inverse=True)
    return [(str(here.names.components[c]), str(here.names.models[m])) for c, m in numbers.T], need


def _expected(grids: LifeGrids, vans, pairs, as_of, horizon_days):
    """Failures of each pair in each van's area over the horizon, (pairs, vans)."""
    today, found = grids.today, np.zeros((len(pairs), len(vans)))
    if not today.age.size or not vans:
        return found
    column = {key: v for v, key in enumerate(grids.vans)}
    row, van, share = grids.rows_of([column[van.key] for van in vans])
    pair = _pair_of(grids, pairs)[today.component[row], today.model[row]]
    row, van, share, pair = row[pair >= 0], van[pair >= 0], share[pair >= 0], pair[pair >= 0]
    season = grids.season @ month_shares(as_of, horizon_days)
    cells, cell = np.unique(pair * len(vans) + van, return_inverse=True)
    group = today.component[row]
    to_come = forecast(
        grids.grid, today.age[row], group, horizon_days / DAYS_PER_YEAR,
        cell=cell, cells=len(cells), weight=today.counts[row] * share[:, None], season=season[group],
    )  # fmt: skip
    found[np.divmod(cells, len(vans))] = to_come.mean
    return found


def _pair_of(grids: LifeGrids, pairs):
    """Number of the pair of each component and model, −1 where there is none, (components, models)."""
    places = [{key: i for i, key in enumerate(keys)} for keys in (grids.components, grids.models)]
    found = np.full([len(place) for place in places], -1)
    for number, (component, model) in enumerate(pairs):
        if component in places[0] and model in places[1]:
            found[places[0][component], places[1][model]] = number
    return found


def _assumed(pairs, chosen):
    """Failures a year of one piece of the chosen pairs by the trade table alone, (chosen, 1)."""
    return lives.assumed_rates([c for (c, _), mine in zip(pairs, chosen, strict=True) if mine])[:, None] / ONE_HUNDRED


def _against_the_grid(grids: LifeGrids, aged: AgedSpells, pairs):
    """(failures, exposure) of the gamma of each pair's failures over those that the grid expects of it."""
    seen = against_grid(grids, aged)
    failed, expected = (np.array([seen.get(pair, (0.0, 0.0))[i] for pair in pairs]) for i in (0, 1))
    components = sorted({component for component, _ in pairs})
    family = np.array([components.index(component) for component, _ in pairs], int)
    assumed = np.full(len(pairs), ONE_HUNDRED)
    best = best_estimates(failed, np.maximum(expected, HARDLY_WATCHED), family, components, assumed)
    return best.failures, best.exposure


def _snaps(spells):
    """Variance of the weather from week to week, from all failures of the firm."""
    return snap_variance(spells.closed_day[spells.failed.astype(bool)])


def _months(grids: LifeGrids, aged: AgedSpells):
    """The month factors of all components, each counting by its failures, (12,)."""
    failed = np.bincount(aged.rows[4].astype(int), aged.rows[3] * aged.rows[2], len(grids.components)) + 1e-9
    return failed @ grids.season / failed.sum() if failed.size else np.ones(12)


def _unserved(here, unserved):
    appliances = np.unique(here.appliance[unserved])
    if len(appliances):
        first = ", ".join(str(here.names.appliances[a]) for a in appliances[:3])
        more = f" and {len(appliances) - 3} more" if len(appliances) > 3 else ""
        yield f"left out, because no van names their area and none has been there: appliances {first}{more}"
