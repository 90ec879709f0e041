"""Is something failing more than it should? Every clock here is accumulated expected failures, never the calendar.

On exposure alone an ageing fleet raises false alarms: the expected failures of a stream are those of its fitted
life at the ages it really had, times the month factors, from a fit without that stream.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

from jobs.reliability.constant_rate import RateComparison, compare_rates

Array = np.ndarray
RATIO = 2.5  # times its rate that a batch is watched for
JUMP, DRIFT = float(np.log(RATIO)), RATIO - 1
DAYS_PER_YEAR = 365.25
MOST_THRESHOLD = 12.0


def expected_by_month(opened_day, entry, exit, shape, scale, edges, stream, *, streams, weight=None, factor=None):
    """Expected failures of each stream in each month, (streams, months).

    opened_day: day number on which each spell opened at age `entry`; it ended at age `exit` (years), all (m,);
    shape, scale: Weibull life of each spell's own kind; edges: rising day numbers (months + 1,); weight: how far a
    spell counts; factor: month factor of each spell's kind in each month, (m, months) or (months,).
    """
    opened_day, entry, exit = (np.asarray(values, float) for values in (opened_day, entry, exit))
    shape, scale = np.broadcast_to(np.asarray(shape, float), entry.shape), np.asarray(scale, float)
    weight = np.broadcast_to(np.asarray(1.0 if weight is None else weight, float), entry.shape)
    stream, months = np.asarray(stream, int), len(edges) - 1
    factor = np.ones(months) if factor is None else np.asarray(factor, float)
    expected, before = np.zeros((streams, months)), None
    for month in range(months + 1):
        age = np.clip(entry + (edges[month] - opened_day) / DAYS_PER_YEAR, entry, exit)
        passed = (age / scale) ** shape
        if before is not None:
            expected[:, month - 1] = np.bincount(stream, weight * factor[..., month - 1] * (passed - before), streams)
        before = passed
    return expected


def clock_at(day, stream, edges, expected):
    """Expected failures of its stream accumulated up to each day (m,), by straight lines within months."""
    total = np.concatenate([np.zeros((expected.shape[0], 1)), np.cumsum(expected, axis=1)], axis=1)
    day, edges, stream = np.asarray(day, float), np.asarray(edges, float), np.asarray(stream, int)
    month = np.clip(np.searchsorted(edges, day, side="right") - 1, 0, expected.shape[1] - 1)
    share = np.clip((day - edges[month]) / (edges[month + 1] - edges[month]), 0, 1)
    return total[stream, month] + share * expected[stream, month]


@dataclass(frozen=True)
class Recent:
    """Recent failures against earlier ones, each over its expected number: rising is the one-sided p of «more»."""

    comparison: RateComparison
    rising: Array


def recent_against_earlier(recent, expected_recent, earlier, expected_earlier, level=0.90) -> Recent:
    """Exact conditional test, given the sum: failures recent and earlier, expected > 0, all (n,).

    Source: Przyborowski & Wilenski (1940), Biometrika 31, 313-323.
    """
    recent, earlier = np.asarray(recent, float), np.asarray(earlier, float)
    share = np.asarray(expected_recent) / (np.asarray(expected_recent) + np.asarray(expected_earlier))
    more = np.where(recent > 0, betainc(np.maximum(recent, 1), earlier + 1, share), 1.0)
    return Recent(compare_rates(recent, expected_recent, earlier, expected_earlier, level), more)


@dataclass(frozen=True)
class CumulativeSum:
    """Per failure (m,), in the order given: the sum just after it, and the failure at which the present rise began."""

    value: Array
    since: Array


def cumulative_sum(clock, stream) -> CumulativeSum:
    """Poisson cumulative sum of each stream: ln 2.5 up at a failure, 1.5 down per expected failure, never below 0.

    clock: expected failures accumulated at each failure, stream: its number; each stream's failures in rising
    order. It is the log likelihood ratio of 2.5 times the rate against the rate, maximised over the start.
    Source: Lucas (1985), Technometrics 27, 129-144.
    """
    clock, stream = np.asarray(clock, float), np.asarray(stream, int)
    order = np.argsort(stream, kind="stable")
    bounds = np.flatnonzero(np.diff(stream[order], prepend=-1, append=-1))
    value, since = np.zeros(clock.size), np.zeros(clock.size, int)
    for begin, end in zip(bounds[:-1], bounds[1:], strict=True):
        own = order[begin:end]
        before = JUMP * np.arange(own.size) - DRIFT * clock[own]
        lowest = np.minimum.accumulate(before)
        value[own] = before + JUMP - lowest
        since[own] = own[np.maximum.accumulate(np.where(before <= lowest, np.arange(own.size), 0))]
    return CumulativeSum(value, since)


def failures_to_false_alarm(threshold, steps_per_unit=80):
    """Mean number of expected failures until the sum reaches `threshold` though the rate is as it should be.

    Integral equation of the sum just after a failure, by the trapezoid rule; good to half a per cent up to a
    threshold of 8. Source: Brook & Evans (1972), Biometrika 59, 539-549 (the principle).
    """
    if threshold <= JUMP:
        return 1.0
    steps = max(int(steps_per_unit * threshold), 50)
    at = np.linspace(JUMP, threshold, steps + 1)
    h, row = at[1] - at[0], np.arange(steps + 1)
    reach = np.minimum(at / h, steps)[:, None]
    last = reach.astype(int)
    rest = reach - last
    weight = np.where(row < last, 1.0, np.where(row == last, 0.5, 0.0))
    weight[:, 0] /= 2
    weight += np.where(row == last, rest * (1 - rest / 2), 0.0) + np.where(row == last + 1, rest**2 / 2, 0.0)
    density = np.exp(-(at[:, None] + JUMP - at) / DRIFT) / DRIFT
    system = np.eye(steps + 1) - h * weight * density
    system[:, 0] -= np.exp(-at / DRIFT)
    return float(1 + np.linalg.solve(system, np.ones(steps + 1))[0])


def threshold_for(expected_a_year, false_alarms_a_year=1.0):
    """Threshold at which all streams together, `expected_a_year` failures in all, give so many false alarms a year."""
    wanted = max(expected_a_year / false_alarms_a_year, 1.0)
    high = JUMP + 1
    while failures_to_false_alarm(high) < wanted and high < MOST_THRESHOLD:
        high += 1
    low = high - 1
    for _ in range(10):
        middle = (low + high) / 2
        low, high = (middle, high) if failures_to_false_alarm(middle) < wanted else (low, middle)
    return high


def false_discovery(p):
    """Adjusted p of many tests, (n,): those below q hold at most a share q of false ones. It only orders a page.

    Source: Benjamini & Hochberg (1995), J. Royal Statistical Society B 57, 289-300.
    """
    p = np.asarray(p, float)
    order = np.argsort(p)
    scaled = p[order] * p.size / np.arange(1, p.size + 1)
    adjusted = np.empty(p.size)
    adjusted[order] = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    return adjusted
