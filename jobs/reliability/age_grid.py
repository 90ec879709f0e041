"""Many positions watched in one piece become few: weights on a grid of ages at the start and of years since.

The log likelihood of such a position is a smooth function of its appliance's age at the start of care and of the
time watched. A sum over thousands of positions is therefore a sum over the points of a grid, with weights that
do not depend on the life: those of polynomial interpolation at Chebyshev points, in the age and in the root of the
time. They come from the sums of Chebyshev polynomials over the positions, which serve every coarser grid too. On
invented data a grid of 15 by 9 moves the shape of the middle group by 1e-5; steep and flat lives end with each
position by itself (taken_over.py). Numbers have 24 bits here: twice as many at once.
"""

from dataclasses import dataclass, fields
from functools import cache

import numpy as np

from jobs.reliability.mid_life import Ages, parts

Array = np.ndarray
POINTS = (12, 8)
SHORT, LEAST = np.float32, 1e-35
IN_CACHE, AT_ONCE = 60_000, 8000  # numbers; positions
ALONE = 512  # positions


@dataclass(frozen=True)
class AgeGrid:
    """Groups (g,) with a grid each: ages at the start (g, j) and times watched (g, k) and the weights of the points.

    watched, failed: weights (g, j, k) of positions that survived and that failed. surplus (g,): sum of log age over
    the failures, less the same over their grid: what the logarithm has near age 0 and no polynomial follows.
    """

    group: Array
    age: Array
    later: Array
    watched: Array
    failed: Array
    surplus: Array

    def parts(self, ages):
        """The same in parts small enough for the processor's cache, when each point may have had so many ages."""
        some = max(int(IN_CACHE / (self.watched[0].size * ages)), 1)
        for begin in range(0, self.group.size, some):
            yield AgeGrid(*(getattr(self, field.name)[begin : begin + some] for field in fields(AgeGrid)))


@dataclass(frozen=True)
class AgeMoments:
    """What positions of groups (g,) come to: sums of weight x Chebyshev polynomials of age and root of time watched.

    middle, half, high: of both axes, (2, g); sums (g, 2, j, k): of those that survived and that failed; end (g,): sum
    of log age at failure.
    """

    group: Array
    middle: Array
    half: Array
    high: Array
    sums: Array
    end: Array

    def of(self, number) -> "AgeMoments":
        """Those of the groups that have a number >= 0, which is their new one."""
        kept = number[self.group] >= 0
        middle, half, high = self.middle[:, kept], self.half[:, kept], self.high[:, kept]
        return AgeMoments(number[self.group[kept]], middle, half, high, self.sums[kept], self.end[kept])

    def grid(self, points=None) -> AgeGrid:
        """The grid of so many points, (j, k), at most as many as there are polynomials, or just as many."""
        points = points or self.sums.shape[2:]
        (ages, roots), shares = self._points(points), [_shares(k) for k in points]
        sums = self.sums[:, :, : points[0], : points[1]]
        watched, failed = np.moveaxis(shares[0].T @ sums @ shares[1], 1, 0)
        laters = roots**2
        on_grid = np.sum(failed * np.log(ages[:, :, None] + laters[:, None, :]), axis=(1, 2))
        return AgeGrid(self.group, ages, laters, watched, failed, self.end - on_grid)

    def _points(self, points):
        for middle, half, high, k in zip(self.middle, self.half, self.high, points, strict=True):
            yield np.maximum(middle[:, None] - half[:, None] * np.cos(_turns(k)), 1e-9 * high[:, None])


def age_moments(group, age, later, failed, weight, points=POINTS) -> AgeMoments:
    """Of positions (n,) for grids of up to so many points. age > 0 and later >= 0, any unit.

    Sorted by group, in each group those that failed last.
    """
    start = np.flatnonzero(np.diff(group, prepend=-1))
    some = max(start.size * AT_ONCE // group.size, 1)
    bounds = [*start[::some], group.size]
    parts = [
        _moments(group[a:b], age[a:b], later[a:b], failed[a:b], weight[a:b], points)
        for a, b in zip(bounds[:-1], bounds[1:], strict=True)
    ]
    columns = ([getattr(part, field.name) for part in parts] for field in fields(AgeMoments))
    return AgeMoments(*(np.concatenate(column, axis=-1 if column[0].ndim == 2 else 0) for column in columns))


def _moments(group, age, later, failed, weight, points):
    """Those of some groups, few enough for the processor's cache."""
    start = np.flatnonzero(np.diff(group, prepend=-1))
    bounds = np.append(start, group.size)
    length = np.diff(bounds)
    axes, terms = [], []
    for values, k in zip((age, np.sqrt(later)), points, strict=True):
        low, high = np.minimum.reduceat(values, start), np.maximum.reduceat(values, start)
        middle, half = (low + high) / 2, np.maximum((high - low) / 2, 1e-6 * high + 1e-12)
        axes.append((middle, half, high))
        terms.append(_polynomials((np.repeat(middle, length) - values) / np.repeat(half, length), k))
    terms[0] *= weight.astype(SHORT)
    sums = np.empty((start.size, 2, *points))
    split = bounds[1:] - np.add.reduceat(failed, start, dtype=int)
    for own, a, middle, b in zip(sums, bounds[:-1], split, bounds[1:], strict=True):
        own[0], own[1] = _products(*terms, a, middle), _products(*terms, middle, b)
    end = np.zeros(age.size)
    end[failed] = weight[failed] * np.log((age + later)[failed])
    end = np.add.reduceat(end, start)
    return AgeMoments(group[start], *np.stack(axes, axis=1), sums, end)


def _products(first, second, begin, end):
    """Sums over begin .. end of first (j, n) x second (k, n), in parts that linear algebra does on one processor."""
    parts = (slice(a, min(a + ALONE, end)) for a in range(begin, end, ALONE))
    return sum(first[:, part] @ second[:, part].T for part in parts)


def _turns(points):
    return np.pi * (np.arange(points) + 0.5) / points


@cache
def _shares(points):
    """Share (points, points) of each Chebyshev point in a value: the sum over its polynomials x these rows."""
    return np.cos(np.outer(np.arange(points), _turns(points))) * (2 / points)


def _polynomials(place, points):
    """Chebyshev polynomials (points, n) of places (n,) between -1 and 1, the first halved."""
    terms = np.empty((points, place.size), SHORT)
    terms[0], terms[1] = 0.5, place
    twice, before = 2 * terms[1], np.ones(place.size, SHORT)
    for k in range(2, points):
        np.multiply(twice, terms[k - 1], out=terms[k])
        terms[k] -= before
        before = terms[k - 1]
    return terms


class GridHeights:
    """Log likelihood of the positions on a grid, per group of the grid.

    lost: rate of renewals for other causes (g,), rule: gauss; ages, rates and the table
    of renewals are in one unit. Inside, points (n,) are the ages at the start of all groups one after the other; what
    depends on the time watched and on the ages that a position may have had then is (times, ages, n).
    """

    def __init__(self, grid: AgeGrid, lost, oldest, rule, fine):
        self.grid, self.points = grid, grid.age.shape[1]
        self.tables, self.own = slice(grid.group[0], grid.group[-1] + 1), grid.group - grid.group[0]
        age, lost, oldest, begin = map(self._each, (grid.age, lost, oldest, self.own * (fine + 1)))
        self.ages = Ages.at(age, oldest, lost, begin, rule, fine)
        then = parts(age, rule)
        self.then = np.log(then).astype(SHORT)
        end = then.astype(SHORT) + self._times(grid.later[:, None]).astype(SHORT)
        self.end, self.per_end = np.log(end), 1 / end
        self.watched, self.failed = self._times(grid.watched)[:, 0], self._times(grid.failed)[:, 0]
        self.positions, self.failures = np.sum(self.watched + self.failed, axis=0), grid.failed.sum(axis=(1, 2))

    def _each(self, values):
        """Of each point: values (g,) or (g, points)."""
        return values.ravel() if values.ndim > 1 else np.repeat(values, self.points)

    def _times(self, values):
        """Values (g, points or 1, times) as (times, 1, n)."""
        whole = np.broadcast_to(values, (values.shape[0], self.points, values.shape[2]))
        return np.ascontiguousarray(whole.reshape(-1, values.shape[2]).T)[:, None]

    def _sums(self, values):
        """Sums (g,) of values (n,)."""
        return values.reshape(-1, self.points).sum(axis=1)

    def __call__(self, shape, log_scale, renewed):
        """shape, log_scale: of the grid's groups (g,); renewed: the table of all groups."""
        return self._told(shape, *self._terms(shape, log_scale, renewed[self.tables].ravel())[:3])

    def slopes(self, shape, log_scale, tables, step):
        """The same and its slopes in log shape and log scale, (3, g).

        tables: of renewals at the life, at a log shape and at a log scale greater by `step`, of all groups.
        """
        at, *near = (table[self.tables] for table in tables)
        survives, fails, whole, weight, below, passed, lives, gone = self._terms(shape, log_scale, at.ravel())
        told = self._told(shape, survives, fails, whole)
        alive = np.exp(-below)
        alive *= (self.positions / whole).astype(SHORT)
        survived = (self.watched / survives).astype(SHORT)[:, None]
        failed = self.per_end * (self.failed / fails * self._each(shape)).astype(SHORT)[:, None]
        by_age = np.einsum("xkn,xkn->kn", gone, failed)
        lives *= survived
        by_age += lives.sum(axis=0)
        by_age -= alive
        np.subtract(1, passed, out=passed)
        passed *= failed
        passed -= survived
        passed *= gone
        alive *= below
        alive *= weight
        by_scale = np.einsum("xkn,kn->n", passed, weight) + alive.sum(axis=0)
        alive *= self.then
        by_shape = np.einsum("xkn,kn,xkn->n", passed, weight, self.end) + alive.sum(axis=0)
        by_scale = -shape * self._sums(by_scale)
        by_shape = shape * (self._sums(by_shape) + self.grid.surplus) + log_scale * by_scale + self.failures
        found = np.stack([told, by_shape, by_scale])
        change = self.ages.unread(by_age, at.size).reshape(at.shape)
        for row, table in zip(found[1:], near, strict=True):
            row += np.einsum("gi,gi->g", change, table - at)[self.own] / step
        return found

    def _terms(self, shape, log_scale, renewed):
        """Chance of surviving and density of failing, (times, n) each, and of being at the start, (n,), which divides
        them; and what they are made of: weight of each age, hazard up to it and to its end, survival to its end, both.
        """
        b, scale = self._each(shape.astype(SHORT)), self._each(log_scale.astype(SHORT))
        weight = self.ages.weights(renewed).astype(SHORT)
        below = self.then - scale
        below *= b
        np.exp(below, out=below)
        whole = np.sum(weight * np.exp(-below), axis=0)
        passed = self.end - scale
        passed *= b
        np.exp(passed, out=passed)
        lives = np.exp(-passed)
        survives = np.einsum("kn,xkn->xn", weight, lives)
        gone = lives * passed
        fails = np.einsum("kn,xkn,xkn->xn", weight, gone, self.per_end) * b
        told = (np.maximum(values.astype(float), LEAST) for values in (survives, fails, whole))
        return *told, weight, below, passed, lives, gone

    def _told(self, shape, survives, fails, whole):
        told = self.watched * np.log(survives) + self.failed * np.log(fails)
        return self._sums(told.sum(axis=0) - self.positions * np.log(whole)) + (shape - 1) * self.grid.surplus
