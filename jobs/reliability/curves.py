"""Curves without a model: survival, cumulative hazard, repairs per appliance, hazard by band of age."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammainccinv, gammaincinv, ndtri

Array = np.ndarray


@dataclass(frozen=True)
class Curve:
    """Rows (k,) sorted by group and age, one for each age at which something failed.

    survival: Kaplan-Meier; low, high: log-log limits, nan where survival is 0 or 1; cumulative_hazard: Nelson-Aalen,
    its limits log-log too, that is, on the scale of its logarithm.
    left_out: failures per group (groups,) before the age at which its curve starts.
    """

    group: Array
    age: Array
    at_risk: Array
    events: Array
    survival: Array
    low: Array
    high: Array
    cumulative_hazard: Array
    hazard_low: Array
    hazard_high: Array
    left_out: Array


def survival_curve(entry, exit, failed, weight=None, group=None, *, groups=1, level=0.90, least_at_risk=0) -> Curve:
    """Kaplan-Meier and Nelson-Aalen with late entries, every group at once.

    entry, exit: ages (m,), failed: bool, weight: pieces a row stands for, group: numbers 0 .. groups - 1.
    At risk at an age: entry < age <= exit; who enters at age 0 is at risk at age 0 too, and a failure on the
    day of entry is at risk then. Each curve starts at its first failure age with `least_at_risk` and is
    conditional on reaching it. Limits: Greenwood's variance on the log(-log) scale; of the cumulative hazard Aalen's
    variance, the sum of events / at_risk squared, on the log scale.
    Source: Kaplan & Meier (1958), JASA 53, 457-481; Kalbfleisch & Prentice (2002), 1.4 (log-log limits); Aalen (1978),
    Annals of Statistics 6, 701-726; Klein & Moeschberger (2003), 4.2 and 4.3.
    """
    entry, exit, failed = np.asarray(entry, float), np.asarray(exit, float), np.asarray(failed, bool)
    weight = np.ones(exit.shape) if weight is None else np.asarray(weight, float)
    group = np.zeros(exit.shape, int) if group is None else np.asarray(group)
    counts = weight > 0
    entry, exit, failed, weight, group = (column[counts] for column in (entry, exit, failed, weight, group))
    at, age, events = _failure_ages(exit[failed], weight[failed], group[failed])
    at_risk = _at_risk(at, age, entry, exit, failed, weight, group)
    started = _started(at, at_risk >= least_at_risk)
    left_out = np.bincount(at[~started], events[~started], groups)
    return _estimates(at[started], age[started], at_risk[started], events[started], level, left_out)


def _failure_ages(exit, weight, group):
    """Distinct failure ages of each group, sorted, with the weight that failed at each."""
    order = np.lexsort((exit, group))
    exit, weight, group = exit[order], weight[order], group[order]
    if not exit.size:
        return group, exit, weight
    first = np.concatenate(([True], (np.diff(group) != 0) | (np.diff(exit) != 0)))
    start = np.flatnonzero(first)
    return group[start], exit[start], np.add.reduceat(weight, start)


def _at_risk(at, age, entry, exit, failed, weight, group):
    """Weight under watch at each (group, age): entered before it and not gone before it."""
    began = np.where(entry > 0, entry, -1.0)
    in_place = (exit == entry) & failed & (entry > 0)
    entered = _weight_before(at, age, group, began, weight, inclusive=False)
    gone = _weight_before(at, age, group, exit, weight, inclusive=False)
    own = _weight_before(at, age, group[in_place], exit[in_place], weight[in_place], inclusive=True)
    earlier = _weight_before(at, age, group[in_place], exit[in_place], weight[in_place], inclusive=False)
    return entered - gone + (own - earlier)


def _weight_before(at, age, group, when, weight, *, inclusive):
    """Sum of weights of the same group whose `when` lies before each age (or at it, if inclusive)."""
    if not when.size or not age.size:
        return np.zeros(age.size)
    rank_of, rank = np.unique(np.concatenate((when, age)), return_inverse=True)
    key = group.astype(np.int64) * rank_of.size + rank[: when.size]
    asked = at.astype(np.int64) * rank_of.size + rank[when.size :]
    order = np.argsort(key, kind="stable")
    total = np.concatenate(([0.0], np.cumsum(weight[order])))
    key = key[order]
    upto = np.searchsorted(key, asked, side="right" if inclusive else "left")
    return total[upto] - total[np.searchsorted(key, at.astype(np.int64) * rank_of.size, side="left")]


def _started(at, enough):
    """True from each group's first row with enough at risk on."""
    ever = np.cumsum(enough)
    before = np.concatenate(([0], ever))[np.searchsorted(at, at, side="left")]
    return ever > before


def _estimates(at, age, at_risk, events, level, left_out):
    all_fail = events >= at_risk * (1 - 1e-12)
    share = np.where(all_fail, 0.0, 1 - events / at_risk)
    alive = np.where(all_fail, 1.0, share)
    log_survival = _running(np.log(alive), at)
    ended = _running(all_fail.astype(float), at) > 0
    survival = np.where(ended, 0.0, np.exp(log_survival))
    greenwood = _running(np.where(all_fail, 0.0, events / (at_risk * np.where(all_fail, 1.0, at_risk - events))), at)
    inside = ~ended & (log_survival < 0)
    log = np.where(inside, log_survival, -1.0)
    spread = ndtri((1 + level) / 2) * np.sqrt(greenwood) / log
    low, high = (np.where(inside, np.exp(log * np.exp(side * spread)), np.nan) for side in (-1, 1))
    hazard, variance = _running(events / at_risk, at), _running(events / at_risk**2, at)
    width = np.exp(ndtri((1 + level) / 2) * np.sqrt(variance) / hazard)
    return Curve(at, age, at_risk, events, survival, low, high, hazard, hazard / width, hazard * width, left_out)


def _running(values, at):
    """Running sum that starts afresh in each group; `at` is sorted."""
    total = np.cumsum(values)
    before = np.concatenate(([0.0], total))[np.searchsorted(at, at, side="left")]
    return total - before


@dataclass(frozen=True)
class RepairCurve:
    """Mean cumulative number of repairs per appliance at each age with one, rows (k,), and its limits."""

    age: Array
    watched: Array
    events: Array
    mean: Array
    low: Array
    high: Array


def mean_repairs(system, age, end, start=0.0, *, level=0.90) -> RepairCurve:
    """Mean cumulative function of repeated repairs, whatever process made them.

    system: number 0 .. n - 1 of the appliance of each repair, age: its age then, both (m,); start, end: ages
    (n,) between which each appliance was watched: watched at an age if start < age <= end. Limits are normal
    on the log scale with the robust variance, which lets appliances differ.
    Source: Nelson (1988), J. Quality Technology 20, 24-35; Lawless & Nadeau (1995), Technometrics 37, 158-168.
    """
    system, age, end = np.asarray(system, int), np.asarray(age, float), np.asarray(end, float)
    start = np.broadcast_to(np.asarray(start, float), end.shape)
    ages, place, events = np.unique(age, return_inverse=True, return_counts=True)
    watched = np.searchsorted(np.sort(np.where(start > 0, start, -1.0)), ages, side="left") - np.searchsorted(
        np.sort(end), ages, side="left"
    )
    step = events / watched
    mean = np.cumsum(step)
    error = np.sqrt(_robust_variance(system, place, start, end, ages, watched, step))
    width = np.exp(ndtri((1 + level) / 2) * error / mean)
    return RepairCurve(ages, watched, events, mean, mean / width, mean * width)


def _robust_variance(system, place, start, end, ages, watched, step):
    """Sum over appliances of their squared departures from the mean curve, at each age; linear memory per appliance."""
    variance = np.zeros(ages.size)
    order = np.argsort(system, kind="stable")
    bounds = np.searchsorted(system[order], np.arange(end.size + 1))
    expected = np.concatenate(([0.0], np.cumsum(step / watched)))
    first = np.searchsorted(ages, start, side="right") * (start > 0)
    last = np.searchsorted(ages, end, side="right")
    for number in range(end.size):
        own = place[order[bounds[number] : bounds[number + 1]]]
        seen = np.cumsum(np.bincount(own, minlength=ages.size) / watched)
        span = np.clip(np.arange(1, ages.size + 1), first[number], last[number])
        variance += (seen - expected[span] + expected[first[number]]) ** 2
    return variance


@dataclass(frozen=True)
class HazardBands:
    """Failures over exposure in bands of age, arrays (groups, bands), nan where nobody was watched."""

    failures: Array
    exposure: Array
    rate: Array
    low: Array
    high: Array


def hazard_bands(entry, exit, failed, edges, weight=None, group=None, *, groups=1, level=0.90) -> HazardBands:
    """Failure rate by band of age with exact Poisson limits; a failure at an edge belongs to the band below it.

    edges: rising ages (bands + 1,). Other arguments as survival_curve. Source: Garwood (1936), Biometrika 28.
    """
    entry, exit, edges = np.asarray(entry, float), np.asarray(exit, float), np.asarray(edges, float)
    failed = np.asarray(failed, bool)
    weight = np.ones(exit.shape) if weight is None else np.asarray(weight, float)
    group = np.zeros(exit.shape, int) if group is None else np.asarray(group)
    bands = edges.size - 1
    spent = (
        np.maximum(np.minimum(exit, b) - np.maximum(entry, a), 0.0) for a, b in zip(edges[:-1], edges[1:], strict=True)
    )
    exposure = np.stack([np.bincount(group, weight * time, groups) for time in spent], axis=1)
    band = np.maximum(np.searchsorted(edges, exit, side="left") - 1, 0)
    within = failed & (exit >= edges[0]) & (exit <= edges[-1])
    failures = np.bincount(group[within] * bands + band[within], weight[within], groups * bands).reshape(groups, bands)
    watched, some, tail = exposure > 0, np.maximum(failures, 1e-9), (1 - level) / 2
    over = np.where(watched, exposure, np.nan)
    low = np.where(failures > 0, gammaincinv(some, tail), 0.0)
    return HazardBands(failures, exposure, failures / over, low / over, gammainccinv(failures + 1, tail) / over)
