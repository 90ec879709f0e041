"""What the pictures of one component type are drawn from: the fitted life with its limits, and failures by age."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from jobs.reliability.band import life_band, taken_over_band
from jobs.reliability.curves import hazard_bands
from jobs.reliability.grouping import KNOWN, PERHAPS, group_spells
from jobs.reliability.joint_likelihood import JointLikelihood

BAND_YEARS, MOST_AGE, STEP, LEAST_EXPOSURE, TELLING = 2.0, 40.0, 0.5, 0.05, 20.0


@dataclass(frozen=True)
class Ages:
    """The spells whose age is known, as the fitted life takes them."""

    entry: np.ndarray
    exit: np.ndarray
    failed: np.ndarray
    weight: np.ndarray
    oldest: float

    @classmethod
    def of(cls, spells, before_care):
        aged = spells.clock <= (PERHAPS if before_care == "first" else KNOWN)
        perhaps = spells.clock <= (KNOWN if before_care == "unknown" else PERHAPS)
        columns = (column[aged] for column in (spells.entry, spells.exit, spells.failed, spells.weight))
        return cls(*columns, float(spells.exit[perhaps].max(initial=0)))

    def watched_to(self, enough):
        """The highest age at which so many were under watch, 0 without."""
        ends = np.sort(self.exit[self.exit > self.entry])
        entered, gone = (self._weight_before(age, ends) for age in (self.entry, self.exit))
        there = entered - gone
        return float(ends[there >= enough - 1e-9].max(initial=0))

    def _weight_before(self, age, ends):
        """Weight of the spells whose `age` lies before each of the ends."""
        order = np.argsort(age)
        upto = np.searchsorted(age[order], ends, side="left")
        return np.concatenate(([0.0], np.cumsum(self.weight[order])))[upto]

    @property
    def columns(self):
        return self.entry, self.exit, self.failed, self.weight

    def expected(self, edges, shape, scale):
        """Failures that the fitted life expects in each band of age."""
        inside = [np.clip(age[:, None], edges[:-1], edges[1:]) for age in (self.entry, self.exit)]
        return (self.weight[:, None] * ((inside[1] / scale) ** shape - (inside[0] / scale) ** shape)).sum(axis=0)


def fitted_life(group, ages, joint, level):
    """Curve with its limits, and hazard, of the fitted life at every half year."""
    if group.status != "fitted" or not group.shape or not group.scale:
        return [], []
    last = min(MOST_AGE, max(np.ceil(ages.oldest), np.ceil((group.b10 or 0) * 1.2), 5))
    at = np.arange(0, last + STEP / 2, STEP)
    fit = {"shape": group.shape, "scale": group.scale, "level": level}
    band = taken_over_band(at, joint, **fit) if joint else life_band(at, *ages.columns, **fit)
    rate = group.shape / group.scale * (at[1:] / group.scale) ** (group.shape - 1)
    curve = zip(at.tolist(), band.share.tolist(), band.low.tolist(), band.high.tolist(), strict=True)
    return list(curve), list(zip(at[1:].tolist(), rate.tolist(), strict=True))


def _edges(ages):
    return np.arange(0, max(ages.oldest, BAND_YEARS) + BAND_YEARS, BAND_YEARS)


def failure_bands(ages, level):
    edges = _edges(ages)
    bands = hazard_bands(ages.entry, ages.exit, ages.failed, edges, ages.weight, level=level)
    columns = (bands.rate[0], bands.low[0], bands.high[0], bands.failures[0], bands.exposure[0])
    rows = zip(edges[:-1].tolist(), edges[1:].tolist(), *(column.tolist() for column in columns), strict=True)
    return [row for row in rows if row[6] > (LEAST_EXPOSURE if row[5] > 0 else TELLING)]


def worst_band(group, ages, bands):
    """The band of age that departs most from the fitted life, where chance does not explain the departures.

    (from, to, failed, expected), or None. Pearson's chi-square over bands in which two or more are expected,
    less one degree for each of the two fitted numbers; told below one in a hundred.
    """
    if group.status != "fitted":
        return None
    edges = _edges(ages)
    expected = dict(zip(edges[:-1].tolist(), ages.expected(edges, group.shape, group.scale).tolist(), strict=True))
    seen = [(start, end, failed, expected[start]) for start, end, _, _, _, failed, _ in bands if expected[start] >= 2]
    parts = [(failed - wanted) ** 2 / wanted for _, _, failed, wanted in seen]
    if len(seen) < 4 or chi2.sf(sum(parts), len(seen) - 2) >= 0.01:
        return None
    return seen[int(np.argmax(parts))]


def joint_likelihood(spells, before_care):
    """The likelihood of positions that may have been renewed before care, None where none is taken so."""
    grouped = group_spells(spells, "component", before_care=before_care)
    over = grouped.taken_over()
    if not over.age.size:
        return None
    known = grouped.of_known_age()
    aged = ~(known.failed & (known.exit <= 0))
    columns = (known.entry, known.exit, known.failed, known.weight, known.group)
    return JointLikelihood(tuple(column[aged] for column in columns), over, 1, grouped.lost_rate)
