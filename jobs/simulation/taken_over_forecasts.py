"""Do forecasts hold under the usual assumption: positions of unseen past, customers who fall silent?"""

import numpy as np

from jobs.reliability.forecast import Before, forecast
from jobs.reliability.taken_over import fit_taken_over
from jobs.reliability.unseen_grid import unseen_shape_grid
from jobs.simulation.firms import Law, Town, draw_book
from jobs.simulation.forecasts import KINDS, TYPICAL, forecast_rows
from jobs.simulation.lives import PLANNED, REPAIRED, lost_rate
from jobs.simulation.watched import chance_in_care, watch

AHEAD = 1.0  # years
TOWN = Town(from_new=0.1, ahead=AHEAD)
AT_ONCE = 20_000  # appliances
RATE = 0.05  # failures a year that the firm assumes


def measure_taken_over_forecasts(rng, expected, groups):
    """Rows of one cell, by failures expected in the year to come."""
    size = _size(rng, expected)
    batch = max(min(AT_ONCE // size, groups) // len(KINDS), 1) * len(KINDS)
    parts = [_one_batch(rng, batch, size) for _ in range(-(-groups // batch))]
    columns = [np.concatenate(column)[:groups] for column in zip(*parts, strict=True)]
    return forecast_rows(f"{expected} to come in a year, taken over, silence weighed", expected, *columns)


def _laws(rng, groups) -> Law:
    """Lives around what is assumed of each kind; the scale gives the assumed rate up to the typical age, about."""
    shape = np.array([one[1] for one in KINDS])[np.arange(groups) % len(KINDS)] * np.exp(rng.normal(0, 0.15, groups))
    passed = RATE * np.exp(rng.normal(0, 0.4, groups)) * TYPICAL
    scale = TYPICAL * passed ** (-1 / shape)
    return Law(shape, scale, np.full(groups, PLANNED), np.full(groups, REPAIRED))


def _size(rng, expected):
    """Appliances of a group so that about `expected` failures come."""
    groups, pilot = 20 * len(KINDS), 200
    book = draw_book(rng, TOWN, _laws(rng, groups), np.repeat(np.arange(groups), pilot))
    return max(round(expected * pilot / (book.coming.sum() / groups)), 2)


def _one_batch(rng, groups, size):
    """Of each group: what came, interval, place, mean, and the failures that it was learned from."""
    book = draw_book(rng, TOWN, _laws(rng, groups), np.repeat(np.arange(groups), size))
    spells = watch(book)
    predictive = predict(book, spells, groups)
    came = np.bincount(book.group, book.coming, groups)
    low, high = predictive.interval()
    history = np.bincount(spells.group, spells.failed, groups)
    return came, low, high, predictive.place(came, rng), predictive.mean, history


def predict(book, spells, groups):
    """The forecast that the firm would make of each group, the way of services/life_grids.py."""
    known, over, lost = spells.of(spells.known), spells.taken_over(), np.full(groups, lost_rate(spells, groups))
    fits = fit_taken_over(*known, over, groups=groups, lost_rate=lost, limits=False)
    failures, exposure, _ = spells.totals(groups)
    fitted = fits.status == "fitted"
    shape = np.where(fitted, fits.shape, 1.0)
    scale = np.where(fitted, fits.scale, exposure / np.maximum(failures, 1.0))
    wears = [KINDS[k][0] for k in np.arange(groups) % len(KINDS)]
    before = Before(groups, np.full(groups, RATE), TYPICAL, wears)
    grid, found = unseen_shape_grid(known, over, shape, scale, lost, before)
    last = np.append(np.flatnonzero(np.diff(spells.unit)), spells.unit.size - 1)
    unit, care = spells.unit[last], chance_in_care(book)[spells.unit[last]]
    today = (book.end[unit] - spells.opened[last]) + spells.entry[last]
    seen = spells.known[last]
    position = np.searchsorted(np.unique(spells.unit[~spells.known]), unit[~seen])
    many, shapes = found.likely.shape[1:]
    age = np.r_[today[seen], np.maximum(today[~seen][:, None] - found.younger[position], 0.0).ravel()]
    weight = np.concatenate(
        [
            np.broadcast_to(care[seen][:, None], (seen.sum(), shapes)),
            (care[~seen][:, None, None] * found.likely[position]).reshape(-1, shapes),
        ]
    )
    group = np.r_[book.group[unit[seen]], np.repeat(book.group[unit[~seen]], many)]
    return forecast(grid, age, group, AHEAD, weight=weight)
