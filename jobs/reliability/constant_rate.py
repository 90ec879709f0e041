"""Failures at a constant rate: mean time between failures, its exact limits, and two rates compared."""

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc, betaincinv, gammainccinv, gammaincinv

Array = np.ndarray


@dataclass(frozen=True)
class Mtbf:
    """Mean time between failures per group, arrays (n,), nan where it cannot be known."""

    mtbf: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class RateComparison:
    """Two rates against each other, arrays (n,): two-sided p, ratio first / second, and its limits."""

    p: Array
    ratio: Array
    low: Array
    high: Array


def mtbf_limits(failures, exposure, level=0.90) -> Mtbf:
    """Exposure over failures with two-sided chi-square limits for watching that was stopped by time.

    failures: count, (n,), may be fractional where spells are weighted. exposure: any unit of time, (n,).
    The limits never cover less than `level` for Poisson counts and, with few failures, more. Without
    failures only a one-sided lower limit exists, exposure / -ln(1 - level); without exposure nothing does.
    Source: Epstein & Sobel (1953), JASA 48, 486-502; limits of a Poisson mean: Garwood (1936).

    >>> mtbf_limits([12], [344440.0], level=0.95).low.round()
    array([16432.])
    """
    failures, exposure = np.broadcast_arrays(np.asarray(failures, float), np.asarray(exposure, float))
    tail = (1 - level) / 2
    watched, failed = exposure > 0, failures > 0
    some = np.where(failed, failures, 1.0)
    low = exposure / np.where(failed, gammainccinv(some + 1, tail), -np.log1p(-level))
    both = watched & failed
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        high = exposure / gammaincinv(some, tail)
    return Mtbf(
        mtbf=np.where(both, exposure / some, np.nan),
        low=np.where(watched, low, np.nan),
        high=np.where(both, high, np.nan),
    )


def compare_rates(failures_1, exposure_1, failures_2, exposure_2, level=0.90) -> RateComparison:
    """Exact comparison of two Poisson rates given the sum of their counts.

    failures: whole counts, exposure > 0 in one unit, all (n,). p is twice the smaller binomial tail, at most 1;
    the ratio's limits are the Clopper-Pearson limits of the share, turned into odds. A ratio without an upper
    end (no failures in the second) is inf, of nothing over nothing nan.
    Source: Przyborowski & Wilenski (1940), Biometrika 31, 313-323.

    >>> compare_rates(3, 10.0, 30, 100.0).p
    array(1.)
    """
    r1, r2 = np.broadcast_arrays(np.asarray(failures_1, float), np.asarray(failures_2, float))
    t1, t2 = np.asarray(exposure_1, float), np.asarray(exposure_2, float)
    share, tail = t1 / (t1 + t2), (1 - level) / 2
    fewer = np.where(r2 > 0, betainc(np.maximum(r2, 1), r1 + 1, 1 - share), 1.0)
    more = np.where(r1 > 0, betainc(np.maximum(r1, 1), r2 + 1, share), 1.0)
    p = np.minimum(1.0, 2 * np.minimum(fewer, more))
    least = np.where(r1 > 0, betaincinv(np.maximum(r1, 1), r2 + 1, tail), 0.0)
    most = np.where(r2 > 0, betaincinv(r1 + 1, np.maximum(r2, 1), 1 - tail), 1.0)
    return RateComparison(
        p=p,
        ratio=_ratio(r1 * t2, r2 * t1),
        low=_ratio(least * t2, (1 - least) * t1),
        high=_ratio(most * t2, (1 - most) * t1),
    )


def _ratio(above, below):
    """above / below: inf where only below is 0, nan where both are."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(above, below)
