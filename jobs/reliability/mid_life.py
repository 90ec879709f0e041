"""Positions taken over in mid-life, each averaged over the ages that it may have had when care began.

With a the appliance's age then, the position is the original of age a, or was renewed s after installation and is
a - s old. The integral over s against dM(s) is taken at Gauss's points in v, s = a v ** 2, which takes the edge off
the renewal density of flat lives at 0.
"""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.renewal import FINE

Array = np.ndarray


@dataclass(frozen=True)
class Ages:
    """Ages (k, ...) that positions taken over at `age` may have had, the original's last, and what weighs them.

    kept: share of the table's step that a point stands for x chance of no renewal for another cause; before, place:
    where the table of renewals is read, for all but the original.
    """

    then: Array
    kept: Array
    before: Array
    share: Array

    @classmethod
    def at(cls, age, oldest, lost, table, nodes):
        """age, oldest, lost rate, and where each one's table begins: arrays of one shape."""
        v, width = np.polynomial.legendre.leggauss(nodes)
        v, width = ((column / 2).reshape(-1, *[1] * age.ndim) for column in (v + 1, width))
        then = np.concatenate([age * (1 - v * v), age[None]])
        root = np.sqrt(age / oldest)
        place = v * (root * FINE)
        before = np.minimum(place.astype(int), FINE - 1)
        kept = np.exp(-lost * then)
        kept[:-1] *= width * root
        return cls(then, kept, before + table, place - before)

    def read(self, table):
        """The table, flat, at all the points."""
        found = table[self.before]
        rise = table[self.before + 1]
        rise -= found
        rise *= self.share
        found += rise
        return found

    def weights(self, table):
        """Weight of each age, but for the survival to it."""
        weight = self.kept.copy()
        weight[:-1] *= self.read(table)
        return weight


@dataclass(frozen=True)
class Block:
    """Some positions (n,) with the logarithms `log_then` (k, n) of their ages at the start of care.

    weight: how far each position counts. Pieces (m,): own position, the first ones (opens) and the `later` ones,
    logarithms (k, .) of age at entry (of the later) and exit, which failed.
    """

    group: Array
    ages: Ages
    log_then: Array
    weight: Array
    own: Array
    opens: Array
    later: Array
    entry: Array
    exit: Array
    failed: Array

    def heights(self, shape, log_scale, table):
        """Log likelihood of each position (n,) given the table of renewals, flat."""
        weight, below, above, _ = self._terms(shape, log_scale, table)
        (lived, top), (alive, base) = _raised(above), _raised(below)
        return self.weight * (_log_sum(weight, lived) + top - _log_sum(weight, alive) - base)

    def slopes(self, shape, log_scale, tables, step):
        """The same and its slopes in log shape and log scale, (3, n).

        tables: of renewals at the life, at a log shape and at a log scale greater by `step`.
        """
        b = shape[self.group]
        weight, below, above, turn = self._terms(shape, log_scale, tables[0])
        (lived, top), (alive, base) = _raised(above), _raised(below)
        over, under = (np.maximum(np.sum(weight * part, axis=0), 1e-300) for part in (lived, alive))
        lived /= over
        alive /= under
        by_shape, by_scale = turn(weight * lived)
        lean, gone = lived - alive, below * alive * weight
        found = np.empty((3, b.size))
        found[0] = np.log(over) + top - np.log(under) - base
        found[1] = by_shape - np.sum(gone * (b * (self.log_then - log_scale[self.group])), axis=0)
        found[2] = b * (by_scale + gone.sum(axis=0))
        for row, table in zip(found[1:], tables[1:], strict=True):
            moved = self.ages.weights(table)
            moved -= weight
            moved *= lean
            row += moved.sum(axis=0) / step
        return found * self.weight

    def likely(self, shape, log_scale, table):
        """How likely each age at the start is after what followed, (k, n)."""
        weight, _, above, _ = self._terms(shape, log_scale, table)
        likely = weight * _raised(above)[0]
        whole = likely.sum(axis=0)
        return np.where(whole > 0, likely / np.where(whole > 0, whole, 1.0), 1 / likely.shape[0])

    def _terms(self, shape, log_scale, table):
        """Weight of each age, log survival to it, log likelihood of it and what followed; and the latter's slopes.

        The slopes are a function that sums them over the ages, weighed: by log shape, by log scale / shape.
        """
        b, scale = shape[self.group], log_scale[self.group]
        below = -np.exp(b * (self.log_then - scale))
        own_b, own_scale = b[self.own], scale[self.own]
        end = own_b * (self.exit - own_scale)
        passed = np.exp(end)
        begin = own_b[self.later] * (self.entry - own_scale[self.later])
        earlier = np.exp(begin)
        told = -passed
        told[:, self.later] += earlier
        failed = self.failed
        told[:, failed] += end[:, failed] - self.exit[:, failed] + np.log(own_b[failed])
        above = told if not self.later.size else np.add.reduceat(told, self.opens, axis=1)

        def turn(likely):
            spread = likely if not self.later.size else likely[:, self.own]
            bend = -passed
            bend[:, failed] += 1
            by_scale = -np.sum(spread * bend, axis=0)
            bend *= end
            by_shape = np.sum(spread * bend, axis=0)
            by_shape[failed] += spread[:, failed].sum(axis=0)
            by_scale[self.later] -= np.sum(spread[:, self.later] * earlier, axis=0)
            by_shape[self.later] += np.sum(spread[:, self.later] * earlier * begin, axis=0)
            if not self.later.size:
                return by_shape, by_scale
            return np.add.reduceat(by_shape, self.opens), np.add.reduceat(by_scale, self.opens)

        return self.ages.weights(table), below, above, turn


def _raised(logs):
    """exp of logarithms (k, n) less the greatest of each, and the greatest."""
    top = logs.max(axis=0)
    return np.exp(logs - top), top


def _log_sum(weight, values):
    return np.log(np.maximum(np.sum(weight * values, axis=0), 1e-300))
