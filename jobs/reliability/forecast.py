"""How many will fail next: a grid of Weibull shapes with conjugate gammas, exact from no failure on."""

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

from jobs.reliability.power_sums import PowerSums

Array = np.ndarray
SHAPES = np.linspace(np.log(0.4), np.log(7.0), 24)  # logarithms of the first look at shapes
AROUND = np.linspace(-4, 4, 21)  # standard deviations of the finer looks
WEARS = {"early-life": (0.7, 0.3), "random": (1.1, 0.3), "wear-out": (2.2, 0.45), "": (1.4, 0.6)}  # median, log spread


@dataclass(frozen=True)
class ShapeGrid:
    """What is known of each group's life. shape (groups, k); weight (groups, k) of each shape, adding to 1.

    Given shape b, scale ** -b is Gamma(failures, hazard): failures (groups,) and hazard (groups, k) hold the
    data and the prior together. Ages are in units of `unit` (groups,).
    """

    shape: Array
    weight: Array
    failures: Array
    hazard: Array
    unit: Array


def shape_grid(
    entry, exit, failed, weight, group, *, groups, rate, typical_age, wears=None, prior_failures=1.0
) -> ShapeGrid:
    """Posterior of each group over the grid of shapes, every group at once.

    entry, exit, failed, weight, group: spells as fit_weibull takes them. rate: failures per unit of time that are
    assumed beforehand, as an average from age 0 to typical_age (both (groups,) or scalars, > 0), worth
    prior_failures failures. wears: manner of wear of each group, a key of WEARS (default unknown): lognormal
    prior of the shape, common practice, no source. Failures at age 0 say nothing of the shape and count as one
    failure each.
    """
    unit = np.broadcast_to(np.asarray(typical_age, float), (groups,))
    before = prior_failures / (np.broadcast_to(np.asarray(rate, float), (groups,)) * unit)
    spells = _Spells(entry, exit, failed, weight, group, unit)
    log_shape = np.tile(SHAPES, (groups, 1))
    for _ in range(4):
        hazard = before[:, None] + spells.spent(np.exp(log_shape))
        found = _weights(log_shape, _prior(wears, log_shape), spells, prior_failures, before, hazard)
        middle = np.sum(found * log_shape, axis=1)
        spread = np.sqrt(np.sum(found * (log_shape - middle[:, None]) ** 2, axis=1))
        step = log_shape[:, 1] - log_shape[:, 0]
        if (spread > 1.2 * step).all():
            break
        log_shape = middle[:, None] + np.maximum(spread, 0.7 * step)[:, None] * AROUND
    return ShapeGrid(np.exp(log_shape), found, prior_failures + spells.failures, hazard, unit)


class _Spells:
    """Spells in units of each group's typical age, their logarithms taken once."""

    def __init__(self, entry, exit, failed, weight, group, unit):
        entry, exit, self.weight = (np.asarray(values, float) for values in (entry, exit, weight))
        failed, self.group, self.groups = np.asarray(failed, bool), np.asarray(group, int), unit.size
        with np.errstate(divide="ignore"):
            begin, end = np.log(entry / unit[self.group]), np.log(exit / unit[self.group])
        count, aged = np.where(failed, self.weight, 0.0), failed & (exit > 0)
        self.failures = np.bincount(self.group, count, self.groups)
        self.log_sum = np.bincount(self.group[aged], (count * end)[aged], self.groups)
        self.told = np.bincount(self.group[aged], count[aged], self.groups)

        self.ends, self.begins = (PowerSums(log, self.weight, self.group, self.groups) for log in (end, begin))

    def spent(self, shape):
        """Sum of exit ** shape - entry ** shape per group for its shapes (groups, k)."""
        return self.ends(shape) - self.begins(shape)


def _weights(log_shape, prior, spells, prior_failures, before, hazard):
    """Posterior of each shape, the scale integrated out, (groups, k)."""
    height = prior + spells.told[:, None] * log_shape + (np.exp(log_shape) - 1) * spells.log_sum[:, None]
    height -= (prior_failures + spells.failures)[:, None] * np.log(hazard / before[:, None])
    likelihood = np.exp(height - height.max(axis=1, keepdims=True))
    return likelihood / likelihood.sum(axis=1, keepdims=True)


def _prior(wears, log_shape):
    """Log density of each shape beforehand, (groups, k)."""
    words = [""] * log_shape.shape[0] if wears is None else wears
    median, spread = np.array([WEARS[word] for word in words]).reshape(-1, 2).T
    return -(((log_shape - np.log(median)[:, None]) / spread[:, None]) ** 2) / 2


@dataclass(frozen=True)
class Predictive:
    """Failures to come in each cell (n,): mixture over shapes of negative binomials.

    weight (n, k); failures (n,); share (n, k): hazard / (hazard + exposure to come).
    """

    weight: Array
    failures: Array
    share: Array

    @property
    def mean(self):
        return self.failures * np.sum(self.weight * (1 - self.share) / self.share, axis=1)

    @property
    def variance(self):
        each = self.failures[:, None] * (1 - self.share) / self.share
        square = each / self.share + each**2
        return np.sum(self.weight * square, axis=1) - self.mean**2

    def at_most(self, number):
        """P(N <= number), number a scalar or (n,); 0 below 0."""
        number = np.broadcast_to(np.asarray(number, float), self.failures.shape)
        known = np.maximum(number, 0.0)[:, None] + 1
        below = np.sum(self.weight * betainc(self.failures[:, None], known, self.share), axis=1)
        return np.where(number < 0, 0.0, below)

    def quantile(self, p):
        """Least whole number with P(N <= number) >= p, (n,)."""
        low, high = np.full(self.failures.size, -1.0), np.ceil(self.mean + 4 * np.sqrt(self.variance) + 1)
        while (short := self.at_most(high) < p).any():
            high = np.where(short, 2 * high, high)
        while (high - low > 1).any():
            middle = np.floor((low + high) / 2)
            enough = self.at_most(middle) >= p
            wide = high - low > 1
            low, high = np.where(wide & ~enough, middle, low), np.where(wide & enough, middle, high)
        return high.astype(int)

    def interval(self, level=0.90):
        """(low, high) whole numbers, the central predictive interval: parameters and chance together."""
        return self.quantile((1 - level) / 2), self.quantile((1 + level) / 2)

    def place(self, number, rng):
        """Randomised place of what came in the predictive distribution, even between 0 and 1 if it is right."""
        below = self.at_most(np.asarray(number) - 1)
        return below + (self.at_most(number) - below) * rng.random(self.failures.size)


def forecast(grid: ShapeGrid, age, group, horizon, *, cell=None, cells=None, weight=None, season=1.0) -> Predictive:
    """Failures of today's positions in the next `horizon`, in each cell (default: each group is one).

    age: today (m,), group: of each position, weight: how far it counts (an unseen age may be spread over
    several), season: mean month factor over the horizon, scalar or (m,). cell: number of each position's
    cell; all positions of a cell are of one group. What fails is renewed at once and may fail again; this is
    reckoned at each shape's mean rate, so that the counts stay negative binomial.
    """
    age, group = np.asarray(age, float), np.asarray(group, int)
    cell = group if cell is None else np.asarray(cell, int)
    cells = grid.failures.size if cells is None else cells
    count = np.broadcast_to(np.asarray(1.0 if weight is None else weight, float), age.shape)
    of = np.zeros(cells, int)
    of[cell] = group
    if cells == grid.failures.size and cell is group:
        of = np.arange(cells)
    start, ahead = age / grid.unit[group], horizon / grid.unit[group]
    to_come = np.zeros((cells, grid.shape.shape[1]))
    for k in range(grid.shape.shape[1]):
        b = grid.shape[group, k]
        rate = (grid.failures / grid.hazard[:, k])[group]
        passed = season * ((start + ahead) ** b - start**b)
        fails = -np.expm1(-rate * passed)
        again = fails * rate * season * ahead**b / (b + 1)
        expected = np.where(rate * passed > 0, (fails + again) / np.where(rate > 0, rate, 1.0), 0.0)
        to_come[:, k] = np.bincount(cell, count * expected, cells)
    hazard = grid.hazard[of]
    return Predictive(grid.weight[of], grid.failures[of], hazard / (hazard + to_come))


def together(predictive: Predictive, into, groups) -> Predictive:
    """Sums of independent cells as negative binomials of the same mean and variance: totals of an area or a firm.

    into: number of the total that each cell belongs to, (n,). A total without expected failures has none.
    """
    mean = np.bincount(into, predictive.mean, groups)
    variance = np.bincount(into, predictive.variance, groups)
    extra = np.maximum(variance - mean, 1e-9 * np.maximum(mean, 1e-12))
    failures = np.where(mean > 0, mean**2 / extra, 1.0)
    share = failures / (failures + mean)
    return Predictive(np.ones((groups, 1)), failures, share[:, None])
