"""Limits of exposure over failures, and rates against each other."""

import numpy as np
import pytest
from scipy import stats

from jobs.reliability.constant_rate import compare_rates, mtbf_limits
from jobs.reliability.replacement import age_replacement
from jobs.reliability.trend import trend


def test_without_failures_only_a_least_mtbf_is_known():
    rate = mtbf_limits([0], [15.0], level=0.90)
    assert np.isnan(rate.mtbf[0])
    assert np.isnan(rate.high[0])
    assert rate.low[0] == pytest.approx(15 / -np.log(0.10), rel=1e-12)


def test_without_exposure_nothing_is_known():
    rate = mtbf_limits([0, 3], [0.0, 0.0])
    assert np.isnan([rate.mtbf, rate.low, rate.high]).all()


def test_limits_close_in_on_the_estimate_as_failures_grow():
    rate = mtbf_limits([1e6], [1e9])
    assert rate.low[0] == pytest.approx(1000, rel=2e-3)
    assert rate.high[0] == pytest.approx(1000, rel=2e-3)
    assert rate.low[0] < rate.mtbf[0] < rate.high[0]


@pytest.mark.parametrize("mean", [0.5, 2.0, 5.0, 20.0])
def test_limits_never_cover_less_than_they_say(mean):
    """Coverage summed over the Poisson distribution itself, so exact."""
    failures = np.arange(200)
    rate = mtbf_limits(failures, np.full(200, mean), level=0.90)
    covers = (rate.low <= 1.0) & (np.isnan(rate.high) | (rate.high >= 1.0))
    assert stats.poisson.pmf(failures, mean)[covers].sum() >= 0.90


@pytest.mark.parametrize("unit", [1e-9, 1.0, 1e9])
def test_limits_scale_with_the_unit(unit):
    assert mtbf_limits([4], [7.0 * unit]).low[0] == pytest.approx(unit * mtbf_limits([4], [7.0]).low[0], rel=1e-12)


def test_equal_rates_are_no_surprise_and_nothing_against_nothing_says_nothing():
    assert compare_rates(5, 10.0, 5, 10.0).p == pytest.approx(1.0)
    nothing = compare_rates(0, 10.0, 0, 3.0)
    assert nothing.p == 1.0
    assert (nothing.low, nothing.high) == (0.0, np.inf)
    assert np.isnan(nothing.ratio)


def test_rates_swapped_give_the_ratio_inverted():
    one, other = compare_rates(3, 10.0, 9, 40.0), compare_rates(9, 40.0, 3, 10.0)
    assert one.p == pytest.approx(other.p)
    assert one.low == pytest.approx(1 / other.high)
    assert one.high == pytest.approx(1 / other.low)


def test_trend_of_too_few_failures_is_unknown_and_streams_do_not_mix():
    found = trend([1.0, 5.0, 9.0], [10.0, 10.0, 10.0], [0, 0, 2], failure_terminated=False)
    alone = trend([1.0, 5.0], 10.0)
    assert found.laplace[0] == pytest.approx(alone.laplace[0])
    assert np.isnan(found.laplace[1])
    assert found.failures.tolist() == [2, 0, 1]
    assert np.isnan(trend([4.0], 4.0, failure_terminated=True).mil[0])


def test_even_spread_failures_show_no_trend():
    times = (np.arange(200) + 0.5) / 2
    found = trend(times, 100.0)
    assert abs(found.laplace[0]) < 1e-9
    assert found.mil_p[0] > 0.5
    assert found.power_shape[0] == pytest.approx(1.0, rel=0.01)


@pytest.mark.parametrize(("shape", "planned", "failure"), [(1.0, 1, 50), (0.4, 1, 50), (3.0, 5, 5), (3.0, 6, 5)])
def test_planned_replacement_never_pays_without_wear_or_saving(shape, planned, failure):
    found = age_replacement(shape, 10.0, planned, failure)
    assert np.isnan(found.age)
    assert found.cost_rate == found.run_to_failure


@pytest.mark.parametrize("shape", [1.3, 2.0, 5.0, 40.0])
def test_best_age_is_the_minimum_of_the_cost_rate(shape):
    """Slow re-derivation on a fine grid of ages."""
    found = age_replacement(shape, 10.0, 1.0, 8.0)
    ages = np.linspace(0.01, 60, 200_001)
    alive = np.exp(-((ages / 10) ** shape))
    watched = np.concatenate(([0], np.cumsum((alive[1:] + alive[:-1]) / 2 * np.diff(ages)))) + ages[0]
    cost = (alive + 8 * (1 - alive)) / watched
    assert found.age == pytest.approx(ages[cost.argmin()], rel=2e-3)
    assert found.cost_rate == pytest.approx(cost.min(), rel=1e-4)
