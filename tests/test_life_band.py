"""The likely range of a fitted life: it agrees with the limits of shape, scale and B10 found another way."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from jobs.reliability.band import life_band, taken_over_band
from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.life import fit_weibull
from jobs.reliability.unseen import taken_over


def _invented(seed=3, n=60):
    rng = np.random.default_rng(seed)
    entry = rng.uniform(0, 6, n) * (rng.random(n) < 0.5)
    life = 10 * ((entry / 10) ** 2 - np.log(rng.random(n))) ** 0.5
    end = entry + rng.uniform(2, 9, n)
    return entry, np.minimum(life, end), life <= end


def test_the_curve_is_the_weibull_and_lies_inside_its_band():
    entry, exit, failed = _invented()
    fit = fit_weibull(entry, exit, failed)
    ages = np.linspace(0, 20, 41)
    band = life_band(ages, entry, exit, failed, shape=fit.shape[0], scale=fit.scale[0])
    assert band.share == pytest.approx(np.exp(-((ages / fit.scale[0]) ** fit.shape[0])))
    assert (band.low <= band.share + 1e-12).all()
    assert (band.share <= band.high + 1e-12).all()
    assert band.low[0] == band.high[0] == 1


def test_the_band_crosses_nine_tenths_at_the_limits_of_b10():
    """Limits of B10 come from jobs.reliability.profile by another road: the same region, turned round."""
    entry, exit, failed = _invented()
    fit = fit_weibull(entry, exit, failed)
    band = life_band([fit.b10_low[0], fit.b10_high[0]], entry, exit, failed, shape=fit.shape[0], scale=fit.scale[0])
    assert band.low[0] == pytest.approx(0.9, abs=2e-3)
    assert band.high[1] == pytest.approx(0.9, abs=2e-3)


def test_the_band_at_one_age_is_what_a_plain_search_of_the_likelihood_finds():
    """Slow derivation: write the likelihood in (shape, S(8)), profile out the shape, find where it drops by 1.353."""
    entry, exit, failed = _invented(seed=5)
    fit = fit_weibull(entry, exit, failed)

    def log_likelihood(shape, share, age=8.0):
        rate = -np.log(share) / age**shape
        events = np.log(shape * rate) + (shape - 1) * np.log(exit[failed])
        return events.sum() - (rate * (exit**shape - entry**shape)).sum()

    def profile(share):
        found = minimize_scalar(lambda shape: -log_likelihood(shape, share), bounds=(0.1, 15), method="bounded")
        return -found.fun

    best = log_likelihood(fit.shape[0], np.exp(-((8 / fit.scale[0]) ** fit.shape[0])))
    band = life_band([8.0], entry, exit, failed, shape=fit.shape[0], scale=fit.scale[0])
    for limit in (band.low[0], band.high[0]):
        assert best - profile(limit) == pytest.approx(2.7055 / 2, abs=0.01)


def test_weights_stand_for_pieces():
    entry, exit, failed = _invented(n=30)
    fit = fit_weibull(entry, exit, failed)
    known = {"shape": fit.shape[0], "scale": fit.scale[0]}
    twice = life_band([5.0], *(np.repeat(column, 2) for column in (entry, exit, failed)), **known)
    weighed = life_band([5.0], entry, exit, failed, np.full(30, 2.0), **known)
    assert weighed.low == pytest.approx(twice.low)
    assert weighed.high == pytest.approx(twice.high)


def test_the_band_of_the_joint_likelihood_is_the_plain_one_where_nobody_is_taken_over_unseen():
    """Positions new at the start of care had no past: both likelihoods are one. The joint limits allow a little for
    few failures, so its band may be a shade wider, and is never narrower."""
    entry, exit, failed = _invented(seed=8, n=80)
    new = entry == 0
    fit = fit_weibull(entry, exit, failed)
    known = {"shape": fit.shape[0], "scale": fit.scale[0]}
    group, weight = np.zeros(entry.size, int), np.ones(entry.size)
    rows = (entry[~new], exit[~new], failed[~new], weight[~new], group[~new])
    over = taken_over(np.arange(new.sum()), entry[new], exit[new], failed[new], weight[new], group[new])
    joint = taken_over_band([2.0, 6.0, 11.0], JointLikelihood(rows, over, 1), **known)
    plain = life_band([2.0, 6.0, 11.0], entry, exit, failed, **known)
    assert joint.low == pytest.approx(plain.low, abs=1e-2)
    assert joint.high == pytest.approx(plain.high, abs=1e-2)
    assert (joint.low <= plain.low + 2e-3).all()
    assert (joint.high >= plain.high - 2e-3).all()
