"""Streams of failures watched at once: a bad batch stands out, an even fleet keeps to its budget."""

import numpy as np
import pytest

from jobs.reliability.alarms import cumulative_sum
from jobs.reliability.streams import Failed, Watched, budget, watch_streams

SHAPE, SCALE = np.array([1.8, 2.5]), np.array([14.0, 9.0])
EDGES = np.arange(0, 3653, 91.3125)
EVEN = np.ones((2, EDGES.size - 1))


def fleet(rng, *, parts=4000, bad=None, times=5.0):
    """Parts of two kinds from eight suppliers each, fitted over ten years; one stream may fail `times` as often."""
    kind = rng.integers(0, 2, parts)
    stream = kind * 8 + rng.integers(0, 8, parts)
    opened = rng.uniform(0, 3652, parts)
    hazard = np.where(stream == bad, times, 1.0)
    life = SCALE[kind] * (rng.exponential(size=parts) / hazard) ** (1 / SHAPE[kind])
    until = (3652.5 - opened) / 365.25
    failed = life <= until
    exit = np.minimum(life, until)
    watched = Watched(kind, stream, opened, np.zeros(parts), exit, np.ones(parts))
    return watched, Failed(kind[failed], stream[failed], (opened + exit * 365.25)[failed])


def test_a_stream_that_fails_as_the_rest_of_its_kind_has_a_ratio_near_one():
    found = watch_streams(*fleet(np.random.default_rng(1)), SHAPE, SCALE, EVEN, EDGES, streams=16)
    assert found.ratio.mean() == pytest.approx(1.0, abs=0.1)
    assert np.mean((found.low < 1) & (found.high > 1)) > 0.7
    assert found.expected.sum() == pytest.approx(found.failures.sum(), rel=0.15)  # a standard error up


def test_a_batch_at_five_times_its_rate_is_found_and_false_alarms_keep_to_one_a_year():
    false = []
    for seed in range(20):
        found = watch_streams(*fleet(np.random.default_rng(seed), bad=3), SHAPE, SCALE, EVEN, EDGES, streams=16)
        threshold, wanted, _ = budget(found.expected_a_year)
        stream, day, level, since = found.raised(threshold)
        assert 0.9 < wanted <= 1.01
        assert 3 in stream
        assert (level >= threshold).all()
        assert (since <= day).all()
        false.append(np.count_nonzero((stream != 3) & (day > 3652 - 365)))
    assert np.mean(false) <= 1.0


def test_alarms_are_those_of_the_plain_cumulative_sum_begun_anew():
    watched, failed = fleet(np.random.default_rng(6), parts=600)
    found = watch_streams(watched, failed, SHAPE, SCALE, EVEN, EDGES, streams=16)
    sums = cumulative_sum(found.clock, found.stream)
    stream, day, level, _ = found.raised(2.0)
    for one in np.unique(stream):
        own = np.flatnonzero(found.stream == one)
        first = own[sums.value[own] >= 2.0][0]
        assert day[stream == one][0] == found.day[first]
        assert level[stream == one][0] == pytest.approx(sums.value[first])


def test_the_baseline_of_a_stream_leaves_that_stream_out():
    watched, failed = fleet(np.random.default_rng(3), bad=3)
    found = watch_streams(watched, failed, SHAPE, SCALE, EVEN, EDGES, streams=16)
    own, others = watched.stream == 3, (watched.stream != 3) & (watched.kind == 0)
    hazard = (watched.exit / SCALE[0]) ** SHAPE[0]
    rest = np.count_nonzero((failed.kind == 0) & (failed.stream != 3))
    level = (rest + 1) / (hazard[others].sum() + 1) * (1 + 1 / np.sqrt(rest + 1))
    assert found.expected[3] == pytest.approx(hazard[own].sum() * level, rel=1e-6)


def test_a_component_that_always_failed_more_is_not_rising_and_one_that_began_to_is():
    rng = np.random.default_rng(4)
    watched, failed = fleet(rng, bad=3, times=2.5)
    steady = watch_streams(watched, failed, SHAPE, SCALE, EVEN, EDGES, streams=16, against_itself=True)
    more = Failed(np.r_[failed.kind, np.zeros(60, int)], np.r_[failed.stream, np.full(60, 5)],
                  np.r_[failed.day, rng.uniform(3400, 3650, 60)])  # fmt: skip
    rising = watch_streams(watched, more, SHAPE, SCALE, EVEN, EDGES, streams=16, against_itself=True)
    threshold, _, _ = budget(steady.expected_a_year)
    assert 3 not in steady.raised(threshold)[0]
    assert 5 in rising.raised(threshold)[0]
    assert rising.p[5] < 1e-4
    assert steady.p[3] > 1e-4


def test_without_failures_nothing_is_raised():
    watched, _ = fleet(np.random.default_rng(5), parts=50)
    none = Failed(np.zeros(0, int), np.zeros(0, int), np.zeros(0))
    found = watch_streams(watched, none, SHAPE, SCALE, EVEN, EDGES, streams=16)
    assert not found.raised(2.0)[0].size
    assert (found.p == 1).all()
