"""The grid of shapes where some ages were never seen: for each shape the ages that go with it, and its own weight."""

from dataclasses import replace

import numpy as np
from scipy.special import gammaln

from jobs.reliability.forecast import SHAPES, Before, ShapeGrid, SpellSums, shape_grid
from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.unseen import TakenOver
from jobs.reliability.unseen_ages import AGES, NONE, UnseenAges, spread_spells, unseen_ages, watched

Array = np.ndarray
LOOKS = (np.linspace(-5, 5, 7), np.linspace(-3.5, 3.5, 11))  # standard deviations of the wide look and of the fine one
AT_ONCE = 1 << 13  # positions, few enough for the processor's cache
SETTLE = 2  # rounds between ages and scale
WIDEST = float(np.log(1.6))  # of one standard deviation in log shape


def unseen_shape_grid(spells, over: TakenOver, shape, scale, lost_rate, before: Before) -> tuple[ShapeGrid, UnseenAges]:
    """Posterior of each group over shapes, and the ages of the positions taken over given each shape.

    spells: entry, exit, failed, weight, group of known age; over: positions of unseen past; shape, scale: fitted life
    of each group, where the search starts; lost_rate: renewals for other causes a year, all (groups,). The weight of a
    shape is that of the likelihood averaged over the ages (JointLikelihood) at the scale that settles with them; around
    it the scale is integrated as a gamma, as with known ages. A silent tail counts at the ages so found. Without
    positions taken over this is shape_grid. UnseenAges.likely is (positions, ages, shapes).
    """
    found = unseen_ages(over, shape, scale, lost_rate=lost_rate, groups=before.groups)
    rows = [np.concatenate(pair) for pair in zip(spells, spread_spells(over, found), strict=True)]
    grid = shape_grid(*rows, **vars(before))
    if not over.age.size:
        return grid, replace(found, likely=np.zeros((0, AGES + 1, grid.shape.shape[1])))
    search = _Search(spells, over, found, lost_rate, before)
    for steps in LOOKS:
        middle = np.sum(grid.weight * np.log(grid.shape), axis=1)
        spread = np.sqrt(np.sum(grid.weight * (np.log(grid.shape) - middle[:, None]) ** 2, axis=1))
        log_shape = middle[:, None] + np.clip(spread, 0.01, WIDEST)[:, None] * steps
        log_shape = np.clip(log_shape, SHAPES[0] - 0.5, SHAPES[-1] + 0.5) + 1e-6 * steps
        grid, likely = search.look(log_shape)
    return grid, replace(found, likely=likely)


class _Search:
    """What does not depend on the shape, looked at for many shapes."""

    def __init__(self, spells, over: TakenOver, found: UnseenAges, lost_rate, before: Before):
        self.before, self.over, self.found = before, over, found
        seen = watched(over)
        self.height = JointLikelihood(NONE, seen, before.groups, lost_rate, AGES, many=())
        entry, exit, failed, weight, group = spells
        self.known = SpellSums(entry, exit, failed, weight, group, before.unit)
        entry, exit, failed, _, group = spread_spells(over, found)
        self.silent = (over.weight < 1)[:, None]
        self.first = np.flatnonzero(np.diff(over.position, prepend=-1, append=-1))
        self.spread = SpellSums(entry, exit, failed, np.repeat(over.weight, AGES + 1), group, before.unit)
        self.failures = self.known.failures + np.bincount(
            over.group[over.position], over.failed * over.weight, before.groups
        )

    def look(self, log_shape):
        """The grid at log shapes (groups, k), and the ages that go with each, (positions, ages, k)."""
        columns = [self._one(column) for column in log_shape.T]
        height, hazard, likely = (np.stack(each, axis=-1) for each in zip(*columns, strict=True))
        height += self.before.log_prior(log_shape)
        weight = np.exp(height - height.max(axis=1, keepdims=True))
        step = np.gradient(log_shape, axis=1)
        weight *= step
        weight /= weight.sum(axis=1, keepdims=True)
        failures = self.before.prior_failures + self.failures
        return ShapeGrid(np.exp(log_shape), weight, failures, hazard, self.before.unit), likely

    def _passed(self, shape):
        """Weight x (exit ** shape - entry ** shape) of each position at each age, and the part of its silent tails."""
        whole, silent = np.empty((2, self.over.age.size, AGES + 1))
        for start in range(0, self.over.age.size, AT_ONCE):
            first = self.first[start : start + AT_ONCE + 1]
            rows, own = slice(first[0], first[-1]), slice(start, start + AT_ONCE)
            spread = slice(rows.start * (AGES + 1), rows.stop * (AGES + 1))
            passed = self.spread.passed(shape, spread).reshape(-1, AGES + 1)
            whole[own] = np.add.reduceat(passed, first[:-1] - first[0])
            silent[own] = np.add.reduceat(passed * self.silent[rows], first[:-1] - first[0])
        return whole, silent

    def _of_groups(self, passed, likely):
        """Sum over the positions of each group, and their ages as likely as they are, (groups,)."""
        return np.bincount(self.over.group, np.einsum("pa,pa->p", passed, likely), self.before.groups)

    def _one(self, log_shape):
        """Of one shape per group: log weight (groups,), hazard (groups,), and how likely each age is (positions, k)."""
        shape, assumed, failures = np.exp(log_shape), self.before.hazard, self.before.prior_failures + self.failures
        spent, (passed, silent) = self.known.spent(shape[:, None])[:, 0], self._passed(shape)
        likely = self.found.likely
        for _ in range(SETTLE):
            hazard = assumed + spent + self._of_groups(passed, likely)
            scale = self.before.unit * (failures / hazard) ** (-1 / shape)
            _, likely = self.height.ages_at_start(shape, scale)
        hazard = assumed + spent + self._of_groups(passed, likely)
        rate = failures / hazard
        tails = self._of_groups(silent, likely)
        scale = self.before.unit * rate ** (-1 / shape)
        height = self.height(np.stack([log_shape, np.log(scale / self.height.largest)])) - rate * tails
        height += self.known.told * (log_shape + np.log(rate)) + (shape - 1) * self.known.log_sum - rate * spent
        height += (self.before.prior_failures - 1) * np.log(rate) - assumed * rate
        height += gammaln(failures) - failures * np.log(hazard) - (failures - 1) * np.log(rate) + failures
        return height, hazard, likely
