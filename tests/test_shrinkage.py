"""Best estimates: what the groups of a family lend each other."""

import numpy as np
import pytest
from scipy import integrate, stats

from jobs.reliability.best_estimates import ASSUMED, best_estimates
from jobs.reliability.shrinkage import family_mixture, marginal_prior, posterior_moments, shrink


def test_mixture_equals_direct_integration_over_mean_and_spread():
    """Slow re-derivation: posterior mean rate of one group by quadrature over (log mean, coefficient of variation)."""
    failures, exposure = np.array([2.0, 9.0, 0.0]), np.array([30.0, 41.0, 12.0])

    log_mean, spread = (grid[..., None] for grid in np.meshgrid(np.linspace(-6, 2, 321), (np.arange(250) + 0.5) * 0.01))
    shape = spread**-2.0
    rate = shape / np.exp(log_mean)
    likelihood = stats.nbinom.pmf(failures, shape, rate / (rate + exposure)).prod(axis=-1, keepdims=True)
    weight = likelihood * np.exp(-((spread / 0.5) ** 2) / 2)
    wanted = np.sum(weight * (shape + failures) / (rate + exposure), axis=(0, 1)) / weight.sum()
    shrunk = shrink(family_mixture(failures, exposure), failures, exposure)
    np.testing.assert_allclose(1 / shrunk.mtbf, wanted, rtol=2e-4)


def test_limits_are_quantiles_of_the_mixture():
    failures, exposure = np.array([2.0, 9.0, 0.0]), np.array([30.0, 41.0, 12.0])
    prior = family_mixture(failures, exposure)
    shrunk = shrink(prior, failures, exposure, level=0.9)
    for number in range(3):
        parts = stats.gamma(prior.shape + failures[number], scale=1 / (prior.rate + exposure[number]))
        assert parts.cdf(1 / shrunk.low[number]) @ prior.weight == pytest.approx(0.95, abs=1e-8)
        assert parts.cdf(1 / shrunk.high[number]) @ prior.weight == pytest.approx(0.05, abs=1e-8)


@pytest.mark.parametrize("exposure", [0.1, 0.0082, 1e-6, 1e-12])
def test_limits_of_a_group_hardly_watched_are_quantiles_too(exposure):
    failures, exposures = np.array([0, 0, 1]), np.array([0.1177, exposure, 22.87])
    prior = family_mixture(failures, exposures)
    limits = shrink(prior, failures, exposures)
    for bound, share in [(limits.low, 0.95), (limits.high, 0.05)]:
        below = [stats.gamma.cdf(1 / bound[g], prior.shape + failures[g], scale=1 / (prior.rate + exposures[g]))
                 for g in range(3)]  # fmt: skip
        np.testing.assert_allclose(below @ prior.weight, share, rtol=1e-6)


def test_a_group_with_much_of_its_own_speaks_for_itself():
    failures, exposure = np.array([400.0, 1.0]), np.array([4000.0, 2.0])
    shrunk = shrink(family_mixture(failures, exposure), failures, exposure)
    assert shrunk.mtbf[0] == pytest.approx(10.0, rel=0.02)
    assert 2.0 < shrunk.mtbf[1] < 10.0


def test_one_group_gets_its_own_rate_and_is_said_not_to_be_told_apart():
    assert marginal_prior([7], [50.0]).reason == "groups not told apart"
    best = best_estimates([7], [50.0], [0], ("all",))
    assert best.mtbf[0] == pytest.approx(50 / 7, rel=1e-3)
    assert not best.apart[0]


def test_prior_of_groups_with_exactly_the_same_rate_has_no_inner_maximum():
    prior = marginal_prior([3, 6, 9], [30.0, 60.0, 90.0])
    assert prior.shape is prior.rate is None
    assert prior.mean_rate == pytest.approx(0.1)


@pytest.mark.parametrize("unit", [1e-9, 1e9])
def test_estimates_scale_with_the_unit(unit):
    failures, exposure = np.array([5, 1, 14, 0]), np.array([9.0, 7.0, 11.0, 4.0])
    one = best_estimates(failures, exposure, [0] * 4, ("all",))
    other = best_estimates(failures, exposure * unit, [0] * 4, ("all",))
    np.testing.assert_allclose(other.mtbf, one.mtbf * unit, rtol=1e-6)
    np.testing.assert_allclose(other.high, one.high * unit, rtol=1e-6)


def test_without_a_failure_the_assumed_rate_is_used_and_named():
    best = best_estimates([0, 0], [20.0, 0.0], [0, 0], ("pumps",), assumed=[1.25, 1.25], level=0.9)
    assert best.mtbf.tolist() == [100.0, 80.0]
    assert best.assumed.all()
    assert (best.priors[0].shape, best.priors[0].rate) == (1.0, 80.0)
    assert best.priors[0].source.startswith(ASSUMED)
    assert best.high[0] == pytest.approx(100 / -np.log(0.95))
    assert (best.failures[0], best.exposure[0]) == (1.0, 100.0)


def test_without_failures_and_without_an_assumption_nothing_is_known():
    best = best_estimates([0, 0], [20.0, 3.0], [0, 0], ("pumps",))
    assert np.isnan([best.mtbf, best.low, best.high, best.failures]).all()
    assert best.priors[0].source == "no failures in any group"


def test_families_do_not_touch_each_other():
    failures, exposure = np.array([3.0, 8, 1, 30]), np.array([20.0, 30, 40, 50])
    both = best_estimates(failures, exposure, [0, 1, 0, 1], ("a", "b"))
    alone = best_estimates(failures[[1, 3]], exposure[[1, 3]], [0, 0], ("b",))
    np.testing.assert_allclose(both.mtbf[[1, 3]], alone.mtbf)
    assert both.priors[1].shape == alone.priors[0].shape


def test_pseudo_counts_have_the_mean_and_variance_of_the_posterior():
    failures, exposure = np.array([3.0, 8, 1]), np.array([20.0, 30, 40])
    best = best_estimates(failures, exposure, [0] * 3, ("all",))
    mean, variance = posterior_moments(family_mixture(failures, exposure), failures, exposure)
    np.testing.assert_allclose(best.failures / best.exposure, mean)
    np.testing.assert_allclose(best.failures / best.exposure**2, variance)
    np.testing.assert_allclose(1 / mean, best.mtbf)


def test_limits_of_few_groups_cover_their_rates():
    """Four groups a family, rates of a gamma with coefficient of variation 0.5, 5 failures expected in each.

    The single best prior covers a third to a half here; 90 % limits of the mixture stay within 85 to 96 %.
    """
    rng = np.random.default_rng(12)
    rates = rng.gamma(4, 0.25 / 4, (150, 4)) * 4
    exposure = np.full((150, 4), 5.0)
    failures = rng.poisson(rates * exposure)
    family = np.repeat(np.arange(150), 4)
    best = best_estimates(failures.ravel(), exposure.ravel(), family, tuple(map(str, range(150))), level=0.9)
    covered = np.mean((best.low <= 1 / rates.ravel()) & (1 / rates.ravel() <= best.high))
    assert 0.85 <= covered <= 0.96


def test_quadrature_of_the_family_adds_to_one():
    prior = family_mixture([2, 5, 9], [30.0, 41.0, 12.0])
    assert prior.weight.sum() == pytest.approx(1.0)
    density = lambda rate: stats.gamma.pdf(rate, prior.shape, scale=1 / prior.rate) @ prior.weight  # noqa: E731
    assert integrate.quad(density, 0, 8, limit=200)[0] == pytest.approx(1.0, abs=2e-3)
