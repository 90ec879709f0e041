"""Best estimates of failure rates, family by family: what the pages show and what van loads plan with."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv

from jobs.reliability.shrinkage import (
    NO_EXPOSURE,
    NO_FAILURES,
    NOT_TOLD_APART,
    family_mixture,
    marginal_prior,
    posterior_moments,
    shrink,
)

Array = np.ndarray
ASSUMED = "assumed: one failure in 100 / (prior failures per 100 years), common practice, no source"


@dataclass(frozen=True)
class FamilyPrior:
    """Gamma prior of one family as a named point estimate; shape and rate None with the reason in source."""

    family: str
    shape: float | None
    rate: float | None
    source: str


@dataclass(frozen=True)
class BestEstimates:
    """Per group (n,): 1 / posterior mean rate with its limits, nan where nothing is known.

    failures, exposure: the gamma with the posterior's mean and variance, as counts: what a negative binomial
    demand takes. apart: False where the family's groups cannot be told apart. assumed: True where only an
    assumed rate stands behind the figure.
    """

    mtbf: Array
    low: Array
    high: Array
    failures: Array
    exposure: Array
    apart: Array
    assumed: Array
    priors: tuple[FamilyPrior, ...]


def best_estimates(failures, exposure, family, family_names, assumed=None, level=0.90) -> BestEstimates:
    """Shrink every group towards its family, averaged over the priors that the family leaves open.

    failures, exposure: (n,); family: number of each group's family, into family_names; assumed: failures per
    100 units of exposure that are assumed of a group (nan: nothing is), used only in a family without a single
    failure, as Gamma(1, 100 / assumed).
    """
    failures, exposure = np.asarray(failures, float), np.asarray(exposure, float)
    family = np.asarray(family)
    assumed = np.full(failures.size, np.nan) if assumed is None else np.asarray(assumed, float)
    table = {name: np.full(failures.size, np.nan) for name in ("mtbf", "low", "high", "failures", "exposure")}
    apart, taken = np.ones(failures.size, bool), np.zeros(failures.size, bool)
    order = np.argsort(family, kind="stable")
    bounds = np.searchsorted(family[order], np.arange(len(family_names) + 1))
    priors = []
    for number, name in enumerate(family_names):
        own = order[bounds[number] : bounds[number + 1]]
        prior, found = _family(name, failures[own], exposure[own], assumed[own], level)
        priors.append(prior)
        for column, values in found.items():
            table[column][own] = values
        apart[own] = prior.source != NOT_TOLD_APART
        taken[own] = prior.source.startswith(ASSUMED) & np.isfinite(table["mtbf"][own])
    return BestEstimates(**table, apart=apart, assumed=taken, priors=tuple(priors))


def _family(name, failures, exposure, assumed, level):
    point = marginal_prior(failures, exposure)
    mixture = family_mixture(failures, exposure)
    if mixture is None:
        return _assumed(name, point.reason, failures, exposure, assumed, level)
    shrunk = shrink(mixture, failures, exposure, level)
    mean, variance = posterior_moments(mixture, failures, exposure)
    watched = np.where(exposure > 0, 1.0, np.nan)
    return FamilyPrior(name, point.shape, point.rate, point.reason), {
        "mtbf": shrunk.mtbf,
        "low": shrunk.low,
        "high": shrunk.high,
        "failures": watched * mean**2 / variance,
        "exposure": watched * mean / variance,
    }


def _assumed(name, reason, failures, exposure, assumed, level):
    """A family without failures: each group's assumed rate and what was watched without one."""
    some = assumed > 0
    if not some.any():
        return FamilyPrior(name, None, None, reason), {}
    rate = np.where(some, 100 / np.where(some, assumed, 1.0), np.nan)
    shape, total = 1.0 + failures, rate + exposure
    tail = (1 - level) / 2
    same = np.ptp(assumed) == 0
    source = ASSUMED if reason == NO_EXPOSURE else f"{ASSUMED} ({NO_FAILURES})"
    return FamilyPrior(name, 1.0 if same else None, float(rate[0]) if same else None, source), {
        "mtbf": total / shape,
        "low": total / gammaincinv(shape, 1 - tail),
        "high": total / gammaincinv(shape, tail),
        "failures": np.where(some, shape, np.nan),
        "exposure": total,
    }
