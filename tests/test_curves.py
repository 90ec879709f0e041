"""Survival, repairs and hazard by age against slow derivations and at their limits."""

import numpy as np
import pytest

from jobs.reliability.curves import hazard_bands, mean_repairs, survival_curve


def test_survival_curve_equals_counting_by_hand():
    rng = np.random.default_rng(1)
    exit = rng.integers(1, 12, 200).astype(float)
    entry = np.floor(exit * rng.random(200))
    failed, group, weight = rng.random(200) < 0.5, rng.integers(0, 3, 200), rng.integers(0, 3, 200).astype(float)
    curve = survival_curve(entry, exit, failed, weight, group, groups=3)
    for number in range(3):
        survival, rows = 1.0, np.flatnonzero(curve.group == number)
        for row in rows:
            age = curve.age[row]
            own = group == number
            at_risk = weight[own & (entry < age) & (age <= exit)].sum()
            events = weight[own & failed & (exit == age)].sum()
            survival *= 1 - events / at_risk
            assert (curve.at_risk[row], curve.events[row]) == (at_risk, events)
            assert curve.survival[row] == pytest.approx(survival, abs=1e-12)
        assert curve.age[rows].tolist() == sorted(set(exit[(group == number) & failed & (weight > 0)]))


def test_limits_are_unknown_where_survival_is_nothing():
    curve = survival_curve([0, 0], [1, 2], [1, 1])
    assert curve.survival.tolist() == [0.5, 0.0]
    assert np.isnan([curve.low[1], curve.high[1]]).all()
    assert 0 < curve.low[0] < 0.5 < curve.high[0] < 1


def test_curve_starts_at_the_first_age_with_enough_at_risk_and_says_what_it_leaves_out():
    curve = survival_curve([0, 0, 2, 2, 2, 2], [1, 9, 3, 4, 5, 6], [1, 0, 1, 1, 0, 0], least_at_risk=5)
    assert curve.age.tolist() == [3.0, 4.0]
    assert curve.at_risk.tolist() == [5.0, 4.0]
    assert curve.survival[0] == pytest.approx(0.8)
    assert curve.left_out.tolist() == [1.0]


def test_failures_on_the_day_of_entry_are_at_risk_then():
    curve = survival_curve([0, 0, 4, 0], [0, 5, 4, 5], [1, 0, 1, 0])
    assert curve.at_risk.tolist() == [3.0, 3.0]
    assert ((curve.survival >= 0) & (curve.survival <= 1)).all()


def test_groups_without_failures_have_no_rows():
    curve = survival_curve([0, 0], [1, 2], [0, 1], group=[0, 1], groups=3)
    assert curve.group.tolist() == [1]
    assert survival_curve([], [], [], groups=2).age.size == 0


def test_repair_curve_of_alike_systems_has_no_spread():
    curve = mean_repairs([0, 1, 0, 1], [3.0, 3, 7, 7], [9.0, 9.0])
    assert curve.mean.tolist() == [1.0, 2.0]
    np.testing.assert_allclose(curve.low, curve.mean)
    np.testing.assert_allclose(curve.high, curve.mean)


def test_repair_curve_variance_is_the_squared_departures_summed():
    """Slow re-derivation with late entries: per system, sum of (own repairs - mean repairs) while watched."""
    rng = np.random.default_rng(4)
    start, end = rng.uniform(0, 3, 15), rng.uniform(4, 9, 15)
    system = rng.integers(0, 15, 40)
    age = np.round(start[system] + (end - start)[system] * rng.random(40), 2)
    age = np.clip(age, start[system] + 0.001, end[system])
    curve = mean_repairs(system, age, end, start, level=0.90)
    variance = np.zeros(curve.age.size)
    for one in range(15):
        gone = 0.0
        for k, at in enumerate(curve.age):
            if start[one] < at <= end[one]:
                gone += (np.sum((system == one) & (age == at)) - curve.events[k] / curve.watched[k]) / curve.watched[k]
            variance[k] += gone**2
    width = np.exp(1.6448536269514722 * np.sqrt(variance) / curve.mean)
    np.testing.assert_allclose(curve.high, curve.mean * width, rtol=1e-9)
    np.testing.assert_allclose(curve.low, curve.mean / width, rtol=1e-9)


def test_hazard_by_band_counts_failures_over_the_time_spent_in_it():
    bands = hazard_bands([0, 0, 1.5], [1, 3, 2], [1, 1, 0], [0, 1, 2, 5])
    assert bands.failures.tolist() == [[1, 0, 1]]
    assert bands.exposure.tolist() == [[2.0, 1.5, 1.0]]
    assert bands.rate.tolist() == [[0.5, 0.0, 1.0]]
    assert bands.low[0, 1] == 0
    assert bands.high[0, 1] == pytest.approx(-np.log(0.05) / 1.5)


def test_hazard_of_a_band_that_nobody_reached_is_unknown():
    bands = hazard_bands([0], [1], [1], [0, 2, 4])
    assert np.isnan([bands.rate[0, 1], bands.low[0, 1], bands.high[0, 1]]).all()


def test_all_exposure_falls_into_some_band():
    rng = np.random.default_rng(6)
    exit = rng.uniform(0, 20, 500)
    entry, group = exit * rng.random(500), rng.integers(0, 4, 500)
    bands = hazard_bands(entry, exit, rng.random(500) < 0.3, np.arange(0, 22, 2), group=group, groups=4)
    np.testing.assert_allclose(bands.exposure.sum(axis=1), np.bincount(group, exit - entry))


def test_cumulative_hazard_has_the_limits_of_the_leukaemia_patients_in_remission():
    """Klein & Moeschberger (2003), table 4.2: 21 patients on 6-MP; figures from memory, agreed with by hand below."""
    weeks = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
    relapsed = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
    curve = survival_curve(np.zeros(21), weeks, relapsed, level=0.95)
    np.testing.assert_allclose(
        curve.cumulative_hazard, [0.1428, 0.2017, 0.2683, 0.3517, 0.4426, 0.5854, 0.7521], atol=2e-4
    )
    error = np.log(curve.hazard_high / curve.cumulative_hazard) / 1.959963984540054 * curve.cumulative_hazard
    np.testing.assert_allclose(error, [0.0825, 0.1015, 0.1212, 0.1473, 0.1729, 0.2243, 0.2795], atol=4e-4)
    by_hand = np.sqrt(np.cumsum([3 / 21**2, 1 / 17**2, 1 / 15**2, 1 / 12**2, 1 / 11**2, 1 / 7**2, 1 / 6**2]))
    np.testing.assert_allclose(error, by_hand, rtol=1e-12)
    np.testing.assert_allclose(curve.hazard_low * curve.hazard_high, curve.cumulative_hazard**2, rtol=1e-12)


def test_limits_of_the_cumulative_hazard_close_in_as_more_are_watched():
    few, many = (survival_curve([0, 0], [1, 2], [1, 0], weight=[pieces, 9 * pieces]) for pieces in (1, 1e6))
    assert few.cumulative_hazard == pytest.approx(many.cumulative_hazard)
    assert few.hazard_high / few.hazard_low > 20
    assert many.hazard_high / many.hazard_low < 1.004
