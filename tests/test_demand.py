"""Demand of one need in an interval: negative binomial, mixtures of it, pools of it."""

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.cold_snaps import snap_variance
from inventory.stocking.demand import (
    Demand,
    expected_min,
    largest_count,
    one_gamma,
    pmfs_of,
    pooled_pmf,
    with_cold_snaps,
)


def test_a_single_rate_gives_the_negative_binomial_of_scipy():
    demand = Demand.single(9.8, 310, 3.2)
    law = stats.nbinom(9.8, 310 / 313.2)
    assert demand.pmf(6) == pytest.approx(law.pmf(np.arange(7)), rel=1e-12)
    assert demand.at_least(4) == pytest.approx(law.sf(np.arange(4)), rel=1e-9)
    assert (demand.mean, demand.variance) == pytest.approx((law.mean(), law.var()))


def test_a_rate_that_is_known_tends_to_poisson():
    assert Demand.single(1e10, 1e10, 0.7).pmf(5) == pytest.approx(stats.poisson.pmf(np.arange(6), 0.7), rel=1e-7)


@pytest.mark.parametrize("demand", [Demand.single(0, 10, 3), Demand.single(2, 10, 0)])
def test_no_failures_or_no_exposure_is_no_demand(demand):
    assert demand.pmf(2).tolist() == [1, 0, 0]
    assert demand.at_least(2).tolist() == [0, 0]


def test_a_mixture_has_the_moments_of_its_draws():
    demand = Demand(np.array([0.3, 0.7]), np.array([2.0, 5.0]), np.array([4.0, 20.0]), np.array([1.0, 3.0]))
    rng = np.random.default_rng(5)
    which = rng.choice(2, size=400_000, p=demand.weights)
    rate = rng.gamma(demand.failures[which], 1 / demand.exposure[which])
    drawn = rng.poisson(rate * demand.per_interval[which])
    assert (demand.mean, demand.variance) == pytest.approx((drawn.mean(), drawn.var()), rel=0.01)
    assert demand.at_least(3) == pytest.approx([(drawn >= k).mean() for k in (1, 2, 3)], abs=0.003)


def test_pooled_demand_is_the_sum():
    one, two = Demand.single(2, 5, 1), Demand.single(3, 4, 2)
    first, second = stats.nbinom(2, 5 / 6), stats.nbinom(3, 4 / 6)
    law = [sum(first.pmf(i) * second.pmf(n - i) for i in range(n + 1)) for n in range(5)]
    pooled = pooled_pmf([one.pmf(4), two.pmf(4)])
    assert pooled == pytest.approx(law)
    assert expected_min(pooled, [0, 2]) == pytest.approx([0, law[1] + 2 * (1 - law[0] - law[1])])


def test_expected_min_tends_to_the_mean():
    demand = Demand.single(2, 5, 1)
    assert expected_min(demand.pmf(80), [80])[0] == pytest.approx(demand.mean)


@pytest.mark.parametrize("exposure", [0.01, 1, 30])
def test_the_largest_count_leaves_no_more_than_the_tail(exposure):
    demand = Demand.single(1.5, 4, exposure)
    top = largest_count([demand], 1e-8)
    assert 1 - demand.pmf(top).sum() <= 1e-8 < 1 - demand.pmf(top - 1).sum() + 1e-12


def test_one_negative_binomial_with_a_mixtures_moments():
    """Design: m = Σ w m_k, v = Σ w m_k² (1 + 1/a_k) − m², a = m²/v, b = a·e/m."""
    mixture = Demand(np.array([0.3, 0.7]), np.array([2.0, 5.0]), np.array([4.0, 20.0]), np.array([1.5, 1.5]))
    failures, exposure = one_gamma(mixture.weights, mixture.failures * 1.5 / mixture.exposure, mixture.failures, 1.5)
    same = Demand.single(failures, exposure, 1.5)
    assert (same.mean, same.variance) == pytest.approx((mixture.mean, mixture.variance))


def test_cold_snaps_widen_the_rate_and_keep_its_mean():
    failures, exposure = with_cold_snaps(4.0, 40.0, 0.1)
    rng = np.random.default_rng(6)
    weather = rng.gamma(10, 0.1, size=400_000)  # mean 1, variance 0.1
    rate = rng.gamma(4.0, 1 / 40.0, size=400_000) * weather
    assert (failures / exposure, failures / exposure**2) == pytest.approx((rate.mean(), rate.var()), rel=0.01)


def test_a_season_at_one_rate_is_wider_than_independent_weeks():
    week = Demand.single(2, 60, 1)
    season = week.over(26)
    assert season.mean == pytest.approx(26 * week.mean)
    assert season.variance > 26 * week.variance


def test_cold_snaps_belong_to_the_week_and_fade_over_a_season():
    week = Demand.single(4.0, 40.0, 2.0, snaps=0.5)
    failures, exposure = with_cold_snaps(4.0, 40.0, 0.5)
    assert week.pmf(4) == pytest.approx(Demand.single(failures, exposure, 2.0).pmf(4))
    assert week.mean == pytest.approx(0.2)
    calm = Demand.single(4.0, 40.0, 2.0).over(1000)
    assert week.over(1000).variance == pytest.approx(calm.variance, rel=0.01)


def test_many_demands_at_once_are_those_of_each():
    mixed = Demand(np.array([0.3, 0.7]), np.array([2.0, 5.0]), np.array([4.0, 20.0]), np.array([1.5, 1.5]), 0.2)
    demands = [Demand.single(2, 5, 1), mixed, Demand.single(3, 4, 0)]
    assert pmfs_of(demands, 5) == pytest.approx(np.array([d.pmf(5) for d in demands]))


def days_of(counts):
    """A day in the middle of each week for every failure of it, from a Monday on."""
    return 18_000 + 4 + 7 * np.repeat(np.arange(len(counts)), counts) + 3


@pytest.mark.parametrize("variance", [0.05, 0.2])
def test_the_variance_of_the_weather_is_found_again(variance):
    rng, found = np.random.default_rng(8), []
    for _ in range(30):
        weather = rng.gamma(1 / variance, variance, 520)
        season = 1 + 0.4 * np.cos(np.arange(520) * 2 * np.pi / 52)
        found.append(snap_variance(days_of(rng.poisson(12 * season * weather))))
    assert np.mean(found) == pytest.approx(variance, rel=0.12)


def test_weeks_that_differ_by_chance_alone_have_no_weather():
    rng = np.random.default_rng(9)
    found = [snap_variance(days_of(rng.poisson(12.0, 520))) for _ in range(60)]
    assert np.count_nonzero(found) <= 8  # one in twenty is expected
    assert snap_variance([]) == 0
    assert snap_variance([18_000]) == 0
    assert snap_variance(np.arange(18_000, 19_000)) == 0
