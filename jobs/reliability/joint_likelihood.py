"""The likelihood of positions taken over in mid-life: averaged over the ages that they may have had."""

from copy import copy
from dataclasses import replace
from functools import cached_property

import numpy as np

from jobs.reliability.age_grid import AgeMoments, GridHeights, age_moments
from jobs.reliability.history.ragged import runs
from jobs.reliability.known_spells import KnownSpells
from jobs.reliability.mid_life import Ages, Block, gauss, parts
from jobs.reliability.renewal import renewal_densities
from jobs.reliability.unseen import Prefixes, TakenOver, prefixes

Array = np.ndarray
NODES, STEPS, NEAR = 12, 64, 1e-6  # the last: a step in log shape and log scale
BLOCK, KEPT = 20_000, 20_000  # ages in a block; prefixes at most whose blocks are kept
LEAST_AGE = 1e-12  # of the largest
LEVELS, VERY_FLAT = (0.6, 1.5, 3.0, 5.0), 0.85  # of shape x age at the start of care / scale; of shape
RULES = (7, 8, 10, 14, 32, 32)  # nodes between those levels; of the very flat
MANY = ((100, (12, 8)), (2000, (24, 12)))  # positions of a group from which on they are put on such a grid


class JointLikelihood:
    """Log likelihood per group of ordinary spells and of positions taken over, ages divided by each group's largest.

    With a the appliance's age at the start of care, the position's age there is a if it is the original, else
    a - s for a renewal s after installation; weights: survival to that age x renewals dM(s), M of the same
    Weibull, with renewals for other causes at `lost_rate` per unit of age. The likelihood of what followed is
    averaged over these ages, `nodes` of them or, near a life (shape and scale / the largest age, (2, groups)), as many
    as each position needs there. Source: Cox (1962), Renewal Theory, ch. 5; M by Xie (1989).
    """

    def __init__(
        self, spells, over: TakenOver, groups, lost_rate=0.0, nodes=NODES, steps=STEPS, many=MANY, near=None, finer=4
    ):
        self.near = near
        self.groups, self.steps, self.fine, self.rule = groups, steps, finer * steps, gauss(nodes)
        self.largest = _largest(spells, over, groups)
        self.known = KnownSpells(spells, self.largest)
        scaled = self.largest[over.group]
        self.over, self.age = over, np.maximum(over.age / scaled, LEAST_AGE)
        self.oldest = np.maximum(_greatest(self.age, over.group, groups), LEAST_AGE)
        self.lost = np.broadcast_to(np.asarray(lost_rate, float), (groups,)) * self.largest
        self.entry, self.exit = over.entry / scaled[over.position], over.exit / scaled[over.position]
        self.moments: list[AgeMoments] = []
        self.cut = cut = prefixes(over)
        self.pieces = np.bincount(over.group[cut.position[cut.whole]], minlength=groups)
        ends = [*(least for least, _ in many[1:]), np.inf][: len(many)]
        for (least, points), end in zip(many, ends, strict=True):
            cut = self._to_grid(cut, (self.pieces >= least) & (self.pieces < end), points)
        self.rest, self.points = cut, None

    def like(self, some=None, *, nodes=NODES, steps=STEPS, finer=4, points=None, near=None):
        """The same told otherwise: of some groups (k,), as number 0, 1 ..; with other ages and tables of renewals.

        To be asked of the likelihood of all groups, not of one that was itself told of some.
        points: of the grids, at most as many as these have; (): each position by itself.
        """
        other = copy(self)
        for name in ("grids", "kept"):
            vars(other).pop(name, None)
        other.near, other.steps, other.fine, other.rule, other.points = near, steps, finer * steps, gauss(nodes), points
        if points == ():
            other.rest, other.moments = self.cut, []
        if some is not None:
            other._keep(some)
        return other

    def _keep(self, some):
        """Forget all groups but some."""
        number = np.full(self.groups, -1)
        number[some] = np.arange(some.size)
        for name in ("largest", "oldest", "lost", "pieces"):
            setattr(self, name, getattr(self, name)[some])
        self.groups, self.known = some.size, self.known.of(number, self.largest)
        self.over = replace(self.over, group=number[self.over.group])
        self.rest = self.rest.of(self.over.group[self.rest.position] >= 0)
        self.moments = [part for moments in self.moments if (part := moments.of(number)).group.size]

    @cached_property
    def grids(self):
        """Heights of what is on a grid, in parts."""
        return [heights for moments in self.moments for heights in self._heights(moments.grid(self.points))]

    @cached_property
    def kept(self):
        """What of the positions on no grid does not depend on shape and scale, unless it would fill the memory."""
        return [self._block(rows) for rows in self._rows()] if self.rest.last.size <= KEPT else None

    def _heights(self, grid):
        for part in grid.parts(self.rule[0].size + 1):
            own = part.group
            yield GridHeights(part, self.lost[own], self.oldest[own], self.rule, self.fine)

    def _to_grid(self, cut: Prefixes, chosen, points):
        """Put the positions in one piece of the chosen groups on a grid, and return the prefixes that are left."""
        group = self.over.group[cut.position]
        fits = cut.whole & chosen[group]
        if not fits.any():
            return cut
        own = np.flatnonzero(fits)
        kind = (2 * group[own] + self.over.failed[cut.last[own]]).astype(np.min_scalar_type(2 * self.groups))
        own = own[np.argsort(kind, kind="stable")]
        age, last = self.age[cut.position[own]], cut.last[own]
        later = np.maximum(self.exit[last] - age, 0.0)
        self.moments.append(age_moments(group[own], age, later, self.over.failed[last], cut.weight[own], points))
        return cut.of(~fits)

    def _rows(self):
        """The prefixes that are on no grid, in parts of one rule: by group, those of one piece then by failed."""
        cut = self.rest
        single, failed = cut.first == cut.last, self.over.failed[cut.last]
        kind = 2 * self._rules(cut) + ~single
        found = []
        for one in np.unique(kind):
            order = np.flatnonzero(kind == one)
            order = order[np.argsort(self.over.group[cut.position[order]], kind="stable")]
            many = BLOCK // (self.rule if self.near is None else gauss(RULES[one // 2]))[0].size
            for begin in range(0, order.size, many):
                rows = order[begin : begin + many]
                found.append(rows if one % 2 else rows[np.argsort(~failed[rows], kind="stable")])
        return found

    def _rules(self, cut: Prefixes):
        """Number of the rule, among RULES, that tells each prefix enough; -1 for the one that was given."""
        if self.near is None:
            return np.full(cut.last.size, -1)
        group = self.over.group[cut.position]
        shape = self.near[0][group]
        level = np.searchsorted(LEVELS, shape * self.age[cut.position] / self.near[1][group])
        return np.where(shape < VERY_FLAT, len(RULES) - 1, level)

    def blocks(self):
        """What is on no grid: all blocks at hand or, if they would fill the memory, one after the other."""
        return map(self._block, self._rows()) if self.kept is None else self.kept

    def _block(self, rows):
        """What of some prefixes of one rule does not depend on shape and scale."""
        cut, every = self.rest, slice(None)
        single = bool((cut.first[rows] == cut.last[rows]).all())
        rule = self.rule if self.near is None else gauss(RULES[self._rules(cut.of(rows[:1]))[0]])
        position, length = cut.position[rows], cut.last[rows] - cut.first[rows] + 1
        own, pieces = (every, cut.last[rows]) if single else runs(cut.first[rows], length)
        opens, failed = np.cumsum(length) - length, np.flatnonzero(self.over.failed[pieces])
        later = slice(0, 0) if single else np.setdiff1d(np.arange(pieces.size), opens)
        age, group = self.age[position], self.over.group[position]
        first, many = group.min(), np.ptp(group) + 1
        ages = Ages.at(age, self.oldest[group], self.lost[group], (group - first) * (self.fine + 1), rule, self.fine)
        then = parts(age, rule)
        shift = (then - age)[:, own]
        return Block(
            first,
            many,
            group - first,
            ages,
            np.log(then),
            cut.weight[rows],
            own,
            None if single else opens,
            later,
            np.log(np.maximum(self.entry[pieces[later]] + shift[:, later], LEAST_AGE)),
            np.log(np.maximum(self.exit[pieces] + shift, LEAST_AGE)),
            slice(0, failed.size) if single else failed,
        )

    def totals(self):
        """Failures and exposure (in units of the largest age) of each group, all spells together."""
        failures, exposure = self.known.totals()
        over, group = self.over, self.over.group[self.over.position]
        failures += np.bincount(group, np.where(over.failed, over.weight, 0.0), self.groups)
        exposure += np.bincount(group, over.weight * (self.exit - self.entry), self.groups)
        return failures, exposure

    def __call__(self, at):
        """Log likelihood of each group at (log shape, log scale) in units of its largest age.

        at: (2, groups) gives (groups,); several points at once, (2, k, groups), give (k, groups) and cost less.
        """
        points = at.reshape(2, -1, self.groups)
        shape, log_scale = np.exp(points[0]), points[1]
        with np.errstate(over="ignore", under="ignore", invalid="ignore"):
            total = np.stack([self.known.slopes(*point)[0] for point in zip(shape, log_scale, strict=True)])
            if self.over.age.size:
                tables = self._renewals(shape, log_scale)
                for i in range(total.shape[0]):
                    total[i] += self._taken_over(shape[i], log_scale[i], tables[i])
        return np.where(np.isfinite(total), total, -np.inf).reshape(at.shape[1:])

    def slopes(self, at):
        """Log likelihood of each group at (log shape, log scale) and its slopes there, (3, groups)."""
        shape, log_scale = np.exp(at[0]), at[1]
        near = at[:, None] + NEAR * np.array([[0, 1, 0], [0, 0, 1]])[:, :, None]
        with np.errstate(over="ignore", under="ignore", invalid="ignore"):
            found = self.known.slopes(shape, log_scale)
            tables = self._renewals(np.exp(near[0]), near[1])
            for heights in self.grids:
                own = heights.grid.group
                found[:, own] += heights.slopes(shape[own], log_scale[own], tables, NEAR)
            for block in self.blocks():
                block.of(found)[:] += block.slopes(shape, log_scale, tables, NEAR)
        return found

    def ages_at_start(self, shape, scale):
        """Ages that each position may have had when care began, and how likely each is, (n, nodes + 1).

        shape, scale: of each group's life, (groups,). Every position must be one prefix: weights 1, no grid.
        """
        log_scale = np.log(scale / self.largest)
        table = self._renewals(shape[None], log_scale[None])[0]
        with np.errstate(over="ignore", under="ignore"):
            found = [
                (parts(block.ages.age, self.rule), block.likely(shape, log_scale, table)) for block in self.blocks()
            ]
        age, likely = (np.concatenate(columns, axis=1).T for columns in zip(*found, strict=True))
        place = np.argsort(self.rest.position[np.concatenate(self._rows())])
        return age[place] * self.largest[self.over.group][:, None], likely[place]

    def _taken_over(self, shape, log_scale, renewed):
        total = np.zeros(self.groups)
        for heights in self.grids:
            own = heights.grid.group
            total[own] = heights(shape[own], log_scale[own], renewed)
        for block in self.blocks():
            block.of(total)[:] += block.heights(shape, log_scale, renewed)
        return total

    def _renewals(self, shape, log_scale):
        """Density of renewals up to each group's greatest age at the start of care, (k, groups, fine + 1)."""
        table = renewal_densities(shape, log_scale, self.oldest, self.lost, self.steps, self.fine)
        return table.reshape(*shape.shape, self.fine + 1)


def _largest(spells, over, groups):
    largest = np.maximum(
        _greatest(spells[1], spells[4], groups), _greatest(over.exit, over.group[over.position], groups)
    )
    return np.where(largest > 0, largest, 1.0)


def _greatest(values, group, groups):
    found = np.zeros(groups)
    np.maximum.at(found, group, values)
    return found
