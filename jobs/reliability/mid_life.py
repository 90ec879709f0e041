"""Positions taken over in mid-life, each averaged over the ages that it may have had when care began.

With a the appliance's age then, the position is the original of age a, or was renewed s after installation and is
a - s old. The integral over s against dM(s) is taken at Gauss's points in x, s = a (3 x ** 2 - 2 x ** 3): the density
of renewals may have an edge at 0, and survival one at s = a.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class Ages:
    """Ages that positions taken over at `age` (...) may have had, the original's last, and what weighs them, (k, ...).

    kept: share of the table's reach that a point stands for x chance of no renewal for another cause; before, share:
    place in the table of renewals, of all but the original.
    """

    age: Array
    kept: Array
    before: Array
    share: Array

    @classmethod
    def at(cls, age, oldest, lost, begin, rule, fine):
        """age, oldest, lost rate, where each one's table of `fine` steps begins: arrays of one shape; rule: gauss."""
        v, width = (column.reshape(-1, *[1] * age.ndim) for column in rule)
        root = np.sqrt(age / oldest)
        share = v * (root * fine)
        before = share.astype(np.int64)
        share -= before
        before += begin
        kept = parts(age, rule)
        kept *= -lost
        np.exp(kept, out=kept)
        kept[:-1] *= width * root
        return cls(age, kept, before, share)

    def weights(self, table):
        """Weight of each age, but for the survival to it; table: density of renewals, flat."""
        weight = np.empty_like(self.kept)
        found = weight[:-1]
        table.take(self.before + 1, out=found, mode="clip")
        low = table.take(self.before, mode="clip")
        found -= low
        found *= self.share
        found += low
        found *= self.kept[:-1]
        weight[-1] = self.kept[-1]
        return weight

    def unread(self, slope, size):
        """What each entry of the table adds (size,) when the weights count `slope` (k, n) each."""
        change = slope[:-1] * self.kept[:-1]
        over = change * self.share
        change -= over
        before = self.before.ravel()
        found = np.bincount(before, change.ravel(), size)
        found[1:] += np.bincount(before, over.ravel(), size)[:-1]
        return found


def parts(age, rule):
    """The ages (k, ...) that a position may have had when its appliance was of `age` (...)."""
    v = np.append(rule[0], 0.0)
    return age * (1 - v * v).reshape(-1, *[1] * age.ndim)


@cache
def gauss(nodes):
    """Points v and weights: a renewal at v ** 2 of the age. They stand close at both ends."""
    points, width = np.polynomial.legendre.leggauss(nodes)
    x, width = (points + 1) / 2, width / 2
    v = x * np.sqrt(3 - 2 * x)
    return v, width * 3 * x * (1 - x) / v


@dataclass(frozen=True)
class Block:
    """Some positions (n,) of `many` groups from `first` on, with the logarithms (k, n) of the ages they may have had.

    group: of each, counted from `first`; weight: how far it counts. Pieces (m,): own position, the first ones (opens)
    and the `later` ones, logarithms (k, .) of age at entry (of the later) and exit, which failed. Where every position
    is one piece, own is all and opens is None.
    """

    first: int
    many: int
    group: Array
    ages: Ages
    log_then: Array
    weight: Array
    own: Array | slice
    opens: Array | None
    later: Array | slice
    entry: Array
    exit: Array
    failed: Array | slice

    def of(self, values):
        """Of values (..., groups) those of the block's groups."""
        return values[..., self.first : self.first + self.many]

    def _tables(self, table):
        """Of a table (groups, fine + 1) that of the block's groups."""
        return table[self.first : self.first + self.many]

    def heights(self, shape, log_scale, table):
        """Log likelihood of each of the block's groups; shape, log_scale (groups,), table (groups, fine + 1): all."""
        weight, below, above, _ = self._terms(shape, log_scale, self._tables(table).ravel())
        (lived, top), (alive, base) = _raised(above), _raised(below)
        found = _log(np.sum(weight * lived, axis=0)) + top - _log(np.sum(weight * alive, axis=0)) - base
        return np.bincount(self.group, self.weight * found, self.many)

    def slopes(self, shape, log_scale, tables, step):
        """The same and its slopes in log shape and log scale, (3, ...).

        tables: of renewals at the life, at a log shape and at a log scale greater by `step`.
        """
        at, *near = (self._tables(table) for table in tables)
        weight, below, above, turn = self._terms(shape, log_scale, at.ravel())
        (lived, top), (alive, base) = _raised(above), _raised(below)
        over, under = (np.maximum(np.sum(weight * part, axis=0), 1e-300) for part in (lived, alive))
        lived /= over
        alive /= under
        by_shape, by_scale = turn(weight * lived)
        below *= alive
        below *= weight
        b, scale = self.of(shape)[self.group], self.of(log_scale)[self.group]
        by_scale = b * (by_scale + below.sum(axis=0))
        below *= self.log_then - scale
        rows = np.log(over) + top - np.log(under) - base, by_shape - b * below.sum(axis=0), by_scale
        found = np.stack([np.bincount(self.group, self.weight * row, self.many) for row in rows])
        lived -= alive
        lived *= self.weight
        change = self.ages.unread(lived, at.size).reshape(at.shape)
        for row, table in zip(found[1:], near, strict=True):
            row += np.einsum("gi,gi->g", change, table - at) / step
        return found

    def likely(self, shape, log_scale, table):
        """How likely each age at the start is after what followed, (k, n)."""
        weight, _, above, _ = self._terms(shape, log_scale, self._tables(table).ravel())
        likely = weight * _raised(above)[0]
        whole = likely.sum(axis=0)
        return np.where(whole > 0, likely / np.where(whole > 0, whole, 1.0), 1 / likely.shape[0])

    def _terms(self, shape, log_scale, table):
        """Weight of each age, log survival to it, log likelihood of it and what followed; and the latter's slopes.

        The slopes are a function that sums them over the ages, weighed: by log shape, by log scale / shape.
        """
        b, scale = self.of(shape)[self.group], self.of(log_scale)[self.group]
        below = _passed(b, self.log_then, scale)[1]
        np.negative(below, out=below)
        own_b, own_scale = b[self.own], scale[self.own]
        end, passed = _passed(own_b, self.exit, own_scale)
        begin, earlier = _passed(own_b[self.later], self.entry, own_scale[self.later])
        failed, told = self.failed, -passed
        told[:, self.later] += earlier
        told[:, failed] += end[:, failed] - self.exit[:, failed] + np.log(own_b[failed])
        above = told if self.opens is None else np.add.reduceat(told, self.opens, axis=1)

        def turn(likely):
            spread = likely[:, self.own]
            bend = -passed
            bend[:, failed] += 1
            bend *= spread
            by_scale = -bend.sum(axis=0)
            bend *= end
            by_shape = bend.sum(axis=0)
            by_shape[failed] += spread[:, failed].sum(axis=0)
            by_scale[self.later] -= np.sum(spread[:, self.later] * earlier, axis=0)
            by_shape[self.later] += np.sum(spread[:, self.later] * earlier * begin, axis=0)
            if self.opens is None:
                return by_shape, by_scale
            return np.add.reduceat(by_shape, self.opens), np.add.reduceat(by_scale, self.opens)

        return self.ages.weights(table), below, above, turn


def _passed(shape, log_age, log_scale):
    """shape x log of age / scale, and (age / scale) ** shape."""
    place = log_age - log_scale
    place *= shape
    return place, np.exp(place)


def _raised(logs):
    """exp of logarithms (k, n) less the greatest of each, and the greatest."""
    top = logs.max(axis=0)
    raised = logs - top
    return np.exp(raised, out=raised), top


def _log(values):
    return np.log(np.maximum(values, 1e-300))
