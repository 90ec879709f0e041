"""How many will fail next: a grid of Weibull shapes with conjugate gammas, exact from no failure on."""

from dataclasses import dataclass
from functools import cached_property

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


@dataclass(frozen=True)
class Before:
    """What is assumed of each group beforehand: see shape_grid. rate, typical_age: (groups,) or scalars, > 0."""

    groups: int
    rate: Array | float
    typical_age: Array | float
    wears: list[str] | None = None
    prior_failures: float = 1.0

    @property
    def unit(self):
        return np.broadcast_to(np.asarray(self.typical_age, float), (self.groups,))

    @property
    def hazard(self):
        """Of the gamma of the rate beforehand, (groups,)."""
        return self.prior_failures / (np.broadcast_to(np.asarray(self.rate, float), (self.groups,)) * self.unit)

    def log_prior(self, log_shape):
        """Log density of each shape beforehand, (groups, k)."""
        words = [""] * self.groups if self.wears is None else self.wears
        median, spread = np.array([WEARS[word] for word in words]).reshape(-1, 2).T
        return -(((log_shape - np.log(median)[:, None]) / spread[:, None]) ** 2) / 2


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
    before = Before(groups, rate, typical_age, wears, prior_failures)
    spells = SpellSums(entry, exit, failed, weight, group, before.unit)
    log_shape = np.tile(SHAPES, (groups, 1))
    for _ in range(4):
        hazard = before.hazard[:, None] + spells.spent(np.exp(log_shape))
        found = _weights(log_shape, before, spells, hazard)
        middle = np.sum(found * log_shape, axis=1)
        spread = np.sqrt(np.sum(found * (log_shape - middle[:, None]) ** 2, axis=1))
        step = log_shape[:, 1] - log_shape[:, 0]
        if (spread > 1.2 * step).all():
            break
        log_shape = middle[:, None] + np.maximum(spread, 0.7 * step)[:, None] * AROUND
    return ShapeGrid(np.exp(log_shape), found, prior_failures + spells.failures, hazard, before.unit)


class SpellSums:
    """Spells in units of each group's typical age, their logarithms taken once.

    failures: of each group; told: of those at an age above 0, log_sum: sum of the logarithms of these ages.
    """

    def __init__(self, entry, exit, failed, weight, group, unit):
        entry, exit, self.weight = (np.asarray(values, float) for values in (entry, exit, weight))
        failed, self.group, self.groups = np.asarray(failed, bool), np.asarray(group, int), unit.size
        with np.errstate(divide="ignore"):
            self.begin, self.end = np.log(entry / unit[self.group]), np.log(exit / unit[self.group])
        count, aged = np.where(failed, self.weight, 0.0), failed & (exit > 0)
        self.failures = np.bincount(self.group, count, self.groups)
        self.log_sum = np.bincount(self.group[aged], (count * self.end)[aged], self.groups)
        self.told = np.bincount(self.group[aged], count[aged], self.groups)

    @cached_property
    def sums(self):
        return [PowerSums(log, self.weight, self.group, self.groups) for log in (self.begin, self.end)]

    def spent(self, shape):
        """Sum of exit ** shape - entry ** shape per group for its shapes (groups, k)."""
        begins, ends = self.sums
        return ends(shape) - begins(shape)

    def passed(self, shape, rows=slice(None)):
        """Weight x (exit ** shape - entry ** shape) of each spell (or of some rows), shape (groups,)."""
        b = shape[self.group[rows]]
        return self.weight[rows] * (np.exp(b * self.end[rows]) - np.exp(b * self.begin[rows]))


def _weights(log_shape, before: Before, spells: SpellSums, hazard):
    """Posterior of each shape, the scale integrated out, (groups, k)."""
    height = before.log_prior(log_shape) + spells.told[:, None] * log_shape
    height += (np.exp(log_shape) - 1) * spells.log_sum[:, None]
    height -= (before.prior_failures + spells.failures)[:, None] * np.log(hazard / before.hazard[:, None])
    likelihood = np.exp(height - height.max(axis=1, keepdims=True))
    return likelihood / likelihood.sum(axis=1, keepdims=True)


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


@dataclass(frozen=True)
class Cells:
    """A way to add positions up. cell: number of each entry's cell, cells: how many there are, all entries of one are
    of one group; row: the position that each entry is about, share: how far it counts here, None for every position
    once.
    """

    cell: Array
    cells: int
    row: Array | None = None
    share: Array | None = None

    def of(self, group):
        """Group of each cell; of a cell without entries its own number, where cells are groups."""
        of = np.arange(self.cells) if self.cell is group else np.zeros(self.cells, int)
        of[self.cell] = group if self.row is None else group[self.row]
        return of

    def total(self, each):
        """Sums of what each position comes to, (cells,)."""
        each = each if self.row is None else each[self.row]
        return np.bincount(self.cell, each if self.share is None else self.share * each, self.cells)


def forecast(grid: ShapeGrid, age, group, horizon, *, cell=None, cells=None, weight=None, season=1.0) -> Predictive:
    """Failures of today's positions in the next `horizon`, in each cell (default: each group is one).

    age: today (m,), group: of each position, weight: how far it counts (an unseen age may be spread over
    several), (m,) or for each shape (m, k), season: mean month factor over the horizon, scalar or (m,). cell: number
    of each position's cell; all positions of a cell are of one group. What fails is renewed at once and may fail
    again; this is reckoned at each shape's mean rate, so that the counts stay negative binomial. Positions that are
    one of several ages, or in care with some chance, add no more than their mean: each fails hardly more than once.
    """
    group = np.asarray(group, int)
    cell = group if cell is None else np.asarray(cell, int)
    way = Cells(cell, grid.failures.size if cells is None else cells)
    return forecasts(grid, age, group, horizon, (way,), weight=weight, season=season)[0]


def forecasts(grid: ShapeGrid, age, group, horizon, ways, *, weight=None, season=1.0) -> list[Predictive]:
    """The same positions added up in several ways (Cells) at once; else as `forecast`."""
    age, group, shapes = np.asarray(age, float), np.asarray(group, int), grid.shape.shape[1]
    count = np.asarray(1.0 if weight is None else weight, float)
    count = np.broadcast_to(count if count.ndim == 2 else np.atleast_1d(count)[:, None], (age.size, shapes))
    start, ahead = age / grid.unit[group], horizon / grid.unit[group]
    to_come = [np.zeros((way.cells, shapes)) for way in ways]
    for k in range(shapes):
        b = grid.shape[group, k]
        rate = (grid.failures / grid.hazard[:, k])[group]
        passed = season * ((start + ahead) ** b - start**b)
        fails = -np.expm1(-rate * passed)
        again = fails * rate * season * ahead**b / (b + 1)
        expected = np.where(rate * passed > 0, (fails + again) / np.where(rate > 0, rate, 1.0), 0.0)
        for way, found in zip(ways, to_come, strict=True):
            found[:, k] = way.total(count[:, k] * expected)
    made = []
    for way, found in zip(ways, to_come, strict=True):
        of = way.of(group)
        made.append(Predictive(grid.weight[of], grid.failures[of], grid.hazard[of] / (grid.hazard[of] + found)))
    return made


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
