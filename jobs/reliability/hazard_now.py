"""How far the failure rate of single positions is known, at the ages that each may have."""

import numpy as np
from scipy.special import gammainc, gammaincinv

from jobs.reliability.forecast import ShapeGrid

YOUNGEST = 1e-3  # of the unit of age: below it the rate of a shape other than 1 says nothing
LEAST_WEIGHT = 1e-3  # shapes below that say nothing
HALVINGS, WIDE = 4, 0.1  # so often the range between shapes is halved; what is wider then, more often


def hazard_span(grid: ShapeGrid, group, age, likely, cell, cells, *, level=0.90):
    """Ends of the range of each position's failure rate, as multiples of its mean: two arrays (cells,).

    group, age (years): of each row (n,), one row for every age that a position may have; likely: chance of that age
    given each shape of the grid, (n, k); cell: position of each row, 0 .. cells - 1. The rate of a position is
    averaged over its ages; what is not known of the life, shape and scale, makes the range: quantiles of the mixture
    of gammas over the shapes, within a hundredth. 1 where a position has no rate.
    """
    kind = np.zeros(cells, int)
    kind[cell] = group
    place = np.maximum(age / grid.unit[group], YOUNGEST)
    scale = np.zeros((cells, grid.shape.shape[1]))
    for k in range(scale.shape[1]):
        shape = grid.shape[group, k]
        rise = shape * place ** (shape - 1) / grid.hazard[group, k]
        scale[:, k] = np.bincount(cell, likely[:, k] * rise, cells)
    failures, weight = grid.failures[kind][:, None], grid.weight[kind]
    mean = np.sum(weight * failures * scale, axis=1)
    some = mean > 0
    ends = [np.ones(cells), np.ones(cells)]
    for end, chance in zip(ends, ((1 - level) / 2, (1 + level) / 2), strict=True):
        end[some] = _quantile(failures[some], scale[some], weight[some], chance) / mean[some]
    return tuple(ends)


def _quantile(failures, scale, weight, chance, halvings=HALVINGS):
    """Of mixtures of gammas, rows (n, k): on the log scale, halving between the quantiles of their parts and a straight
    line through what is left.
    """
    parts = gammaincinv(failures, chance) * scale
    told = (weight > LEAST_WEIGHT) & (parts > 0)
    row, _ = np.nonzero(told)
    share = weight[told] / np.bincount(row, weight[told], len(weight))[row]
    columns = np.broadcast_to(failures, scale.shape)[told], scale[told], share

    def below(log_rate):
        failures, scale, share = columns
        return np.bincount(row, share * gammainc(failures, np.exp(log_rate)[row] / scale), log_rate.size)

    low = np.log(np.min(np.where(told, parts, np.inf), axis=1))
    high = np.log(np.max(np.where(told, parts, 0.0), axis=1))
    under, over = below(low), below(high)
    for _ in range(halvings):
        middle = (low + high) / 2
        at = below(middle)
        less = at < chance
        low, under = np.where(less, middle, low), np.where(less, at, under)
        high, over = np.where(less, high, middle), np.where(less, over, at)
    rest = np.maximum(over - under, 1e-300)
    found = low + (high - low) * np.clip((chance - under) / rest, 0.0, 1.0)
    wide = np.flatnonzero(high - low > WIDE)
    found = np.exp(found)
    if wide.size and halvings == HALVINGS:
        found[wide] = _quantile(failures[wide], scale[wide], weight[wide], chance, 5 * halvings)
    return found
