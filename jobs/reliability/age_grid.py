"""Many positions watched in one piece become few: weights on a grid of ages at the start and of years since.

The log likelihood of such a position is a smooth function of its appliance's age at the start of care and of the
time watched. A sum over thousands of positions is therefore a sum over the points of a grid, with weights that
do not depend on the life: those of polynomial interpolation at Chebyshev points, in the age and in the root of the
time. On invented data the shape of the middle group moves by 6e-6, of the worst by 8e-4; fits end with each position
by itself (taken_over.py).
"""

from dataclasses import dataclass, fields

import numpy as np

from jobs.reliability.mid_life import Ages, parts

Array = np.ndarray
POINTS = (12, 8)
IN_CACHE, AT_ONCE = 80_000, 4000  # numbers; positions


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


def age_grid(group, age, later, failed, weight, points=POINTS) -> AgeGrid:
    """Spread positions (n,), sorted by group, over a grid for each group. age > 0 and later >= 0, any unit."""
    start = np.flatnonzero(np.diff(group, prepend=-1))
    some = max(start.size * AT_ONCE // group.size, 1)
    bounds = [*start[::some], group.size]
    parts = [
        _spread(group[a:b], age[a:b], later[a:b], failed[a:b], weight[a:b], points)
        for a, b in zip(bounds[:-1], bounds[1:], strict=True)
    ]
    return AgeGrid(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(AgeGrid)))


def _spread(group, age, later, failed, weight, points):
    """The grid of some groups, few enough for the processor's cache."""
    start = np.flatnonzero(np.diff(group, prepend=-1))
    bounds = np.append(start, group.size)
    length = np.diff(bounds)
    first, second = _Axis(age, start, length, points[0]), _Axis(np.sqrt(later), start, length, points[1])
    moments = np.empty((2, start.size, *points))
    for kind, chosen in enumerate((~failed, failed)):
        counted = first.terms * np.where(chosen, weight, 0.0)
        for i, (a, b) in enumerate(zip(bounds[:-1], bounds[1:], strict=True)):
            moments[kind, i] = counted[:, a:b] @ second.terms[:, a:b].T
    both = first.cosines.T @ moments @ second.cosines
    ages, laters = first.at, second.at**2
    end = np.where(failed, weight * np.log(age + later), 0.0)
    on_grid = np.sum(both[1] * np.log(ages[:, :, None] + laters[:, None, :]), axis=(1, 2))
    return AgeGrid(group[start], ages, laters, both[0], both[1], np.add.reduceat(end, start) - on_grid)


class _Axis:
    """Chebyshev points `at` (g, k) between each group's least and greatest value; polynomials of the values (k, n).

    The share of point j in a value is the sum of terms x cosines[:, j].
    """

    def __init__(self, values, start, length, points):
        low, high = np.minimum.reduceat(values, start), np.maximum.reduceat(values, start)
        middle, half = (low + high) / 2, np.maximum((high - low) / 2, 1e-6 * high + 1e-12)
        turn = np.pi * (np.arange(points) + 0.5) / points
        self.at = np.maximum(middle[:, None] - half[:, None] * np.cos(turn), 1e-9 * high[:, None])
        self.cosines = np.cos(np.outer(np.arange(points), turn)) * (2 / points)
        place = (np.repeat(middle, length) - values) / np.repeat(half, length)
        self.terms = np.empty((points, values.size))
        self.terms[0], self.terms[1] = 0.5, place
        before = np.ones(values.size)
        for k in range(2, points):
            np.multiply(place, 2 * self.terms[k - 1], out=self.terms[k])
            self.terms[k] -= before
            before = self.terms[k - 1]


class GridHeights:
    """Log likelihood of the positions on a grid, per group of the grid.

    lost: rate of renewals for other causes (g,), rule: gauss; ages, rates and the table
    of renewals are in one unit.
    """

    def __init__(self, grid: AgeGrid, lost, oldest, rule, fine):
        self.grid = grid
        begin = (grid.group * (fine + 1))[:, None]
        self.ages = Ages.at(grid.age, oldest[:, None], lost[:, None], begin, rule, fine)
        then = np.moveaxis(parts(grid.age, rule), 0, 2)
        self.then = np.log(then)
        end = then[..., None] + grid.later[:, None, None, :]
        self.end, self.per_end = np.log(end), 1 / end

    def __call__(self, shape, log_scale, renewed):
        """shape, log_scale: of the grid's groups (g,); renewed: the table of all groups."""
        b, scale = shape[:, None, None], log_scale[:, None, None]
        weight = np.ascontiguousarray(np.moveaxis(self.ages.weights(renewed.ravel()), 0, 2))
        whole = np.sum(weight * np.exp(-np.exp(b * (self.then - scale))), axis=2)
        passed = np.subtract(self.end, scale[..., None])
        passed *= b[..., None]
        np.exp(passed, out=passed)
        lives = np.exp(-passed)
        weight = weight[:, :, None, :]
        survives = (weight @ lives)[:, :, 0]
        lives *= passed
        lives *= self.per_end
        fails = (weight @ lives)[:, :, 0] * b
        norm = np.log(np.maximum(whole, 1e-300))[..., None]
        told = self.grid.watched * (np.log(np.maximum(survives, 1e-300)) - norm)
        told += self.grid.failed * (np.log(np.maximum(fails, 1e-300)) - norm)
        return told.sum(axis=(1, 2)) + (shape - 1) * self.grid.surplus
