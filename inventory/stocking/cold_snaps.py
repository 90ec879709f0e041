"""How much more than chance the failures of one week differ from those of the next: the weather."""

import numpy as np

SURE = 1.645  # standard errors: of weeks that differ by chance alone, one firm in twenty is taken for one with weather


def snap_variance(days) -> float:
    """Variance φ of the weekly multiplier of mean 1, from the days of all failures (days since 1970-01-01).

    Whole weeks are compared within calendar months, so that seasons and growth count little: with k weeks of mean n̄
    and variance s², E[s² − n̄] = φ μ². 0 unless more than chance would give: the variance of (k − 1)(s² − n̄) is
    2 (k − 1) μ² for Poisson counts.
    """
    weeks = _weeks(np.asarray(days, int))
    more = square = chance = 0.0
    for counts in weeks:
        k, mean = len(counts), counts.mean()
        more += (k - 1) * (counts.var(ddof=1) - mean)
        square += (k - 1) * max(mean**2 - mean / k, 0.0)
        chance += 2 * (k - 1) * mean**2
    if square <= 0 or more <= SURE * np.sqrt(chance):
        return 0.0
    found = more / square
    usual = np.mean([len(counts) for counts in weeks])
    return float(found / max(1 - found / usual, 0.5))


def _weeks(days):
    """Failures of each whole week, in one array per month that has at least two."""
    if not len(days):
        return []
    first, last = days.min(), days.max()
    starts = np.arange(first, last - 5, 7)
    if len(starts) < 2:
        return []
    counts = np.histogram(days, np.append(starts, starts[-1] + 7))[0]
    month = (starts + 3).astype("datetime64[D]").astype("datetime64[M]").astype(int)
    return [counts[month == m] for m in np.unique(month) if (month == m).sum() > 1]
