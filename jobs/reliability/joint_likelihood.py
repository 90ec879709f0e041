"""The likelihood of positions taken over in mid-life: averaged over the ages that they may have had."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.age_grid import GridHeights, age_grid
from jobs.reliability.ages import log_ages
from jobs.reliability.history.ragged import runs
from jobs.reliability.renewal import renewals_by_groups
from jobs.reliability.unseen import Prefixes, TakenOver, prefixes

Array = np.ndarray
NODES, STEPS, BLOCK = 12, 64, 4096
MANY = ((100, (12, 8)), (2000, (24, 12)))  # positions of a group from which on they are put on such a grid


@dataclass(frozen=True)
class Block:
    """Some positions (n,) with the ages (n, k) that each may have had at the start of care, the last the appliance's.

    then: their logarithms; lost: log probability of no renewal for another cause; before, share: place of the
    edges between the ages in the table of renewals; weight: how far each counts. Pieces (m,): own position, the first
    ones (opens) and the `later` ones, logarithms of age at entry (of the later) and exit, which failed.
    """

    group: Array
    then: Array
    lost: Array
    before: Array
    share: Array
    weight: Array
    own: Array
    opens: Array
    later: Array
    entry: Array
    exit: Array
    failed: Array

    def heights(self, shape, log_scale, renewed):
        """Log likelihood of each position given the table of renewals of all groups, flat."""
        weight, followed = self._weighed(shape, log_scale, renewed)
        return self.weight * self._averaged(weight, followed)

    def _weighed(self, shape, log_scale, renewed):
        """Weight of each age at the start, and the log likelihood of what followed, (n, k)."""
        b, scale = shape[self.group][:, None], log_scale[self.group][:, None]
        passed = np.exp(b * (self.then - scale))
        followed = self._followed(b, scale, passed)
        at_edge = renewed[self.before]
        at_edge += (renewed[self.before + 1] - at_edge) * self.share
        weight = np.exp(self.lost - passed)
        weight[:, :-1] *= np.diff(at_edge, axis=1)
        return weight, followed

    def ages(self, shape, log_scale, renewed):
        """The ages (n, k) at the start of care, and how likely each is after what followed, (n, k)."""
        weight, followed = self._weighed(shape, log_scale, renewed)
        likely = weight * np.exp(followed - followed.max(axis=1, keepdims=True))
        whole = likely.sum(axis=1, keepdims=True)
        return np.exp(self.then), np.where(whole > 0, likely / np.where(whole > 0, whole, 1.0), 1 / likely.shape[1])

    @staticmethod
    def _averaged(weight, followed):
        top = followed.max(axis=1)
        above = np.sum(weight * np.exp(followed - top[:, None]), axis=1)
        return np.log(np.maximum(above, 1e-300)) + top - np.log(np.maximum(weight.sum(axis=1), 1e-300))

    def _followed(self, b, scale, passed):
        """Log likelihood of a position's pieces for each age that it may have had, (n, k)."""
        b, scale = b[self.own], scale[self.own]
        end = self.exit - scale
        told = np.exp(b * end)
        told[self.opens] -= passed
        told[self.later] -= np.exp(b[self.later] * (self.entry - scale[self.later]))
        np.negative(told, out=told)
        failed = self.failed
        told[failed] += np.log(b[failed]) - scale[failed] + (b[failed] - 1) * end[failed]
        return told if not self.later.size else np.add.reduceat(told, self.opens, axis=0)


class JointLikelihood:
    """Log likelihood per group of ordinary spells and of positions taken over, ages divided by each group's largest.

    With a the appliance's age at the start of care, the position's age there is a if it is the original, else
    a - s for a renewal s after installation; weights: survival to that age x renewals dM(s), M of the same
    Weibull, with renewals for other causes at `lost_rate` per unit of age. The likelihood of what followed is
    averaged over these ages. Source: Cox (1962), Renewal Theory, ch. 5; M by Xie (1989).
    """

    def __init__(self, spells, over: TakenOver, groups, lost_rate=0.0, nodes=NODES, steps=STEPS, many=MANY):
        self.groups, self.nodes, self.steps = groups, nodes, steps
        self.largest = _largest(spells, over, groups)
        entry, exit, failed, weight, group = spells
        self.known = log_ages(entry / self.largest[group], exit / self.largest[group], failed, weight, group)
        scaled = self.largest[over.group]
        self.over, self.age = over, over.age / scaled
        self.oldest = np.maximum(_greatest(self.age, over.group, groups), 1e-12)
        self.lost = np.broadcast_to(np.asarray(lost_rate, float), (groups,)) * self.largest
        self.entry, self.exit = over.entry / scaled[over.position], over.exit / scaled[over.position]
        self.grids: list = []
        cut = prefixes(over)
        pieces = np.bincount(over.group[cut.position[cut.whole]], minlength=groups)
        ends = [*(least for least, _ in many[1:]), np.inf][: len(many)]
        for (least, points), end in zip(many, ends, strict=True):
            cut = self._on_grid(cut, (pieces >= least) & (pieces < end), points)
        order = np.arange(cut.last.size)
        self.blocks = [self._block(cut, order[begin : begin + BLOCK]) for begin in range(0, order.size, BLOCK)]

    def _on_grid(self, cut: Prefixes, chosen, points):
        """Put the positions in one piece of the chosen groups on a grid, and return the prefixes that are left."""
        group = self.over.group[cut.position]
        fits = cut.whole & chosen[group]
        if not fits.any():
            return cut
        own = np.flatnonzero(fits)
        own = own[np.argsort(group[own], kind="stable")]
        age, last = self.age[cut.position[own]], cut.last[own]
        later = np.maximum(self.exit[last] - age, 0.0)
        grid = age_grid(group[own], age, later, self.over.failed[last], cut.weight[own], points)
        self.grids.append(GridHeights(grid, self.lost[grid.group], self.oldest[grid.group], self.nodes, self.steps))
        return Prefixes(*(getattr(cut, name)[~fits] for name in ("position", "first", "last", "weight", "whole")))

    def _block(self, cut: Prefixes, rows):
        """What of some prefixes does not depend on shape and scale."""
        position, length = cut.position[rows], cut.last[rows] - cut.first[rows] + 1
        own, pieces = runs(cut.first[rows], length)
        age, group = self.age[position], self.over.group[position]
        edges = age[:, None] * (np.arange(self.nodes + 1) / self.nodes)
        then = np.concatenate([age[:, None] - (edges[:, 1:] + edges[:, :-1]) / 2, age[:, None]], axis=1)
        shift = (then - age[:, None])[own]
        place = edges * (self.steps / self.oldest[group])[:, None]
        before = np.minimum(place.astype(int), self.steps - 1)
        opens = np.cumsum(length) - length
        later = np.setdiff1d(np.arange(own.size), opens)
        table = (group * (self.steps + 1))[:, None]
        return Block(
            group,
            np.log(then),
            -self.lost[group][:, None] * then,
            before + table,
            place - before,
            cut.weight[rows],
            own,
            opens,
            later,
            np.log(self.entry[pieces][later, None] + shift[later]),
            np.log(self.exit[pieces, None] + shift),
            np.flatnonzero(self.over.failed[pieces]),
        )

    def totals(self):
        """Failures and exposure (in units of the largest age) of each group, all spells together."""
        over, known = self.over, self.known
        group = over.group[over.position]
        failures = np.bincount(group, over.failed.astype(float), self.groups)
        exposure = np.bincount(group, over.weight * (self.exit - self.entry), self.groups)
        failures[known.group] += known.failures
        exposure[known.group] += known.exposure * known.largest
        return failures, exposure

    def __call__(self, at):
        """Log likelihood of each group at (log shape, log scale) in units of its largest age.

        at: (2, groups) gives (groups,); several points at once, (2, k, groups), give (k, groups) and cost less.
        """
        points = at.reshape(2, -1, self.groups)
        shape, log_scale = np.exp(points[0]), points[1]
        with np.errstate(over="ignore", under="ignore"):
            total = np.stack([self._ordinary(*point) for point in zip(shape, log_scale, strict=True)])
            if self.blocks or self.grids:
                tables = self._renewals(shape, log_scale)
                for i in range(total.shape[0]):
                    total[i] += self._taken_over(shape[i], log_scale[i], tables[i].ravel())
        return np.where(np.isfinite(total), total, -np.inf).reshape(at.shape[1:])

    def ages_at_start(self, shape, scale):
        """Ages that each position may have had when care began, and how likely each is, (n, nodes + 1).

        shape, scale: of each group's life, (groups,). Every position must be one prefix: weights 1, no grid.
        """
        log_scale = np.log(scale / self.largest)
        renewed = self._renewals(shape[None], log_scale[None])[0].ravel()
        with np.errstate(over="ignore", under="ignore"):
            found = [block.ages(shape, log_scale, renewed) for block in self.blocks]
        age, likely = (np.concatenate(columns) for columns in zip(*found, strict=True))
        return age * self.largest[self.over.group][:, None], likely

    def _taken_over(self, shape, log_scale, renewed):
        total = np.zeros(self.groups)
        for heights in self.grids:
            own = heights.grid.group
            total[own] = heights(shape[own], log_scale[own], renewed)
        for block in self.blocks:
            total += np.bincount(block.group, block.heights(shape, log_scale, renewed), self.groups)
        return total

    def _ordinary(self, shape, log_scale):
        total, known = np.zeros(self.groups), self.known
        if known.group.size:
            b, own = shape[known.group], known.group
            scale = log_scale[own] - np.log(known.largest)
            hazard = np.add.reduceat(
                known.sign * np.exp(np.repeat(b, known.length) * (known.log - np.repeat(scale, known.length))),
                known.start,
            )
            total[own] = known.failures * (np.log(b) - b * scale) + (b - 1) * known.failed_log_sum - hazard
            total[own] -= known.failures * np.log(known.largest)
        return total

    def _renewals(self, shape, log_scale):
        """M at equal steps up to each group's greatest age at the start of care, (k, groups, steps + 1)."""
        table = renewals_by_groups(shape, log_scale, self.oldest, self.lost, self.steps)
        return table.reshape(*shape.shape, self.steps + 1)


def _largest(spells, over, groups):
    largest = np.maximum(
        _greatest(spells[1], spells[4], groups), _greatest(over.exit, over.group[over.position], groups)
    )
    return np.where(largest > 0, largest, 1.0)


def _greatest(values, group, groups):
    found = np.zeros(groups)
    np.maximum.at(found, group, values)
    return found
