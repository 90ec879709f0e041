"""Is something failing more than it should? Every clock here is accumulated expected failures, never the calendar.

On exposure alone an ageing fleet raises false alarms: the expected failures of a stream are those of its fitted
life at the ages it really had, times the month factors, from a fit without that stream.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

from jobs.reliability.constant_rate import RateComparison, compare_rates
from jobs.reliability.history.ragged import runs

Array = np.ndarray
RATIO = 2.5  # times its rate that a batch is watched for
AT_ONCE = 1 << 15  # spells, each with an age for every month
JUMP, DRIFT = float(np.log(RATIO)), RATIO - 1
DAYS_PER_YEAR = 365.25


def expected_by_month(opened_day, entry, exit, shape, scale, edges, stream, *, streams, weight=None, factor=None):
    """Expected failures of each stream in each month, (streams, months).

    opened_day: day number on which each spell opened at age `entry`; it ended at age `exit` (years), all (m,);
    shape, scale: Weibull life of each spell's own kind; edges: rising day numbers (months + 1,); weight: how far a
    spell counts; factor: month factor of each spell's kind in each month, (m, months) or (months,).
    """
    opened_day, entry, exit = (np.asarray(values, float) for values in (opened_day, entry, exit))
    factor = None if factor is None else np.asarray(factor, float)
    shape, scale, weight = (
        np.broadcast_to(np.asarray(values, float), entry.shape)
        for values in (shape, scale, 1.0 if weight is None else weight)
    )
    edges, months, stream = np.asarray(edges, float), len(edges) - 1, np.asarray(stream, int)
    closed_day = opened_day + (exit - entry) * DAYS_PER_YEAR
    first = np.clip(np.searchsorted(edges, opened_day, side="right") - 1, 0, months)
    last = np.clip(np.searchsorted(edges, closed_day, side="left"), 0, months)
    seen, found = np.flatnonzero(last > first), np.zeros(streams * months)
    for start in range(0, seen.size, AT_ONCE):
        own = seen[start : start + AT_ONCE]
        row, edge = runs(first[own], last[own] - first[own] + 1)
        inside, row = row[1:] == row[:-1], own[row]
        age = np.clip(entry[row] + (edges[edge] - opened_day[row]) / DAYS_PER_YEAR, entry[row], exit[row])
        passed = np.diff(weight[row] * (age / scale[row]) ** shape[row])[inside]
        row, month = row[:-1][inside], edge[:-1][inside]
        if factor is not None:
            passed = passed * (factor[month] if factor.ndim == 1 else factor[row, month])
        found += np.bincount(stream[row] * months + month, passed, found.size)
    return found.reshape(streams, months)


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
    starts = np.diff(stream[order], prepend=-1) != 0
    rank, number = np.cumsum(starts) - 1, np.arange(clock.size)
    place = number - np.maximum.accumulate(np.where(starts, number, 0))
    before = JUMP * place - DRIFT * clock[order]
    apart = (np.ptp(before) + 1 if clock.size else 1.0) * rank  # each stream lies wholly below the one before
    lowest = np.minimum.accumulate(before - apart)
    began = np.maximum.accumulate(np.where(before - apart <= lowest, number, 0))
    value, since = np.empty(clock.size), np.empty(clock.size, int)
    value[order], since[order] = before + JUMP - before[began], order[began]
    return CumulativeSum(value, since)


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
