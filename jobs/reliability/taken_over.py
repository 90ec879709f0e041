"""Weibull lives where positions were taken over in mid-life: earlier renewals may have happened unseen."""

from dataclasses import fields

import numpy as np
from scipy.special import chdtrc, gammaln

from jobs.reliability.joint_likelihood import VERY_FLAT, JointLikelihood
from jobs.reliability.life import WeibullFits, fit_weibull
from jobs.reliability.two_parameters import maximum, region_limits, settle
from jobs.reliability.unseen import TakenOver, taken_over

FIRST_LOOK = ((0.0, 0.0), (0.15, -0.1), (0.3, -0.2), (0.5, -0.3), (0.7, -0.4))  # of (log shape, log scale)
FEW_STEPS, FEW_LOOKS = 3, 4  # of all groups together; those that need more go on by themselves
ROUGH = {"nodes": 7, "steps": 16, "finer": 2, "many": ((64, (8, 6)), (2000, (16, 10)))}
FINE = {"nodes": 14, "many": ((1, (24, 14)),)}
LARGE = 2000  # weighed prefixes of a group from which on its last steps go by a fine grid too
STEEP, TOO_STEEP = 8.0, 100.0  # shape x greatest age at the start of care / scale: for a finer table; to be told
FINELY = {"steps": 256}
NEARLY, SHORT = 0.02, 5e-3  # a step of the rough climb that is the last; those of its differences

__all__ = ["JointLikelihood", "TakenOver", "fit_taken_over", "taken_over"]


def fit_taken_over(
    entry, exit, failed, weight, group, over: TakenOver, *, groups, lost_rate=0.0, level=0.90, limits=True
) -> WeibullFits:
    """Weibull lives from ordinary spells and from positions taken over, one likelihood per group.

    entry, exit, failed, weight, group: spells whose clock is known, as fit_weibull; over: positions whose earlier
    renewals nobody saw; lost_rate: renewals for other causes than failure per unit of age, (groups,) or a scalar.
    A rough likelihood, of many positions on a grid, is climbed first; the last steps go by the likelihood of each
    position by itself.
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
    rough = JointLikelihood(spells, over, groups, lost_rate, **ROUGH)
    usable = np.isin(plain.status, ("fitted", "shape-at-edge", "not-converged")) & (rough.totals()[1] > 0)
    climb = _Climb(spells, over, lost_rate, rough)
    at, best, bend, settled = climb.top(_start(plain, rough.largest), usable)
    found = _told(plain.status, usable, settled, at, best, rough)
    if limits:
        found |= climb.limits(at, best, bend, usable & settled, level)
    return WeibullFits(**found)


def _start(plain: WeibullFits, largest):
    """Log shape and log scale of the plain fit or, without one, of an average life."""
    log_scale = np.log(np.where(plain.scale > 0, plain.scale, largest)) - np.log(largest)
    log_shape = np.log(np.where(plain.shape > 0, np.clip(plain.shape, 0.05, 50), 1.5))
    return np.stack([log_shape, np.clip(log_scale, -5, 5)])


class _Climb:
    """The way to the top of each group's likelihood, and around it."""

    def __init__(self, spells, over: TakenOver, lost_rate, rough: JointLikelihood):
        self.spells, self.over, self.lost_rate, self.rough = spells, over, lost_rate, rough

    def top(self, start, usable):
        """Points, heights, minus the second derivatives, and which groups have a top."""
        rough = self.rough
        start = _best_of_several(rough, start)
        at, best, bend, near = maximum(lambda p: np.where(usable, rough(p), 0.0), start, FEW_STEPS, NEARLY, SHORT)
        slow = np.flatnonzero(usable & ~near)
        if slow.size:
            few = self._alone(slow, ROUGH)
            at[:, slow], best[slow], bend[:, :, slow], near[slow] = maximum(few, at[:, slow], close=NEARLY, short=SHORT)
        self.rough_at, self.rough_best, self.near = at.copy(), best.copy(), near
        self.steep = np.exp(at[0] - at[1]) * rough.oldest > STEEP
        settled = np.zeros(usable.size, bool)
        large = np.bincount(rough.over.group[rough.cut.position], minlength=rough.groups) > LARGE
        if (some := np.flatnonzero(usable & near & large & ~self.steep & (at[0] > np.log(VERY_FLAT)))).size:
            at[:, some], best[some], bend[:, :, some], settled[some] = maximum(self._alone(some, FINE), at[:, some])
        for some in self._kinds(usable & near & ~settled):
            at[:, some], best[some], settled[some] = self._settle(some, at[:, some], bend[:, :, some])
        for some in self._kinds(usable & ~settled):
            exact = self._alone(some, {"nodes": 32, "many": ()} | (FINELY if self.steep[some[0]] else {}))
            at[:, some], best[some], bend[:, :, some], settled[some] = maximum(exact, start[:, some])
        told = np.exp(at[0] - at[1]) * rough.oldest < TOO_STEEP
        return at, best, bend, settled & told

    def _kinds(self, chosen):
        """The chosen groups, steep ones by themselves."""
        return [some for kind in (self.steep, ~self.steep) if (some := np.flatnonzero(chosen & kind)).size]

    def _settle(self, some, at, bend):
        return settle(lambda points, few: self._exactly(some[few], self.rough_at).slopes(points), at, bend)

    def _exactly(self, some, about):
        """The likelihood of some groups, all steep or none, each position by itself, about some points (2, groups)."""
        how = {"many": (), "near": np.exp(about[:, some])} | (FINELY if self.steep[some[0]] else {})
        return self._alone(some, how)

    def _alone(self, some, how):
        chosen = np.zeros(self.rough.groups, bool)
        chosen[some] = True
        spells, over = (self.spells, self.over) if chosen.all() else _only(self.spells, self.over, chosen)
        return JointLikelihood(spells, over, some.size, self.lost_rate[some], **how)

    def limits(self, at, best, bend, found, level):
        """Profile limits by the rough likelihood moved to the top, by the exact one where that is too rough."""
        rough, moved = self.rough, at - self.rough_at
        unseen = np.bincount(rough.over.group, minlength=rough.groups) > 0
        failures = np.where(unseen, rough.totals()[0], np.inf)
        usual = found & self.near & ~self.steep

        def height(points):
            away = np.sum((points - at[:, None]) ** 2, axis=0)
            return np.where(usual, rough(points - moved[:, None]), self.rough_best - away)

        bend = np.where(found, bend, np.eye(2)[:, :, None])
        table = region_limits(height, at, self.rough_best, bend, level, failures, FEW_LOOKS)
        table = {name: np.where(usual, values, np.nan) for name, values in table.items()}
        slow = np.flatnonzero(usual & np.isnan(table["shape_low"]))
        parts = [(some, best, at, self._exactly(some, at)) for some in self._kinds(found & ~usual)]
        parts += [(slow, self.rough_best, self.rough_at, self._alone(slow, ROUGH))] if slow.size else []
        for some, top, there, likelihood in parts:
            own = region_limits(
                lambda points, some=some, there=there, likelihood=likelihood: likelihood(
                    points - (at - there)[:, None, some]
                ),
                *(at[:, some], top[some], bend[:, :, some], level, failures[some]),
            )
            for name, values in own.items():
                table[name][some] = values
        unit = np.log(rough.largest)
        with np.errstate(over="ignore", under="ignore"):
            return {name: np.exp(value + (0 if name.startswith("shape") else unit)) for name, value in table.items()}


def _best_of_several(height, start):
    """The best of some points towards steeper and shorter lives: ages counted from installation hide both."""
    points = start[:, None] + np.array(FIRST_LOOK).T[:, :, None]
    return np.take_along_axis(points, height(points).argmax(axis=0)[None, None], axis=1)[:, 0]


def _only(spells, over: TakenOver, chosen):
    """The spells and positions of some groups, which are numbered anew."""
    number = np.cumsum(chosen) - 1
    kept, piece = chosen[over.group], chosen[over.group[over.position]]
    pieces = (getattr(over, name)[piece] for name in ("entry", "exit", "failed", "weight"))
    place = (np.cumsum(kept) - 1)[over.position[piece]]
    known = [column[chosen[spells[4]]] for column in spells]
    return (*known[:4], number[known[4]]), TakenOver(number[over.group[kept]], over.age[kept], place, *pieces)


def _told(status, usable, settled, at, best, height):
    """Status and estimates, nan where there is none."""
    found = usable & settled
    log_scale, shape = at[1] + np.log(height.largest), np.exp(at[0])
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
    failures, exposure = height.totals()
    even = failures * (np.log(np.maximum(failures, 1e-300)) - np.log(np.maximum(exposure, 1e-300))) - failures
    table["lr_p"] = np.where(found, chdtrc(1, np.maximum(2 * (best - even), 0.0)), np.nan)
    return table
