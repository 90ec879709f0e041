"""Weibull lives by maximum likelihood with late entries and censored exits, every group at once."""

from dataclasses import dataclass, fields

import numpy as np
from scipy.special import chdtrc, gammaln

from jobs.reliability.ages import NOTHING, LogAges, log_ages
from jobs.reliability.profile import LEAST_SHAPE, profile_limits

Array = np.ndarray
MOST_STEPS, CLOSE, CLOSE_HALVING = 200, 1e-6, 1e-12  # the error left by Newton is the square of its last step
SCAN = np.geomspace(1e-3, 1e3, 61)


@dataclass(frozen=True)
class WeibullFits:
    """One Weibull per group, arrays (groups,); numbers are nan where there is none.

    status: fitted, no-failures, one-failure, all-ages-equal, shape-at-edge or not-converged. b10: the age by
    which a tenth has failed. lr_p: likelihood-ratio test against shape 1, it only chooses words. A limit is
    nan if it does not exist (no lower limit of the shape: then none of scale, mean and b10), inf if too large.
    """

    status: Array
    shape: Array
    shape_low: Array
    shape_high: Array
    scale: Array
    scale_low: Array
    scale_high: Array
    mean: Array
    mean_low: Array
    mean_high: Array
    b10: Array
    b10_low: Array
    b10_high: Array
    lr_p: Array


def fit_weibull(entry, exit, failed, weight=None, group=None, *, groups=None, level=0.90, limits=True) -> WeibullFits:
    """Fit shape and scale of each group, with profile-likelihood limits of shape, scale, mean life and B10.

    entry, exit: ages (m,), 0 <= entry <= exit, any unit; failed: bool; weight: pieces a row stands for
    (default 1); group: numbers 0 .. groups - 1 (default one group). A unit that enters late is counted only
    from there on (left truncation); one that has not failed is censored at its exit. Failures at age 0 have
    no place in a Weibull likelihood and are left out: the caller says so.
    With H = sum of exit ** shape - entry ** shape over r failures: r / shape + sum of ln t - r H' / H = 0 and
    scale ** shape = H / r, by Newton within brackets.
    Source: Lawless (2003), Statistical Models and Methods for Lifetime Data, 2nd ed., 5.2 and 2.4 (truncation).
    """
    exit, failed = np.asarray(exit, float), np.asarray(failed, bool)
    weight = np.ones(exit.shape) if weight is None else weight
    group = np.zeros(exit.shape, int) if group is None else np.asarray(group)
    groups = int(group.max(initial=-1)) + 1 if groups is None else groups
    aged = ~(failed & (exit <= 0))
    columns = (np.asarray(entry, float), exit, failed, np.asarray(weight, float), group)
    ages = log_ages(*(columns if aged.all() else (column[aged] for column in columns)))
    status, to_fit = _statuses(ages, groups)
    ages = ages.of(to_fit)
    table = {field.name: np.full(groups, np.nan) for field in fields(WeibullFits)}
    table["status"] = status
    if ages.group.size:
        _fit(ages, table, level if limits else None)
    return WeibullFits(**table)


def _statuses(ages: LogAges, groups):
    """Each group's status as far as the ages decide it, and which of `ages` are to be fitted."""
    status = np.full(groups, "no-failures", dtype="<U16")
    same = ages.failed_most - ages.failed_least <= 1e-12
    own = np.where(
        ages.failures <= 0,
        "no-failures",
        np.where(same & (ages.failures <= 1), "one-failure", np.where(same, "all-ages-equal", "fitted")),
    )
    status[ages.group] = own
    return status, own == "fitted"


def _fit(ages: LogAges, table, level):
    """Fit groups with two distinct failure ages or more and write them into `table`."""
    foot = shape_zero(ages)
    start, edge = _start(ages, foot)
    table["status"][ages.group[edge]] = "shape-at-edge"
    ages, start, foot = ages.of(~edge), start[~edge], foot.of(~edge)
    if not ages.group.size:
        return
    shape, done = _solve(ages, start)
    fitted = _better_than_edges(ages, shape, foot)
    table["status"][ages.group[~done]] = "not-converged"
    table["status"][ages.group[done & ~fitted]] = "shape-at-edge"
    keep = done & fitted
    ages, shape, foot = ages.of(keep), shape[keep], foot.of(keep)
    if ages.group.size:
        _write(ages, shape, foot, table, level)


@dataclass(frozen=True)
class ShapeZero:
    """The profile likelihood as the shape goes to 0: its value there (-inf if it falls) and its slope."""

    value: Array
    slope: Array

    def of(self, chosen):
        return ShapeZero(self.value[chosen], self.slope[chosen])


def shape_zero(ages: LogAges) -> ShapeZero:
    """Where every unit enters late, H ~ shape x sum of ln(exit / entry): a finite end, hazard c / age."""
    late_only = np.abs(np.add.reduceat(ages.sign, ages.start)) <= 1e-9 * np.add.reduceat(np.abs(ages.sign), ages.start)
    first = np.add.reduceat(ages.sign * ages.log, ages.start)
    second = np.add.reduceat(ages.sign * ages.log**2, ages.start) / 2
    late_only &= first > 0
    safe, r = np.where(late_only, first, 1.0), ages.failures
    value = r * np.log(r / safe) - r - ages.failed_log_sum
    slope = ages.failed_log_sum - r * second / safe
    return ShapeZero(np.where(late_only, value, -np.inf), np.where(late_only, slope, np.inf))


def _start(ages: LogAges, foot: ShapeZero):
    """A first shape for each group, and which have no inner maximum.

    Late failures push the shape up without end when none but zero-length spells reach the last of them.
    """
    hazard = ages.moments(np.ones(ages.group.size), order=0)[0]
    edge = (hazard <= NOTHING) | (ages.failed_log_sum >= 0)
    start = np.full(ages.group.size, 1.5)
    doubtful = np.flatnonzero((foot.slope <= 0) & ~edge)
    if doubtful.size:
        chosen = np.zeros(edge.size, bool)
        chosen[doubtful] = True
        few = ages.of(chosen)
        profiles = np.array([profile(few, np.full(few.group.size, shape)) for shape in SCAN])
        start[doubtful] = SCAN[profiles.argmax(axis=0)]
        edge[doubtful] = profiles.max(axis=0) <= foot.value[doubtful]
    return start, edge


def profile(ages: LogAges, shape):
    """Log likelihood (n,) of each group at `shape`, its best scale inserted, ages divided by the largest."""
    hazard, r = ages.moments(shape, order=0)[0], ages.failures
    return r * np.log(shape * r / hazard) - r + (shape - 1) * ages.failed_log_sum


def _solve(ages: LogAges, start):
    """Root of the profile's slope: Newton in 1 / shape, halving log shape where it leaves the bracket."""
    x, mean_log = np.log(start), ages.failed_log_sum / ages.failures
    low, high = np.full(x.size, np.log(LEAST_SHAPE)), np.full(x.size, np.inf)
    done = np.zeros(x.size, bool)
    for step in range(MOST_STEPS):
        shape = np.exp(x)
        h, h1, h2 = ages.moments(shape)
        first, second = h1 / h, h2 / h
        slope = 1 + shape * (mean_log - first)
        bend = 1 + shape**2 * (second - first**2)
        low, high = np.where(slope > 0, x, low), np.where(slope < 0, x, high)
        share = np.where(bend > 0, slope / np.where(bend > 0, bend, 1.0), np.sign(slope))
        to = x - np.log(np.clip(1 - share, 0.25, 4.0))
        middle = np.where(np.isinf(high), x + 2.0, (low + high) / 2)
        newton = (to >= low) & (to <= high) & (step <= 8 or step % 2 == 0)
        to = np.where(newton, to, middle)
        near = np.abs(to - x) <= np.where(newton, CLOSE, CLOSE_HALVING)
        x, done = np.where(done, x, to), done | near  # a group that is done stays where it is
        if done.all():
            break
    return np.exp(x), done


def _better_than_edges(ages: LogAges, shape, foot: ShapeZero):
    """True where the maximum found is inside and beats the end at shape 0."""
    return (shape > 2 * LEAST_SHAPE) & (profile(ages, shape) > foot.value)


def _write(ages: LogAges, shape, foot: ShapeZero, table, level):
    at, r = ages.group, ages.failures
    hazard = ages.moments(shape, order=0)[0]
    log_scale = np.log(ages.largest) + np.log(hazard / r) / shape
    best = r * np.log(shape * r / hazard) - r + (shape - 1) * ages.failed_log_sum
    log = {
        "shape": np.log(shape),
        "scale": log_scale,
        "mean": log_scale + gammaln(1 + 1 / shape),
        "b10": log_scale + np.log(-np.log(0.9)) / shape,
    }
    if level is not None:
        log |= profile_limits(ages, shape, best, foot.value, level)
    with np.errstate(over="ignore"):
        for name, value in log.items():
            table[name][at] = np.exp(value)
    at_one = r * np.log(r / ages.exposure) - r
    table["lr_p"][at] = chdtrc(1, np.maximum(2 * (best - at_one), 0.0))
