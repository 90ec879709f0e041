"""Rates of many groups that borrow strength from each other: gamma priors estimated from the groups themselves."""

from dataclasses import dataclass

import numpy as np
from scipy.special import digamma, gammainc, gammaincinv, gammaln

Array = np.ndarray
SPREADS = (np.arange(25) + 0.5) * 0.1  # coefficients of variation of the rates, midpoints
TYPICAL_SPREAD = 0.5  # scale of their half-normal prior
REACH, STEP = 3.5, 0.25  # along the log mean: sinh(-3.5 .. 3.5) of its own spread, at most so far apart
LEAST_WEIGHT = 1e-8
LEAST_TAIL = 1e-15  # of a distribution: less, and the other end would be 1
NO_FAILURES, NO_EXPOSURE = "no failures in any group", "nothing was watched"
NOT_TOLD_APART = "groups not told apart"


@dataclass(frozen=True)
class GammaPrior:
    """Gamma(shape, rate) over the rates of a family; None with the reason where the likelihood has no inner maximum."""

    shape: float | None
    rate: float | None
    mean_rate: float | None
    reason: str


@dataclass(frozen=True)
class GammaMixture:
    """Prior of a family as a mixture of gammas: weight (k,) adding to 1, shape and rate (k,)."""

    weight: Array
    shape: Array
    rate: Array


@dataclass(frozen=True)
class Shrunk:
    """Per group (n,): 1 / posterior mean rate, and the posterior quantiles of the rate, inverted."""

    mtbf: Array
    low: Array
    high: Array


def marginal_prior(failures, exposure) -> GammaPrior:
    """Prior of a family by marginal maximum likelihood: failures of a group are negative binomial.

    failures, exposure: (n,), the family's groups. Where the groups differ no more than chance makes them
    the likelihood rises to equal rates: no prior, and mean_rate is the pooled rate.
    Source: Gaver & O'Muircheartaigh (1987), Technometrics 29, 1-15.
    """
    failures, exposure = _watched(failures, exposure)
    if not exposure.size or failures.sum() <= 0:
        return GammaPrior(None, None, None, NO_FAILURES if exposure.size else NO_EXPOSURE)
    pooled = failures.sum() / exposure.sum()
    log_shapes = np.linspace(-7, 14, 43)
    log_mean = _best_log_mean(np.exp(log_shapes), failures, exposure, pooled)[0]
    height = _height(log_mean[:, None], log_shapes[:, None], failures, exposure)
    best = int(height.argmax())
    if exposure.size < 2 or best in (0, height.size - 1) or height[best] <= _equal_rates(failures, exposure, pooled):
        return GammaPrior(None, None, pooled, NOT_TOLD_APART)
    x = _maximum(lambda x: _slope(x, failures, exposure, pooled), log_shapes[best - 1], log_shapes[best + 1])
    shape = float(np.exp(x))
    mean = float(np.exp(_best_log_mean(shape, failures, exposure, pooled)[0][0]))
    return GammaPrior(shape, shape / mean, mean, "marginal maximum likelihood")


def _watched(failures, exposure):
    failures, exposure = np.asarray(failures, float), np.asarray(exposure, float)
    return failures[exposure > 0], exposure[exposure > 0]


def _equal_rates(failures, exposure, pooled):
    """The likelihood's height when all rates are the pooled one, on the scale of _height."""
    return float(np.sum(failures * np.log(pooled) - pooled * exposure)) + 1e-9


def _height(log_mean, log_shape, failures, exposure):
    """Marginal log likelihood; log_mean and log_shape may be (k, 1) against groups (n,)."""
    shape = np.exp(log_shape)
    rate = np.exp(log_shape - log_mean)
    return np.sum(
        gammaln(shape + failures)
        - gammaln(shape)
        - failures * np.log(rate + exposure)
        - shape * np.log1p(exposure / rate),
        axis=-1,
    )


def _best_log_mean(shape, failures, exposure, pooled):
    """Log mean rate that maximises the likelihood for each shape (k,): Newton, kept within reach of the pooled rate."""
    shape = np.atleast_1d(shape)[:, None]
    x = np.full(shape.shape, np.log(pooled))
    for _ in range(60):
        rate = shape * np.exp(-x)
        share, other = exposure / (rate + exposure), rate / (rate + exposure)
        slope = np.sum(failures * other - shape * share, axis=1, keepdims=True)
        bend = np.sum((shape + failures) * share * other, axis=1, keepdims=True)
        step = np.clip(slope / np.maximum(bend, 1e-300), -1.0, 1.0)
        x = x + step
        if np.all(np.abs(step) < 1e-11):
            break
    return x[:, 0], bend[:, 0]


def _slope(log_shape, failures, exposure, pooled):
    shape = np.exp(log_shape)
    rate = shape / np.exp(_best_log_mean(shape, failures, exposure, pooled)[0][0])
    return np.sum(
        digamma(shape + failures)
        - digamma(shape)
        - np.log1p(exposure / rate)
        + (exposure - failures / shape * rate) / (rate + exposure)
    )


def _maximum(slope, low, high):
    """Where a slope that falls through 0 between low and high does so."""
    for _ in range(45):
        middle = (low + high) / 2
        low, high = (middle, high) if slope(middle) > 0 else (low, middle)
    return (low + high) / 2


def family_mixture(failures, exposure) -> GammaMixture | None:
    """The family's prior averaged over what its groups leave open; None without a failure or exposure.

    failures, exposure: (n,). A grid over the log mean rate (flat prior) and the coefficient of variation
    shape ** -0.5 (half-normal, scale 0.5), each point weighted by prior x marginal likelihood. Unlike the
    single best prior this does not make limits too short when the family has few groups.
    """
    failures, exposure = _watched(failures, exposure)
    if failures.sum() <= 0:
        return None
    pooled = failures.sum() / exposure.sum()
    shape = SPREADS**-2.0
    centre, bend = _best_log_mean(shape, failures, exposure, pooled)
    rows = [_row(*row, failures, exposure) for row in zip(SPREADS, centre, 1 / np.sqrt(bend), strict=True)]
    log_weight, shape, rate = np.concatenate(rows, axis=1)
    weight = np.exp(log_weight - log_weight.max())
    keep = weight > LEAST_WEIGHT * weight.sum()
    return GammaMixture(weight[keep] / weight[keep].sum(), shape[keep], rate[keep])


def _row(spread, centre, width, failures, exposure):
    """Grid points of one spread: log weight, shape, rate, stacked (3, k).

    They stand so close that the gammas at neighbouring log means overlap, else the mixture has ripples.
    """
    step = np.clip(0.6 * spread / width, STEP / 12, STEP)
    turn = np.arange(-np.ceil(REACH / step), np.ceil(REACH / step) + 1) * step
    log_mean, log_shape = centre + width * np.sinh(turn), -2 * np.log(spread)
    log_weight = np.log(width * np.cosh(turn) * step) - (spread / TYPICAL_SPREAD) ** 2 / 2
    log_weight += _height(log_mean[:, None], log_shape, failures, exposure)
    return np.stack([log_weight, np.full(turn.size, np.exp(log_shape)), np.exp(log_shape - log_mean)])


def posterior_moments(prior: GammaMixture, failures, exposure):
    """Mean and variance of each group's rate, arrays (n,).

    Mean ** 2 / variance failures in mean / variance exposure are the gamma with the same two moments:
    what a negative binomial demand wants.
    """
    shape = prior.shape + np.asarray(failures, float)[:, None]
    rate = prior.rate + np.asarray(exposure, float)[:, None]
    each = shape / rate
    mean = each @ prior.weight
    return mean, (each / rate + (each - mean[:, None]) ** 2) @ prior.weight


def shrink(prior: GammaMixture, failures, exposure, level=0.90) -> Shrunk:
    """Best estimate of each group's MTBF under the mixture, and the mixture's quantiles inverted.

    failures, exposure: (n,); nan for a group that nobody watched.
    """
    failures, exposure = np.asarray(failures, float), np.asarray(exposure, float)
    watched, tail = exposure > 0, max((1 - level) / 2, LEAST_TAIL)
    mtbf, low, high = np.full((3, exposure.size), np.nan)
    own = failures[watched], exposure[watched]
    mean, variance = posterior_moments(prior, *own)
    mtbf[watched] = 1 / mean
    low[watched] = 1 / _quantile(prior, *own, mean, variance, 1 - tail)
    high[watched] = 1 / _quantile(prior, *own, mean, variance, tail)
    return Shrunk(mtbf, low, high)


def plug_in(shape, rate, failures, exposure, level=0.90) -> Shrunk:
    """The same under one gamma prior, exactly."""
    one = np.ones(1)
    return shrink(GammaMixture(one, one * shape, one * rate), failures, exposure, level)


def _quantile(prior, failures, exposure, mean, variance, p):
    """Rate below which the mixture has probability p, (n,): Newton in log rate within brackets.

    Until both brackets are found the steps may grow: a group hardly watched starts hundreds of steps away.
    """
    shape, rate = prior.shape + failures[:, None], prior.rate + exposure[:, None]
    x = np.log(np.maximum(gammaincinv(mean**2 / variance, p) * variance / mean, 1e-300))
    low, high = np.full(x.size, -np.inf), np.full(x.size, np.inf)
    constant = -gammaln(shape)
    for turn in range(100):
        scaled = rate * np.exp(x)[:, None]
        below = gammainc(shape, scaled) @ prior.weight
        density = np.exp(constant + shape * np.log(scaled) - scaled) @ prior.weight
        low, high = np.where(below < p, x, low), np.where(below < p, high, x)
        to = x + np.clip((p - below) / np.maximum(density, 1e-300), -(1.3**turn), 1.3**turn)
        middle = np.where(np.isinf(low) | np.isinf(high), to, (low + high) / 2)
        to = np.where((to >= low) & (to <= high), to, middle)
        settled = np.abs(to - x).max(initial=0.0) < 1e-9
        x = to
        if settled:
            break
    return np.exp(x)
