"""How often each component of each model failed against what the life of its component type makes one expect."""

import numpy as np

from jobs.reliability.forecast import ShapeGrid, forecast
from jobs.services.life_grids import AgedSpells, LifeGrids

AGES = 400


def against_grid(grids: LifeGrids, aged: AgedSpells) -> dict[tuple[str, str], tuple[float, float]]:
    """(component, model) keys to (failures, expected failures) of the spells on record, weights counted.

    Expected: the posterior mean of the cumulative hazard over each spell. A spell of which no age is known is
    expected to fail as often as its component does on average at the ages of today.
    """
    spells, grid = aged.spells, grids.grid
    models, width = spells.names.models, len(spells.names.models) + 1
    entry, exit, failed, weight, group = aged.rows
    group = group.astype(int)
    met = np.bincount(group * width + spells.model[aged.of], weight * failed, len(aged.grouped.names) * width)
    passed = _cumulative(grid, exit, group) - _cumulative(grid, entry, group)
    hoped = np.bincount(group * width + spells.model[aged.of], weight * passed, len(met))
    more_met, more_hoped = _of_no_age(grids, aged, width)
    met, hoped = met + more_met, hoped + more_hoped
    found = {}
    for at in np.flatnonzero((met > 0) | (hoped > 0)):
        component, model = divmod(int(at), width)
        if model < len(models):
            found[aged.grouped.names[component], str(models[model])] = float(met[at]), float(hoped[at])
    return found


def _cumulative(grid: ShapeGrid, age, group):
    """Posterior mean of the cumulative hazard of each row's component at that age, from a table of ages."""
    found = np.zeros(len(age))
    order = np.argsort(group, kind="stable")
    bounds = np.searchsorted(group[order], np.arange(len(grid.failures) + 1))
    for one, (start, stop) in enumerate(zip(bounds, bounds[1:], strict=False)):
        own = order[start:stop]
        if not len(own):
            continue
        ages = np.linspace(0, 1, AGES) ** 2 * max(age[own].max(), 1e-6)
        rate = grid.weight[one] * grid.failures[one] / grid.hazard[one]
        table = (ages[:, None] / grid.unit[one]) ** grid.shape[one] @ rate
        found[own] = np.interp(age[own], ages, table)
    return found


def _of_no_age(grids: LifeGrids, aged: AgedSpells, width):
    """(failures, expected failures) of the spells that have no age, by component and model."""
    spells, number = aged.spells, {key: i for i, key in enumerate(grids.components)}
    group = np.array([number.get(str(key), -1) for key in spells.names.components], int)[spells.component]
    rest = np.setdiff1d(np.flatnonzero(group >= 0), aged.of)
    cell, size = group[rest] * width + spells.model[rest], len(number) * width
    years = spells.weight[rest] * (spells.exit[rest] - spells.entry[rest])
    failed = spells.weight[rest] * spells.failed[rest]
    rate = _rate_today(grids)[group[rest]]
    return np.bincount(cell, failed, size), np.bincount(cell, years * rate, size)


def _rate_today(grids: LifeGrids):
    """Failures expected of one piece of each component in a year at the ages of today, (components,)."""
    today = grids.today
    here = np.bincount(today.component, today.likely, len(grids.components))
    ahead = forecast(grids.grid, today.age, today.component, 1.0, weight=today.counts)
    return ahead.mean / np.maximum(here, 1e-12)
