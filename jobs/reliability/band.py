"""Likely range of a fitted life at each age: how far the share still working may be from the curve."""

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri, lambertw

from jobs.reliability.two_parameters import climb, region_edge

Array = np.ndarray
MOST_STEPS, CLOSE = 60, 1e-4
SHAPES = np.geomspace(0.1, 8.0, 300)


@dataclass(frozen=True)
class LifeBand:
    """Share still working at each age, (n,), with its limits; empty where nothing could be fitted."""

    share: Array
    low: Array
    high: Array


def life_band(ages, entry, exit, failed, weight=None, *, shape, scale, level=0.90) -> LifeBand:
    """Profile-likelihood limits of a Weibull's share still working at `ages`, one group.

    ages (n,), entry and exit (m,) in one unit; failed: bool (m,); weight (m,), default 1; shape, scale: of the
    maximum. The limits of S(t) are its least and largest value over all (shape, scale) whose log likelihood lies
    within half the chi-square quantile (one degree of freedom) of the maximum; for each shape the two scales
    there follow from ln x - x + 1 = -d / r by Lambert's W. Shapes are scanned on a grid of steps of 1.5 %.
    Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, section 8.4.
    """
    ages, entry, exit = (np.asarray(values, float) for values in (ages, entry, exit))
    failed = np.asarray(failed, bool) & (exit > 0)
    weight = np.ones(exit.shape) if weight is None else np.asarray(weight, float)
    largest = exit.max()
    r, log_sum = weight[failed].sum(), (weight[failed] * np.log(exit[failed] / largest)).sum()
    shapes = np.sort(np.append(SHAPES * shape, shape))
    hazard = _hazard(shapes, entry / largest, exit / largest, weight)
    profile = r * np.log(shapes * r / hazard) - r + (shapes - 1) * log_sum
    spare = profile - profile[np.searchsorted(shapes, shape)] + chdtri(1, 1 - level) / 2
    inside = spare >= 0
    most, least = (_factor(spare[inside] / r, branch) * r / hazard[inside] for branch in (-1, 0))
    risen = np.power.outer(ages / largest, shapes[inside])
    return LifeBand(
        share=np.exp(-((ages / scale) ** shape)),
        low=np.exp(-(risen * most)).min(axis=1),
        high=np.exp(-(risen * least)).max(axis=1),
    )


def taken_over_band(ages, height, *, shape, scale, level=0.90) -> LifeBand:
    """The same where positions were taken over in mid-life: `height` is their JointLikelihood, of one group.

    Empty limits (nan) where the likelihood region has no end.
    """
    ages, largest = np.asarray(ages, float), float(height.largest[0])
    start = np.array([[np.log(shape)], [np.log(scale / largest)]])
    at, best, bend, settled = climb(height.slopes, start, MOST_STEPS, CLOSE)
    edge, ended = region_edge(height, at, best, bend, level, height.totals()[0])
    shapes, scales = np.exp(edge[0, :, 0]), np.exp(edge[1, :, 0]) * largest
    share = np.exp(-((ages[:, None] / scales) ** shapes))
    told = settled[0] and ended[0]
    return LifeBand(
        share=np.exp(-((ages / scale) ** shape)),
        low=np.where(told, share.min(axis=1), np.nan),
        high=np.where(told, share.max(axis=1), np.nan),
    )


def _hazard(shapes, entry, exit, weight):
    """Sum of exit ** shape - entry ** shape at each shape."""
    return np.array([(weight * (exit**shape - entry**shape)).sum() for shape in shapes])


def _factor(short, branch):
    """x with ln x - x + 1 = -short: above 1 on branch -1, below it on branch 0."""
    return -lambertw(-np.exp(-1 - np.maximum(short, 0.0)), branch).real
