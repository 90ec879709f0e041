"""Weibull lives where positions were taken over in mid-life: earlier renewals may have happened unseen."""

from dataclasses import dataclass, fields
from functools import partial
from typing import Any

import numpy as np
from scipy.special import chdtrc, gammaln

from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.life import WeibullFits, fit_weibull
from jobs.reliability.two_parameters import bend_at, climb, peaked, region_limits, settle
from jobs.reliability.unseen import TakenOver, taken_over

FIRST_LOOK = ((0.0, 0.0), (0.3, -0.2))  # of (log shape, log scale)
GRIDS = ((64, (15, 9)), (2000, (24, 14)))  # positions in one piece from which on a group's are put on such a grid
COARSE, COARSE_STEPS = {"nodes": 5, "steps": 10, "finer": 2, "points": (5, 4)}, 3
ROUGH, ROUGH_STEPS = {"nodes": 7, "steps": 16, "finer": 2, "points": (8, 6)}, 4
FEW = 20  # groups of so many that need more steps, at most, go on by themselves
ENOUGH = 135  # for the last steps to go by that grid, else by each position
SHARP, FINE = 2.5, ({"nodes": 8, "steps": 16, "points": (10, 7)}, {"nodes": 11, "steps": 16})
FLAT, VERY_FLAT, SHARPER = 1.0, 0.7, 5.0  # shape below which (of many: very), and steepness above, no grid is enough
STEEP, TOO_STEEP = 8.0, 100.0  # for a finer table; to be told
FINER, FINELY = {"nodes": 16, "steps": 64}, {"steps": 256}
SINGLY: dict[str, Any] = {"points": ()}
STEEPLY: dict[str, Any] = SINGLY | FINELY | {"nodes": 32}
NEARLY, SURE, SURER = 0.02, 1e-3, 5e-5  # steps that are the last: rough, by a fine grid, by each position
FINE_STEPS, SETTLE_STEPS, MOST_STEPS = 4, 8, 30
LIMITS, FEW_LOOKS = {"nodes": 8, "steps": 16, "finer": 2, "points": (10, 7)}, 4

__all__ = ["JointLikelihood", "TakenOver", "fit_taken_over", "taken_over"]


def fit_taken_over(
    entry, exit, failed, weight, group, over: TakenOver, *, groups, lost_rate=0.0, level=0.90, limits=True
) -> WeibullFits:
    """Weibull lives from ordinary spells and from positions taken over, one likelihood per group.

    entry, exit, failed, weight, group: spells whose clock is known, as fit_weibull; over: positions whose earlier
    renewals nobody saw; lost_rate: renewals for other causes than failure per unit of age, (groups,) or a scalar.
    Rough likelihoods, of many positions on a grid, are climbed first; the last steps go by a finer grid or, of few,
    flat and steep ones, by the likelihood of each position by itself.
    Groups without positions taken over get the plain fit, the others limits that allow for few failures
    (region_drop): with the quantile of many they covered 82 to 86 % instead of 90 at four to ten failures.
    Statuses as fit_weibull; `not-converged` also where the likelihood has no peak.
    """
    spells = tuple(np.asarray(column) for column in (entry, exit, failed, weight, group))
    aged = ~(spells[2].astype(bool) & (spells[1] <= 0))
    spells = tuple(column[aged] for column in spells)
    plain = fit_weibull(
        *(
            np.concatenate(pair)
            for pair in zip(
                spells, (over.entry, over.exit, over.failed, over.weight, over.group[over.position]), strict=True
            )
        ),
        groups=groups,
        level=level,
        limits=limits and not over.age.size,
    )
    if not over.age.size:
        return plain
    lost_rate = np.broadcast_to(np.asarray(lost_rate, float), (groups,))
    whole = JointLikelihood(spells, over, groups, lost_rate, many=GRIDS)
    totals = whole.totals()
    usable = np.isin(plain.status, ("fitted", "shape-at-edge", "not-converged")) & (totals[1] > 0)
    found = _Climb(whole, usable).top(_start(plain, whole.largest))
    told = _told(plain.status, usable, found, whole.largest, totals)
    if limits:
        told |= _limits(whole, found, totals[0], level)
    return WeibullFits(**told)


def _start(plain: WeibullFits, largest):
    """Log shape and log scale of the plain fit or, without one, of an average life."""
    log_scale = np.log(np.where(plain.scale > 0, plain.scale, largest)) - np.log(largest)
    log_shape = np.log(np.where(plain.shape > 0, np.clip(plain.shape, 0.05, 50), 1.5))
    return np.stack([log_shape, np.clip(log_scale, -5, 5)])


@dataclass
class _Top:
    """Points (2, groups), heights there, minus the second derivatives (2, 2, groups), and which groups have a top."""

    at: np.ndarray
    best: np.ndarray
    bend: np.ndarray
    found: np.ndarray

    def settle(self, some, likelihood, most_steps, sure):
        """The last steps of some groups, by likelihoods of ever fewer of them about their points."""
        if not (some := np.flatnonzero(some)).size:
            return
        about = self.at[:, some]

        def slopes(points, few):
            return likelihood(some[few], near=np.exp(about[:, few])).slopes(points)

        *top, settled = settle(slopes, about, self.bend[:, :, some], most_steps, sure)
        self.put(some[settled], [*(values[..., settled] for values in top), True])

    def climb(self, some, likelihood):
        """The way of some groups from where they are; once more with new second derivatives for those that got lost."""
        for _ in range(2):
            if (own := np.flatnonzero(some & ~self.found)).size:
                self.put(own, climb(likelihood(own).slopes, self.at[:, own], MOST_STEPS, SURE))

    def put(self, some, top):
        self.at[:, some], self.best[some], self.bend[:, :, some], self.found[some] = top


class _Climb:
    """The way to the top of each usable group's likelihood."""

    def __init__(self, whole: JointLikelihood, usable):
        self.whole, self.usable = whole, usable

    def top(self, start) -> _Top:
        coarse, bend = self.whole.like(**COARSE), np.zeros(0)
        at = _best_of_several(coarse, start)
        for likelihood, steps in ((coarse, COARSE_STEPS), (self.whole.like(**ROUGH), ROUGH_STEPS)):
            slopes = self._of_usable(likelihood.slopes)
            at, best, bend, near = climb(
                slopes, at, steps, NEARLY, bend if bend.size else None, self.usable.size // FEW
            )
        top = _Top(at, best, bend, np.zeros(self.usable.size, bool))
        self._by_grid(top, near)
        self._each_by_itself(top)
        top.found &= self.steepness(top) < TOO_STEEP
        return top

    def _of_usable(self, slopes):
        return lambda points: np.where(self.usable, slopes(points), 0.0)

    def _by_grid(self, top, near):
        """The last steps of groups that are on a grid; near: those at the top of the rough likelihood."""
        on_grid, large = self.usable & (self.whole.pieces >= ENOUGH), self.whole.pieces >= GRIDS[1][0]
        sharp = self.steepness(top) >= SHARP
        for kind, how in ((~large & ~sharp, FINE[0]), (~large & sharp, FINE[1]), (large, FINER)):
            top.settle(on_grid & near & kind, partial(self.whole.like, **how), FINE_STEPS, SURE)
        for kind, how in ((~large, FINE[1]), (large, FINER)):
            top.climb(on_grid & kind, partial(self.whole.like, **how))

    def _each_by_itself(self, top):
        """The last steps by the likelihood of each position: of groups that are on no grid or too steep for one."""
        singly = partial(self.whole.like, **SINGLY)
        steepness = self.steepness(top)
        flat = top.at[0] < np.log(np.where(self.whole.pieces < GRIDS[1][0], FLAT, VERY_FLAT))
        doubtful = top.found & ((steepness > SHARPER) | flat)
        top.found &= ~doubtful
        top.settle(doubtful & (steepness < STEEP), singly, 1, 0.05)
        for kind, how in ((steepness >= STEEP, FINELY), (steepness < STEEP, {})):
            top.settle(self.usable & kind & ~top.found, partial(singly, **how), SETTLE_STEPS, SURER)
            top.climb(self.usable & kind, partial(singly, nodes=32, **how))

    def steepness(self, top):
        return np.exp(top.at[0] - top.at[1]) * self.whole.oldest


def _limits(whole: JointLikelihood, top: _Top, failures, level):
    """Profile limits: by a rough likelihood moved to the top or, of flat and steep groups, by a finer one."""
    steepness = np.exp(top.at[0] - top.at[1]) * whole.oldest
    unseen = np.bincount(whole.over.group, minlength=whole.groups) > 0
    failures = np.where(unseen, failures, np.inf)
    plain = top.found & (steepness < SHARPER) & (top.at[0] > np.log(FLAT))
    table, there, plain = _rough_limits(whole, top, plain, failures, level)
    steep = steepness >= STEEP
    for kind, about, how in ((plain, there.at, LIMITS), (~plain & ~steep, top.at, FINE[1]), (steep, top.at, STEEPLY)):
        if (some := np.flatnonzero(top.found & np.isnan(table["shape_low"]) & kind)).size:
            tell, moved = whole.like(some, **how), (top.at - about)[:, None, some]
            own = region_limits(
                lambda points, tell=tell, moved=moved: tell(points - moved),
                *(top.at[:, some], tell(about[:, some]), there.bend[:, :, some], level, failures[some]),
                finely=how is not STEEPLY,
            )
            for name, values in own.items():
                table[name][some] = values
    unit = np.log(whole.largest)
    with np.errstate(over="ignore", under="ignore"):
        return {name: np.exp(value + (0 if name.startswith("shape") else unit)) for name, value in table.items()}


def _rough_limits(whole: JointLikelihood, top: _Top, plain, failures, level):
    """Logarithms of the limits of `plain` groups, nan where there are none; the rough top, and whose it is."""
    rough = whole.like(**LIMITS)

    def slopes(points):
        return np.where(top.found, rough.slopes(points), 0.0)

    at, best, bend, near = climb(slopes, np.where(top.found, top.at, 0.0), ROUGH_STEPS, NEARLY, top.bend)
    bends = bend_at(slopes, at, slopes(at)[1:]), bend, np.zeros(bend.shape) + np.eye(2)[:, :, None]
    bend, plain = np.select([peaked(each) for each in bends], bends), plain & near

    def height(points):
        away = np.sum((points - top.at[:, None]) ** 2, axis=0)
        return np.where(plain, rough(points - (top.at - at)[:, None]), best - away)

    table = region_limits(height, top.at, best, bend, level, failures, FEW_LOOKS)
    table = {name: np.where(plain, values, np.nan) for name, values in table.items()}
    return table, _Top(at, best, bend, near), plain


def _best_of_several(height, start):
    """The best of some points towards steeper and shorter lives: ages counted from installation hide both."""
    points = start[:, None] + np.array(FIRST_LOOK).T[:, :, None]
    return np.take_along_axis(points, height(points).argmax(axis=0)[None, None], axis=1)[:, 0]


def _told(status, usable, top, largest, totals):
    """Status and estimates, nan where there is none."""
    found, at = usable & top.found, top.at
    log_scale, shape = at[1] + np.log(largest), np.exp(at[0])
    log = {
        "shape": at[0],
        "scale": log_scale,
        "mean": log_scale + gammaln(1 + 1 / shape),
        "b10": log_scale + np.log(-np.log(0.9)) / shape,
    }
    table = {field.name: np.full(status.size, np.nan) for field in fields(WeibullFits)}
    table["status"] = np.where(found, "fitted", np.where(usable & (status == "fitted"), "not-converged", status))
    with np.errstate(over="ignore", invalid="ignore"):
        for name, value in log.items():
            table[name] = np.where(found, np.exp(value), np.nan)
    failures, exposure = totals
    even = failures * (np.log(np.maximum(failures, 1e-300)) - np.log(np.maximum(exposure, 1e-300))) - failures
    table["lr_p"] = np.where(found, chdtrc(1, np.maximum(2 * (top.best - even), 0.0)), np.nan)
    return table
