"""Do forecasts hold where ages are known? Groups are watched for some years, then their next 90 days come."""

import numpy as np
from scipy import stats

from jobs.reliability.forecast import forecast, shape_grid
from jobs.simulation.rows import Goal, Row, averaged, covered

TABLE = "Forecasts: intervals at 90 %, and place of what came"
KINDS = (("random", 1.0), ("wear-out", 2.5), ("wear-out", 3.5), ("", 1.6), ("early-life", 0.7))
TYPICAL, WATCHED, AHEAD = 10.0, 4.0, 90 / 365.25
PIT = "even: p > 0.01"
AT_ONCE = 200


def measure_forecasts(rng, expected, groups):
    """Rows of one cell, by failures expected in the 90 days to come."""
    batches = []
    for _ in range(-(-groups // AT_ONCE)):
        came, predictive, history = _one_batch(rng, expected, min(groups, AT_ONCE))
        batches.append((came, *predictive.interval(), predictive.place(came, rng), predictive.mean, history))
    came, low, high, place, mean, history = (np.concatenate(column)[:groups] for column in zip(*batches, strict=True))
    return forecast_rows(f"{expected} to come", expected, came, low, high, place, mean, history)


def forecast_rows(cell, expected, came, low, high, place, mean, history):
    """Rows of a cell from what came in each group, the interval, place and mean forecast, and the failures before."""
    note = f"{came.mean():.1f} came, {history.mean():.0f} failures seen before"
    goal = Goal(0.88, 0.93, "88 to 93 %") if expected >= 10 else None
    rows = [covered(TABLE, cell, "interval", (low <= came) & (came <= high), goal, note)]
    test = stats.kstest(place, "uniform")
    note = f"p = {test.pvalue:.3f}; below 5 %: {np.mean(place < 0.05):.1%}, above 95 %: {np.mean(place > 0.95):.1%}"
    even = None if expected >= 10 else Goal(0.01, 1.0, PIT)
    rows.append(averaged(TABLE, cell, "mean place (50 % is even)", place, None, note))
    rows.append(_p_row(cell, test.pvalue, place.size, even))
    rows.append(averaged(TABLE, cell, "forecast over what came, less 1", [mean.sum() / came.sum() - 1]))
    return rows


def _p_row(cell, p, size, goal):
    return Row(TABLE, cell, "p that places are even", float(p), np.nan, size, goal, "Kolmogorov-Smirnov", False)


def _one_batch(rng, expected, groups):
    """What came in `groups` groups, the forecast, and the failures that it was learned from."""
    kind = np.arange(groups) % len(KINDS)
    shape = np.array([one[1] for one in KINDS])[kind] * np.exp(rng.normal(0, 0.15, groups))
    assumed = np.full(groups, 0.05)
    rate = assumed * np.exp(rng.normal(0, 0.4, groups))
    theta = rate * TYPICAL  # cumulative hazard at the typical age
    per_position = rate * AHEAD
    size = np.maximum(np.round(expected / per_position), 1).astype(int)
    group = np.repeat(np.arange(groups), size)
    b, hazard = shape[group], theta[group]
    today = rng.uniform(0.3, 14.0, group.size)
    begin = np.maximum(today - WATCHED, 0.0)
    unit, entry, exit, failed, age = _watch(rng, begin, today, b, hazard)
    grid = shape_grid(
        entry, exit, failed, np.ones(entry.size), group[unit], groups=groups, rate=assumed, typical_age=TYPICAL,
        wears=[KINDS[k][0] for k in kind],
    )  # fmt: skip
    predictive = forecast(grid, age, group, AHEAD)
    later, *_, coming, _ = _watch(rng, age, age + AHEAD, b, hazard)
    came = np.bincount(group[later], coming, groups)
    return came, predictive, np.bincount(group[unit], failed, groups)


def _watch(rng, begin, end, shape, hazard):
    """Spells of positions from age `begin` to `end`, renewed when they fail; last, their ages today."""
    rows, unit = [], np.arange(begin.size)
    age, left = begin.copy(), end - begin
    today = np.zeros(begin.size)
    while unit.size:
        b, h = shape[unit], hazard[unit]
        life = TYPICAL * ((age / TYPICAL) ** b + rng.exponential(size=unit.size) / h) ** (1 / b)
        fails = life <= age + left
        until = np.where(fails, life, age + left)
        rows.append((unit, age, until, fails))
        today[unit[~fails]] = until[~fails]
        left = (left - (until - age))[fails]
        unit, age = unit[fails], np.zeros(fails.sum())
    unit, entry, exit, failed = (np.concatenate(column) for column in zip(*rows, strict=True))
    return unit, entry, exit, failed, today
