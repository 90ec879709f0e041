"""Month factors: the firm's pattern, and how far a group's own may leave it."""

import numpy as np
import pytest

from jobs.reliability.seasons import month_factors

WINTER = np.array([1.6, 1.5, 1.3, 1.0, 0.8, 0.6, 0.5, 0.5, 0.7, 1.0, 1.2, 1.3])


def test_factors_have_mean_one_whatever_the_data():
    rng = np.random.default_rng(1)
    exposure = rng.uniform(0, 40, (30, 12)) * (rng.random((30, 12)) < 0.8)
    found = month_factors(rng.poisson(0.2 * exposure), exposure)
    np.testing.assert_allclose(found.factor.mean(axis=1), 1)
    assert (found.low <= found.factor + 1e-12).all()
    assert (found.high >= found.factor - 1e-12).all()


def test_many_failures_show_the_pattern_that_made_them():
    rng = np.random.default_rng(2)
    exposure = np.full((8, 12), 5000.0)
    pattern = WINTER / WINTER.mean()
    found = month_factors(rng.poisson(exposure * 0.1 * pattern), exposure)
    np.testing.assert_allclose(found.factor, np.tile(pattern, (8, 1)), rtol=0.12)
    np.testing.assert_allclose(found.overall, pattern, rtol=0.05)


def test_groups_alike_take_the_pattern_of_all_and_a_group_without_failures_too():
    exposure = np.full((5, 12), 100.0)
    counts = np.tile(np.round(WINTER * 10), (5, 1))
    counts[4] = 0
    found = month_factors(counts, exposure)
    assert found.concentration == np.inf
    np.testing.assert_allclose(found.factor, np.tile(found.overall, (5, 1)), rtol=1e-9)


def test_a_group_of_another_pattern_with_many_failures_keeps_its_own():
    exposure = np.full((6, 12), 1000.0)
    counts = np.tile(WINTER * 100, (6, 1))
    counts[5, :] = np.roll(WINTER, 6) * 100
    found = month_factors(counts, exposure)
    assert np.isfinite(found.concentration)
    np.testing.assert_allclose(found.factor[5], np.roll(WINTER, 6) / WINTER.mean(), atol=0.12)
    assert found.factor[0, 0] > 1.4
    assert found.factor[5, 0] < 0.7


def test_uneven_watching_is_not_taken_for_a_season():
    """Twice as many appliances in care in the second half-year, failures in proportion: all factors near 1."""
    exposure = np.tile(np.repeat([1000.0, 2000.0], 6), (4, 1))
    found = month_factors(exposure * 0.1, exposure)
    np.testing.assert_allclose(found.factor, 1, atol=0.01)


def test_a_month_without_watching_takes_the_overall_factor():
    exposure = np.full((3, 12), 500.0)
    exposure[2, 6] = 0
    counts = np.round(exposure * 0.2 * WINTER / WINTER.mean())
    found = month_factors(counts, exposure)
    assert found.factor[2, 6] == pytest.approx(found.overall[6], rel=0.05)


def test_nothing_known_gives_even_months():
    found = month_factors(np.zeros((2, 12)), np.zeros((2, 12)))
    np.testing.assert_allclose(found.factor, 1)
    np.testing.assert_allclose(found.overall, 1)
    assert month_factors(np.zeros((0, 12)), np.zeros((0, 12))).factor.shape == (0, 12)


def test_concentration_found_is_near_the_one_that_made_the_groups():
    rng = np.random.default_rng(3)
    shares = rng.dirichlet(WINTER / WINTER.sum() * 60, 300)
    counts = np.array([rng.multinomial(80, share) for share in shares])
    found = month_factors(counts, np.full((300, 12), 10.0))
    assert 45 < found.concentration < 80


def test_limits_cover_the_factors_that_made_the_groups():
    rng = np.random.default_rng(4)
    shares = rng.dirichlet(WINTER / WINTER.sum() * 60, 400)
    counts = np.array([rng.multinomial(40, share) for share in shares])
    found = month_factors(counts, np.full((400, 12), 10.0), level=0.9)
    covered = np.mean((found.low <= shares * 12) & (shares * 12 <= found.high))
    assert 0.87 < covered < 0.93


def test_groups_that_are_not_told_apart_show_the_doubt_about_the_common_pattern():
    rng, share = np.random.default_rng(3), 1 + 0.5 * np.cos(np.arange(12) * np.pi / 6)
    share /= share.sum()
    inside, told = [], 0
    for _ in range(200):
        counts = rng.multinomial(60, share, size=4).astype(float)
        found = month_factors(counts, np.ones((4, 12)))
        if np.isinf(found.concentration):
            told += 1
            inside.append((found.low[0] <= 12 * share) & (12 * share <= found.high[0]))
    assert told > 50
    assert 0.85 < np.mean(inside) < 0.95
