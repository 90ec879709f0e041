"""Orders in which the jobs of an interval arrive: a single job exactly, two or more drawn."""

from dataclasses import dataclass

import numpy as np

LONGEST_ORDER = 150


@dataclass(frozen=True)
class Arrivals:
    """Orders of jobs in an interval. kinds: (orders, longest), job numbers, −1 after the last. chance: (orders,)."""

    kinds: np.ndarray
    chance: np.ndarray


def many_arrivals(demands, draws, rng) -> Arrivals:
    """The first LONGEST_ORDER jobs of drawn intervals, where there are so many that no van can serve them all."""
    counts = np.zeros((draws, len(demands)))
    for j, job in enumerate(demands):
        for d in job:
            part = rng.choice(len(d.weights), size=draws, p=d.weights)
            rate = rng.gamma(d.failures[part], d.per_interval[part] / d.exposure[part])
            counts[:, j] += rng.poisson(np.minimum(rate, 1e15))
    total = counts.sum(axis=1)
    share = np.cumsum(counts, axis=1) / np.maximum(total, 1)[:, None]
    kinds = (rng.random((draws, LONGEST_ORDER))[..., None] > share[:, None, :]).sum(axis=2)
    kinds[np.arange(LONGEST_ORDER) >= total[:, None]] = -1
    return Arrivals(kinds, np.full(draws, 1 / draws))


def arrivals_of(pmfs, draws, rng) -> Arrivals:
    """Single jobs with their exact chance, then `draws` orders of two or more. pmfs: (jobs, top + 1)."""
    jobs, top = pmfs.shape[0], pmfs.shape[1] - 1
    sums = [np.eye(1, top + 1)[0]]
    for pmf in pmfs:
        sums.append(np.convolve(sums[-1], pmf)[: top + 1])
    only = np.array([np.prod(np.where(np.arange(jobs) == j, pmfs[:, min(1, top)], pmfs[:, 0])) for j in range(jobs)])
    single = np.full((jobs, max(top, 1)), -1)
    single[:, 0] = np.arange(jobs)
    several = sums[-1].copy()
    several[:2] = 0
    if several.sum() <= 0:
        return Arrivals(single, only)
    totals = np.sort(rng.choice(top + 1, size=draws, p=several / several.sum()))[::-1]
    counts = _split(totals, pmfs, sums, rng)
    kinds = _shuffled(counts, top, rng)
    chance = np.full(draws, several.sum() / draws)
    return Arrivals(np.vstack([kinds, single]), np.append(chance, only))


def _split(totals, pmfs, sums, rng):
    """Counts of each kind that add up to the totals, drawn from their joint distribution, (draws, jobs)."""
    left, counts = totals.copy(), np.zeros((len(totals), len(pmfs)), int)
    for j in range(len(pmfs) - 1, -1, -1):
        for n in np.unique(left):
            rows = np.flatnonzero(left == n)
            odds = pmfs[j, : n + 1] * sums[j][n::-1][: n + 1]
            counts[rows, j] = rng.choice(n + 1, size=len(rows), p=odds / odds.sum())
        left = left - counts[:, j]
    return counts


def _shuffled(counts, top, rng):
    kinds = np.full((len(counts), top), -1)
    for i, row in enumerate(counts):
        order = rng.permutation(np.repeat(np.arange(len(row)), row))
        kinds[i, : len(order)] = order
    return kinds
