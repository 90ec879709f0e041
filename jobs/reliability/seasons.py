"""Month factors: how much more or less fails in each calendar month, group by group."""

from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv, gammaln

Array = np.ndarray
MONTHS = 12
CONCENTRATIONS = np.geomspace(1.0, 1e5, 81)


@dataclass(frozen=True)
class MonthFactors:
    """factor, low, high: (groups, 12), each group's factors with mean 1; overall: (12,), the firm's own pattern.

    concentration: how many failures a group needs before its own pattern counts as much as the firm's;
    inf where the groups differ no more than chance makes them. failures: of each group (groups,).
    """

    factor: Array
    low: Array
    high: Array
    overall: Array
    concentration: float
    failures: Array


def month_factors(counts, exposure, level=0.90) -> MonthFactors:
    """Factors of each month from failures over exposure, shrunk to the pattern of all groups together.

    counts: failures, exposure: time watched, both (groups, 12), January first. Given a group's number of
    failures their months are Dirichlet-multinomial around overall x exposure; the concentration is its
    maximum likelihood estimate over the groups. The overall pattern leans on one assumed failure a month, so
    that a new firm starts from even months. Limits: central posterior quantiles at `level`. A month that a
    group was not watched in gets the overall factor; its limits are then those of the prior. Where the groups are not
    told apart the limits are those of the firm-wide pattern, from all failures; else that pattern is taken as known.
    Source: Mosimann (1962), Biometrika 49, 65-82 (the distribution).
    """
    counts, exposure = np.asarray(counts, float), np.asarray(exposure, float)
    overall = _overall(counts, exposure)
    expected = _shares(overall, exposure)
    concentration = _concentration(counts, expected)
    return _factors(counts, exposure, expected, overall, concentration, level)


def _overall(counts, exposure):
    """Pattern of all groups, mean 1: counts over what each group's own rate makes expect, made to agree by turns."""
    pattern = np.ones(MONTHS)
    failures = counts.sum(axis=1)
    for _ in range(50):
        weighted = exposure @ pattern
        rate = np.where(weighted > 0, failures / np.where(weighted > 0, weighted, 1.0), 0.0)
        new = (counts.sum(axis=0) + 1) / (rate @ exposure + 1)
        new /= new.mean()
        settled = np.abs(new - pattern).max() < 1e-12
        pattern = new
        if settled:
            break
    return pattern


def _shares(pattern, exposure):
    """Share of each group's failures expected in each month, (groups, 12)."""
    expected = np.where(exposure.sum(axis=1, keepdims=True) > 0, exposure, 1.0) * pattern
    return expected / expected.sum(axis=1, keepdims=True)


def _concentration(counts, expected):
    """Maximum likelihood concentration of the Dirichlets of all groups; inf where the likelihood only rises."""
    told = counts.sum(axis=1) > 1
    counts, expected = counts[told], expected[told]
    if not counts.size:
        return np.inf
    height = np.array([_height(counts, expected * one, one) for one in CONCENTRATIONS])
    best = int(height.argmax())
    return np.inf if best == CONCENTRATIONS.size - 1 else float(CONCENTRATIONS[best])


def _height(counts, alpha, concentration):
    alpha = np.maximum(alpha, 1e-12)
    per_group = np.sum(gammaln(alpha + counts) - gammaln(alpha), axis=1)
    total = counts.sum(axis=1)
    return np.sum(per_group + gammaln(concentration) - gammaln(concentration + total))


def _factors(counts, exposure, expected, overall, concentration, level):
    failures = counts.sum(axis=1, keepdims=True)
    even = _shares(np.ones(MONTHS), exposure)
    own = np.isfinite(concentration)
    alpha = expected * concentration + counts if own else expected
    total = concentration + failures if own else np.ones_like(failures)
    watched = even > 0
    per_share = np.where(watched, 1 / np.where(watched, even, 1.0), 0.0)
    factor = np.where(watched, alpha / total * per_share, overall)
    mean = factor.mean(axis=1, keepdims=True)
    tail = (1 - level) / 2
    if not own:
        total = counts.sum() + MONTHS
        alpha = expected * total
    low, high = (_quantile(alpha, total, p) * per_share for p in (tail, 1 - tail))
    return MonthFactors(
        factor / mean,
        np.where(watched, low, factor) / mean,
        np.where(watched, high, factor) / mean,
        overall,
        float(concentration),
        failures[:, 0],
    )


def _quantile(alpha, total, p):
    """Quantile of a month's share, a beta."""
    return betaincinv(np.maximum(alpha, 1e-9), np.maximum(total - alpha, 1e-9), p)
