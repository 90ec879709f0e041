"""How many jobs of one kind turn up in a restock interval: mixed Poisson demand, its losses and its quantiles.

A rate that is itself uncertain, gamma with shape `failures` and rate `exposure`, makes the count over an
exposure e negative binomial: N ~ NB(failures, exposure / (exposure + e)). A grid of lives makes a mixture.
"""

from dataclasses import dataclass

import numpy as np
from scipy import stats

TAIL = 1e-10


@dataclass(frozen=True)
class Demand:
    """Mixture of negative binomials for one need over one interval.

    weights: sum 1, (k,). failures: gamma shapes, (k,). exposure: gamma rates, unit-years, (k,).
    per_interval: unit-years at risk in one interval, (k,). A single rate is the mixture with k = 1.
    snaps: variance of the weather of one interval, a multiplier of mean 1 drawn anew for each.
    """

    weights: np.ndarray
    failures: np.ndarray
    exposure: np.ndarray
    per_interval: np.ndarray
    snaps: float = 0.0

    @classmethod
    def single(cls, failures, exposure, per_interval, snaps=0.0):
        """One gamma rate: failures (shape) over exposure (unit-years), and the unit-years of one interval."""
        return cls(*(np.array([x], float) for x in (1.0, failures, exposure, per_interval)), snaps)

    @property
    def mean(self):
        """Expected jobs in one interval."""
        return float(self.weights @ (self.failures * self.per_interval / self.exposure))

    @property
    def variance(self):
        """Variance of the jobs in one interval, rate uncertainty included."""
        shape, ratio = self.law()
        means = shape * ratio
        second = means * (1 + ratio) + means**2
        return max(0.0, float(self.weights @ second) - self.mean**2)

    def over(self, intervals):
        """The demand over that many intervals that share one rate (never independent weeks), weather aside."""
        snaps = self.snaps / max(intervals, 1.0)
        return Demand(self.weights, self.failures, self.exposure, self.per_interval * intervals, snaps)

    def law(self):
        """(shape, ratio) of each negative binomial, cold snaps included."""
        ratio = self.per_interval / self.exposure
        if not self.snaps:
            return self.failures, ratio
        shape, exposure = with_cold_snaps(self.failures, self.exposure, self.snaps)
        return shape, self.per_interval / exposure

    def pmf(self, top):
        """P(N = 0), …, P(N = top), array (top + 1,)."""
        return negative_binomial_pmf(*self.law(), top).T @ self.weights

    def at_least(self, top):
        """P(N >= 1), …, P(N >= top), array (top,): the worth of the k-th piece in jobs per interval."""
        return np.clip(1 - np.cumsum(self.pmf(top))[:top], 0, 1)


def negative_binomial_pmf(shape, ratio, top):
    """Probabilities of 0 … top, by the recursion p(n) = p(n-1) (shape + n - 1)/n · ratio/(1 + ratio).

    shape: (m,), >= 0. ratio: interval exposure over gamma rate, (m,), >= 0. Returns (m, top + 1).
    Source: Johnson, Kemp & Kotz, Univariate Discrete Distributions, 3rd ed. 2005, ch. 5.
    """
    shape, ratio = np.asarray(shape, float), np.asarray(ratio, float)
    p = np.empty((len(shape), top + 1))
    p[:, 0] = np.exp(-shape * np.log1p(ratio))
    for n in range(1, top + 1):
        p[:, n] = p[:, n - 1] * (shape + n - 1) / n * ratio / (1 + ratio)
    return p


def pmfs_of(demands, top):
    """P(N = 0), …, P(N = top) of many demands at once, (demands, top + 1)."""
    shape, ratio = (np.concatenate(x) for x in zip(*(d.law() for d in demands), strict=True))
    starts = np.cumsum([0] + [len(d.weights) for d in demands[:-1]])
    each = negative_binomial_pmf(shape, ratio, top) * np.concatenate([d.weights for d in demands])[:, None]
    return np.add.reduceat(each, starts, axis=0)


def pooled_pmf(pmfs):
    """Distribution of the sum of independent counts, each given from 0 to the same top: (top + 1,).

    Truncation at the top is exact for every value up to it.
    """
    total = np.array([1.0])
    for pmf in pmfs:
        total = np.convolve(total, pmf)[: len(pmf)]
    return total


def expected_min(pmf, levels):
    """E min(N, level) for each level. pmf: from 0 to at least max(levels), levels: ints (n,). Returns (n,)."""
    levels = np.asarray(levels)
    served = np.concatenate([[0.0], np.cumsum(np.clip(1 - np.cumsum(pmf), 0, 1))])
    return served[levels]


def largest_count(demands, tail=TAIL):
    """Smallest n with P(total > n) <= tail for the sum of independent demands (by two moments, then safe)."""
    mean = sum(d.mean for d in demands)
    if mean <= 0:
        return 0
    variance = max(sum(d.variance for d in demands), mean * (1 + 1e-12))
    first = matched(mean, variance)
    top = max(4, int(stats.nbinom.isf(tail, first[0], first[1])) if np.isfinite(first[0]) else 4)
    while top < 4000:
        covered = np.cumsum(pooled_pmf([d.pmf(top) for d in demands]))
        if covered[-1] >= 1 - tail:
            return int(np.searchsorted(covered, 1 - tail))
        top *= 2
    return top


def from_grid(weights, shapes, failures, exposure, age, length, season=1.0):
    """Demand of an interval from a grid of Weibull lives, of positions whose ages are known.

    weights, shapes, failures, exposure: per shape β_k, its weight and the gamma of η^(−β_k), (k,).
    age: years, (positions,). length: of the interval, years. season: month factor of the interval.
    E_k = season · Σ_i [(age_i + length)^β_k − age_i^β_k]: a renewed part fails no second time within it.
    """
    age = np.asarray(age, float)[:, None]
    at_risk = season * ((age + length) ** shapes - age**shapes).sum(axis=0)
    return Demand(*(np.asarray(x, float) for x in (weights, failures, exposure, at_risk)))


def matched(mean, variance):
    """(r, p) of the negative binomial, scipy's convention, with that mean and variance > mean."""
    p = mean / variance
    return mean * p / (1 - p), p


def one_gamma(weights, means, shapes, per_interval):
    """(failures, exposure) of the one negative binomial with a mixture's first two moments.

    weights, means (of component counts over per_interval), shapes: (k,). per_interval: unit-years > 0.
    m = Σ w m_k; v = Σ w m_k² (1 + 1/a_k) − m²; a = m²/v; b = a · per_interval / m. Design, section 8.
    """
    weights, means, shapes = (np.asarray(x, float) for x in (weights, means, shapes))
    mean = weights @ means
    variance = weights @ (means**2 * (1 + 1 / shapes)) - mean**2
    failures = mean**2 / variance
    return float(failures), float(failures * per_interval / mean)


def with_cold_snaps(failures, exposure, variance):
    """(failures, exposure) when every rate is also multiplied by weather of mean 1 and that variance.

    1/a′ = 1/a + φ + φ/a, and b′ = b·a′/a keeps the mean.
    """
    wider = 1 + variance * failures + variance
    return failures / wider, exposure / wider


def smallest_level(probability, distribution):
    """Smallest n with P(N <= n) >= probability, for a frozen scipy distribution (Poisson, negative binomial)."""
    return int(distribution.ppf(probability))


def poisson_loss(level, mean):
    """(E max(N − level, 0), E max(level − N, 0)) of a Poisson count.

    Source: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. 2019, appendix C.
    """
    short = mean * stats.poisson.sf(level - 2, mean) - level * stats.poisson.sf(level - 1, mean)
    return short, short + level - mean


def negative_binomial_loss(level, r, p):
    """(E max(N − level, 0), E max(level − N, 0)), scipy's convention: mean r(1 − p)/p."""
    mean = r * (1 - p) / p
    n = np.arange(level)
    over = float(((level - n) * stats.nbinom.pmf(n, r, p)).sum())
    return over + mean - level, over
