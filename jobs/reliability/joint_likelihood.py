"""The likelihood of positions taken over in mid-life: averaged over the ages that they may have had."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.age_grid import GridHeights, age_grid
from jobs.reliability.ages import log_ages
from jobs.reliability.history.ragged import runs

Array = np.ndarray
NODES, STEPS, BLOCK = 12, 64, 4096
MANY = 80  # positions of a group from which on they are put on a grid


@dataclass(frozen=True)
class TakenOver:
    """Positions (n,) of unseen past, watched in pieces (m,) up to their first seen renewal.

    group: of each position; age: of the appliance when its care began. Of each piece: position, entry and exit
    as ages of the appliance, failed at its end, weight of its exposure.
    """

    group: Array
    age: Array
    position: Array
    entry: Array
    exit: Array
    failed: Array
    weight: Array


def taken_over(unit, entry, exit, failed, weight, group) -> TakenOver:
    """Gather spells of clock *perhaps* into positions. unit: a number per spell, equal within one position.

    Spells of one position must follow each other by entry; the first one's entry is the age at the start of care.
    """
    unit = np.asarray(unit)
    first = np.flatnonzero(np.diff(unit, prepend=unit[0] - 1)) if unit.size else np.zeros(0, int)
    position = np.repeat(np.arange(first.size), np.diff(np.append(first, unit.size)))
    return TakenOver(
        np.asarray(group, int)[first],
        np.asarray(entry, float)[first],
        position,
        np.asarray(entry, float),
        np.asarray(exit, float),
        np.asarray(failed, bool),
        np.asarray(weight, float),
    )


@dataclass(frozen=True)
class Prefixes:
    """Positions cut after each of their pieces, (n,): first and last piece, how far each counts, and whether it was
    watched without a break or a failure in between.

    A piece of weight w says with chance w what it says. So the log likelihood of pieces with weights w1 >= w2 ...
    is (w1 - w2) x that of the first piece + (w2 - w3) x that of the first two + ...
    """

    position: Array
    first: Array
    last: Array
    weight: Array
    whole: Array


def prefixes(over: TakenOver) -> Prefixes:
    """All of them that count."""
    position = over.position
    begins = np.diff(position, prepend=-1) != 0
    next_weight = np.append(np.where(begins[1:], 0.0, over.weight[1:]), 0.0)
    counts = over.weight - next_weight
    broken = np.append(False, (over.entry[1:] != over.exit[:-1]) | over.failed[:-1]) & ~begins
    breaks = np.cumsum(broken)
    first = np.flatnonzero(begins)[position]
    last = np.flatnonzero(np.abs(counts) > 1e-12)
    return Prefixes(position[last], first[last], last, counts[last], (breaks - breaks[first])[last] == 0)


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
        b, scale = shape[self.group][:, None], log_scale[self.group][:, None]
        passed = np.exp(b * (self.then - scale))
        followed = self._followed(b, scale, passed)
        at_edge = renewed[self.before]
        at_edge += (renewed[self.before + 1] - at_edge) * self.share
        weight = np.exp(self.lost - passed)
        weight[:, :-1] *= np.diff(at_edge, axis=1)
        top = followed.max(axis=1)
        above = np.sum(weight * np.exp(followed - top[:, None]), axis=1)
        told = np.log(np.maximum(above, 1e-300)) + top - np.log(np.maximum(weight.sum(axis=1), 1e-300))
        return self.weight * told

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

    def __init__(self, spells, over: TakenOver, groups, lost_rate=0.0, nodes=NODES, steps=STEPS):
        self.groups, self.nodes, self.steps = groups, nodes, steps
        self.largest = _largest(spells, over, groups)
        entry, exit, failed, weight, group = spells
        self.known = log_ages(entry / self.largest[group], exit / self.largest[group], failed, weight, group)
        scaled = self.largest[over.group]
        self.over, self.age = over, over.age / scaled
        self.oldest = np.maximum(_greatest(self.age, over.group, groups), 1e-12)
        self.lost = np.broadcast_to(np.asarray(lost_rate, float), (groups,)) * self.largest
        self.entry, self.exit = over.entry / scaled[over.position], over.exit / scaled[over.position]
        self.grid, cut = self._on_grid(prefixes(over))
        order = np.arange(cut.last.size)
        self.blocks = [self._block(cut, order[begin : begin + BLOCK]) for begin in range(0, order.size, BLOCK)]

    def _on_grid(self, cut: Prefixes):
        """Heights on a grid of the groups with many positions in one piece, and the prefixes that are left."""
        group = self.over.group[cut.position]
        many = np.bincount(group[cut.whole], minlength=self.groups) >= MANY
        fits = cut.whole & many[group]
        if not fits.any():
            return None, cut
        chosen = np.flatnonzero(fits)
        chosen = chosen[np.argsort(group[chosen], kind="stable")]
        age, last = self.age[cut.position[chosen]], cut.last[chosen]
        later = np.maximum(self.exit[last] - age, 0.0)
        grid = age_grid(group[chosen], age, later, self.over.failed[last], cut.weight[chosen])
        heights = GridHeights(grid, self.lost[grid.group], self.oldest[grid.group], self.nodes, self.steps)
        left = (getattr(cut, name)[~fits] for name in ("position", "first", "last", "weight", "whole"))
        return heights, Prefixes(*left)

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
        """at: (log shape, log scale) of each group in units of its largest age, (2, groups)."""
        shape, log_scale = np.exp(at[0]), at[1]
        with np.errstate(over="ignore", under="ignore"):
            total = self._ordinary(shape, log_scale)
            if self.blocks or self.grid:
                renewed = self._renewals(shape, log_scale).ravel()
                if self.grid:
                    own = self.grid.grid.group
                    total[own] += self.grid(shape[own], log_scale[own], renewed)
                for block in self.blocks:
                    total += np.bincount(block.group, block.heights(shape, log_scale, renewed), self.groups)
        return np.where(np.isfinite(total), total, -np.inf)

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
        """M at equal steps up to each group's greatest age at the start of care, (groups, steps + 1)."""

        def scheme(steps):
            at = np.arange(1, 2 * steps + 1) / (2 * steps) * self.oldest[:, None]
            gone = -np.expm1(-np.exp(shape[:, None] * (np.log(at) - log_scale[:, None])) - self.lost[:, None] * at)
            whole, half = gone[:, 1::2], gone[:, ::2]
            total, grown = np.zeros((self.groups, steps + 1)), np.zeros((self.groups, steps))
            rest = 1 - half[:, 0]
            for i in range(steps):
                earlier = np.einsum("nj,nj->n", half[:, i:0:-1], grown[:, :i])
                grown[:, i] = (whole[:, i] + earlier - total[:, i]) / np.maximum(rest, 1e-9)
                total[:, i + 1] = total[:, i] + grown[:, i]
            return total

        coarse, fine = scheme(self.steps // 2), scheme(self.steps)
        between = np.empty_like(fine)
        between[:, ::2] = (fine[:, ::2] - coarse) / 3
        between[:, 1::2] = (between[:, :-1:2] + between[:, 2::2]) / 2
        return fine + between


def _largest(spells, over, groups):
    largest = np.maximum(
        _greatest(spells[1], spells[4], groups), _greatest(over.exit, over.group[over.position], groups)
    )
    return np.where(largest > 0, largest, 1.0)


def _greatest(values, group, groups):
    found = np.zeros(groups)
    np.maximum.at(found, group, values)
    return found
