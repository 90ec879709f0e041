"""Alarms: the clock of expected failures, the cumulative sum and its budget of false alarms."""

import numpy as np
import pytest
from scipy import stats

from jobs.reliability.alarm_budget import CELLS, STEADY, budget, expected_alarms
from jobs.reliability.alarms import (
    DRIFT,
    JUMP,
    clock_at,
    cumulative_sum,
    expected_by_month,
    false_discovery,
    recent_against_earlier,
)


def failures_to_false_alarm(threshold, steps_per_unit=80):
    """Mean number of expected failures until the sum reaches `threshold` though the rate is as it should be.

    Integral equation of the sum just after a failure, by the trapezoid rule: another way than the product's chain.
    """
    if threshold <= JUMP:
        return 1.0
    steps = max(int(steps_per_unit * threshold), 50)
    at = np.linspace(JUMP, threshold, steps + 1)
    h, row = at[1] - at[0], np.arange(steps + 1)
    reach = np.minimum(at / h, steps)[:, None]
    last = reach.astype(int)
    rest = reach - last
    weight = np.where(row < last, 1.0, np.where(row == last, 0.5, 0.0))
    weight[:, 0] /= 2
    weight += np.where(row == last, rest * (1 - rest / 2), 0.0) + np.where(row == last + 1, rest**2 / 2, 0.0)
    density = np.exp(-(at[:, None] + JUMP - at) / DRIFT) / DRIFT
    system = np.eye(steps + 1) - h * weight * density
    system[:, 0] -= np.exp(-at / DRIFT)
    return float(1 + np.linalg.solve(system, np.ones(steps + 1))[0])


def runs_to_alarm(rng, threshold, rate=1.0, runs=4000):
    """Failures until the sum reaches the threshold when failures come at `rate` times what is expected."""
    value, failures, still = np.zeros(runs), np.zeros(runs), np.ones(runs, bool)
    while still.any():
        value[still] = np.maximum(0, value[still] - DRIFT * rng.exponential(1 / rate, still.sum())) + JUMP
        failures[still] += 1
        still &= value < threshold
    return failures


@pytest.mark.parametrize("threshold", [1.2, 2.5, 4.0])
def test_failures_to_a_false_alarm_are_those_of_a_simulation(threshold):
    failures = runs_to_alarm(np.random.default_rng(1), threshold)
    error = failures.std() / np.sqrt(failures.size)
    assert failures_to_false_alarm(threshold) == pytest.approx(failures.mean(), abs=4 * error)


@pytest.mark.parametrize("cells", [32, 48, 64, 88, 112])
def test_a_long_stream_gives_alarms_as_often_as_the_integral_equation_says(cells):
    """The chain errs to the safe side: by a tenth at twice a jump, by 2 % from four jumps on."""
    each = (expected_alarms(3 * STEADY, cells) - expected_alarms(2 * STEADY, cells)) / STEADY
    ratio = each * failures_to_false_alarm(cells * JUMP / CELLS)
    assert 1.0 < ratio < (1.1 if cells < 64 else 1.03)


@pytest.mark.parametrize("clock", [0.5, 1.0, 3.0])
def test_alarms_of_a_short_stream_are_those_of_a_simulation(clock):
    """50,000 streams, the sum begun anew after each alarm; four standard errors and a tenth for the chain's cells."""
    rng, threshold, many = np.random.default_rng(6), 48 * JUMP / CELLS, 50_000
    value, now, alarms, live = np.zeros(many), np.zeros(many), np.zeros(many), np.ones(many, bool)
    while live.any():
        gap = rng.exponential(size=many)
        now, value = now + gap, np.maximum(0, value - DRIFT * gap) + JUMP
        live = now <= clock
        alarms += live & (value >= threshold - 1e-9)
        value[value >= threshold - 1e-9] = 0
    wanted, error = float(expected_alarms(clock, 48)), alarms.std() / np.sqrt(many)
    assert wanted == pytest.approx(alarms.mean(), rel=0.12, abs=4 * error)


def test_threshold_spends_the_budget_and_grows_with_the_fleet():
    streams = np.full(30, 8.0)
    threshold, false, _ = budget(0.9 * streams, streams, 0.5)
    assert 0.4 < false <= 0.5
    assert budget(9 * streams, 10 * streams, 0.5)[0] > threshold > budget(0.9 * streams, streams, 2.0)[0]
    assert budget(np.zeros(0), np.zeros(0))[1] == 0


def test_a_batch_at_five_times_its_rate_is_found_after_some_nine_failures():
    """Threshold for 300 expected failures a year in all streams together, as in the trial that design tells of."""
    threshold, _, told = budget(np.full(100, 27.0), np.full(100, 30.0), 1.0)
    assert 5 < runs_to_alarm(np.random.default_rng(2), threshold, rate=5.0).mean() < 11
    assert 7 <= told <= 11


def test_sum_of_each_stream_is_the_plain_recursion():
    rng = np.random.default_rng(3)
    stream = rng.integers(0, 5, 300)
    clock = np.empty(300)
    for number in range(5):
        clock[stream == number] = np.cumsum(rng.exponential(1.0, (stream == number).sum()))
    found = cumulative_sum(clock, stream)
    value, last, begun = np.zeros(5), np.zeros(5), np.zeros(5, int)
    for i, number in enumerate(stream):
        fallen = value[number] - DRIFT * (clock[i] - last[number])
        begun[number] = i if fallen <= 0 else begun[number]
        value[number], last[number] = max(0.0, fallen) + JUMP, clock[i]
        assert found.value[i] == pytest.approx(value[number])
        assert found.since[i] == begun[number]


def test_an_ageing_fleet_that_fails_as_expected_keeps_to_the_budget():
    """Forty streams of ageing parts (shape 3) over ten years: alarms on expected failures, not on exposure."""
    rng = np.random.default_rng(4)
    streams, units, shape, scale = 40, 100, 3.0, 14.0
    start = rng.uniform(0, 4, streams * units)
    stream = np.repeat(np.arange(streams), units)
    life = scale * ((start / scale) ** shape + rng.exponential(size=start.size)) ** (1 / shape)
    exit, opened, edges = np.minimum(life, start + 10), np.zeros(start.size), np.linspace(0, 3652.5, 121)
    expected = expected_by_month(opened, start, exit, shape, scale, edges, stream, streams=streams)
    assert expected.sum() == pytest.approx((life < start + 10).sum(), rel=0.1)
    failed = np.flatnonzero(life < start + 10)
    day = (life - start)[failed] * 365.25
    failed, day = failed[np.argsort(day)], np.sort(day)
    found = cumulative_sum(clock_at(day, stream[failed], edges, expected), stream[failed])
    threshold, _, _ = budget(expected[:, :-12].sum(axis=1), expected.sum(axis=1), 1.0)
    alarmed = np.unique(stream[failed][found.value >= threshold])
    assert alarmed.size <= 18  # ten expected in ten years


def test_expected_failures_follow_ages_months_and_weights():
    edges = np.array([0.0, 365.25, 730.5])
    expected = expected_by_month(
        [0.0, 365.25], [2.0, 0.0], [4.0, 1.0], 2.0, 10.0, edges, [0, 1], streams=2, weight=[1.0, 0.5], factor=[1.2, 0.8]
    )
    np.testing.assert_allclose(expected, [[1.2 * (9 - 4) / 100, 0.8 * (16 - 9) / 100], [0.0, 0.8 * 0.5 / 100]])
    np.testing.assert_allclose(clock_at([0.0, 182.625, 730.5], [0, 0, 0], edges, expected), [0.0, 0.03, 0.06 + 0.056])


def test_recent_failures_that_are_as_expected_are_no_surprise_and_many_more_are():
    found = recent_against_earlier([5, 20, 0], [5.0, 5.0, 1.0], [50, 50, 0], [50.0, 50.0, 9.0])
    assert found.rising[0] > 0.4
    assert found.rising[1] < 1e-4
    assert found.rising[2] == 1.0
    assert found.rising[1] == pytest.approx(stats.binomtest(20, 70, 5 / 55, alternative="greater").pvalue)


def test_adjusted_p_are_those_of_scipy():
    p = np.random.default_rng(5).random(40) ** 2
    np.testing.assert_allclose(false_discovery(p), stats.false_discovery_control(p))
    assert false_discovery([]).size == 0
